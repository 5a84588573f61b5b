package soak_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.8g, want %.8g ± %g", what, got, want, tol)
	}
}

// Severity of 225 °C, 1 and 13 min as printed by J. Korean Wood Sci. Technol.
// 47(2), 189 (2019); the rates are the formula's own.
func TestRate(t *testing.T) {
	near(t, "log R0, 225 °C 1 min", math.Log10(soak.Rate(225)), 3.68, 0.005)
	near(t, "log R0, 225 °C 13 min", math.Log10(13*soak.Rate(225)), 4.79, 0.005)
	near(t, "rate at 100 °C", soak.Rate(100), 1, 1e-12)
	for _, row := range []struct{ c, rate float64 }{
		{70, 0.13082}, {80, 0.25771}, {90, 0.50765}, {95, 0.71249}, {98, 0.87320}, {102, 1.14522},
	} {
		near(t, "rate", soak.Rate(row.c), row.rate, 6e-6)
	}
}

// needle is so thin that its core is at the air's temperature.
func needle(t *testing.T) *soak.Model {
	t.Helper()
	a := soak.Default(wood.Section{WidthM: wood.MinSideM, ThicknessM: wood.MinSideM})
	a.FilmWPerM2K, a.FilmFactor, a.Material.DiffusivityM2PerS = 1e5, 1, 1.8e-6
	return model(t, a)
}

// tester is what testing.TB and rapid.T have in common here.
type tester interface {
	Helper()
	Fatal(...any)
}

func rib(t tester) *soak.Model {
	return model(t, soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065}))
}

func model(t tester, a soak.Assumed) *soak.Model {
	t.Helper()
	m, err := soak.NewModel(a)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// all returns air of c °C at n points, the same under each bound.
func all(n int, c float64) []soak.Air {
	air := make([]soak.Air, n)
	for i := range air {
		air[i].C = [soak.Bounds]float64{c, c, c}
	}
	return air
}

// Exact integrals of a linear ramp: 20·14.75/85·(1 − e^(−85/14.75)) for 15 to
// 100 °C in 20 min, and 4.929 for 20 to 98 °C in 30 min; in short steps, in long
// ones and in one.
func TestRamp(t *testing.T) {
	for _, row := range []struct{ from, to, min, want float64 }{{15, 100, 20, 3.460}, {20, 98, 30, 4.929}} {
		for _, steps := range []int{1200, 20, 1} {
			m := needle(t)
			h := soak.NewHeat(m, 0, 1, 2, row.from, all(2, row.from))
			d := time.Duration(row.min * float64(time.Minute) / float64(steps))
			for i := 1; i <= steps; i++ {
				h.Advance(m, d, all(2, row.from+(row.to-row.from)*float64(i)/float64(steps)), soak.Whole)
			}
			got := float64(h.Points[0].Track[soak.Best].Exposure)
			near(t, "ramp", got/row.want, 1, 1.5e-3)
		}
	}
}

// Exposure does not depend on how time is cut up.
func TestAdditive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := model(t, soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065}))
		total := time.Duration(rapid.IntRange(10, 900).Draw(t, "seconds")) * time.Second
		cut := time.Duration(rapid.Float64Range(0.05, 0.95).Draw(t, "cut") * float64(total))
		c := rapid.Float64Range(60, 100).Draw(t, "air")
		whole := soak.NewHeat(m, 0, 1, 2, 15, all(2, c))
		parts := soak.NewHeat(m, 0, 1, 2, 15, all(2, c))
		whole.Advance(m, total, all(2, c), soak.Whole)
		parts.Advance(m, cut, all(2, c), soak.Whole)
		parts.Advance(m, total-cut, all(2, c), soak.Whole)
		a, b := whole.Points[0].Track[soak.Best].Exposure, parts.Points[0].Track[soak.Best].Exposure
		if math.Abs(float64(a-b)) > 3e-3*float64(a)+1e-3 {
			t.Fatalf("in one %g, in two %g", float64(a), float64(b))
		}
	})
}

func TestMonotoneAndBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := model(t, soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065}))
		hot, cool := soak.NewHeat(m, 0, 1, 2, 15, all(2, 95)), soak.NewHeat(m, 0, 1, 2, 15, all(2, 95))
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			c := rapid.Float64Range(80, 100).Draw(t, "air")
			below := rapid.Float64Range(0, 10).Draw(t, "below")
			d := time.Duration(rapid.IntRange(200, 20000).Draw(t, "ms")) * time.Millisecond
			hot.Advance(m, d, all(2, c), soak.Whole)
			cool.Advance(m, d, all(2, c-below), soak.Whole)
		}
		for b := range soak.Bounds {
			if x, y := cool.Points[0].Track[b].Exposure, hot.Points[0].Track[b].Exposure; x > y*1.002+1e-4 {
				t.Fatalf("cooler air gave more: %g over %g", float64(x), float64(y))
			}
		}
		p := hot.Points[1]
		if !(p.Track[soak.Low].Exposure <= p.Track[soak.Best].Exposure*1.002 && p.Track[soak.Best].Exposure <= p.Track[soak.High].Exposure*1.002) {
			t.Fatalf("bounds out of order: %v %v %v", p.Track[0].Exposure, p.Track[1].Exposure, p.Track[2].Exposure)
		}
	})
}

