package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/steambox/measure"
)

// historyFlags are the flags of the verb.
type historyFlags struct {
	data, find, html string
	rehearsals       bool
	asJSON, asCSV    bool
	units            unitsFlag
}

func newHistory() *cobra.Command {
	f := &historyFlags{}
	var columns strings.Builder
	for _, c := range history.Columns {
		fmt.Fprintf(&columns, "  %-12s  %s\n", c.Name, c.Means)
	}
	cmd := &cobra.Command{
		Use:   "history",
		Short: "What all sessions come to: what worked in each stick, what broke, how the box went",
		Long: "What is on record of all sessions: which soak worked in which stick and how much of it broke,\n" +
			"and of each session how its ends shared the heat and what boiled off. --find keeps what all its\n" +
			"words are found in: the name, date, box and boat of a session, and a rib's number, boat and stick.\n" +
			"The line of --csv for each rib that was pulled:\n\n" + columns.String(),
		Example: "  withy history --data DIR --find \"oak heron\"\n  withy history --data DIR --csv >ribs.csv\n" +
			"  withy history compare 2026-05-01-1 2026-05-08-1 --data DIR --html both.html",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd) },
	}
	cmd.PersistentFlags().StringVar(&f.data, "data", defaults().Data, "folder of the record")
	cmd.PersistentFlags().StringVar(&f.html, "html", "", "write the page to this file")
	cmd.Flags().StringVar(&f.find, "find", "", "words that must be found")
	cmd.Flags().BoolVar(&f.rehearsals, "rehearsals", false, "of rehearsals, which are left out else")
	cmd.Flags().BoolVar(&f.asJSON, "json", false, "print one JSON document")
	cmd.Flags().BoolVar(&f.asCSV, "csv", false, "print a line for each rib that was pulled")
	cmd.MarkFlagsMutuallyExclusive("json", "csv")
	f.units = newUnitsFlag(cmd)
	cmd.AddCommand(f.compare())
	return cmd
}

func (f *historyFlags) compare() *cobra.Command {
	var units unitsFlag
	cmd := &cobra.Command{
		Use: "compare SESSION SESSION", Short: "Two sessions on one graph and in one table, as a page", Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			u, err := units.choose("")
			if err != nil {
				return err
			}
			var two [2]*report.Report
			for i, session := range args {
				if two[i], err = reportOnRecord(cmd.Context(), f.data, session); err != nil {
					return err
				}
			}
			return writePage(cmd.OutOrStdout(), "--html", f.html, func(w io.Writer) error { return report.WriteBeside(w, two[0], two[1], time.Local, u) })
		},
	}
	units = newUnitsFlag(cmd)
	return cmd
}

func (f *historyFlags) run(cmd *cobra.Command) error {
	u, err := f.units.choose("")
	if err != nil {
		return err
	}
	h, err := historyOnRecord(cmd.Context(), f.data, f.rehearsals)
	if err != nil {
		return err
	}
	h = h.Find(f.find, time.Local)
	out := cmd.OutOrStdout()
	if f.html != "" {
		err := writePage(out, "--html", f.html, func(w io.Writer) error { return h.WriteHTML(w, time.Local, u, f.find) })
		if err != nil {
			return err
		}
	}
	switch {
	case f.asJSON:
		return printJSON(out, h)
	case f.asCSV:
		return h.WriteCSV(out)
	case f.html != "":
		return nil
	}
	return printHistory(out, h, u)
}

func historyOnRecord(ctx context.Context, data string, rehearsals bool) (out *history.History, err error) {
	err = withRecord(data, record.Read, func(r *record.Record) error {
		out, err = daemon.History(ctx, r, rehearsals)
		return err
	})
	return out, err
}

// printHistory prints the sticks and the sessions as tables.
func printHistory(out io.Writer, h *history.History, u measure.Units) error {
	sticks, days := h.Rows(time.Local, u)
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "stick\tthick\tbends\tbent\tcracked\tsoak that worked\theat that worked, cooler end")
	for _, s := range sticks {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", s.Stick, s.Thick, s.Bend, s.Bent, s.Broke, s.Soak, s.Heat)
	}
	err := w.Flush()
	fmt.Fprintln(out)
	fmt.Fprintln(w, "session\tboat\tbent\twarm after\tdoor to steam end\tboiled off")
	for _, d := range days {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", d.Session, d.Boat, d.Bent, d.Warm, d.Ratio, d.Rate)
	}
	return errors.Join(err, w.Flush())
}
