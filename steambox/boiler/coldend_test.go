package boiler_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"withy/steambox/boiler"
	"withy/steambox/rehearsal"
)

// The marks by which a practitioner tells the causes apart: common practice, no
// source.
func TestDiagnose(t *testing.T) {
	for _, row := range []struct {
		name string
		seen boiler.ColdEnd
		want boiler.Cause
	}{
		{"falls with each load and is well at rest", boiler.ColdEnd{Loads: 4, AfterLoadK: 7, RecoverS: 80, IntervalS: 60, Steady: true, SteadyK: 2, SteamS: 3600}, boiler.LoadingTooFast},
		{"falls with each load, never at rest", boiler.ColdEnd{Loads: 4, AfterLoadK: 7, RecoverS: 55, IntervalS: 60, SteamS: 3600}, boiler.LoadingTooFast},
		{"cold at rest", boiler.ColdEnd{Loads: 4, AfterLoadK: 2, RecoverS: 30, IntervalS: 90, Steady: true, SteadyK: 9, SteamS: 3600}, boiler.DoorLeak},
		{"cold at rest, wind", boiler.ColdEnd{Steady: true, SteadyK: 9, SwingK: 3, SteamS: 3600}, boiler.DoorLeak},
		{"ten minutes of steam", boiler.ColdEnd{Steady: true, SteadyK: 12, SteamS: 600}, boiler.AirNotOut},
		{"steam end falls, boiler boils", boiler.ColdEnd{Steady: true, SteadyK: 9, SteamLowK: 8, SteamFallK: 6, Boiling: true, SteamS: 3600}, boiler.HoseFull},
		{"only one load seen", boiler.ColdEnd{Loads: 1, IntervalS: 90, AfterLoadK: 5, SteamS: 3600}, boiler.LoadingTooFast},
	} {
		if got := row.seen.Diagnose(); got[0].Cause != row.want {
			t.Errorf("%s: %+v, want %s first", row.name, got, row.want)
		}
	}
}

// The chances add up, are in order, and a larger fall after loads or less time to
// recover never speaks against loading too fast.
func TestDiagnoseIsOrderly(t *testing.T) {
	chance := func(c boiler.ColdEnd, of boiler.Cause) float64 {
		for _, s := range c.Diagnose() {
			if s.Cause == of {
				return s.Chance
			}
		}
		return math.NaN()
	}
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, hi float64) float64 { return rapid.Float64Range(0, hi).Draw(t, name) }
		c := boiler.ColdEnd{Loads: rapid.IntRange(0, 5).Draw(t, "loads"), AfterLoadK: f("dip", 20), RecoverS: f("recover", 300), IntervalS: f("interval", 300),
			Steady: rapid.Bool().Draw(t, "steady"), SteadyK: f("steady K", 30), SwingK: f("swing", 5), SteamLowK: f("low", 30),
			SteamFallK: f("fall", 20), Boiling: rapid.Bool().Draw(t, "boiling"), SteamS: f("steam", 7200)}
		sum, last := 0.0, 1.0
		for _, s := range c.Diagnose() {
			if s.Chance > last || !(s.Chance > 0) {
				t.Fatalf("%+v", c.Diagnose())
			}
			sum, last = sum+s.Chance, s.Chance
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("chances add up to %g", sum)
		}
		more := c
		more.AfterLoadK, more.IntervalS = c.AfterLoadK+1, 0.9*c.IntervalS
		if chance(more, boiler.LoadingTooFast) < chance(c, boiler.LoadingTooFast)-1e-12 {
			t.Fatalf("more speaks against: %+v", c)
		}
	})
}

// watched is a rehearsed box as two probes see it.
type watched struct {
	w    *rehearsal.World
	plan []rehearsal.Rib
	seen boiler.ColdEnd
}

// ends returns how far the door end is behind the steam end, and the steam end below
// the boil.
func (h *watched) ends() (behind, low float64) {
	p := h.w.Probes()
	return float64(p[0].Temp - p[1].Temp), float64(h.w.BoilingC() - p[0].Temp)
}

// rest leaves the box alone for ten minutes and looks at the last two.
func (h *watched) rest() {
	h.w.Step(8 * time.Minute)
	least, most := math.Inf(1), math.Inf(-1)
	sum := 0.0
	for range 120 {
		h.w.Step(time.Second)
		behind, low := h.ends()
		least, most, sum = min(least, behind), max(most, behind), sum+behind
		h.seen.SteamLowK = low
	}
	h.seen.Steady, h.seen.SteadyK, h.seen.SwingK = true, sum/120, most-least
}

// load works one rib in and one out with an interval, until nine are in.
func (h *watched) load(t *testing.T, interval time.Duration) {
	before, _ := h.ends()
	h.seen.IntervalS = interval.Seconds()
	for i := range 9 {
		slot := i % h.w.Slots()
		if i >= h.w.Slots() {
			if _, err := h.w.Pull(slot); err != nil {
				t.Fatal(err)
			}
		}
		if err := h.w.Load(slot, h.plan[i]); err != nil {
			t.Fatal(err)
		}
		h.seen.Loads++
		back := 0.0
		for s := range int(interval.Seconds()) {
			h.w.Step(time.Second)
			behind, _ := h.ends()
			h.seen.AfterLoadK = max(h.seen.AfterLoadK, behind-before)
			if behind > before+1 {
				back = float64(s + 1)
			}
		}
		h.seen.RecoverS = max(h.seen.RecoverS, back)
	}
}

// Against the rehearsed box: at rest after half an hour, then loaded. The box in
// order is loaded every 30 s, the leaking one as a crew would.
func TestDiagnoseAgainstRehearsal(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		scenario string
		interval time.Duration
		want     boiler.Cause
	}{
		{"good", 30 * time.Second, boiler.LoadingTooFast},
		{"cold-door", 90 * time.Second, boiler.DoorLeak},
	} {
		right := 0
		const seeds = 10
		for seed := range uint64(seeds) {
			w, err := rehearsal.New(row.scenario, 100+seed)
			if err != nil {
				t.Fatal(err)
			}
			h := &watched{w: w, plan: rehearsal.Plan()}
			h.w.Step(34 * time.Minute)
			h.rest()
			h.load(t, row.interval)
			h.seen.SteamS = h.w.Elapsed().Seconds() - 12*60
			got := h.seen.Diagnose()
			if got[0].Cause == row.want {
				right++
			}
			t.Logf("%s, seed %d: %+v: %s %.0f %%", row.scenario, seed, h.seen, got[0].Cause, 100*got[0].Chance)
		}
		if right < seeds*8/10 {
			t.Errorf("%s: %s first in %d of %d", row.scenario, row.want, right, seeds)
		}
	}
}

func BenchmarkDiagnose(b *testing.B) {
	c := boiler.ColdEnd{Loads: 4, AfterLoadK: 7, RecoverS: 55, IntervalS: 60, Steady: true, SteadyK: 4, SteamS: 3600}
	b.ReportAllocs()
	for b.Loop() {
		c.Diagnose()
	}
}
