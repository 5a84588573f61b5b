package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/table"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// exposeFlags are the flags of the verb beside the shared ones.
type exposeFlags struct {
	limits                        limits
	place                         *placeFlags
	wood                          *woodFlags
	boxMM, lengthMM, atMM         *float64
	woodC, inS, outS, lagS, probe *float64
	points                        *float64
	json                          *bool
	units                         unitsFlag
}

func newExpose() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "expose TRACE.csv",
		Short: "Heat that one rib took, from any logger's temperatures",
		Long: "Reckons the heat that one rib took at points along its length from the temperatures at both\n" +
			"ends of the box. TRACE.csv has the columns elapsed_s,steam_c,door_c with rising times; an\n" +
			"empty cell is a reading that failed. With a column witness_c, a probe in the core of an\n" +
			"offcut that goes in with the rib and lies at its middle, the film is fitted to it. Heat is counted in minutes at 100 °C that would do the\n" +
			"same, up to the pull. Points run from the steam end.",
		Example: "  withy expose box.csv --thickness-mm 6.5 --width-mm 28 --in-s 1800 --out-s 2160\n" +
			"  withy expose box.csv --box-mm 1500 --length-mm 1100 --at-mm 0 --altitude-m 400 --json",
		Args: oneFile,
	}
	f := newExposeFlags(cmd)
	cmd.RunE = func(cmd *cobra.Command, args []string) error { return f.run(cmd.OutOrStdout(), args[0]) }
	return cmd
}

func newExposeFlags(cmd *cobra.Command) *exposeFlags {
	f := &exposeFlags{limits: limits{flags: cmd.Flags()}}
	l := &f.limits
	f.place, f.wood = newPlaceFlags(l), newWoodFlags(l)
	f.boxMM = l.number("box-mm", 1500, 100, 20000, "from the steam end's probe to the door end's, mm")
	f.lengthMM = l.number("length-mm", 0, 0, 20000, "of the rib, mm; 0: the box's")
	f.atMM = l.number("at-mm", 0, -1000, 20000, "the rib's inner end from the steam end's probe, mm; not given: centred")
	f.woodC = l.number("wood-c", 15, -30, 100, "the rib when it goes in, °C")
	f.inS = l.number("in-s", 0, 0, 1e9, "when it goes in, elapsed seconds; not given: at the first row")
	f.outS = l.number("out-s", 0, 0, 1e9, "when it is pulled, elapsed seconds; not given: at the last row")
	f.lagS = l.number("probe-lag-s", 0, 0, 60, "time constant of the probes, undone; 0: the temperatures as they stand")
	f.probe = l.number("probe-k", 2, 0, 10, "how far a probe may be off, K: 2 as bought, 0.2 calibrated")
	f.points = l.number("points", soak.DefaultPoints, 2, steambox.MaxPoints, "points along the rib, ends included")
	f.json = cmd.Flags().Bool("json", false, "print one JSON document")
	f.units = newUnitsFlag(cmd)
	return f
}

// temperatures that a cell may hold, °C.
const coldestC, hottestC = -60, 200

// latestS is the latest elapsed time that a trace may hold: three years.
const latestS = 1e8

func readTrace(name string) ([]steambox.TraceRow, error) {
	f, err := table.Open(name, table.Columns{Required: []string{"elapsed_s", "steam_c", "door_c"}, Optional: []string{"witness_c"}})
	if err != nil {
		return nil, err
	}
	rows := make([]steambox.TraceRow, 0, len(f.Rows))
	last := math.Inf(-1)
	for i := range f.Rows {
		r := &f.Rows[i]
		t := steambox.TraceRow{ElapsedS: r.Required("elapsed_s", 0, latestS)}
		for end, column := range []string{"steam_c", "door_c"} {
			c, ok := r.Number(column, coldestC, hottestC)
			t.End[end] = profile.Reading{C: c, OK: ok}
		}
		if c, ok := r.Number("witness_c", coldestC, hottestC); ok {
			t.Witness = profile.Reading{C: c, OK: true}
		}
		if t.ElapsedS <= last {
			f.Mistake(r.Line, "elapsed_s", "%g does not come after %g", t.ElapsedS, last)
		}
		last = t.ElapsedS
		rows = append(rows, t)
	}
	return rows, f.Err()
}

func (f *exposeFlags) run(out io.Writer, name string) error {
	rows, err := readTrace(name)
	units, wrong := f.units.choose("")
	if err := errors.Join(err, f.limits.check(), wrong); err != nil {
		return err
	}
	e, err := f.exposing(rows)
	if err != nil {
		return err
	}
	found, err := steambox.Expose(rows, e)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if *f.json {
		return printJSON(out, exposedJSON(found, e))
	}
	return printExposed(out, found, e, units)
}

