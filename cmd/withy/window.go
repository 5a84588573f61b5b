package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/table"
	"withy/steambox/measure"
	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/window"
	"withy/steambox/words"
)

// windowFlags are the flags of the verb beside the shared ones.
type windowFlags struct {
	limits               limits
	place                *placeFlags
	wood                 *woodFlags
	ratio, steamC, doorC *float64
	candidates, stick    *string
	dryness, bend        *string
	json                 *bool
	units                unitsFlag
}

func newWindow() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "window BENDS.csv",
		Short: "The soak window of a stick from its test bends, and the next bend worth making",
		Long: "Learns from bends how much heat a stick of wood wants and how much it stands, and says what\n" +
			"to aim at so that both ends of a rib come out supple. BENDS.csv has a column outcome (supple,\n" +
			"stiff or cracked) and one of exposure_min (heat taken, minutes at 100 °C, see withy expose) and\n" +
			"soak_s (time in steam of --steam-c and --door-c, the wood at first as warm as the shop). It may\n" +
			"have stick, thickness_mm, bend (easy, middling or hard), where (of a crack: outside, inside or\n" +
			"snapped) and note. A file with only the header asks for the usual.",
		Example: "  withy window bends.csv --thickness-mm 6.5 --end-ratio 0.8\n" +
			"  withy window bends.csv --stick A --bend hard --candidates 1.0,2.0,3.0 --json",
		Args: oneFile,
	}
	f := newWindowFlags(cmd)
	cmd.RunE = func(cmd *cobra.Command, args []string) error { return f.run(cmd.OutOrStdout(), args[0]) }
	return cmd
}

// What a box's air may be, °C: below the lower one no soak makes oak soft, whatever
// heat it adds up to (wet oak softens at 79 °C, measured).
const coolestSteamC, hottestSteamC = 80, 110

func newWindowFlags(cmd *cobra.Command) *windowFlags {
	f := &windowFlags{limits: limits{flags: cmd.Flags()}}
	l, text := &f.limits, cmd.Flags().String
	f.place, f.wood = newPlaceFlags(l), newWoodFlags(l)
	f.ratio = l.number("end-ratio", 1, 0.05, 20, "heat that the door end takes over what the steam end takes; the target is the steam end's")
	f.steamC = l.number("steam-c", 100, coolestSteamC, hottestSteamC, "air at the steam end, °C; not given: what water boils at there")
	f.doorC = l.number("door-c", 100, coolestSteamC, hottestSteamC, "air at the door end, °C; not given: as at the steam end")
	f.candidates = text("candidates", "", "only these can be tried next: steam-end exposures of the ribs in the box, min at 100 °C, such as 1.0,2.0,3.0")
	f.stick = text("stick", "", "only this stick of the file")
	f.dryness = text("dryness", "", fmt.Sprintf("one of %v; not given: by --moisture-pct", window.Drynesses))
	f.bend = text("bend", string(window.Middling), fmt.Sprintf("the window for bends that are one of %v", window.Difficulties))
	f.json = cmd.Flags().Bool("json", false, "print one JSON document")
	f.units = newUnitsFlag(cmd)
	return f
}

// triedStick is one stick of the file.
type triedStick struct {
	name        string
	thicknessMM float64 // 0: the file doesn't say
	saidIn      int     // the line that says it
	bends       []triedBend
}

// triedBend is a bend as the file has it.
type triedBend struct {
	window.Bend
	soakS float64 // 0: its exposures are known
}

// Limits of a soak in the file, in seconds.
const shortestSoakS, longestSoakS = 1, 86400

// readBends reads the file's sticks, in the order in which they first stand there.
func readBends(name string) ([]triedStick, error) {
	f, err := table.Open(name, bendColumns)
	if err != nil {
		return nil, err
	}
	return sticksOf(f)
}

// bendColumns are those of a list of bends.
var bendColumns = table.Columns{
	Required: []string{"outcome"},
	Optional: []string{"exposure_min", "soak_s", "stick", "thickness_mm", "bend", "where", "note"},
}

func sticksOf(f *table.File) ([]triedStick, error) {
	var sticks []triedStick
	for i := range f.Rows {
		r := &f.Rows[i]
		label := r.Text("stick")
		at := slices.IndexFunc(sticks, func(s triedStick) bool { return s.name == label })
		if at < 0 {
			at = len(sticks)
			sticks = append(sticks, triedStick{name: label})
		}
		s := &sticks[at]
		s.bends = append(s.bends, readBend(f, r))
		s.readThickness(f, r)
	}
	return sticks, f.Err()
}

