package plan_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/boiler"
	"withy/steambox/plan"
	"withy/steambox/soak"
	"withy/steambox/window"
)

// anyDay draws a day with an electric boiler of some kind.
func anyDay(t *rapid.T) plan.Asked {
	a := asked(rapid.IntRange(1, 60).Draw(t, "ribs"))
	a.Soaks = plan.Same(rapid.Float64Range(30, 1200).Draw(t, "soak"), len(a.Ribs))
	a.PaceS = rapid.Float64Range(20, 300).Draw(t, "pace")
	a.Slots = rapid.IntRange(1, 8).Draw(t, "slots")
	a.Boiler.PowerW = rapid.Float64Range(100, 5000).Draw(t, "power")
	a.Boiler.FullL = rapid.Float64Range(1, 20).Draw(t, "holds")
	a.Boiler.Kind = rapid.SampledFrom(boiler.Kinds).Draw(t, "kind")
	return a
}

func make1(t *rapid.T, a plan.Asked) *plan.Plan {
	p, err := plan.Make(a)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// In every slot the next rib goes in when the last is out, and no rib has two turns;
// none is missing unless the water is.
func TestOneRibASlot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyDay(t)
		p := make1(t, a)
		free, seen := make([]float64, a.Slots), make([]bool, len(a.Ribs))
		for _, turn := range p.Turns {
			if turn.InS < free[turn.Slot]-1e-6 {
				t.Fatalf("%+v goes in before the slot is free at %g", turn, free[turn.Slot])
			}
			if seen[turn.Rib] {
				t.Fatalf("rib %d twice", turn.Rib)
			}
			free[turn.Slot], seen[turn.Rib] = turn.OutS, true
		}
		if slices.Contains(seen, false) && find(p, plan.RunsOut) == nil && find(p, plan.TankTooSmall) == nil {
			t.Fatalf("a rib is missing: %+v", p.Limits)
		}
	})
}

// More water never gives more calls for it, unless with less the kettle gave up.
func TestMoreWaterNoMoreCalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyDay(t)
		a.Boiler.Kind = boiler.OpenPot
		less := make1(t, a)
		a.Boiler.FullL += rapid.Float64Range(0, 10).Draw(t, "more")
		more := make1(t, a)
		if find(less, plan.KettleTooSlow) == nil && len(more.Calls) > len(less.Calls) {
			t.Fatalf("%d calls, and %d with less water", len(more.Calls), len(less.Calls))
		}
	})
}

// A quicker crew never makes the run longer.
func TestQuickerCrewNoLongerRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyDay(t)
		a.Boiler.Kind = boiler.OpenPot
		slow := make1(t, a)
		a.PaceS = rapid.Float64Range(5, a.PaceS).Draw(t, "quicker")
		if quick := make1(t, a); quick.RunS > slow.RunS+1e-3 {
			t.Fatalf("run of %g s, and %g by a slower crew", quick.RunS, slow.RunS)
		}
	})
}

// Nobody is asked to load faster than the crew or the boiler can, where it can at all.
func TestNeverTooFast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyDay(t)
		p := make1(t, a)
		if p.Rhythm.Interval.Seconds() < a.PaceS-1e-6 {
			t.Fatalf("%v for a crew that needs %g s", p.Rhythm.Interval, a.PaceS)
		}
		if find(p, plan.TooWeak) == nil && p.Heat.SpareW < -1e-3 {
			t.Fatalf("the boiler lacks %g W", -p.Heat.SpareW)
		}
	})
}

// BenchmarkPlan is a class: 200 ribs of ten boats from two sticks with test bends,
// soaks and all. The aim is 50 ms.
func BenchmarkPlan(b *testing.B) {
	a := asked(200)
	for i := range a.Ribs {
		a.Ribs[i] = table(20)[i%20]
		a.Ribs[i].Label = asked(200).Ribs[i].Label
		a.Ribs[i].Boat, a.Ribs[i].Stick = string(rune('A'+i/20)), string(rune('A'+i%2))
	}
	bends := []window.Bend{supple(4, ""), supple(3, ""), stiff(2), {Cool: 8, Hot: 8, Outcome: window.Cracked}, supple(5, "")}
	sticks := []plan.Stick{{Name: "A", Bends: bends}, {Name: "B", Bends: bends[:3]}}
	s := steaming()
	s.Assumed = soak.Default(a.Usual)
	for b.Loop() {
		var err error
		if a.Soaks, err = plan.Soaks(a.Ribs, sticks, s); err != nil {
			b.Fatal(err)
		}
		mustMake(b, a)
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/plan")
}

// BenchmarkPlanOneBoat is 200 ribs of one boat, which are judged together.
func BenchmarkPlanOneBoat(b *testing.B) {
	a := asked(200)
	a.Ribs[70].LengthM += 0.008
	for b.Loop() {
		mustMake(b, a)
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/plan")
}
