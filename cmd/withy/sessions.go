package main

import (
	"errors"
	"fmt"
	"os"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/record"
)

func newSessions() *cobra.Command {
	var data string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "sessions",
		Short:   "What is on record: list, export, describe, delete",
		Example: "  withy sessions --data DIR\n  withy sessions export 2026-05-01-1 --data DIR >session.jsonl\n  withy sessions schema >session-line.schema.json\n  withy sessions delete 2026-05-01-1 --data DIR",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withRecord(data, record.Read, func(r *record.Record) error { return listSessions(cmd, r, asJSON) })
		},
	}
	cmd.PersistentFlags().StringVar(&data, "data", defaults().Data, "folder of the record")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	cmd.AddCommand(
		&cobra.Command{
			Use: "export SESSION", Short: "Print a session as JSON Lines; schema describes them", Args: cobra.ExactArgs(1),
			RunE: func(cmd *cobra.Command, args []string) error {
				return withRecord(data, record.Read, func(r *record.Record) error { return r.Export(cmd.OutOrStdout(), args[0]) })
			},
		},
		&cobra.Command{
			Use: "schema", Short: "Print the JSON Schema of an exported session's lines, each field with its unit", Args: cobra.NoArgs,
			RunE: func(cmd *cobra.Command, _ []string) error {
				_, err := cmd.OutOrStdout().Write(record.LineSchema())
				return err
			},
		},
		&cobra.Command{
			Use: "delete SESSION", Short: "Delete a session for good", Args: cobra.ExactArgs(1),
			RunE: func(_ *cobra.Command, args []string) error {
				return withRecord(data, record.Open, func(r *record.Record) error { return r.Delete(args[0]) })
			},
		})
	return cmd
}

// withRecord opens the record of a folder that has one, to read or to write.
func withRecord(data string, open func(dir string) (*record.Record, error), do func(*record.Record) error) error {
	if info, err := os.Stat(data); err != nil || !info.IsDir() {
		return fmt.Errorf("--data %s: there is no such folder", data)
	}
	r, err := open(data)
	if err != nil {
		return err
	}
	return errors.Join(do(r), r.Close())
}

// summary is a session as the verb lists it.
type summary struct {
	Session   string    `json:"session"`
	Began     time.Time `json:"began"`
	LastedS   float64   `json:"lasted_s"`
	Boat      string    `json:"boat"`
	Rehearsal bool      `json:"rehearsal"`
	Supple    int       `json:"supple"`
	Stiff     int       `json:"stiff"`
	Cracked   int       `json:"cracked"`
	Finished  bool      `json:"finished"`
	Bytes     int64     `json:"bytes"`
}

func listSessions(cmd *cobra.Command, r *record.Record, asJSON bool) error {
	all, err := r.Sessions()
	if err != nil {
		return err
	}
	list := []summary{}
	for _, s := range all {
		list = append(list, summary{s.ID, s.Began, s.Lasted.Seconds(), s.Boat, s.Rehearsal, s.Supple, s.Stiff, s.Cracked, s.Finished, s.Bytes})
	}
	if asJSON {
		return printJSON(cmd.OutOrStdout(), list)
	}
	w := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "session\tlasted\tboat\tsupple\tstiff\tcracked\t")
	for _, s := range list {
		note := ""
		if s.Rehearsal {
			note = "rehearsal"
		}
		if !s.Finished {
			note += " not finished"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%d\t%d\t%s\n", s.Session,
			time.Duration(s.LastedS*float64(time.Second)).Round(time.Second), s.Boat, s.Supple, s.Stiff, s.Cracked, note)
	}
	return w.Flush()
}
