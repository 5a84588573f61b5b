package profile_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/profile"
	"withy/steambox/unit"
)

func air(t *testing.T, s profile.Shape) *profile.Air {
	t.Helper()
	a, err := profile.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func readings(c ...float64) []profile.Reading {
	out := make([]profile.Reading, len(c))
	for i, v := range c {
		out[i] = profile.Reading{C: v, OK: !math.IsNaN(v)}
	}
	return out
}

var none = math.NaN()

func TestTwoProbes(t *testing.T) {
	a := air(t, profile.Shape{X: []unit.Metre{0, 1.5}, UncertaintyK: 0.2})
	a.Update(readings(98, 95), 1)
	for _, row := range []struct {
		x unit.Metre
		c float64
	}{{-0.1, 98}, {0, 98}, {0.5, 97}, {1.5, 95}, {2, 95}} {
		if c, spread := a.At(row.x); math.Abs(c-row.c) > 1e-12 || spread != 0.2 {
			t.Errorf("at %v: %g ± %g, want %g ± 0.2", row.x, c, spread, row.c)
		}
	}
}

func TestSurveyBends(t *testing.T) {
	a := air(t, profile.Shape{X: []unit.Metre{0, 1.5}, Survey: []profile.Knot{{0.75, 0.2}}})
	a.Update(readings(98, 93), 1)
	if c, _ := a.At(0.75); math.Abs(c-97) > 1e-12 {
		t.Errorf("at the surveyed point %g, want 97", c)
	}
	if c, _ := a.At(1.125); math.Abs(c-95) > 1e-12 {
		t.Errorf("half way beyond it %g, want 95", c)
	}
}

// A box fed in the middle is hottest there and both probes read cool places.
func TestFedInTheMiddle(t *testing.T) {
	a := air(t, profile.Shape{X: []unit.Metre{0, 2}, UncertaintyK: 0.2, Inlet: 1, BoilingC: 100})
	a.Update(readings(94, 94), 1)
	c, spread := a.At(1)
	if c != 97 || math.Abs(spread-3.2) > 1e-9 {
		t.Errorf("at the inlet %g ± %g, want 97 ± 3.2: from the line to boiling", c, spread)
	}
	if c, spread := a.At(0); c != 94 || spread != 0.2 {
		t.Errorf("at the probe %g ± %g", c, spread)
	}
}

func TestOneProbeLeft(t *testing.T) {
	a := air(t, profile.Shape{X: []unit.Metre{0, 1.5}, UncertaintyK: 0.2})
	if a.Quality != profile.Bad {
		t.Error("good before the first sample")
	}
	a.Update(readings(98, 95), 1)
	a.Update(readings(97, none), 60)
	c, spread := a.At(1.5)
	if c != 94 || a.Quality != profile.Uncertain || spread < 1.5 {
		t.Errorf("door end %g ± %g, %v; want 94, uncertain", c, spread, a.Quality)
	}
	a.Update(readings(97, none), 600)
	if _, later := a.At(1.5); later <= spread {
		t.Errorf("doubt does not grow: %g then %g", spread, later)
	}
	a.Update(readings(none, none), 1)
	if a.Quality != profile.Bad {
		t.Errorf("no probe: %v", a.Quality)
	}
	a.Update(readings(97, 94), 1)
	if a.Quality != profile.Good {
		t.Errorf("both back: %v", a.Quality)
	}
}

// A probe that dies while the door stands open leaves the difference of the last
// minutes behind, not the dip's.
func TestDiesInADip(t *testing.T) {
	a := air(t, profile.Shape{X: []unit.Metre{0, 1.5}, UncertaintyK: 0.2})
	for range 600 {
		a.Update(readings(98, 95), 1)
	}
	for range 5 {
		a.Update(readings(97.5, 88), 1)
	}
	a.Update(readings(98, none), 1)
	if c, _ := a.At(1.5); math.Abs(c-95) > 0.4 {
		t.Errorf("door end %.2f, want 95", c)
	}
}

// Fritsch and Carlson's own demand: between two probes the curve never leaves
// what they read.
func TestCubicStaysBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, profile.MaxProbes).Draw(t, "probes")
		s := profile.Shape{}
		temps := make([]float64, n)
		x := 0.0
		for i := range n {
			s.X = append(s.X, unit.Metre(x))
			x += rapid.Float64Range(0.05, 1).Draw(t, "apart")
			temps[i] = rapid.Float64Range(60, 100).Draw(t, "temp")
		}
		a, err := profile.New(s)
		if err != nil {
			t.Fatal(err)
		}
		a.Update(readings(temps...), 1)
		for i := range n - 1 {
			lo, hi := min(temps[i], temps[i+1]), max(temps[i], temps[i+1])
			for k := range 11 {
				c, _ := a.At(s.X[i] + (s.X[i+1]-s.X[i])*unit.Metre(k)/10)
				if c < lo-1e-9 || c > hi+1e-9 {
					t.Fatalf("%g outside %g to %g", c, lo, hi)
				}
			}
		}
	})
}

func TestRefusesPlaces(t *testing.T) {
	for _, s := range []profile.Shape{
		{}, {X: []unit.Metre{0, 0}}, {X: []unit.Metre{1, 0}}, {X: make([]unit.Metre, 9)},
		{X: []unit.Metre{0}, Survey: []profile.Knot{{0.5, 0.5}}},
		{X: []unit.Metre{0, 1}, Survey: []profile.Knot{{1.5, 0.5}}},
		{X: []unit.Metre{0, unit.Metre(math.NaN())}},
	} {
		if _, err := profile.New(s); err == nil {
			t.Errorf("%+v accepted", s)
		}
	}
}

// A first-order probe behind a ramp is put right.
func TestLagUndone(t *testing.T) {
	var l profile.Lag
	const tau = 10.0
	probe, worst := 20.0, 0.0
	for s := 0.0; s < 300; s++ {
		air := 20 + 0.3*s
		probe += (air - probe) * (1 - math.Exp(-1/tau))
		if got := l.Correct(s, probe, tau, 200).C; s > 60 {
			worst = max(worst, math.Abs(got-air))
		}
	}
	if worst > 1.5 { // uncorrected: 3 K
		t.Errorf("off by %g K on a ramp", worst)
	}
}

func TestLagNoise(t *testing.T) {
	var l profile.Lag
	r := rand.New(rand.NewPCG(1, 2))
	sum, n := 0.0, 20000
	for s := range n {
		d := l.Correct(float64(s), 95+0.1*r.NormFloat64(), 10, 200).C - 95
		sum += d * d
	}
	if sd := math.Sqrt(sum / float64(n)); sd > 1 {
		t.Errorf("noise of 0.1 K comes out as %g K", sd)
	}
}

func TestLagNeverAboveTheLimit(t *testing.T) {
	var l profile.Lag
	for s := range 20 {
		if c := l.Correct(float64(s), 20+4*float64(s), 10, 100).C; c > 100 {
			t.Fatalf("%g °C", c)
		}
	}
}
