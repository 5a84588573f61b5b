package calibrate_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"withy/steambox/calibrate"
)

// sixteenths is what a DS18B20 makes of a temperature at 12 bit (data sheet).
func sixteenths(c float64) float64 { return math.Round(c*16) / 16 }

// trace is a curve read by a DS18B20 each second.
func trace(seconds int, c func(s float64) float64) calibrate.Trace {
	var out calibrate.Trace
	for i := range seconds {
		s := float64(i)
		out = append(out, calibrate.Sample{AtS: s, C: sixteenths(c(s))})
	}
	return out
}

func level(c float64) func(float64) float64 { return func(float64) float64 { return c } }

func TestSteady(t *testing.T) {
	dice := rand.New(rand.NewPCG(1, 1))
	gap := trace(200, level(98))
	gap = append(gap[:100], gap[120:]...)
	spike := trace(200, level(98))
	for i := 50; i < 60; i++ {
		spike[i].C = 92
	}
	for _, c := range []struct {
		name  string
		trace calibrate.Trace
		want  bool
		rests float64 // mean of the last 90 s
	}{
		{"level", trace(200, level(98.03)), true, 98.03},
		{"too short", trace(170, level(98.03)), false, 0},
		{"a gap", gap, false, 0},
		{"nothing", nil, false, 0},
		{"a rolling boil", trace(200, func(float64) float64 { return 98 + 0.08*dice.NormFloat64() }), true, 98},
		{"boiling over a flame that flickers", trace(200, func(float64) float64 { return 98 + 0.3*dice.NormFloat64() }), false, 0},
		{"lifted out for ten seconds", spike, true, 98},
		{"creeping up 0.15 K a minute", trace(200, func(s float64) float64 { return 98 + 0.15*s/60 }), false, 0},
		{"creeping up 0.03 K a minute", trace(200, func(s float64) float64 { return 98 + 0.03*s/60 }), true, 98.077},
		{"falling", trace(200, func(s float64) float64 { return 98 - s/60 }), false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			rest := calibrate.Calm.Judge(c.trace)
			if rest.Steady != c.want {
				t.Errorf("steady %v: %+v", rest.Steady, rest)
			}
			if c.want {
				near(t, "rests at", rest.C, c.rests, 1.0/32)
			}
		})
	}
}

// The slope of a straight rise of 1.2 K a minute, whose readings stand on steps of
// 1/16 K, and of the same with a bad stretch in it.
func TestSlope(t *testing.T) {
	up := trace(181, func(s float64) float64 { return 90 + 1.2*s/60 })
	near(t, "slope", calibrate.Calm.Judge(up).SlopeKPerMin, 1.2, 0.02)
	for i := 80; i < 95; i++ {
		up[i].C = 40
	}
	near(t, "slope with a bad stretch", calibrate.Calm.Judge(up).SlopeKPerMin, 1.2, 0.1)
}

// stepAt is a first-order rise from 15 °C to 99.97 °C that begins at s0:
// 99.97 − 84.97·e^(−(t−s0)/τ). With τ = 10 s it is at 48.43 °C after 5 s, 68.71 after
// 10, 88.47 after 20, 95.74 after 30 (by hand).
func stepAt(s0, tau float64) func(float64) float64 {
	return func(s float64) float64 {
		if s <= s0 {
			return 15
		}
		return 99.97 - 84.97*math.Exp(-(s-s0)/tau)
	}
}

func TestStepByHand(t *testing.T) {
	for after, want := range map[float64]float64{5: 48.43, 10: 68.71, 20: 88.47, 30: 95.74} {
		near(t, "the curve", stepAt(0, 10)(after), want, 0.005)
	}
	for _, c := range []struct {
		name      string
		s0, tau   float64
		seconds   int
		withinPct float64
	}{
		{"between two readings", 20.4, 10, 120, 1},
		{"bare tip", 12.7, 4, 80, 2},
		{"in a thick sleeve", 30, 35, 330, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			step, err := calibrate.FitStep(trace(c.seconds, stepAt(c.s0, c.tau)))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "time constant", step.TauS, c.tau, c.tau*c.withinPct/100)
			near(t, "from", step.FromC, 15, 0.04)
			near(t, "to", step.ToC, 99.97, 0.1)
		})
	}
}

// One reading in twelve is wild, as off a loose plug; the fit must not follow it.
func TestStepRobust(t *testing.T) {
	dice := rand.New(rand.NewPCG(7, 1))
	rise := trace(120, stepAt(20.4, 10))
	for i := range rise[:105] {
		if dice.IntN(12) == 0 {
			rise[i].C += 40 * (dice.Float64() - 0.5)
		}
	}
	step, err := calibrate.FitStep(rise)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "time constant", step.TauS, 10, 1)
}