func readBend(f *table.File, r *table.Row) triedBend {
	b := triedBend{Bend: window.Bend{
		Cool: 1, Hot: 1, // until they are read
		Outcome:    window.Outcome(r.Text("outcome")),
		Where:      window.Where(r.Text("where")),
		Difficulty: window.Difficulty(r.Text("bend")),
	}}
	if b.Outcome == "" {
		f.Mistake(r.Line, "outcome", "empty; one of %v belongs here", window.Outcomes)
	}
	e, given := r.Number("exposure_min", float64(window.MinExposure), float64(window.MaxExposure))
	if given {
		b.Cool, b.Hot = soak.Exposure(e), soak.Exposure(e)
	}
	b.soakS, _ = r.Number("soak_s", shortestSoakS, longestSoakS)
	switch exposure, soaked := r.Text("exposure_min") != "", r.Text("soak_s") != ""; {
	case exposure && soaked:
		f.Mistake(r.Line, "soak_s", "exposure_min stands there too: only one of them")
	case !exposure && !soaked:
		f.Mistake(r.Line, "exposure_min", "neither it nor soak_s: one of them belongs there")
	}
	for _, fault := range b.Check() {
		f.Mistake(r.Line, fault.Column, "%s", fault.Says)
	}
	return b
}

// readThickness demands that a stick has one thickness.
func (s *triedStick) readThickness(f *table.File, r *table.Row) {
	switch mm, ok := r.Number("thickness_mm", thinnestMM, thickestMM); {
	case !ok:
	case s.saidIn == 0:
		s.thicknessMM, s.saidIn = mm, r.Line
	case mm != s.thicknessMM:
		f.Mistake(r.Line, "thickness_mm", "%g, but line %d has %g for the same stick: another thickness is another stick", mm, s.saidIn, s.thicknessMM)
	}
}

// The thicknesses that --thickness-mm may have, mm.
const thinnestMM, thickestMM = 1, 100

func (f *windowFlags) run(out io.Writer, name string) error {
	sticks, err1 := readBends(name)
	candidates, err2 := f.readCandidates()
	units, err3 := f.units.choose("")
	err := errors.Join(err1, f.limits.check(), err2, f.checkWords(), err3)
	if err != nil {
		return err
	}
	if sticks, err = f.choose(name, sticks); err != nil {
		return err
	}
	for i, s := range sticks {
		a, err := f.answer(s, candidates)
		if err != nil {
			return err
		}
		if *f.json {
			return printJSON(out, a.document())
		}
		if i > 0 {
			fmt.Fprintln(out)
		}
		if err := a.print(out, units); err != nil {
			return err
		}
	}
	return nil
}

func (f *windowFlags) readCandidates() ([]soak.Exposure, error) {
	var found []soak.Exposure
	var errs []error
	if *f.candidates == "" {
		return nil, nil
	}
	for text := range strings.SplitSeq(*f.candidates, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if e := soak.Exposure(x); err != nil || !(e >= window.MinExposure && e <= window.MaxExposure) {
			errs = append(errs, fmt.Errorf("--candidates %q: not a number from %g to %g", text,
				float64(window.MinExposure), float64(window.MaxExposure)))
		}
		found = append(found, soak.Exposure(x))
	}
	return found, errors.Join(errs...)
}

func (f *windowFlags) checkWords() error {
	var errs []error
	if d := window.Dryness(*f.dryness); d != "" && !slices.Contains(window.Drynesses, d) {
		errs = append(errs, fmt.Errorf("--dryness %q: one of %v", d, window.Drynesses))
	}
	if d := window.Difficulty(*f.bend); !slices.Contains(window.Difficulties, d) {
		errs = append(errs, fmt.Errorf("--bend %q: one of %v", d, window.Difficulties))
	}
	return errors.Join(errs...)
}

