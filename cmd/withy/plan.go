package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/sheet"
	"withy/steambox/boiler"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/unit"
	"withy/steambox/window"
)

// planFlags are the flags of the verb beside the shared ones.
type planFlags struct {
	limits                           limits
	place                            *placeFlags
	wood                             *woodFlags
	soakS, ratio, paceS, slots       *float64
	boxMM, sparesPct, sawMM, allowMM *float64
	boilerW, boilerL, bareL          *float64
	kettleL, kettleW, tapC, carryS   *float64
	window, dryness, order           *string
	boilerKind, ring, page           *string
	gas, json                        *bool
	units                            unitsFlag
}

func newPlan() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "plan RIBS.csv",
		Short: "The day before anything is cut: fair ribs, cut list, spares, pace, water, kettle",
		Long: "Says which ribs are off the curve of the others, what to saw, in what order and rhythm the\n" +
			"ribs go through the box, when the kettle goes on, and what limits the day. RIBS.csv has the\n" +
			"columns rib and length_mm and may have thickness_mm, width_mm, station_mm (along the keel\n" +
			"from the bow), stick, boat, bend (easy, middling or hard) and meant (yes: off the curve on\n" +
			"purpose). Times count from the first rib in. Exit status 1: a rib is off.",
		Example: "  withy plan ribs.csv --soak-s 360 --boiler-l 5 --page plan.html\n" +
			"  withy plan ribs.csv --window bends.csv --pace-s 90 --boiler-kind closed-tank --boiler-l 4 --json",
		Args: oneFile,
	}
	f := newPlanFlags(cmd)
	cmd.RunE = func(cmd *cobra.Command, args []string) error { return f.run(cmd.OutOrStdout(), args[0]) }
	return cmd
}

// The orders in which ribs can be bent.
const (
	tableOrder  = "table"
	middleOrder = "middle"
)

func newPlanFlags(cmd *cobra.Command) *planFlags {
	f := &planFlags{limits: limits{flags: cmd.Flags()}}
	l, text := &f.limits, cmd.Flags().String
	f.place, f.wood = newPlaceFlags(l), newWoodFlags(l)
	f.soakS = l.number("soak-s", 0, 0, longestSoakS, "time in the steam, s; not given: by --window, else what is usual")
	f.window = text("window", "", "test bends, as withy window reads them")
	f.dryness = text("dryness", "", fmt.Sprintf("one of %v; not given: by --moisture-pct", window.Drynesses))
	f.ratio = l.number("end-ratio", 1, 0.05, 20, "heat that the door end takes over what the steam end takes")
	f.paceS = l.number("pace-s", 75, 5, 3600, "least time you need from one rib to the next, s")
	f.slots = l.number("slots", 4, 1, 26, "of the box")
	f.boxMM = l.number("box-mm", 1500, 200, 20000, "inside of the box, mm")
	f.order = text("order", tableOrder, "table: as the file has them; middle: outwards from midships")
	f.sparesPct = l.number("spares-pct", 100*ribs.UsualShare, 0, 100, "spares in percent of the ribs, at least one a stick and section")
	f.allowMM = l.number("allow-mm", 0, 0, 500, "left on either end of each blank, mm")
	f.sawMM = l.number("saw-mm", 1000*ribs.DefaultOptions().SawM, 0.05, 10, "how far a length is off as a rule, as sawn or measured, mm")
	f.addBoiler(l, cmd)
	f.page = text("page", "", "write a page to print and pin up, HTML, to this file too")
	f.json = cmd.Flags().Bool("json", false, "print one JSON document")
	f.units = newUnitsFlag(cmd)
	return f
}

func (f *planFlags) addBoiler(l *limits, cmd *cobra.Command) {
	text := cmd.Flags().String
	f.boilerKind = text("boiler-kind", string(boiler.OpenPot), fmt.Sprintf("one of %v", boiler.Kinds))
	f.boilerW = l.number("boiler-w", 2200, 100, 50e3, "of the boiler, or of the flame under it, W")
	f.gas = cmd.Flags().Bool("gas", false, "the boiler stands on a flame")
	f.ring = text("ring", "", fmt.Sprintf("a flame whose power nobody knows, turned to one of %v", boiler.Rings))
	f.boilerL = l.number("boiler-l", 0, 0, 500, "what the boiler holds, L; 0: not known")
	f.bareL = l.number("bare-l", 0.4, 0, 500, "left when the element is bare, L")
	f.kettleL = l.number("kettle-l", 1.5, 0.1, 50, "of the backup kettle, L")
	f.kettleW = l.number("kettle-w", 2200, 0, 10e3, "of the backup kettle, W; 0: it is kept on the boil")
	f.tapC = l.number("tap-c", 12, 0, 100, "of the water from the tap, °C")
	f.carryS = l.number("carry-s", 90, 0, 3600, "from hearing the call to water in the boiler, boiling apart, s")
}

