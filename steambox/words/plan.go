package words

import (
	"fmt"
	"math"
	"strings"

	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/plan"
	"withy/steambox/ribs"
)

// ByTheRun says a moment of the day, in seconds from the first rib going in.
func ByTheRun(s float64) string {
	if s < -0.5 {
		return Clock(s) + " before"
	}
	return Clock(s)
}

// Hours returns a length of the day, such as 1 h 25 min.
func Hours(s float64) string {
	minutes := int(math.Round(s / 60))
	if minutes < 60 {
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}

// Rhythm says how the ribs follow one another.
func Rhythm(p *plan.Plan) string {
	r := p.Rhythm
	slots := "1 slot"
	if r.Slots > 1 {
		slots = fmt.Sprintf("%d slots", r.Slots)
	}
	interval := Clock(r.Interval.Seconds())
	switch {
	case r.Slots > 1 && math.Abs(float64(r.Slots)*r.Interval.Seconds()-p.Soak.S) < 1:
		return fmt.Sprintf("%s, one in and one out every %s.", slots, interval)
	case r.Slots > 1:
		return fmt.Sprintf("%s, a rib in every %s, each out %s later; its slot waits empty for the next.", slots, interval, Clock(p.Soak.S))
	case p.Soak.S < r.Interval.Seconds()-1:
		return fmt.Sprintf("%s, a rib in every %s, out after %s; the box waits empty for the next.", slots, interval, Clock(p.Soak.S))
	}
	return fmt.Sprintf("%s, one in as the last comes out, every %s.", slots, interval)
}

// SoakFrom says where the soak comes from and how good it is.
func SoakFrom(s plan.Soak) string {
	switch s.From {
	case plan.Told:
		return "as you set it"
	case plan.Guessed:
		return "a guess: what is usual for such wood"
	}
	return fmt.Sprintf("by your test bends; both ends supple %s", Chance(s.Chance))
}

// Lengths says whether the ribs of a boat show a fair curve.
func Lengths(b plan.Boat, u measure.Units) string {
	switch b.Verdict {
	case ribs.TooShort:
		return "Too few ribs to tell whether they are fair."
	case ribs.TooRough:
		return "The lengths jump about too much to tell whether they are fair."
	case ribs.Fair:
		return fmt.Sprintf("Fair. An error of %s would have shown at most ribs.", u.LengthUp(b.SeesM))
	}
	if len(b.Odd) == 1 {
		return "One rib is off the curve. Measure it again before you cut:"
	}
	return fmt.Sprintf("%d ribs are off the curve. Measure them again before you cut:", len(b.Odd))
}

// OffBy says by how much a length or a thickness is off: "6 mm too long". decimals are
// those of its millimetres; more and less are the words for the two ways.
func OffBy(offM float64, decimals int, more, less string, u measure.Units) string {
	word := more
	if offM < 0 {
		word = less
	}
	return u.Length(math.Abs(offM), decimals) + " too " + word
}

// Limit says what limits the day and what can be done about it.
func Limit(l plan.Limit, u measure.Units) string {
	switch l.Kind {
	case plan.TooFew, plan.TooRough, plan.EqualLengths, plan.TooLong, plan.NoTable:
		return tableLimit(l, u)
	case plan.SoakGuessed, plan.OtherSoak, plan.OtherThickness:
		return soakLimit(l, u)
	case plan.PaceSlower, plan.SlotsEmpty, plan.LongWarmUp, plan.BoilerSlower, plan.SoakTooShort, plan.TooWeak, plan.OtherWay:
		return paceLimit(l)
	}
	return waterLimit(l)
}

func tableLimit(l plan.Limit, u measure.Units) string {
	switch l.Kind {
	case plan.TooFew:
		return ofBoat(l.Boat) + fmt.Sprintf("%d ribs are too few to judge their lengths by: ten that are not meant to be off the curve are needed.", l.N)
	case plan.TooRough:
		return ofBoat(l.Boat) + fmt.Sprintf("The lengths jump about so much that an error under %s would not show.", u.LengthUp(l.Is))
	case plan.EqualLengths:
		return ofBoat(l.Boat) + fmt.Sprintf("All %d ribs have one length, %s: they show no curve, so only a rib unlike the rest could be named.", l.N, u.Length(l.Is, 0))
	case plan.NoTable:
		return "There is no rib table yet. Put one in on the page, under Before the run, or name its file in the configuration as boat.ribs."
	}
	list := ribList(l.Ribs)
	return fmt.Sprintf("%s: up to %s with what is left on the ends, and the box is %s: the end that stays out gets no heat.",
		strings.ToUpper(list[:1])+list[1:], u.Length(l.Is, 0), u.Length(l.May, 0))
}

func ofBoat(name string) string {
	if name == "" {
		return ""
	}
	return name + ": "
}

func soakLimit(l plan.Limit, u measure.Units) string {
	of := "this wood"
	if l.Stick != "" {
		of = "stick " + l.Stick
	}
	switch l.Kind {
	case plan.SoakGuessed:
		return fmt.Sprintf("The soak is a guess: no bend has shown yet what %s wants. Bend two or three offcuts first.", of)
	case plan.OtherThickness:
		return fmt.Sprintf("The test bends of %s were %s thick and its ribs are %s: bend an offcut of theirs.", of, u.Length(l.Is, 1), u.Length(l.May, 1))
	}
	list := ribList(l.Ribs)
	return fmt.Sprintf("%s: better %s than the run's %s. Bend such ribs together, first or last.",
		strings.ToUpper(list[:1])+list[1:], Clock(l.Is), Clock(l.May))
}

func paceLimit(l plan.Limit) string {
	switch l.Kind {
	case plan.PaceSlower:
		return fmt.Sprintf("Your pace of %s a rib is slower than the soak of %s: the box waits empty between ribs.", Clock(l.Is), Clock(l.May))
	case plan.SlotsEmpty:
		if l.N == 1 {
			return fmt.Sprintf("At a rib every %s only 1 slot is needed: leave the others empty.", Clock(l.Is))
		}
		return fmt.Sprintf("At a rib every %s only %d slots are needed: leave the others empty.", Clock(l.Is), l.N)
	case plan.LongWarmUp:
		return fmt.Sprintf("Until the walls are warm this boiler can't keep pace: steam for %s before the first rib.", Hours(l.Is))
	case plan.BoilerSlower:
		return fmt.Sprintf("This boiler can heat a rib every %s and no faster; you could take one every %s.", Clock(l.Is), Clock(l.May))
	case plan.OtherWay:
		return "Only a run is planned, one in and one out: this plan is of a run, and the box is set to be worked in batches."
	case plan.SoakTooShort:
		return fmt.Sprintf("No number of slots gives a soak of %s one in, one out: the boiler needs %s for each rib. The box waits empty between ribs.", Clock(l.May), Clock(l.Is))
	}
	return fmt.Sprintf("The boiler is too weak for the box: it makes about %.0f W of steam, and %.0f W more are needed before any rib goes in. Lag the box or use a stronger one; vent and drain stay open.", l.Is, l.May)
}

func waterLimit(l plan.Limit) string {
	switch l.Kind {
	case plan.NoVolume:
		return "What the boiler holds isn't known: no time can be said for the kettle, nor how long the water takes to boil first. Watch the level, or say it with --boiler-l."
	case plan.FlameGuessed:
		return fmt.Sprintf("How fast a flame boils off the water is a guess until you have seen it: look at the level at %s the first rib, and trust that before this plan.", beforeOrAfter(l.Is))
	case plan.RunsOut:
		return fmt.Sprintf("There is no refill: the water lasts for %s. The others wait for another day.", countRibs(l.N))
	case plan.TankTooSmall:
		return fmt.Sprintf("One filling is only sure to last %s; warming up and one rib take %s.", Hours(l.Is), Hours(l.May))
	}
	return fmt.Sprintf("The backup kettle comes too late: the water may be gone at %s the first rib, and the kettle is there at %s. Use a larger or a second kettle, or a boiler that holds more.",
		beforeOrAfter(l.Is), beforeOrAfter(l.May))
}

func beforeOrAfter(s float64) string {
	if s < 0 {
		return Clock(s) + " before"
	}
	return Clock(s) + " after"
}

func countRibs(n int) string {
	if n == 1 {
		return "1 rib"
	}
	return fmt.Sprintf("%d ribs", n)
}

// NoRibs stands in place of a run for which there is no water.
const NoRibs = "No rib can go in: see what limits the day."

// CallForWater says what to do when a call for water comes due.
func CallForWater(k boiler.Kind, c plan.Call, u measure.Units) string {
	if k == boiler.SecondBoiler {
		return fmt.Sprintf("light the second boiler, %s; it takes over at %s", u.Volume(c.Litres), ByTheRun(c.PourS))
	}
	return fmt.Sprintf("kettle on, %s; in the boiler by %s", u.Volume(c.Litres), ByTheRun(c.PourS))
}

// TankBreak says what a closed tank's break is made of, a step each.
func TankBreak(b plan.Break, u measure.Units) []string {
	return []string{
		fmt.Sprintf("After %s load no more. Last rib out and heat off by %s.", countRibs(b.After), Clock(b.HeatOffS)),
		fmt.Sprintf("Wait. Only when it no longer blows, about %s: cap off, fill (about %s), cap on, heat on.", Clock(b.FillS), u.Volume(b.Litres)),
		fmt.Sprintf("Next rib in about %s, when both ends are level again.", Clock(b.AgainS)),
	}
}

// Cautions returns what may hurt somebody on the day, for a boiler of a kind.
func Cautions(b boiler.Boiler) []string {
	said := []string{
		"Steam scalds. Stand to the hinge side, door open, wait, then reach in with dry gloves. Burn: cool running water, 20 minutes.",
		"Vent and drain stay open, always. Pressure in the box: keep away from the door, heat off.",
		"Boiler dry: heat off, don't fill, let it cool.",
	}
	if b.Kind == boiler.ClosedTank {
		said = append(said, "Never open the tank's cap hot.")
	}
	if b.Gas || b.Ring != "" {
		return append(said, "Burner outdoors or doors open, and never alone.")
	}
	return append(said, "Boiler behind a residual-current device (RCD/GFCI), on a circuit of its own; the kettle on another. Leads hung high and dry.")
}
