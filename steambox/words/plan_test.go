package words_test

import (
	"strings"
	"testing"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/pace"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/words"
)

func TestHours(t *testing.T) {
	for s, want := range map[float64]string{59 * 60: "59 min", 3600: "1 h 00 min", 7380: "2 h 03 min", 3599: "1 h 00 min"} {
		if got := words.Hours(s); got != want {
			t.Errorf("%g s: %s, want %s", s, got, want)
		}
	}
	if got := words.ByTheRun(-65); got != "1:05 before" {
		t.Error(got)
	}
}

// Four slots at a minute and a half, six minutes: common practice, no source.
func TestRhythm(t *testing.T) {
	for _, row := range []struct {
		slots           int
		intervalS, soak float64
		want            string
	}{
		{4, 90, 360, "4 slots, one in and one out every 1:30."},
		{3, 100, 290, "3 slots, a rib in every 1:40, each out 4:50 later; its slot waits empty for the next."},
		{1, 100, 60, "1 slot, a rib in every 1:40, out after 1:00; the box waits empty for the next."},
		{1, 360, 360, "1 slot, one in as the last comes out, every 6:00."},
	} {
		p := &plan.Plan{
			Soak:   plan.Soak{S: row.soak},
			Rhythm: pace.Rhythm{Slots: row.slots, Interval: time.Duration(row.intervalS) * time.Second},
		}
		if got := words.Rhythm(p); got != row.want {
			t.Errorf("%s, want %s", got, row.want)
		}
	}
}

func TestLengths(t *testing.T) {
	for want, f := range map[string]ribs.Fairness{
		"Fair. An error of 4 mm would have shown at most ribs.":          {Verdict: ribs.Fair, SeesM: 0.0036},
		"One rib is off the curve. Measure it again before you cut:":     {Verdict: ribs.Unfair, Odd: make([]ribs.Odd, 1)},
		"3 ribs are off the curve. Measure them again before you cut:":   {Verdict: ribs.Unfair, Odd: make([]ribs.Odd, 3)},
		"Too few ribs to tell whether they are fair.":                    {Verdict: ribs.TooShort},
		"The lengths jump about too much to tell whether they are fair.": {Verdict: ribs.TooRough},
	} {
		if got := words.Lengths(plan.Boat{Fairness: f}, measure.Metric); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	if got := words.OffBy(-0.0123, 1, "long", "short", measure.Metric); got != "12.3 mm too short" {
		t.Error(got)
	}
}

// Every limit has a sentence of its own with its numbers in it.
func TestLimit(t *testing.T) {
	seen := map[string]bool{}
	for k := plan.TooFew; k <= plan.KettleTooSlow; k++ {
		said := words.Limit(plan.Limit{Kind: k, Boat: "wherry", Stick: "A", Ribs: []string{"7", "8"}, N: 11, Is: 125, May: 65}, measure.Metric)
		if seen[said] || !strings.HasSuffix(said, ".") && !strings.HasSuffix(said, "--boiler-l.") {
			t.Errorf("kind %d: %s", k, said)
		}
		seen[said] = true
	}
	for want, l := range map[string]plan.Limit{
		"wherry: 9 ribs are too few to judge their lengths by: ten that are not meant to be off the curve are needed.": {Kind: plan.TooFew, Boat: "wherry", N: 9},
		"Ribs 7 and 8: better 8:20 than the run's 6:00. Bend such ribs together, first or last.":                       {Kind: plan.OtherSoak, Ribs: []string{"7", "8"}, Is: 500, May: 360},
		"Your pace of 1:15 a rib is slower than the soak of 0:40: the box waits empty between ribs.":                   {Kind: plan.PaceSlower, Is: 75, May: 40},
		"At a rib every 1:40 only 3 slots are needed: leave the others empty.":                                         {Kind: plan.SlotsEmpty, Is: 100, N: 3},
		"There is no refill: the water lasts for 1 rib. The others wait for another day.":                              {Kind: plan.RunsOut, N: 1},
	} {
		if got := words.Limit(l, measure.Metric); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	weak := words.Limit(plan.Limit{Kind: plan.TooWeak, Is: 130, May: 95}, measure.Metric)
	if !strings.Contains(weak, "95 W more") || !strings.HasSuffix(weak, "vent and drain stay open.") {
		t.Error(weak)
	}
}

// A closed tank is never told to be opened hot, and only it is told of a cap; whatever
// boils, the vent stays open.
func TestCautions(t *testing.T) {
	for _, b := range []boiler.Boiler{{Kind: boiler.OpenPot}, {Kind: boiler.ClosedTank}, {Kind: boiler.NoRefill, Gas: true}, {Ring: boiler.LowRing}} {
		said := strings.Join(words.Cautions(b), " ")
		if !strings.Contains(said, "Vent and drain stay open") || strings.Contains(said, "cap hot") != (b.Kind == boiler.ClosedTank) {
			t.Errorf("%+v: %s", b, said)
		}
		if flame := b.Gas || b.Ring != ""; strings.Contains(said, "Burner") != flame || strings.Contains(said, "RCD") == flame {
			t.Errorf("%+v: %s", b, said)
		}
	}
	steps := strings.Join(words.TankBreak(plan.Break{After: 20, HeatOffS: 600, FillS: 1500, Litres: 3.1, AgainS: 2400}, measure.Metric), " ")
	if off, wait, fill := strings.Index(steps, "heat off"), strings.Index(steps, "no longer blows"), strings.Index(steps, "fill (about 3.1 L)"); off < 0 || wait < off || fill < wait {
		t.Error(steps)
	}
}
