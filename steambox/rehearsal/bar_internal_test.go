package rehearsal

import (
	"fmt"
	"math"
	"testing"
)

// plain is wood whose properties do not change: k = 0.38 W/mK and the given
// diffusivity, as the exact solutions want it.
func plain(diffusivity float64) timber {
	return timber{HeatA: 0.38 / diffusivity, ConductA: 0.38}
}

const instant = 1e7 // W/m²K: a face at the temperature of the steam at once

// soak moves a bar on through seconds of an even gas.
func soak(b *bar, seconds, dt, gasC, film float64) (taken float64) {
	n := len(b.along)
	gas, films, took := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range gas {
		gas[i], films[i] = gasC, film
	}
	for range int(math.Round(seconds / dt)) {
		b.step(dt, gas, films, took)
	}
	for _, j := range took {
		taken += j
	}
	return taken
}

// reach returns the seconds until the core amidships is at c.
func reach(b *bar, c, dt, gasC, film float64) float64 {
	for s := dt; s < 1e5; s += dt {
		soak(b, dt, dt, gasC, film)
		if b.core(len(b.along)/2) >= c {
			return s
		}
	}
	return math.Inf(1)
}

func share(c, from, to float64) float64 { return (to - c) / (to - from) }

// meanThrough is the mean over the thickness at the middle of the width, amidships.
func meanThrough(b *bar) float64 {
	i, sum, whole := (len(b.along)/2*b.Across)*b.Through, 0.0, 0.0
	for h, d := range b.through {
		sum += d * b.Timber.temperature(b.Heat[i+h])
		whole += d
	}
	return sum / whole
}

// The full series for a plane wall at Fo = 0.2: Bi = 1 centre 0.9506417785 and
// mean 0.8515954577 (registered values of a public solver's verification script,
// recomputed), Bi → ∞ centre 0.772312 and mean 0.495912.
func TestPlaneWallSeries(t *testing.T) {
	const half, alpha, from, to = 0.005, 1.5e-7, 15.0, 100.0
	for _, row := range []struct {
		name                    string
		film, centre, mean, tol float64
		cells                   int
	}{
		{"Bi 1, the rib's grid", 0.38 / half, 0.9506417785, 0.8515954577, 0.002, cellsThrough},
		{"Bi 1, fine grid", 0.38 / half, 0.9506417785, 0.8515954577, 0.0003, 24},
		{"face at once, the rib's grid", instant, 0.772312, 0.495912, 0.012, cellsThrough},
		{"face at once, fine grid", instant, 0.772312, 0.495912, 0.0005, 24},
	} {
		b := newBar(plain(alpha), 2*half, 0.4, 1, row.cells, 3, from)
		soak(b, 0.2*half*half/alpha, half*half/alpha/2000, to, row.film)
		centre, mean := share(b.core(len(b.along)/2), from, to), share(meanThrough(b), from, to)
		if math.Abs(centre-row.centre) > row.tol || math.Abs(mean-row.mean) > row.tol {
			t.Errorf("%s: centre %.5f, mean %.5f; the series has %.5f, %.5f", row.name, centre, mean, row.centre, row.mean)
		}
	}
}

// The square bar is the product of two walls: Bi = 1, Fo = 0.2 has centre
// 0.9037197910 and mean 0.7252148236 (same source).
func TestSquareBarSeries(t *testing.T) {
	t.Parallel()
	const half, alpha, from, to = 0.005, 1.5e-7, 15.0, 100.0
	b := newBar(plain(alpha), 2*half, 2*half, 4, 16, 16, from)
	soak(b, 0.2*half*half/alpha, 0.02, to, 0.38/half)
	centre := share(b.core(len(b.along)/2), from, to)
	if math.Abs(centre-0.9037197910) > 0.0005 {
		t.Errorf("centre %.5f; the series has 0.90372", centre)
	}
	// Over 4 m the end faces give little; the mean is that of a long bar.
	mean := share(b.Timber.temperature(b.heatJ()/(4*half*half*4)), from, to)
	if math.Abs(mean-0.7252148236) > 0.003 {
		t.Errorf("mean %.5f; the series has 0.72521", mean)
	}
}

// Wood Handbook FPL-GTR-190, table 20-4: measured minutes until the centre of red
// oak is at 133 °F in saturated steam of 157 °F from 60 °F, sizes in inches.
func TestHandbookHeatingTimes(t *testing.T) {
	t.Parallel()
	const inch = 0.0254
	f := func(f float64) float64 { return (f - 32) / 1.8 }
	for _, row := range []struct{ thick, wide, minutes float64 }{
		{1, 6, 14}, {1.5, 6, 26}, {2, 6, 49}, {3, 3, 57}, {4, 4, 109}, {6, 6, 252},
	} {
		b := newBar(plain(1.47e-7), row.thick*inch, row.wide*inch, 2.4, 8, 8, f(60))
		got := reach(b, f(133), 2, f(157), instant) / 60
		if math.Abs(got/row.minutes-1) > 0.15 {
			t.Errorf("%g × %g in: %.1f min, measured %g", row.thick, row.wide, got, row.minutes)
		}
	}
}