// choose returns the sticks that are asked for: all of them in text, one in JSON.
// A file with no bends holds the stick that is asked for, as yet untried.
func (f *windowFlags) choose(name string, sticks []triedStick) ([]triedStick, error) {
	if len(sticks) == 0 {
		return []triedStick{{name: *f.stick}}, nil
	}
	names := make([]string, len(sticks))
	for i, s := range sticks {
		names[i] = strconv.Quote(s.name)
	}
	if f.limits.flags.Changed("stick") {
		at := slices.IndexFunc(sticks, func(s triedStick) bool { return s.name == *f.stick })
		if at < 0 {
			return nil, fmt.Errorf("--stick %q: %s has the sticks %s", *f.stick, name, strings.Join(names, ", "))
		}
		return sticks[at : at+1], nil
	}
	if *f.json && len(sticks) > 1 {
		return nil, fmt.Errorf("%s: has the sticks %s: --json needs --stick to say which", name, strings.Join(names, ", "))
	}
	return sticks, nil
}

// steamed is the box as the flags give it, with one section of wood in it.
type steamed struct {
	model                *soak.Model
	woodC, steamC, doorC float64
}

// after returns what both ends of a rib take in a soak.
func (s *steamed) after(soakS float64) (steam, door soak.Exposure) {
	air := []soak.Air{airOf(s.steamC), airOf(s.doorC)}
	h := soak.NewHeat(s.model, 0, 1, len(air), s.woodC, air)
	h.Advance(s.model, time.Duration(soakS*float64(time.Second)), air, soak.Whole)
	return h.End(unit.SteamEnd).Track[soak.Best].Exposure, h.End(unit.DoorEnd).Track[soak.Best].Exposure
}

func airOf(c float64) soak.Air { return soak.Air{C: [soak.Bounds]float64{c, c, c}} }

// until returns how long the steam end needs for an exposure, in seconds; false if
// it is longer than a day.
func (s *steamed) until(e soak.Exposure) (float64, bool) {
	d, ok := s.model.Fresh(e, s.woodC, s.steamC, longestSoakS*time.Second)
	return d.Seconds(), ok
}

// windowAnswer is all that is said of one stick.
type windowAnswer struct {
	stick       string
	thicknessMM float64
	dryness     window.Dryness
	bend        window.Difficulty
	bends       []window.Bend
	window      *window.Window
	target      window.Target
	next        window.Test
	firing      []soak.Exposure // offcuts to begin with, while nothing is known
	box         steamed
	ratio       float64 // of the ends, that was counted with
	boxRatio    float64 // as the temperatures have it
}

func (f *windowFlags) answer(s triedStick, candidates []soak.Exposure) (*windowAnswer, error) {
	a := &windowAnswer{stick: s.name, thicknessMM: s.thicknessMM, bend: window.Difficulty(*f.bend), ratio: *f.ratio}
	if a.thicknessMM == 0 {
		a.thicknessMM = *f.wood.thickness
	}
	if a.dryness = window.Dryness(*f.dryness); a.dryness == "" {
		a.dryness = window.DrynessAt(*f.wood.moisture)
	}
	prior, err := f.steam(a)
	if err != nil {
		return nil, err
	}
	for _, b := range s.bends {
		if b.soakS > 0 {
			steam, door := a.box.after(b.soakS)
			b.Cool, b.Hot = min(steam, door), max(steam, door)
		}
		a.bends = append(a.bends, b.Bend)
	}
	a.window = window.Learn(prior, a.bends, a.bend)
	a.target = a.window.Target(a.ratio)
	a.next = a.window.Next(a.ratio, candidates)
	if a.window.Guess() && candidates == nil {
		a.firing = a.window.Firing(a.ratio, offcuts)
	}
	if steam, door := a.box.after(600); steam > 0 {
		a.boxRatio = float64(door / steam)
	}
	return a, nil
}

// offcuts is how many are proposed for one firing to begin with: two more follow
// when these have shown where.
const offcuts = 3

// steam fills in the box and returns what is believed of the wood beforehand.
func (f *windowFlags) steam(a *windowAnswer) (window.Prior, error) {
	around, err1 := f.place.surroundings()
	assumed, err2 := f.wood.assumed()
	if err := errors.Join(err1, err2); err != nil {
		return window.Prior{}, err
	}
	assumed.Section.ThicknessM = a.thicknessMM / 1000
	model, err := soak.NewModel(assumed)
	if err != nil {
		return window.Prior{}, err
	}
	a.box = steamed{model: model, woodC: *f.place.shopC, steamC: around.BoilingC}
	if f.limits.flags.Changed("steam-c") {
		a.box.steamC = *f.steamC
	}
	a.box.doorC = a.box.steamC
	if f.limits.flags.Changed("door-c") {
		a.box.doorC = *f.doorC
	}
	return window.Start(assumed, a.dryness)
}