// check gathers everything that is wrong with the flags.
func (f *planFlags) check() error {
	errs := []error{f.limits.check()}
	word := func(name, got string, ok bool, list any) {
		if !ok {
			errs = append(errs, fmt.Errorf("--%s %q: one of %v", name, got, list))
		}
	}
	d, k, r := window.Dryness(*f.dryness), boiler.Kind(*f.boilerKind), boiler.Ring(*f.ring)
	word("dryness", *f.dryness, d == "" || slices.Contains(window.Drynesses, d), window.Drynesses)
	word("boiler-kind", *f.boilerKind, slices.Contains(boiler.Kinds, k), boiler.Kinds)
	word("ring", *f.ring, r == "" || slices.Contains(boiler.Rings, r), boiler.Rings)
	orders := []string{tableOrder, middleOrder}
	word("order", *f.order, slices.Contains(orders, *f.order), orders)
	if *f.slots != math.Trunc(*f.slots) {
		errs = append(errs, fmt.Errorf("--slots %g: a whole number", *f.slots))
	}
	told := f.limits.flags.Changed("soak-s")
	if told && *f.soakS < shortestSoakS {
		errs = append(errs, fmt.Errorf("--soak-s %g: at least %d", *f.soakS, shortestSoakS))
	}
	if told && *f.window != "" {
		errs = append(errs, errors.New("--soak-s and --window: only one of them"))
	}
	if *f.boilerL > 0 && *f.bareL >= *f.boilerL {
		errs = append(errs, fmt.Errorf("--bare-l %g: the boiler must hold more, and --boiler-l is %g", *f.bareL, *f.boilerL))
	}
	return errors.Join(errs...)
}

func (f *planFlags) run(out io.Writer, name string) error {
	table, err1 := readPlanned(name)
	var sticks []triedStick
	var err2 error
	if *f.window != "" {
		sticks, err2 = readBends(*f.window)
	}
	units, err3 := f.units.choose("")
	if err := errors.Join(err1, err2, err3, f.check()); err != nil {
		return err
	}
	day, err := f.make(table, sticks)
	if err != nil {
		return err
	}
	day.Units = units
	if *f.page != "" {
		if err := writePage(out, "--page", *f.page, day.Sheet().WriteHTML); err != nil {
			return err
		}
	}
	if *f.json {
		err = printJSON(out, day.Document())
	} else {
		err = day.Sheet().Print(out)
	}
	if err == nil && day.Plan.Unfair() {
		return errWrong
	}
	return err
}

// make plans the day for a table that has been read.
func (f *planFlags) make(table []ribs.Rib, sticks []triedStick) (sheet.Day, error) {
	around, err1 := f.place.surroundings()
	assumed, err2 := f.wood.assumed()
	if err := errors.Join(err1, err2); err != nil {
		return sheet.Day{}, err
	}
	soaks := plan.Same(*f.soakS, len(table))
	if *f.soakS == 0 {
		var err error
		s := plan.Steaming{Assumed: assumed, Dryness: f.dry(), WoodC: around.ShopC, SteamC: around.BoilingC, EndRatio: *f.ratio}
		if soaks, err = f.soaks(table, sticks, s); err != nil {
			return sheet.Day{}, err
		}
	}
	fair := ribs.DefaultOptions()
	fair.SawM = *f.sawMM / 1000
	asked := &plan.Asked{
		Ribs: table, Fair: fair, SpareShare: *f.sparesPct / 100, AllowM: *f.allowMM / 1000, MiddleFirst: *f.order == middleOrder,
		Soaks: soaks, PaceS: *f.paceS, Slots: int(*f.slots),
		Box: boiler.BoxSize{LengthM: *f.boxMM / 1000},
		Boiler: boiler.Boiler{
			Kind: boiler.Kind(*f.boilerKind), PowerW: *f.boilerW, Gas: *f.gas, Ring: boiler.Ring(*f.ring),
			FullL: *f.boilerL, BareL: *f.bareL,
		},
		Kettle:   boiler.Kettle{Litres: *f.kettleL, PowerW: *f.kettleW, TapC: *f.tapC, CarryS: *f.carryS},
		Material: assumed.Material, Usual: assumed.Section,
		ShopC: around.ShopC, BoilingC: around.BoilingC, LatentJPerKg: steam.LatentHeatAt(unit.Celsius(around.BoilingC)),
	}
	p, err := plan.Make(*asked)
	return sheet.Day{Plan: p, Asked: asked}, err
}

func (f *planFlags) dry() window.Dryness {
	if *f.dryness != "" {
		return window.Dryness(*f.dryness)
	}
	return window.DrynessAt(*f.wood.moisture)
}

// soaks turns the test bends into the soak of each rib. Of a bend of which the file
// has the time, the heat is reckoned first.
func (f *planFlags) soaks(table []ribs.Rib, tried []triedStick, s plan.Steaming) ([]plan.Soak, error) {
	sticks := make([]plan.Stick, len(tried))
	for i, t := range tried {
		a := s.Assumed
		if t.thicknessMM > 0 {
			a.Section.ThicknessM = t.thicknessMM / 1000
		}
		model, err := soak.NewModel(a)
		if err != nil {
			return nil, err
		}
		box := steamed{model: model, woodC: s.WoodC, steamC: s.SteamC, doorC: s.SteamC}
		sticks[i] = plan.Stick{Name: t.name, ThicknessM: a.Section.ThicknessM}
		for _, b := range t.bends {
			if b.soakS > 0 {
				b.Hot, b.Cool = box.after(b.soakS)
			}
			sticks[i].Bends = append(sticks[i].Bends, b.Bend)
		}
	}
	return plan.Soaks(table, sticks, s)
}