// exposing gathers the flags, which are in range, and what the trace's times fill in.
func (f *exposeFlags) exposing(rows []steambox.TraceRow) (steambox.Exposing, error) {
	around, err1 := f.place.surroundings()
	assumed, err2 := f.wood.assumed()
	box, length := *f.boxMM, *f.lengthMM
	if length == 0 {
		length = box
	}
	at := (box - length) / 2
	if f.limits.flags.Changed("at-mm") {
		at = *f.atMM
	}
	e := steambox.Exposing{
		Assumed: assumed, Surroundings: around,
		BoxM: unit.Metre(box / 1000), InnerM: unit.Metre(at / 1000), OuterM: unit.Metre((at + length) / 1000),
		Points: int(*f.points), WoodC: *f.woodC, InS: *f.inS, OutS: *f.outS, LagS: *f.lagS,
		UncertaintyK: unit.Kelvin(*f.probe),
	}
	if len(rows) > 0 {
		if !f.limits.flags.Changed("in-s") {
			e.InS = rows[0].ElapsedS
		}
		if !f.limits.flags.Changed("out-s") {
			e.OutS = rows[len(rows)-1].ElapsedS
		}
	}
	return e, errors.Join(err1, err2)
}

// exposed is the verb's JSON document.
type exposed struct {
	SoakS    float64        `json:"soak_s"`
	BoilingC float64        `json:"boiling_c"`
	Points   []exposedPoint `json:"points"`
	Steam    exposedEnd     `json:"steam_end"`
	Door     exposedEnd     `json:"door_end"`
	Ratio    float64        `json:"ratio"`
	Quality  string         `json:"quality"`
	BlindS   float64        `json:"blind_s"`
	Film     *fittedFilm    `json:"witness,omitempty"`
}

// fittedFilm is what a witness taught.
type fittedFilm struct {
	FilmWPerM2K float64 `json:"film_w_m2k"`
	LeftK       float64 `json:"left_k"`
}

type exposedPoint struct {
	XMM float64 `json:"x_mm"`
	exposedEnd
}

type exposedEnd struct {
	ExposureMin   float64 `json:"exposure_min"`
	ExposureLoMin float64 `json:"exposure_lo_min"`
	ExposureHiMin float64 `json:"exposure_hi_min"`
	CoreC         float64 `json:"core_c"`
}

func endOf(p *soak.Point) exposedEnd {
	return exposedEnd{
		ExposureMin:   float64(p.Track[soak.Best].Exposure),
		ExposureLoMin: float64(p.Track[soak.Low].Exposure),
		ExposureHiMin: float64(p.Track[soak.High].Exposure),
		CoreC:         p.Track[soak.Best].CoreC,
	}
}

func exposedJSON(x steambox.Exposed, e steambox.Exposing) exposed {
	out := exposed{
		SoakS: x.SoakS, BoilingC: e.Surroundings.BoilingC,
		Steam: endOf(x.Heat.End(unit.SteamEnd)), Door: endOf(x.Heat.End(unit.DoorEnd)),
		Ratio: x.Heat.Ratio(), Quality: x.Quality.String(), BlindS: x.Heat.BlindS,
	}
	if x.FilmWPerM2K > 0 {
		out.Film = &fittedFilm{x.FilmWPerM2K, x.WitnessLeftK}
	}
	for i := range x.Heat.Points {
		p := &x.Heat.Points[i]
		out.Points = append(out.Points, exposedPoint{XMM: float64(p.X) * 1000, exposedEnd: endOf(p)})
	}
	return out
}

func printExposed(out io.Writer, x steambox.Exposed, e steambox.Exposing, u measure.Units) error {
	d := exposedJSON(x, e)
	fmt.Fprintf(out, "In the steam %.0f s; water boils at %s here. Heat taken in minutes at %s:\n\n", d.SoakS, u.Temperature(d.BoilingC, 1), u.HeatAt())
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "from the steam\tbest guess\tat least\tat most\tcore\t")
	for i, p := range d.Points {
		where := ""
		switch i {
		case 0:
			where = "  steam end"
		case len(d.Points) - 1:
			where = "  door end"
		}
		fmt.Fprintf(w, "%s\t%.2f\t%.2f\t%.2f\t%s\t%s\n", u.Length(p.XMM/1000, 0), p.ExposureMin, p.ExposureLoMin, p.ExposureHiMin, u.Temperature(p.CoreC, 1), where)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nThe door end took %.0f %% of what the steam end took.", 100*d.Ratio)
	if x.Quality != profile.Good {
		fmt.Fprintf(out, " Not sure: %.0f s without a reading at either end, %.0f s with one end only.", d.BlindS, x.Heat.DoubtS)
	}
	if d.Film != nil {
		fmt.Fprintf(out, "\nBy the witness the film is %.0f W/m²K, with %s left over: film_w_m2k in the settings.", d.Film.FilmWPerM2K, u.Difference(d.Film.LeftK, 1))
	}
	fmt.Fprintln(out)
	return nil
}
