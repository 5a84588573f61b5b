package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/table"
	"withy/steambox/hull"
	"withy/steambox/measure"
	"withy/steambox/soak"
	"withy/steambox/words"
)

// hullFlags are the flags of the verb.
type hullFlags struct {
	limits             limits
	ribs, next, margin *float64
	always, blind      *bool
	json               *bool
	units              unitsFlag
}

func newHull() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "hull FITTED.csv",
		Short: "How a hull balances as ribbed so far, and the way round for the next rib",
		Long: "Adds up how much softer, and so rounder, one side of the hull came out than the other, and\n" +
			"says to which side the mark of the next rib goes. FITTED.csv has one row for each rib in the\n" +
			"order of work, with the columns rib,station_mm,mark,steam_exposure_min,door_exposure_min and\n" +
			"optional weight. mark is port or starboard, the side of the end that lay at the box's door;\n" +
			"station_mm grows from bow to stern. Two rows at one station: the later replaced the earlier.\n" +
			"Marks go by turns along the keel, one port, one starboard; otherwise only after a rib went in\n" +
			"the wrong way round or was replaced.",
		Example: "  withy hull fitted.csv --ribs 24\n" +
			"  withy hull fitted.csv --ribs 24 --next-station-mm 1800 --json",
		Args: oneFile,
	}
	f := newHullFlags(cmd)
	cmd.RunE = func(cmd *cobra.Command, args []string) error { return f.run(cmd.OutOrStdout(), args[0]) }
	return cmd
}

func newHullFlags(cmd *cobra.Command) *hullFlags {
	f := &hullFlags{limits: limits{flags: cmd.Flags()}}
	l := &f.limits
	f.ribs = l.number("ribs", 0, 0, hull.MaxRibs, "in the whole hull; 0: as far as the next")
	f.next = l.number("next-station-mm", 0, -hull.MaxStationM*1000, hull.MaxStationM*1000, "of the next rib, mm; not given: guessed from those fitted")
	f.margin = l.number("margin", hull.DefaultMargin, 0, 1, "how much lean or twist must be saved before a rib is put out of turn")
	f.always = cmd.Flags().Bool("always-alternate", false, "one port, one starboard whatever happened")
	f.blind = cmd.Flags().Bool("uncalibrated", false, "the ends can't be told apart: probes not calibrated, or steam let in at the middle")
	f.json = cmd.Flags().Bool("json", false, "print one JSON document")
	f.units = newUnitsFlag(cmd)
	return f
}

func (f *hullFlags) check() error {
	err := f.limits.check()
	if *f.ribs != math.Trunc(*f.ribs) {
		err = errors.Join(err, fmt.Errorf("--ribs %g: a whole number", *f.ribs))
	}
	return err
}

// readFitted reads the ribs in the order of work.
func readFitted(name string) ([]hull.Fitted, error) {
	f, err := table.Open(name, table.Columns{
		Required: []string{"rib", "station_mm", "mark", "steam_exposure_min", "door_exposure_min"},
		Optional: []string{"weight"},
	})
	if err != nil {
		return nil, err
	}
	var fitted []hull.Fitted
	for i := range f.Rows {
		row := &f.Rows[i]
		rib := fittedRow(row)
		if rib.Label == "" {
			f.Mistake(row.Line, "rib", "empty; each rib needs a label")
		}
		if !slices.Contains(hull.Sides, rib.Mark) {
			f.Mistake(row.Line, "mark", "%q is not port or starboard", rib.Mark)
		}
		elsewhere := func(r hull.Fitted) bool { return r.Label == rib.Label && r.StationM != rib.StationM }
		if j := slices.IndexFunc(fitted, elsewhere); j >= 0 && rib.Label != "" {
			f.Mistake(row.Line, "rib", "%q stands at %g mm too", rib.Label, fitted[j].StationM*1000)
		}
		fitted = append(fitted, rib)
	}
	if len(f.Rows) == 0 {
		f.Mistake(1, "rib", "no ribs; a row for each rib fitted belongs under this line")
	}
	return fitted, f.Err()
}

func fittedRow(row *table.Row) hull.Fitted {
	minutes := func(column string) soak.Exposure {
		return soak.Exposure(row.Required(column, float64(hull.MinExposure), float64(hull.MaxExposure)))
	}
	rib := hull.Fitted{
		Label: row.Text("rib"), Mark: hull.Side(row.Text("mark")),
		StationM: row.Required("station_mm", -hull.MaxStationM*1000, hull.MaxStationM*1000) / 1000,
		Steam:    minutes("steam_exposure_min"), Door: minutes("door_exposure_min"),
	}
	rib.Weight, _ = row.Number("weight", hull.MinWeight, hull.MaxWeight)
	return rib
}

