package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/onefile"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/web"
)

func newErase() *cobra.Command {
	var data string
	var sure bool
	cmd := &cobra.Command{
		Use:   "erase --yes",
		Short: "Erase all that is kept",
		Long: "Erases the log, what was set on the page, calibrations, the page's own key, and who is paired.\n" +
			"The configuration file stays. It can't be taken back. The daemon must be running, and the box\n" +
			"cold and empty; where no daemon runs, delete the folder.",
		Example: "  withy erase --yes",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !sure {
				return fmt.Errorf("all that is kept in %s would be erased: say --yes", data)
			}
			return askDaemon(cmd.Context(), data, http.MethodPost, "/api/erase", web.Erase{Erase: "everything"}, nil)
		},
	}
	cmd.Flags().StringVar(&data, "data", defaults().Data, "folder of the daemon's record")
	cmd.Flags().BoolVar(&sure, "yes", false, "erase it")
	return cmd
}

// eraseFor is how long the log may take to be erased, whether or not somebody still waits.
const eraseFor = 5 * time.Minute

// Erase erases all that is kept. What is in use goes on from the configuration alone. Where
// something can't be erased, the rest is all the same, and the error says what is left; one
// that wraps neither record.ErrRemains nor comes of a file says that nothing was.
func (p *settingPage) Erase(ctx context.Context) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), eraseFor)
	defer cancel()
	err := p.daemon.Erase(ctx, p.base, p.baseUnits)
	if err != nil && !errors.Is(err, record.ErrRemains) {
		return err
	}
	p.set = overlay{}
	errs := []error{err, calibration.Erase(p.data), door.RemoveOwn(p.data)}
	for _, name := range []string{setFile, goodFile, worldFile} {
		errs = append(errs, onefile.Remove(filepath.Join(p.data, name)))
	}
	if p.door != nil {
		errs = append(errs, p.door.RevokeAll())
	}
	return errors.Join(errs...)
}