// Out of the boiling pot, cooled in the shed, then into the steam.
func TestStepAfterCooling(t *testing.T) {
	step, err := calibrate.FitStep(trace(420, func(s float64) float64 {
		if s < 300 {
			return 15 + 84.97*math.Exp(-s/40)
		}
		return stepAt(300, 10)(s)
	}))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "time constant", step.TauS, 10, 0.2)
}

func TestNoStep(t *testing.T) {
	for _, c := range []struct {
		name  string
		trace calibrate.Trace
		want  error
	}{
		{"nothing", nil, calibrate.ErrNoStep},
		{"level", trace(100, level(15)), calibrate.ErrNoStep},
		{"a small one", trace(100, func(s float64) float64 { return 15 + min(20, max(0, s-50)) }), calibrate.ErrNoStep},
		{"at once", trace(100, func(s float64) float64 { return 15 + 85*min(1, max(0, s-50)) }), calibrate.ErrTooQuick},
		{"a box that warms evenly", trace(700, func(s float64) float64 { return 15 + min(84, max(0, s-20)/6) }), calibrate.ErrNotSharp},
		{"slower than can be set", trace(1600, stepAt(20, 200)), calibrate.ErrTooSlow},
	} {
		t.Run(c.name, func(t *testing.T) {
			if step, err := calibrate.FitStep(c.trace); !errors.Is(err, c.want) {
				t.Errorf("%+v, %v; want %v", step, err, c.want)
			}
		})
	}
}

// warming is an end that rises from 12 °C to 98 °C, half way at s0.
func warming(s0 float64) func(float64) float64 {
	return func(s float64) float64 { return 12 + 86/(1+math.Exp(-(s-s0)/60)) }
}

// dipping is a level end that loses k at the moment at, back with 15 s.
func dipping(at, k float64) func(float64) float64 {
	return func(s float64) float64 {
		if s < at {
			return 97
		}
		return 97 - k*math.Exp(-(s-at)/15)
	}
}

// wildAt puts one reading of 85 °C among the others.
func wildAt(at float64, c func(float64) float64) func(float64) float64 {
	return func(s float64) float64 {
		if s == at {
			return 85
		}
		return c(s)
	}
}

// thenDips opens a door beside an end that is warm by then.
func thenDips(c func(float64) float64) func(float64) float64 {
	return func(s float64) float64 { return c(s) + dipping(950, 9)(s) - 97 }
}

// In a warm-up steam reaches its own end first, and an opened door cools the door's
// end (common practice, no source).
func TestSwapped(t *testing.T) {
	for _, c := range []struct {
		name        string
		steam, door func(float64) float64
		opened      []float64
		want        calibrate.Order
	}{
		{"warm-up", warming(400), warming(600), nil, calibrate.AsNamed},
		{"warm-up, the other way", warming(600), warming(400), nil, calibrate.OtherWay},
		{"only the steam end warm yet", warming(400), level(12), nil, calibrate.AsNamed},
		{"only the door end warm yet", level(12), warming(400), nil, calibrate.OtherWay},
		{"tied together", warming(400), warming(405), nil, calibrate.Untold},
		{"level", level(98), level(92), nil, calibrate.Untold},
		{"door opened", level(98), dipping(100, 9), []float64{100}, calibrate.AsNamed},
		{"door opened, the other way", dipping(100, 9), level(98), []float64{100}, calibrate.OtherWay},
		{"a peep that shows nowhere", level(98), dipping(100, 1), []float64{100}, calibrate.Untold},
		{"door opened before anybody watched", level(98), dipping(100, 9), []float64{-20}, calibrate.Untold},
		{"one wild reading at the door", warming(400), wildAt(50, warming(600)), nil, calibrate.AsNamed},
		{"contradiction", thenDips(warming(400)), warming(600), []float64{950}, calibrate.Untold},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := calibrate.Swapped(trace(1000, c.steam), trace(1000, c.door), c.opened)
			if got != c.want {
				t.Errorf("order %d, want %d", got, c.want)
			}
		})
	}
	if got := calibrate.Swapped(nil, nil, []float64{5}); got != calibrate.Untold {
		t.Errorf("nothing read: %d", got)
	}
}

// Turning the two probes round turns the answer round.
func TestSwappedMirror(t *testing.T) {
	for _, lag := range []float64{0, 10, 30, 100, 300} {
		a, b := trace(1500, warming(400)), trace(1500, warming(400+lag))
		there, back := calibrate.Swapped(a, b, nil), calibrate.Swapped(b, a, nil)
		mirror := map[calibrate.Order]calibrate.Order{calibrate.AsNamed: calibrate.OtherWay, calibrate.Untold: calibrate.Untold}
		if back != mirror[there] {
			t.Errorf("%g s apart: %d, turned round %d", lag, there, back)
		}
	}
}
