package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"withy/sensor"
	"withy/steambox/calibrate"
	"withy/steambox/words"
)

func newTell() *cobra.Command {
	var config, root string
	var timeout time.Duration
	var units unitsFlag
	cmd := &cobra.Command{
		Use:   "tell [--config FILE | --w1-root DIR]",
		Short: "Tell one probe from another: warm it in your hand",
		Long: "Watches every probe that the kernel lists or the configuration names, and names the one that you\n" +
			"warm in your hand. Then take the next; it ends when each has been named.",
		Example: "  withy probes tell",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s := settings{}
			s.Sensors.W1Root = root
			var err error
			if config != "" {
				s, err = readSettings(config, "")
			}
			if err == nil {
				s.Units, err = units.choose(s.Units)
			}
			if err = errors.Join(err, checkLasts("timeout", timeout, time.Second, time.Hour)); err != nil {
				return err
			}
			ids, err := s.allProbes()
			if err != nil {
				return err
			}
			if len(ids) == 0 {
				fmt.Fprintln(cmd.OutOrStdout(), words.NoProbes)
				return errWrong
			}
			board, err := sensor.NewBoard(s.probesOnly(ids), slog.New(slog.DiscardHandler))
			if err != nil {
				return err
			}
			defer board.Close()
			w := newWatch(board, cmd.OutOrStdout(), s.namesOf(ids), timeout, s.Units)
			return w.tell(cmd.Context())
		},
	}
	cmd.Flags().StringVar(&config, "config", "", "the configuration file: names the probes")
	cmd.Flags().StringVar(&root, "w1-root", sensor.DefaultW1Root, "where the kernel lists the 1-wire devices")
	cmd.Flags().DurationVar(&timeout, "timeout", 5*time.Minute, "longest that each probe may take (1s to 1h)")
	units = newUnitsFlag(cmd)
	cmd.MarkFlagsMutuallyExclusive("config", "w1-root")
	return cmd
}

// allProbes returns the probes that the settings name, and those that the kernel lists
// besides.
func (s *settings) allProbes() ([]string, error) {
	listed, err := sensor.Discover(cmp.Or(s.Sensors.W1Root, sensor.DefaultW1Root))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	ids := slices.Clone(s.Sensors.Probes)
	for _, id := range listed {
		if !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	return ids, nil
}

// namesOf returns what probes are called: the configuration's name and the id.
func (s *settings) namesOf(ids []string) []string {
	names := slices.Clone(ids)
	for i, id := range ids {
		for _, p := range s.Box.Probes {
			if p.ID == id {
				names[i] = p.Name + " " + id
			}
		}
	}
	return names
}

// tell names each probe as it is warmed. One that was named is left out of it from then
// on, since it stays warm for a while.
func (w *watch) tell(ctx context.Context) error {
	named := make([]bool, len(w.names))
	for left := len(named); left > 0; left-- {
		fmt.Fprintln(w.out, words.WarmOne(left))
		w.stage()
		held, err := w.heldOne(ctx, named)
		if errors.Is(err, errLate) {
			fmt.Fprintln(w.out, words.NoneWarmed)
			return errWrong
		}
		if err != nil {
			return w.explain(ctx, err)
		}
		named[held] = true
		fmt.Fprintln(w.out, words.Held(w.names[held]))
	}
	return nil
}

// heldOne waits until one of those that have not been named is warmed.
func (w *watch) heldOne(ctx context.Context, named []bool) (int, error) {
	for {
		if err := w.next(ctx, calibrate.Arrived); err != nil {
			return 0, err
		}
		others := slices.Clone(w.traces)
		for i := range others {
			if named[i] {
				others[i] = nil
			}
		}
		if held, ok := calibrate.Held(others); ok {
			return held, nil
		}
	}
}
