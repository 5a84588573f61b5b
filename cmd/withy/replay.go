package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/steambox"
	"withy/steambox/measure"
)

func newReplay() *cobra.Command {
	var data string
	var asJSON bool
	var units unitsFlag
	cmd := &cobra.Command{
		Use:   "replay SESSION",
		Short: "Reckon a recorded session again from its events, without hardware",
		Long: "SESSION is the name of one on record, or a file that sessions export wrote. The numbers are the\n" +
			"same as they were, bit for bit on one family of processors.",
		Example: "  withy replay 2026-05-01-1 --data DIR\n  withy replay session.jsonl --json",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			u, err := units.choose("")
			if err != nil {
				return err
			}
			fold, err := foldFile(args[0])
			if errors.Is(err, fs.ErrNotExist) {
				fold, err = foldOnRecord(data, args[0])
			}
			if err != nil {
				return err
			}
			return printReplay(cmd.OutOrStdout(), fold.Session.Status(), asJSON, u)
		},
	}
	cmd.Flags().StringVar(&data, "data", defaults().Data, "folder of the record")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	units = newUnitsFlag(cmd)
	return cmd
}

// foldFile folds an exported session.
func foldFile(name string) (*daemon.Fold, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	session, entries, err := record.Import(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return daemon.FoldAll(session.Box, entries)
}

// foldOnRecord folds a session from its beginning, whatever snapshots there are.
func foldOnRecord(data, id string) (fold *daemon.Fold, err error) {
	err = withRecord(data, record.Read, func(r *record.Record) error {
		session, err := r.Session(id)
		if err == nil {
			fold, err = daemon.FoldAll(session.Box, r.Entries(id, 0))
		}
		return err
	})
	return fold, err
}

func printReplay(out io.Writer, s steambox.Status, asJSON bool, u measure.Units) error {
	if asJSON {
		return printJSON(out, s)
	}
	fmt.Fprintf(out, "%s, %s: %.0f s. Heat taken in minutes at %s, best guess and bounds:\n\n", s.Box, s.Boat, s.ElapsedS, u.HeatAt())
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "rib\tsoak\tsteam end\t\tdoor end\t\tbent\tmark to")
	for _, r := range s.Ribs {
		if r.Ends == nil {
			continue
		}
		e := r.Ends
		fmt.Fprintf(w, "%s\t%.0f s\t%.2f\t(%.2f to %.2f)\t%.2f\t(%.2f to %.2f)\t%s\t%s\n", r.Rib, r.SoakS,
			e[0].Min, e[0].LoMin, e[0].HiMin, e[1].Min, e[1].LoMin, e[1].HiMin, r.Outcome, r.Mark)
	}
	return w.Flush()
}
