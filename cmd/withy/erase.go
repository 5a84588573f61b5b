package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/door"
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

// Erase erases all that is kept. What is in use goes on from the configuration alone.
func (p *settingPage) Erase(ctx context.Context) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.daemon.Erase(ctx, p.base, p.baseUnits); err != nil {
		return err
	}
	p.set = overlay{}
	errs := []error{calibration.Erase(p.data), door.RemoveOwn(p.data)}
	for _, name := range []string{setFile, goodFile, worldFile} {
		if err := os.Remove(filepath.Join(p.data, name)); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	if p.door != nil {
		errs = append(errs, p.door.RevokeAll())
	}
	return errors.Join(errs...)
}
