package rehearsal

import (
	"math"
	"testing"
	"time"
)

// frequencies bends many ribs with the given ln-exposures at the ends.
func frequencies(lnA, lnB float64, hard Difficulty, cold bool) map[Result]float64 {
	const n = 20000
	d, f := newDice(7), map[Result]float64{}
	for range n {
		w := Window{LnSoft: 1, LnOver: 1.9, Sigma: 0.1, Grain: 0.04}
		o := w.bend(d, [2]float64{math.Exp(lnA), math.Exp(lnB)}, hard, cold)
		f[o.Result] += 1.0 / n
	}
	return f
}

// Each row reckoned by hand from the model: underdone wood is stiff and cracked as
// 0.7 to 0.3, overdone as 0.6 to 0.4, 0.04 crack by the grain, Φ(−1) = 0.1587.
func TestOutcomeFrequencies(t *testing.T) {
	const grain, tail = 0.04, 0.158655
	for _, row := range []struct {
		name           string
		a, b           float64
		hard           Difficulty
		cold           bool
		supple, stiffs float64
	}{
		{"middle of the window", 1.45, 1.45, Easy, false, 1 - grain, 0},
		{"far under", 0, 0, Easy, false, 0, 0.7 * (1 - grain)},
		{"far over", 3, 3, Easy, false, 0, 0.6 * (1 - grain)},
		{"one end under", 1.5, 0, Easy, false, 0, 0.7 * (1 - grain)},
		{"one end over", 3, 1.5, Easy, false, 0, 0.6 * (1 - grain)},
		{"one sigma in", 1.1, 1.4, Easy, false, (1 - grain) * (1 - tail), 0.7 * tail * (1 - grain)},
		{"one sigma in, hard", 1.28, 1.4, Hard, false, (1 - grain) * (1 - tail), 0.7 * tail * (1 - grain)},
		{"gone cold", 1.45, 1.45, Easy, true, 0, 0.7 * (1 - grain)},
		{"never heated", math.Inf(-1), math.Inf(-1), Easy, false, 0, 0.7 * (1 - grain)},
	} {
		f := frequencies(row.a, row.b, row.hard, row.cold)
		if math.Abs(f[Supple]-row.supple) > 0.012 || math.Abs(f[Stiff]-row.stiffs) > 0.012 {
			t.Errorf("%s: %v; want supple %.3f, stiff %.3f", row.name, f, row.supple, row.stiffs)
		}
	}
}

func TestWhereItCracks(t *testing.T) {
	d := newDice(1)
	for range 500 {
		w := Window{LnSoft: 1, LnOver: 1.9, Sigma: 0.1}
		under := w.bend(d, [2]float64{1, 1}, Easy, false)
		over := w.bend(d, [2]float64{20, 20}, Easy, false)
		for _, o := range []Outcome{under, over} {
			if (o.Result == Cracked) != (o.Where != "") {
				t.Fatalf("outcome %+v", o)
			}
		}
		if under.Where == "inside" || over.Where == "outside" {
			t.Fatalf("underdone cracked %q, overdone %q", under.Where, over.Where)
		}
	}
}

// 4 to 8 minutes in the box at some 98 °C, of which the core is late by two, is
// common practice for thin fresh oak: it must lie in most sticks' windows.
func TestDrawnWindows(t *testing.T) {
	fits, drawn := 0, 400
	for seed := range uint64(drawn) {
		w := drawWindow(newDice(seed))
		if !(w.LnOver-w.LnSoft > 0.3) || !(w.Sigma > 0) {
			t.Fatalf("seed %d: %+v", seed, w)
		}
		six := math.Log((6 - 2) * math.Exp((98-100)/severityK))
		if w.LnSoft < six && six < w.LnOver {
			fits++
		}
	}
	if fits < drawn*6/10 {
		t.Errorf("six minutes suit %d of %d sticks", fits, drawn)
	}
}

func TestDelays(t *testing.T) {
	d := newDice(5)
	f := Fitter{Fit: Habit{50 * time.Second, 0.2, 0.1, 3}, FallsBehind: Excursion{time.Hour, 2 * time.Hour, 2}}
	mean := func(now time.Duration) (sum float64) {
		for range 4000 {
			sum += f.delay(Fit, now, d).Seconds() / 4000
		}
		return sum
	}
	want := 50 * math.Exp(0.02) * 1.2 // mean of a log-normal; a tenth takes three times as long
	if got := mean(0); math.Abs(got/want-1) > 0.05 {
		t.Errorf("mean %.1f s, want %.1f", got, want)
	}
	if got := mean(90 * time.Minute); math.Abs(got/want/2-1) > 0.05 {
		t.Errorf("mean %.1f s while behind, want %.1f", got, 2*want)
	}
	if got := f.delay("sweep", 0, d); got != 0 {
		t.Errorf("an unknown task took %v", got)
	}
}
