package plan_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"withy/steambox/boiler"
	"withy/steambox/plan"
)

// Each limit shows where it should, with its numbers, and nothing else does.
func TestLimits(t *testing.T) {
	for name, row := range map[string]struct {
		n     int
		given func(a *plan.Asked)
		want  plan.Limit // of the kind; numbers where they can be worked by hand
		other []plan.Kind
	}{
		"nine ribs": {9, func(*plan.Asked) {}, plan.Limit{Kind: plan.TooFew, N: 9}, nil},
		"two ribs":  {2, func(*plan.Asked) {}, plan.Limit{Kind: plan.TooFew, N: 2}, []plan.Kind{plan.EqualLengths}}, // mirrored about midships
		"equal lengths": {12, func(a *plan.Asked) {
			for i := range a.Ribs {
				a.Ribs[i].LengthM = 1.2
			}
		}, plan.Limit{Kind: plan.EqualLengths, N: 12, Is: 1.2}, []plan.Kind{plan.BoilerSlower}},
		"too long for the box": {12, func(a *plan.Asked) { a.AllowM = 0.25; a.Ribs[5].LengthM = 1.091 },
			plan.Limit{Kind: plan.TooLong, Is: 1.591, May: 1.5}, []plan.Kind{plan.BoilerSlower}},
		// A soak of 40 s, a rib each 60 s.
		"pace slower than the soak": {12, func(a *plan.Asked) { a.Soaks = plan.Same(40, 12) },
			plan.Limit{Kind: plan.PaceSlower, Is: 60, May: 40}, nil},
		// 360 s at 100 s a rib: three slots and no more give a soak that is not shorter.
		"slots left empty": {12, func(a *plan.Asked) { a.PaceS = 100 }, plan.Limit{Kind: plan.SlotsEmpty, Is: 100, N: 3}, nil},
		"no volume":        {12, func(a *plan.Asked) { a.Boiler.FullL = 0 }, plan.Limit{Kind: plan.NoVolume}, nil},
		"a flame":          {12, func(a *plan.Asked) { a.Boiler.Gas, a.Boiler.PowerW = true, 6000 }, plan.Limit{Kind: plan.FlameGuessed}, nil},
		"a ring":           {12, func(a *plan.Asked) { a.Boiler.Ring = boiler.HighRing }, plan.Limit{Kind: plan.FlameGuessed}, nil},
		// 1.1 L over the element last a boiler of 97 % of 2.2 kW 1163 s, and it takes 1800 to
		// warm the box.
		"tank too small": {12, func(a *plan.Asked) { a.Boiler.Kind, a.Boiler.FullL = boiler.ClosedTank, 1.5 },
			plan.Limit{Kind: plan.TankTooSmall}, nil},
		"kettle too slow": {24, func(a *plan.Asked) { a.Boiler.FullL, a.Kettle.Litres, a.Kettle.CarryS = 2, 0.3, 600 },
			plan.Limit{Kind: plan.KettleTooSlow}, nil},
		"one rib wants longer": {12, func(a *plan.Asked) { a.Soaks[7].S = 500 }, plan.Limit{Kind: plan.OtherSoak, Is: 500, May: 360}, nil},
		"soak guessed":         {12, func(a *plan.Asked) { a.Soaks = guesses(12) }, plan.Limit{Kind: plan.SoakGuessed}, nil},
	} {
		a := asked(row.n)
		row.given(&a)
		p := mustMake(t, a)
		got := find(p, row.want.Kind)
		if got == nil {
			t.Errorf("%s: %+v", name, p.Limits)
			continue
		}
		if row.want.Is != 0 && math.Abs(got.Is-row.want.Is) > 1e-9 || row.want.May != 0 && math.Abs(got.May-row.want.May) > 1e-9 || row.want.N != 0 && got.N != row.want.N {
			t.Errorf("%s: %+v, want %+v", name, *got, row.want)
		}
		for _, l := range p.Limits {
			if l.Kind != row.want.Kind && !slices.Contains(row.other, l.Kind) {
				t.Errorf("%s: also %+v", name, l)
			}
		}
	}
}

func guesses(n int) []plan.Soak {
	return slices.Repeat([]plan.Soak{{S: 360, From: plan.Guessed}}, n)
}

// Lengths thrown like dice are no curve at all: the table by which package ribs tests
// the same.
func TestTooRough(t *testing.T) {
	a, dice := asked(16), rand.New(rand.NewPCG(1, 1))
	for i := range a.Ribs {
		a.Ribs[i].LengthM = 0.6 + 0.4*dice.Float64()
	}
	p := mustMake(t, a)
	if l := find(p, plan.TooRough); l == nil || l.Is < 0.01 || p.Unfair() {
		t.Errorf("verdict %s, limits %+v", p.Boats[0].Verdict, p.Limits)
	}
}

// A weak boiler warms the box for longer, then spaces the ribs, and at last can't hold
// the box at all; what it lacks is what walls and vent take beyond its steam.
func TestWeakBoiler(t *testing.T) {
	day := func(powerW float64) *plan.Plan {
		a := asked(24)
		a.Boiler.PowerW = powerW
		return mustMake(t, a)
	}
	longer := day(1300)
	if l := find(longer, plan.LongWarmUp); l == nil || l.Is != longer.WarmUpS || longer.WarmUpS <= 1800 || longer.Heat.SpareW < 0 {
		t.Errorf("1300 W: warm-up %g s, %+v", longer.WarmUpS, longer.Heat)
	}
	slower := day(600)
	if l := find(slower, plan.BoilerSlower); l == nil || l.May != 60 || slower.Heat.SpareW < 0 || slower.Rhythm.Interval.Seconds() < l.Is-1e-6 {
		t.Errorf("600 W: %+v, rhythm %+v, heat %+v", l, slower.Rhythm, slower.Heat)
	}
	weak := day(150)
	l := find(weak, plan.TooWeak)
	if l == nil {
		t.Fatalf("150 W: %+v", weak.Limits)
	}
	near(t, "what makes steam, W (88 %)", l.Is, 132, 3)
	near(t, "lacking, W", l.May, weak.Heat.WallsW+weak.Heat.VentW-weak.Heat.BoilerW, 1e-9)
}

// A boiler of 600 W can't give a soak of half a minute one in, one out: no number of
// slots does, because each rib alone asks more of it.
func TestNoSlotsGiveIt(t *testing.T) {
	a := asked(24)
	a.Boiler.PowerW, a.Soaks, a.PaceS = 600, plan.Same(30, 24), 10
	p := mustMake(t, a)
	if l := find(p, plan.SoakTooShort); l == nil || l.May != 30 || l.Is <= 30 || p.Rhythm.Slots != 1 {
		t.Errorf("%+v, %+v", p.Limits, p.Rhythm)
	}
}