func (f *hullFlags) run(out io.Writer, name string) error {
	fitted, err := readFitted(name)
	units, wrong := f.units.choose("")
	if err := errors.Join(err, f.check(), wrong); err != nil {
		return err
	}
	layout, err := f.lay(fitted)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	h, err := hull.New(layout.stationsM, fitted)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	found := ribbed{layout: layout, balance: h.Balance()}
	found.in, _ = h.Ribs()
	found.full = found.in == int(*f.ribs)
	if layout.known {
		rule := hull.Rule{Margin: *f.margin, Always: *f.always, Blind: *f.blind}
		if found.advice, err = h.Advise(layout.nextM, rule); err != nil {
			return err
		}
	}
	if *f.json {
		return printJSON(out, found.document())
	}
	f.print(out, found, units)
	return nil
}

// layout is where ribs stand and where the next one goes.
type layout struct {
	stationsM []float64
	nextM     float64
	known     bool // nextM means something
	guessed   bool // nobody said it
}

// lay finds the stations of the whole hull and the next one, guessing what the
// flags don't say.
func (f *hullFlags) lay(fitted []hull.Fitted) (layout, error) {
	var order []float64
	for i := range fitted {
		order = append(order, fitted[i].StationM)
	}
	if f.limits.flags.Changed("next-station-mm") {
		next := *f.next / 1000
		stations, err := hull.Lay(append(order, next), int(*f.ribs))
		return layout{stationsM: stations, nextM: next, known: true}, err
	}
	stations, err := hull.Lay(order, int(*f.ribs))
	if err != nil {
		return layout{}, err
	}
	if *f.ribs == 0 {
		return guess(order, stations)
	}
	next, ok := hull.Next(order, stations)
	return layout{stationsM: stations, nextM: next, known: ok, guessed: true}, nil
}

// guess supposes one rib more than the stations known where all of them are taken.
func guess(order, stations []float64) (layout, error) {
	if next, ok := hull.Next(order, stations); ok {
		return layout{stationsM: stations, nextM: next, known: true, guessed: true}, nil
	}
	longer, err := hull.Lay(order, len(stations)+1)
	if err != nil {
		return layout{}, err
	}
	if next, ok := hull.Next(order, longer); ok {
		return layout{stationsM: longer, nextM: next, known: true, guessed: true}, nil
	}
	return layout{stationsM: stations}, nil
}

// ribbed is what the verb found.
type ribbed struct {
	layout
	balance hull.Balance
	advice  hull.Advice
	in      int  // how many ribs are in
	full    bool // that is all of them
}

// why is the sentence for the next rib, or for there being none.
func (r ribbed) why() string {
	switch {
	case r.known:
		return words.WayRound(r.advice)
	case r.full:
		return words.AllFitted
	}
	return words.WhereIsIt
}

// hullDocument is the verb's JSON document. What is not known is left out.
type hullDocument struct {
	Lean        float64   `json:"lean"`
	LeanSD      float64   `json:"lean_sd"`
	Twist       float64   `json:"twist"`
	TwistSD     float64   `json:"twist_sd"`
	NextMM      *float64  `json:"next_station_mm,omitempty"`
	Next        hull.Side `json:"next,omitempty"`
	Alternation hull.Side `json:"alternation,omitempty"`
	Reason      string    `json:"reason,omitempty"`
	Why         string    `json:"why"`
}

func (r ribbed) document() hullDocument {
	d := hullDocument{
		Lean: r.balance.Lean, LeanSD: r.balance.LeanSD,
		Twist: r.balance.Twist, TwistSD: r.balance.TwistSD, Why: r.why(),
	}
	if r.known {
		mm := math.Round(r.nextM*1e6) / 1000
		d.NextMM, d.Next, d.Alternation, d.Reason = &mm, r.advice.Mark, r.advice.ByTurns, r.advice.Reason.String()
	}
	return d
}

func (f *hullFlags) print(out io.Writer, r ribbed, u measure.Units) {
	of := ""
	if *f.ribs > 0 {
		of = fmt.Sprintf(" of %.0f", *f.ribs)
	}
	fmt.Fprintf(out, "Ribs in: %d%s. %s\n", r.in, of, words.Balance(r.balance))
	if r.known {
		by := ""
		if r.guessed {
			by = ", guessed from the spacing"
		}
		fmt.Fprintf(out, "Next at %s%s.\n", u.Length(r.nextM, 0), by)
	}
	fmt.Fprintln(out, r.why())
}
