package soak_test

import (
	"math"
	"testing"
	"time"

	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// steamy is a thin rib in a box where water boils at 100 °C.
func steamy(t tester) *soak.Model {
	t.Helper()
	a := soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065})
	a.BoilingC = 100
	return model(t, a)
}

// quarter is the same rib reckoned another way: explicit finite volumes over a
// quarter of its section, the core's corner first, with a film that is reckoned anew
// at every step.
type quarter struct {
	c       [across][through]float64
	smoothC float64
}

const (
	across, through = 24, 16
	dy, dz          = 0.014 / across, 0.00325 / through
)

// hinders is the resistance of the air in steam of c °C in m²K/W, with Antoine's
// equation for the steam (constants from memory, right to 0.1 % from 60 to 100 °C).
func hinders(c float64) float64 {
	antoine := func(c float64) float64 { return math.Pow(10, 8.07131-1730.63/(233.426+c)) }
	return math.Pow(28.965/18.015*(antoine(100)/antoine(c)-1), 0.7) / 380
}

// step lets dt seconds pass in air of airC °C.
func (q *quarter) step(dt, airC float64) {
	k, perHeat := wood.WhiteOak.ConductivityWPerMK, wood.WhiteOak.DiffusivityM2PerS/wood.WhiteOak.ConductivityWPerMK
	q.smoothC += (airC - q.smoothC) * dt / (60 + dt)
	film := 1/soak.DefaultFilm - hinders(98) + hinders(q.smoothC)
	// into returns what flows into a cell from a side, in W/m².
	into := func(c float64, i, j int, d float64) float64 {
		switch {
		case i < 0 || j < 0:
			return 0
		case i == across || j == through:
			return (airC - c) / (film + d/2/k)
		}
		return k * (q.c[i][j] - c) / d
	}
	next := q.c
	for i := range across {
		for j := range through {
			c := q.c[i][j]
			next[i][j] += dt * perHeat * ((into(c, i-1, j, dy)+into(c, i+1, j, dy))/dy + (into(c, i, j-1, dz)+into(c, i, j+1, dz))/dz)
		}
	}
	q.c = next
}

// Changing rungs on the way, the series' core stays with the finite volumes'.
func TestFilmFollowsTheAir(t *testing.T) {
	const steps = 20 // a second
	for name, airC := range map[string]func(s float64) float64{
		"steady with much air":      func(float64) float64 { return 88 },
		"steady with hardly any":    func(float64) float64 { return 99.3 },
		"warming up with it":        func(s float64) float64 { return 75 + min(24, s/8) },
		"a cold refill in the soak": func(s float64) float64 { return 98.5 - max(0, 12-math.Abs(s-150)/6) },
	} {
		m := steamy(t)
		h := soak.NewHeat(m, 0, 1, 2, 15, all(2, airC(0)))
		q := quarter{smoothC: airC(0)}
		for i := range q.c {
			for j := range q.c[i] {
				q.c[i][j] = 15
			}
		}
		worst := 0.0
		for s := range 300 {
			for n := range steps {
				q.step(1.0/steps, airC(float64(s)+float64(n)/steps))
			}
			h.Advance(m, time.Second, all(2, airC(float64(s+1))), soak.Whole)
			if s >= 30 {
				worst = max(worst, math.Abs(h.Points[0].Track[soak.Best].CoreC-q.c[0][0]))
			}
		}
		if worst > 0.35 {
			t.Errorf("%s: the core is off by up to %.2f K after the first half minute", name, worst)
		}
	}
}

// Where the film is meant, 2 K below boiling, air makes no difference; cooler steam
// heats less than it would with the same film, and hotter steam more.
func TestAirHinders(t *testing.T) {
	for c, sign := range map[float64]float64{93: -1, 96: -1, 98: 0, 99.5: 1} {
		same, steam := rib(t), steamy(t)
		a, b := soak.NewHeat(same, 0, 1, 2, 15, all(2, c)), soak.NewHeat(steam, 0, 1, 2, 15, all(2, c))
		for range 300 {
			a.Advance(same, time.Second, all(2, c), soak.Whole)
			b.Advance(steam, time.Second, all(2, c), soak.Whole)
		}
		for bound := range soak.Bounds {
			x, y := a.Points[0].Track[bound].Exposure, b.Points[0].Track[bound].Exposure
			if more := float64(y/x) - 1; sign == 0 && math.Abs(more) > 0.005 || sign != 0 && more*sign <= 0 {
				t.Errorf("at %g °C, bound %d: %+.3f of the exposure with the same film", c, bound, more)
			}
		}
	}
}

// A probe's noise does not make a rib change its film, and so its exposure is that
// of still air.
func TestNoiseDoesNotStirTheFilm(t *testing.T) {
	m := steamy(t)
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 97))
	rung := h.Points[0].Track[soak.Best].Rung
	for s := range 600 {
		h.Advance(m, time.Second, all(2, 97+0.5*math.Sin(float64(s))), soak.Whole)
		if got := h.Points[0].Track[soak.Best].Rung; got != rung {
			t.Fatalf("from rung %d to %d after %d s", rung, got, s)
		}
	}
}

// A witness at the steam end gives the film that the whole box is known by, also
// where there is more air than there.
func TestWitnessHoldsForTheWholeBox(t *testing.T) {
	a := soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065})
	a.BoilingC, a.FilmWPerM2K = 99.5, 430
	for _, c := range []float64{99, 96.5, 92} {
		m := model(t, a)
		h := soak.NewHeat(m, 0, 1, 2, 15, all(2, c))
		var rows []soak.WitnessRow
		for s := range 240 {
			rows = append(rows, soak.WitnessRow{ElapsedS: float64(s), AirC: c, CoreC: h.End(unit.SteamEnd).Track[soak.Best].CoreC})
			h.Advance(m, time.Second, all(2, c), soak.Whole)
		}
		film, left, err := soak.FitFilm(a, rows)
		if err != nil || math.Abs(film/430-1) > 0.03 || left > 0.3 {
			t.Errorf("witness at %g °C: film %.1f, %.3f K left, %v; want 430", c, film, left, err)
		}
	}
}
