package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/steambox/measure"
)

func newReport() *cobra.Command {
	var data string
	var to reportOutput
	var units unitsFlag
	cmd := &cobra.Command{
		Use:   "report SESSION",
		Short: "One page that tells a session: what was bent, how it went, what to do next time",
		Long: "SESSION is the name of one on record, also of one that goes on, or a file that sessions export\n" +
			"wrote. The page is HTML that needs nothing else, to read, to print and to take home: a sheet for\n" +
			"each boat is at its end. --png draws its graphs as one picture, 2400 pixels wide, for a sheet\n" +
			"of A4.",
		Example: "  withy report 2026-05-01-1 --data DIR >report.html\n  withy report session.jsonl --html report.html --png report.png --json",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			u, err := units.choose("")
			if err != nil {
				return err
			}
			r, err := reportFile(args[0])
			if errors.Is(err, fs.ErrNotExist) {
				r, err = reportOnRecord(cmd.Context(), data, args[0])
			}
			if err != nil {
				return err
			}
			return to.print(cmd.OutOrStdout(), r, u)
		},
	}
	cmd.Flags().StringVar(&data, "data", defaults().Data, "folder of the record")
	cmd.Flags().StringVar(&to.html, "html", "", "write the page to this file, not to standard output")
	cmd.Flags().StringVar(&to.png, "png", "", "write a picture of the graphs to this file")
	cmd.Flags().BoolVar(&to.json, "json", false, "print one JSON document")
	units = newUnitsFlag(cmd)
	return cmd
}

// reportFile reports an exported session.
func reportFile(name string) (*report.Report, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	session, entries, err := record.Import(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return daemon.ReportOf(session, entries)
}

func reportOnRecord(ctx context.Context, data, id string) (out *report.Report, err error) {
	err = withRecord(data, record.Read, func(r *record.Record) error {
		out, err = daemon.Report(ctx, r, id)
		return err
	})
	return out, err
}

// reportOutput is what is to be made of a report: files by their names, "" for none.
type reportOutput struct {
	html, png string
	json      bool
}

// print writes the files that are named and prints the JSON; where nothing else is wanted,
// it prints the page.
func (o *reportOutput) print(out io.Writer, r *report.Report, u measure.Units) error {
	page := func(w io.Writer) error { return r.WriteHTML(w, time.Local, u) }
	picture := func(w io.Writer) error { return r.WritePNG(w, time.Local, u) }
	var wrong []error
	if o.html != "" {
		wrong = append(wrong, writePage(out, "--html", o.html, page))
	}
	if o.png != "" {
		wrong = append(wrong, writePage(out, "--png", o.png, picture))
	}
	if err := errors.Join(wrong...); err != nil {
		return err
	}
	switch {
	case o.json:
		return printJSON(out, r)
	case o.html == "" && o.png == "":
		return page(out)
	}
	return nil
}
