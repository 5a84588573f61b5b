package steambox_test

import (
	"math"
	"testing"

	"withy/steambox"
	"withy/steambox/boiler"
)

// Cold water stops the steam: 1.5 L from 15 °C into 3 L boiling take 1.5 × 4.188 ×
// 85 = 534 kJ back to the boil (IF97 specific heat); with some 1.9 kW that is 280 s.
// The bounds hold that, and the account is told that it did not boil meanwhile.
func TestColdRefill(t *testing.T) {
	d := warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 4})
	d.load("1", "A").run(60)
	d.do(steambox.Event{Kind: steambox.Refilled, Litres: 1.5, TempC: 15})
	r := d.Status().Water.Refill
	if r == nil || r.BoilsLoS > 280 || r.BoilsHiS < 280 || math.Abs(r.BoilsS-280) > 45 || r.RibsIn != 1 {
		t.Fatalf("%+v", r)
	}
	if d.run(1300).Status().Water.Refill != nil {
		t.Error("told for ever")
	}
	d.do(steambox.Event{Kind: steambox.Refilled, Litres: 1.5})
	if d.Status().Water.Refill != nil {
		t.Error("boiling water costs steam")
	}
}

// The kettle's call comes no later than twice its lead before the early bound, and
// not on a pull.
func TestKettleCallFallsBetweenPulls(t *testing.T) {
	d := warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 3})
	seen := false
	for d.now < 9000 {
		d.run(5)
		s := d.Status()
		if in := s.Water.KettleInS; in != nil {
			if *in > *s.Water.DryLoS-2*s.Water.LeadS+1e-9 {
				t.Fatalf("in %g s, which leaves %g s for twice %g", *in, *s.Water.DryLoS-*in, s.Water.LeadS)
			}
			seen = true
		}
		if dry := s.Water.DryLoS; dry != nil && *dry <= 2*s.Water.LeadS {
			break
		}
	}
	if !seen {
		t.Error("never announced")
	}
	d = warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 1.62}).load("1", "A").run(100)
	s := d.Status()
	if s.Water.KettleInS == nil {
		t.Fatalf("dry in %g s, lead %g s: no call in sight", *s.Water.DryLoS, s.Water.LeadS)
	}
	if at, pull := *s.Water.KettleInS, *s.Slots[0].ReadyS; at > pull-20 && at < pull+75 {
		t.Errorf("in %g s, on the pull in %g", at, pull)
	}
}

// A closed tank is never told to be filled hot: a break is planned instead.
func TestClosedTankPlansABreak(t *testing.T) {
	b := testBox()
	b.Boiler.Kind = boiler.ClosedTank
	d := newDay(t, b).run(1900).do(steambox.Event{Kind: steambox.Filled, Litres: 3})
	br := d.Status().Water.Break
	if br == nil || !br.InTime || br.Loads < 1 || br.LastOutS > br.HeatOffS || br.HeatOffS >= *d.Status().Water.DryLoS {
		t.Fatalf("%+v", br)
	}
	if warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 3}).Status().Water.Break != nil {
		t.Error("an open pot needs no break")
	}
}

// A boiler that can't even keep the box hot is called too weak, with the watts; one
// that can has an interval that it can hold.
func TestHeatBudget(t *testing.T) {
	h := warmed(t).Status().Heat
	if h.MissingW > 0 || h.ShortestS < 5 || h.ShortestS > 75 || !h.Fitted {
		t.Errorf("2.2 kW: %+v", h)
	}
	if sum := h.WallsW + h.VentW + h.RibsW + h.SpareW; math.Abs(sum-h.BoilerW) > 1e-6 {
		t.Errorf("%g W of %g accounted for", sum, h.BoilerW)
	}
	b := testBox()
	b.Boiler.PowerW = 250
	if h := newDay(t, b).run(10).Status().Heat; h.MissingW <= 0 || h.ShortestS != 0 {
		t.Errorf("250 W: %+v", h)
	}
}

// Ribs that go in every minute into a box that needs two to recover: the crew is too
// fast, before any gap round the door is thought of.
func TestColdDoorByLoading(t *testing.T) {
	d := warmed(t)
	for i, slot := range []string{"A", "B", "C", "D"} {
		d.load([]string{"1", "2", "3", "4"}[i], slot)
		d.door -= 3
		d.run(60)
	}
	s := d.Status()
	if len(s.ColdEnd) == 0 || s.ColdEnd[0].Cause != boiler.LoadingTooFast {
		t.Errorf("ends %g K apart: %+v", s.GradientK, s.ColdEnd)
	}
	d = warmed(t)
	d.door = 88
	if s := d.run(400).Status(); len(s.ColdEnd) == 0 || s.ColdEnd[0].Cause != boiler.DoorLeak {
		t.Errorf("at rest %g K apart: %+v", s.GradientK, s.ColdEnd)
	}
	if s := warmed(t).Status(); s.ColdEnd != nil {
		t.Errorf("ends %g K apart: %+v", s.GradientK, s.ColdEnd)
	}
}

// While the boiler is dry the alarm asks for the heat to be taken off; no blank is called
// into the box beside that. What lies in it is still called out, and once water is told
// of, blanks are called again.
func TestNoLoadIntoADryBoiler(t *testing.T) {
	d := warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 4})
	calls := func(do steambox.CallKind) (is bool) {
		for _, c := range d.Status().Calls {
			is = is || c.Do == do
		}
		return is
	}
	d.load("1", "A").run(60)
	if !calls(steambox.LoadCall) {
		t.Fatal("no load is called while there is water")
	}
	d.do(steambox.Event{Kind: steambox.Level, Litres: 0.1}).run(60)
	if calls(steambox.LoadCall) || !calls(steambox.PullCall) {
		t.Errorf("dry: %+v", d.Status().Calls)
	}
	d.do(steambox.Event{Kind: steambox.Filled, Litres: 4}).run(1)
	if !calls(steambox.LoadCall) {
		t.Errorf("filled: %+v", d.Status().Calls)
	}
}