// windowDocument is the verb's JSON document. A soak that this box can't give is absent.
type windowDocument struct {
	Soft        window.Interval `json:"soft_min"`
	Over        window.Interval `json:"over_min"`
	TargetMin   float64         `json:"target_min"`
	TargetSoakS *float64        `json:"target_soak_s,omitempty"`
	Chance      float64         `json:"p_supple_both_ends"`
	Next        nextDocument    `json:"next_test"`
	Bends       int             `json:"bends"`
	Guess       bool            `json:"guess"`
}

type nextDocument struct {
	ExposureMin float64  `json:"exposure_min"`
	SoakS       *float64 `json:"soak_s,omitempty"`
	Why         string   `json:"why"`
}

func (a *windowAnswer) document() windowDocument {
	soakS := func(e soak.Exposure) *float64 {
		if s, ok := a.box.until(e); ok {
			return &s
		}
		return nil
	}
	return windowDocument{
		Soft: a.window.Soft(), Over: a.window.Over(),
		TargetMin: float64(a.target.Steam), TargetSoakS: soakS(a.target.Steam), Chance: a.target.Chance,
		Next:  nextDocument{float64(a.next.Steam), soakS(a.next.Steam), words.WhyTest(a.next.Reason)},
		Bends: len(a.bends), Guess: a.window.Guess(),
	}
}

// soakFor says an exposure as a time in the box.
func (a *windowAnswer) soakFor(e soak.Exposure) string {
	if s, ok := a.box.until(e); ok {
		return words.Clock(s)
	}
	return "more than a day"
}

func (a *windowAnswer) print(out io.Writer, u measure.Units) error {
	if a.stick != "" {
		fmt.Fprintf(out, "Stick %s, ", a.stick)
	}
	fmt.Fprintf(out, "%s, %s; %s bends. Heat taken in minutes at %s,\nsoaks in steam of %s at the steam end:\n\n",
		u.Side(a.thicknessMM/1000), a.dryness, a.bend, u.HeatAt(), u.Temperature(a.box.steamC, 1))
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "\theat\t8 in 10 sure\tsoak\t")
	soft, over := a.window.Soft(), a.window.Over()
	fmt.Fprintf(w, "soft enough from\t%.1f\t%.1f to %.1f\t%s\t\n", float64(soft.Median), float64(soft.Lo), float64(soft.Hi), a.soakFor(soft.Median))
	fmt.Fprintf(w, "too much from\t%.1f\t%.1f to %.1f\t%s\t\n", float64(over.Median), float64(over.Lo), float64(over.Hi), a.soakFor(over.Median))
	fmt.Fprintf(w, "aim for\t%.1f\t\t%s\t\n", float64(a.target.Steam), a.soakFor(a.target.Steam))
	if err := w.Flush(); err != nil {
		return err
	}
	a.printAdvice(out)
	return nil
}

func (a *windowAnswer) printAdvice(out io.Writer) {
	fmt.Fprintf(out, "\nBoth ends supple there: %s, the door end taking %.2f of the steam end's heat.\n", words.Chance(a.target.Chance), a.ratio)
	if a.ratio == 1 && a.boxRatio != 1 {
		fmt.Fprintf(out, "With these temperatures it takes %.2f of it: count with that by --end-ratio %.2f.\n", a.boxRatio, a.boxRatio)
	}
	if a.window.Guess() {
		fmt.Fprintln(out, words.GuessedWindow)
	}
	told := a.window.Told()
	if len(told) < len(a.bends) {
		fmt.Fprintf(out, "%d of %d bends say something of %s ones.\n", len(told), len(a.bends), a.bend)
	}
	for _, b := range told {
		if b.Outcome != window.Supple {
			fmt.Fprintln(out, words.Failure(b, a.window.Cause(b)))
		}
	}
	fmt.Fprintf(out, "Bend next: one at %.1f (%s). %s\n", float64(a.next.Steam), a.soakFor(a.next.Steam), words.WhyTest(a.next.Reason))
	if len(a.firing) > 0 {
		fmt.Fprint(out, "Or several in one firing, pulled in turn:")
		for _, e := range a.firing {
			fmt.Fprintf(out, " %.1f (%s)", float64(e), a.soakFor(e))
		}
		fmt.Fprintln(out)
	}
}