func TestNeverOutsideWhatWasThere(t *testing.T) {
	m := rib(t)
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 100))
	for range 200 {
		h.Advance(m, 50*time.Millisecond, all(2, 100), soak.Whole)
		if c := h.Points[0].Track[soak.Best].CoreC; c < 15 || c > 100 {
			t.Fatalf("core at %g °C", c)
		}
	}
}

func TestBlindGainsNothingBelow(t *testing.T) {
	m := rib(t)
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 95))
	h.Advance(m, 5*time.Minute, all(2, 95), soak.Whole)
	before := h.Points[0]
	air := all(2, 95)
	for i := range air {
		air[i].C = [soak.Bounds]float64{15, 95, 100}
	}
	h.Advance(m, 2*time.Minute, air, soak.Blind)
	p := h.Points[0]
	if p.Track[soak.Low].Exposure != before.Track[soak.Low].Exposure {
		t.Errorf("gained %v below while blind", p.Track[soak.Low].Exposure-before.Track[soak.Low].Exposure)
	}
	near(t, "surely, after being blind", float64(p.Surely()), float64(before.Surely()), 1e-9)
	if p.AtMost() <= p.Track[soak.Best].Exposure || h.BlindS != 120 {
		t.Errorf("at most %v of %v, blind %g s", p.AtMost(), p.Track[soak.Best].Exposure, h.BlindS)
	}
}

// Out of the box a rib goes on until its core is below 60 °C, then stops.
func TestGoesOnAfterThePull(t *testing.T) {
	m := rib(t)
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 98))
	h.Advance(m, 6*time.Minute, all(2, 98), soak.Whole)
	at := h.End(unit.SteamEnd).Track[soak.Best].Exposure
	h.Pull(m, 18)
	for range 600 {
		h.Advance(m, time.Second, all(2, 18), soak.Whole)
	}
	after := h.End(unit.SteamEnd).Track[soak.Best].Exposure
	if gained := after - at; gained < 0.1 || gained > 1 {
		t.Errorf("gained %v after the pull", gained)
	}
	if !h.Cold {
		t.Error("still gathering ten minutes after the pull")
	}
	h.PutBack(m, all(2, 98))
	h.Advance(m, 4*time.Minute, all(2, 98), soak.Whole)
	if h.End(unit.SteamEnd).Track[soak.Best].Exposure <= after {
		t.Error("a rib put back gathers nothing")
	}
}

func TestUntil(t *testing.T) {
	m := rib(t)
	for _, start := range []time.Duration{0, 30 * time.Second, 3 * time.Minute} {
		h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 96))
		h.Advance(m, start, all(2, 96), soak.Whole)
		want, ok := h.Points[0].Until(m, 3.5, time.Hour)
		if !ok {
			t.Fatal("never")
		}
		passed := time.Duration(0)
		for h.Points[0].Track[soak.Best].Exposure < 3.5 {
			h.Advance(m, time.Second, all(2, 96), soak.Whole)
			passed += time.Second
		}
		near(t, "seconds until 3.5", want.Seconds(), passed.Seconds(), 2+0.02*passed.Seconds())
	}
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 20))
	if d, ok := h.Points[0].Until(m, 3.5, time.Hour); ok {
		t.Errorf("a cold box will do it in %v", d)
	}
}

// One sample for eight ribs of nine points, under all bounds, in a box whose film
// differs from point to point.
func BenchmarkSample(b *testing.B) {
	a := soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065})
	a.BoilingC = 100
	m := model(b, a)
	ribs := make([]soak.Heat, 8)
	air := all(soak.DefaultPoints, 97)
	for i := range ribs {
		ribs[i] = soak.NewHeat(m, 0, 1, soak.DefaultPoints, 15, air)
	}
	second := func(i int) {
		for p := range air {
			c := 98 - 0.4*float64(p) + 0.1*float64(i%10)
			air[p].C = [soak.Bounds]float64{c - 0.2, c, c + 0.2}
		}
		for r := range ribs {
			ribs[r].Advance(m, time.Second, air, soak.Whole)
		}
	}
	for i := range 300 { // the films have found their rungs
		second(i)
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		second(i)
	}
}
