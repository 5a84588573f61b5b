package boiler_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/boiler"
)

const latent = 2256.5e3

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tol)
	}
}

// 1 kW net boils off 1.595 kg/h (IAPWS-IF97 latent heat at 101.325 kPa).
func TestBoilOffPerKilowatt(t *testing.T) {
	r := boiler.Boiler{PowerW: 1000}.FirstRate(latent)
	near(t, "kg/h per kW", r.MaxLPerS*3600, 1.595, 0.002)
	if s := r.Span(); s.Hi > r.MaxLPerS || s.Lo >= s.Best || s.Best >= s.Hi {
		t.Errorf("span %+v", s)
	}
}

// At 3 kW one kilogram from 20 °C boils in 111.7 s if nothing is lost (IF97
// enthalpies); real kettles lose 5 to 20 %.
func TestKettleLead(t *testing.T) {
	k := boiler.Kettle{Litres: 1, PowerW: 3000, TapC: 20}
	s := k.Lead(99.974).Seconds()
	if s < 111.7*1.05 || s > 111.7*1.20 {
		t.Errorf("lead %g s, want 5 to 20 %% over 111.7", s)
	}
	k.CarryS = 90
	near(t, "with carrying", k.Lead(99.974).Seconds()-s, 90, 1e-6)
	near(t, "always on the boil", boiler.Kettle{CarryS: 30}.Lead(100).Seconds(), 30, 1e-9)
}

var pot = boiler.Boiler{Kind: boiler.OpenPot, PowerW: 2200, FullL: 5, SwitchL: 1.2, BareL: 0.4}

func TestWaterRunsDown(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	if _, ok := w.UntilDry(pot); ok {
		t.Error("known before anything was told")
	}
	w.Fill(4)
	w.Pass(pot, 600, boiler.Still, boiler.Closed)
	if left, _ := w.Now(); left.Best != 4 {
		t.Errorf("boiled off %g L before boiling", 4-left.Best)
	}
	before, _ := w.UntilDry(pot)
	w.Pass(pot, 600, boiler.Boiling, boiler.Closed)
	after, _ := w.UntilDry(pot)
	near(t, "time to dry falls with time", before.Best-after.Best, 600, 1e-6)
	if !(after.Lo < after.Best && after.Best < after.Hi) {
		t.Errorf("time to dry %+v", after)
	}
}

// The trip of the switch teaches the rate.
func TestTripTeaches(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	w.Fill(4)
	truth := 2200 * 0.70 / latent // a badly lagged boiler
	seconds := (4 - 1.2) / truth
	for range int(seconds) {
		w.Pass(pot, 1, boiler.Boiling, boiler.Closed)
	}
	first := w.Rate.Span()
	for range 10 {
		w.Pass(pot, 1, boiler.Boiling, boiler.Open)
	}
	got := w.Rate.Span()
	if math.Abs(got.Best/truth-1) > 0.6*math.Abs(first.Best/truth-1) {
		t.Errorf("rate %g after the trip, %g before, truth %g", got.Best, first.Best, truth)
	}
	if left, _ := w.Now(); math.Abs(left.Best-1.2) > 0.15 { // how well a float's place is known
		t.Errorf("%g L at the trip", left.Best)
	}
	w.Pass(pot, 30, boiler.Boiling, boiler.Open)
	near(t, "seconds low", w.LowS, 40, 1e-9)
	w.Add(pot, 2)
	w.Pass(pot, 10, boiler.Boiling, boiler.Closed)
	if left, _ := w.Now(); math.Abs(left.Best-3.2) > 0.15 || !w.Proven {
		t.Errorf("%g L after the refill, proven %v", left.Best, w.Proven)
	}
}

// Where nothing was told a proven switch is all there is to go by.
func TestProvenSwitchIsAFloor(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	w.Pass(pot, 10, boiler.Still, boiler.Open)
	w.Known = false
	w.Pass(pot, 10, boiler.Still, boiler.Closed)
	w.Known = false
	if left, ok := w.NowWith(pot); !ok || left.Lo < 1 || !w.Proven {
		t.Errorf("%+v, %v, proven %v", left, ok, w.Proven)
	}
}

// A float that once followed the water and then sticks closed must not hold the
// account up: three hours boil away more than twice the fill.
func TestStuckFloatIsNotBelieved(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	w.Pass(pot, 10, boiler.Still, boiler.Open)
	w.Fill(4)
	w.Pass(pot, 10, boiler.Still, boiler.Closed)
	w.Pass(pot, 3*3600, boiler.Boiling, boiler.Closed)
	if dry, ok := w.UntilDry(pot); !ok || dry.Lo != 0 || dry.Best != 0 || dry.Hi != 0 {
		t.Errorf("dry in %+v, %v after 3 h on 4 L", dry, ok)
	}
}

// A rise alone proves nothing of sinking, and a line that fails is not "closed".
func TestUnreadableSwitchSaysNothing(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	w.Pass(pot, 1, boiler.Still, boiler.Open)
	w.Pass(pot, 1, boiler.Still, boiler.Closed)
	if w.Proven {
		t.Error("a flicker proves the switch")
	}
	w.Pass(pot, 1, boiler.Still, boiler.Unknown)
	if w.Reads != boiler.Unknown {
		t.Errorf("an unreadable switch still says %v", w.Reads)
	}
}

// A loose wire teaches nothing: no boiler boils faster than its power.
func TestFlickerTeachesNothing(t *testing.T) {
	for _, low := range []float64{2, 30} {
		w := boiler.NewWater(pot, latent)
		w.Fill(4)
		w.Pass(pot, 120, boiler.Boiling, boiler.Closed)
		before := w.Rate
		for range int(low) {
			w.Pass(pot, 1, boiler.Boiling, boiler.Open)
		}
		w.Pass(pot, 1, boiler.Boiling, boiler.Closed)
		left, _ := w.Now()
		if w.Rate != before || left.Hi < 3 {
			t.Errorf("low for %g s: rate %+v, was %+v, left %+v", low, w.Rate, before, left)
		}
	}
}

// What nobody saw may have boiled or not.
func TestUnseenTimeOpensTheBounds(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	w.Fill(4)
	before, _ := w.Now()
	w.Pass(pot, 7200, boiler.Unseen, boiler.Unknown)
	after, _ := w.Now()
	if after.Lo != 0 || after.Hi != before.Hi {
		t.Errorf("after two hours unseen %+v, before %+v", after, before)
	}
}

// Wherever the true rate lies within the bounds, the early bound of the time to
// dry is early.
func TestEarlyBoundIsEarly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := boiler.NewWater(pot, latent)
		w.Fill(4)
		r := w.Rate.Span()
		truth := rapid.Float64Range(r.Lo, r.Hi).Draw(t, "rate")
		filled := rapid.Float64Range(3.8, 4.2).Draw(t, "filled")
		s := rapid.Float64Range(0, 3000).Draw(t, "seconds")
		w.Pass(pot, s, boiler.Boiling, boiler.Unknown)
		dry, _ := w.UntilDry(pot)
		left := (filled - s*truth - pot.BareL) / truth
		if left > 0 && dry.Lo > left+1e-6 {
			t.Fatalf("dry in %g at the earliest, truly in %g", dry.Lo, left)
		}
	})
}