// Common practice: a thin rib is hot through in about two minutes. The product of
// two wall series of 60 terms, reckoned apart for a section 28 mm wide with
// k = 0.38 W/mK and 1.47e-7 m²/s from 15 °C, has the core within 2 K of 100 °C
// after 98.6 and 133.1 s at 6 and 7 mm with the face at 100 °C at once, and after
// 185.2 and 230.8 s through a film of 300 W/m²K.
func TestAboutTwoMinutes(t *testing.T) {
	for _, row := range []struct {
		mm, film, want float64
	}{
		{6, instant, 98.6}, {7, instant, 133.1}, {6, 300, 185.2}, {7, 300, 230.8},
	} {
		b := newBar(plain(1.47e-7), row.mm/1000, 0.028, 1, cellsThrough, cellsAcross, 15)
		got := reach(b, 98, 0.25, 100, row.film)
		if math.Abs(got/row.want-1) > 0.02 {
			t.Errorf("%g mm, film %g: %.1f s, the series has %g", row.mm, row.film, got, row.want)
		}
	}
}

// What the faces let in is what the wood holds more, whatever the step.
func TestBarConservesHeat(t *testing.T) {
	for _, dt := range []float64{0.01, 0.25, 7, 100} {
		b := newBar(greenOak(65, 1.47e-7), 0.0065, 0.028, 1.1, cellsThrough, cellsAcross, 12)
		before := b.heatJ()
		taken := soak(b, 300, dt, 99, 300)
		if gained := b.heatJ() - before; math.Abs(gained/taken-1) > 1e-10 {
			t.Errorf("step %g s: took %.6f J, holds %.6f J more", dt, taken, gained)
		}
	}
}

// Any step is stable for any stick: the wood stays between start and steam, and a
// long step does what short ones do.
func TestBarAnyStep(t *testing.T) {
	for _, mm := range [][2]float64{{2, 2}, {3, 20}, {6.5, 28}, {25, 25}, {50, 100}} {
		t.Run(fmt.Sprint(mm), func(t *testing.T) {
			make := func() *bar {
				return newBar(greenOak(70, 1.5e-7), mm[0]/1000, mm[1]/1000, 0.9, cellsThrough, cellsAcross, 10)
			}
			once, often := make(), make()
			soak(once, 120, 120, 100, 5000)
			soak(often, 120, 0.05, 100, 5000)
			for i := range once.Heat {
				c := once.Timber.temperature(once.Heat[i])
				if !(c >= 10-1e-9 && c <= 100+1e-9) {
					t.Fatalf("cell %d at %g °C", i, c)
				}
			}
			a, b := once.core(8), often.core(8)
			if math.Abs(a-b) > 0.4 {
				t.Errorf("core %.3f in one step, %.3f in many", a, b)
			}
		})
	}
}

// The end faces warm the last few thicknesses and leave the rest alone.
func TestEndFaces(t *testing.T) {
	b := newBar(plain(1.47e-7), 0.02, 0.04, 1, 6, 6, 15)
	soak(b, 60, 0.25, 100, 400)
	end, inner, middle := b.core(0), b.core(4), b.core(len(b.along)/2)
	if end < middle+20 {
		t.Errorf("core 2 mm from the end face %.1f °C, amidships %.1f", end, middle)
	}
	if math.Abs(inner-middle) > 0.5 {
		t.Errorf("core a hand from the end %.2f °C, amidships %.2f", inner, middle)
	}
}

// Specific heat of wet wood at 60 % moisture, mixture rule, 60 °C: 2.4371 kJ/(kg K)
// (from Wood Handbook equation 4-16a); conductivity of white oak near green
// moisture by MacLean's wet form: S (0.2005 + 0.00548 M) + 0.0238.
func TestGreenOak(t *testing.T) {
	w := greenOak(60, 1.47e-7)
	if got := (w.HeatA + w.HeatB*60) / (600 * 1.6); math.Abs(got-2437.1) > 0.5 {
		t.Errorf("specific heat %.1f J/(kg K), want 2437.1", got)
	}
	maclean := 0.60*(0.2005+0.00548*60) + 0.0238
	if got := w.conductivity(60); math.Abs(got/maclean-1) > 0.1 {
		t.Errorf("conductivity %.3f W/(m K), MacLean %.3f", got, maclean)
	}
	for c := 0.0; c <= 110; c += 7.3 {
		if got := w.temperature(w.heat(c)); math.Abs(got-c) > 1e-9 {
			t.Errorf("temperature(heat(%g)) = %.12f", c, got)
		}
	}
}
