package window_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/soak"
	"withy/steambox/window"
)

func offcut(e soak.Exposure, o window.Outcome) window.Bend {
	return window.Bend{Cool: e, Hot: e, Outcome: o}
}

func several(n int, b window.Bend) []window.Bend {
	bends := make([]window.Bend, n)
	for i := range bends {
		bends[i] = b
	}
	return bends
}

// The practitioner's rule: good ribs, then stiff ones a little later; pull one from
// earlier in the cycle and try it. Supple: too long it was. Stiff too: too short.
func TestGoodThenStiff(t *testing.T) {
	for _, name := range []string{"test bends", "ribs of the run"} {
		inRun := name == "ribs of the run"
		t.Run(name, func(t *testing.T) {
			bend := func(e soak.Exposure, o window.Outcome) window.Bend {
				return window.Bend{Cool: e, Hot: e, Outcome: o, InRun: inRun}
			}
			bends := append(several(3, bend(4, window.Supple)), several(2, bend(4.2, window.Stiff))...)
			w := window.Learn(oak(t), bends, window.Middling)
			before := w.Target(1)
			next := w.Next(1, []soak.Exposure{1, 2, 3})
			if next.Reason != window.Earlier {
				t.Errorf("next %v, %q", next.Steam, next.Reason)
			}
			if free := w.Next(1, nil); free.Steam >= 4 || free.Reason != window.Earlier {
				t.Errorf("of all soaks next is %v, %q", free.Steam, free.Reason)
			}
			good := window.Learn(oak(t), append(bends, bend(next.Steam, window.Supple)), window.Middling).Target(1)
			bad := window.Learn(oak(t), append(bends, bend(next.Steam, window.Stiff)), window.Middling).Target(1)
			t.Logf("target %.2f (%.2f); next %.2f; if supple %.2f (%.2f), if stiff %.2f (%.2f)",
				before.Steam, before.Chance, next.Steam, good.Steam, good.Chance, bad.Steam, bad.Chance)
			if good.Steam >= 4 || good.Chance <= before.Chance {
				t.Errorf("supple there: target %v", good.Steam)
			}
			if bad.Steam <= before.Steam {
				t.Errorf("stiff there too: target %v, was %v", bad.Steam, before.Steam)
			}
		})
	}
}

// Another way of computing: thousands of windows drawn from the prior as settled,
// each weighed with the chance of what was told.
func TestAgainstDrawing(t *testing.T) {
	p := oak(t)
	bends := []window.Bend{
		{Cool: 1.5, Hot: 2, Outcome: window.Stiff},
		{Cool: 3, Hot: 4, Outcome: window.Supple},
		{Cool: 6, Hot: 6.5, Outcome: window.Cracked, Where: window.Inside},
		{Cool: 3.5, Hot: 5},
	}
	w := window.Learn(p, bends, window.Middling)
	const n = 60000
	r := rand.New(rand.NewPCG(3, 5))
	var weight, soft, over, chance float64
	target := w.Target(ratio)
	for range n {
		s := asAssumed.drawFrom(p, r)
		like := 1.0
		for _, b := range bends {
			like *= s.likelihood(b)
		}
		weight += like
		soft += like * indicator(s.lnSoft < math.Log(float64(w.Soft().Median)))
		over += like * indicator(s.lnOver < math.Log(float64(w.Over().Hi)))
		chance += like * s.chance(target.Steam, ratio)
	}
	for _, row := range []struct {
		what            string
		got, want, room float64
	}{
		{"below the median of soft", soft / weight, 0.5, 0.015},
		{"below the upper end of over", over / weight, 0.9, 0.01},
		{"chance at the target", target.Chance, chance / weight, 0.01},
	} {
		if math.Abs(row.got-row.want) > row.room {
			t.Errorf("%s: %.4f, want %.4f ± %g", row.what, row.got, row.want, row.room)
		}
	}
}

func indicator(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// likelihood is the chance of what was told of a bend, written out case by case.
func (s *hidden) likelihood(b window.Bend) float64 {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	under := phi((s.lnSoft - math.Log(float64(b.Cool))) / s.sigma)
	over := phi((math.Log(float64(b.Hot))-s.lnOver)/s.sigma) * (1 - under)
	switch {
	case b.Outcome == "":
		return math.Pow(0.96*(1-under-over), 0.25)
	case b.Outcome == window.Supple:
		return 0.96 * (1 - under - over)
	case b.Outcome == window.Stiff:
		return 0.96 * (0.7*under + 0.6*over)
	case b.Where == window.Inside:
		return 0.96*(0.3*under*0.25+0.4*over*0.75) + 0.04*0.5
	}
	return 0.96*(0.3*under+0.4*over) + 0.04
}

// Whatever is told, answers are numbers in order, and the chance is one.
func sane(t interface{ Errorf(string, ...any) }, w *window.Window) {
	for name, i := range map[string]window.Interval{"soft": w.Soft(), "over": w.Over()} {
		if !(i.Lo > 0 && i.Lo < i.Median && i.Median < i.Hi) || math.IsInf(float64(i.Hi), 0) {
			t.Errorf("%s %+v", name, i)
		}
	}
	if !(w.Soft().Median < w.Over().Median) {
		t.Errorf("soft %+v, over %+v", w.Soft(), w.Over())
	}
	for _, r := range []float64{0.3, 1, 2} {
		if g := w.Target(r); !(g.Steam > 0 && g.Chance > 0 && g.Chance <= 1) {
			t.Errorf("target at %g: %+v", r, g)
		}
	}
}

func TestOddBends(t *testing.T) {
	p := oak(t)
	guess := window.Learn(p, nil, window.Middling).Target(1).Steam
	for _, row := range []struct {
		name  string
		bends []window.Bend
		want  int // sign of the target's move; 0: any
	}{
		{"one supple long after", []window.Bend{offcut(8, window.Supple)}, 1},
		{"one stiff, far too short", []window.Bend{offcut(0.3, window.Stiff)}, 1},
		{"all stiff, all short", several(6, offcut(1.2, window.Stiff)), 1},
		{"all stiff, all long", several(6, offcut(12, window.Stiff)), -1},
		{"all cracked inside", several(6, window.Bend{Cool: 3, Hot: 3, Outcome: window.Cracked, Where: window.Inside}), -1},
		{"all cracked outside", several(6, window.Bend{Cool: 3, Hot: 3, Outcome: window.Cracked, Where: window.Outside}), 1},
		{"contradictory", append(several(4, offcut(3, window.Supple)), several(4, offcut(3, window.Cracked))...), 0},
		{"supple and stiff by turns", append(several(25, offcut(0.01, window.Supple)), several(25, offcut(3, window.Stiff))...), 0},
		{"beyond all belief", several(50, offcut(window.MaxExposure, window.Supple)), 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			w := window.Learn(p, row.bends, window.Middling)
			sane(t, w)
			if move := float64(w.Target(1).Steam - guess); move*float64(row.want) < 0 {
				t.Errorf("target %v, was %v", w.Target(1).Steam, guess)
			}
			if next := w.Next(1, nil); !(next.Steam > 0) || next.Reason == window.First {
				t.Errorf("next %+v", next)
			}
		})
	}
}

func bendGen(difficulties ...window.Difficulty) *rapid.Generator[window.Bend] {
	return rapid.Custom(func(t *rapid.T) window.Bend {
		b := window.Bend{
			Cool:       soak.Exposure(math.Exp(rapid.Float64Range(-2, 3.5).Draw(t, "ln"))),
			Outcome:    rapid.SampledFrom(append([]window.Outcome{""}, window.Outcomes...)).Draw(t, "outcome"),
			Difficulty: rapid.SampledFrom(difficulties).Draw(t, "difficulty"),
			InRun:      rapid.Bool().Draw(t, "in run"),
		}
		b.Hot = b.Cool * soak.Exposure(rapid.Float64Range(1, 2).Draw(t, "hotter"))
		return b
	})
}

// What easier bends say never lowers the target of harder ones, whatever the
// harder ones said.
func TestEasyNeverLowersHard(t *testing.T) {
	p := oak(t)
	rapid.Check(t, func(t *rapid.T) {
		hard := rapid.SliceOfN(bendGen(window.Hard), 0, 4).Draw(t, "hard")
		easy := rapid.SliceOfN(bendGen(window.Easy, window.Middling, ""), 1, 5).Draw(t, "easy")
		for i := range hard {
			hard[i].InRun = false
		}
		for i := range easy {
			easy[i].InRun = false
		}
		mixed := rapid.Permutation(append(append([]window.Bend{}, hard...), easy...)).Draw(t, "mixed")
		r := rapid.Float64Range(0.4, 2).Draw(t, "ratio")
		alone := window.Learn(p, hard, window.Hard).Target(r).Steam
		with := window.Learn(p, mixed, window.Hard).Target(r).Steam
		if float64(with) < float64(alone)*(1-1e-9) {
			t.Fatalf("target %v with easy bends, %v without", with, alone)
		}
	})
}

// An easy rib that came out well says nothing of a hard one; a hard rib that came
// out well says much of an easy one; failures the other way round.
func TestWhatCounts(t *testing.T) {
	p := oak(t)
	guess := window.Learn(p, nil, window.Hard).Target(1)
	for _, row := range []struct {
		name  string
		bend  window.Bend
		of    window.Difficulty
		count bool
	}{
		{"easy supple, of hard", window.Bend{Cool: 1, Hot: 1, Outcome: window.Supple, Difficulty: window.Easy}, window.Hard, false},
		{"easy untold, of hard", window.Bend{Cool: 1, Hot: 1, Difficulty: window.Easy}, window.Hard, false},
		{"easy stiff, of hard", window.Bend{Cool: 1, Hot: 1, Outcome: window.Stiff, Difficulty: window.Easy}, window.Hard, true},
		{"hard supple, of easy", window.Bend{Cool: 1, Hot: 1, Outcome: window.Supple, Difficulty: window.Hard}, window.Easy, true},
		{"hard stiff, of easy", window.Bend{Cool: 1, Hot: 1, Outcome: window.Stiff, Difficulty: window.Hard}, window.Easy, false},
		{"unsaid is middling", offcut(1, window.Supple), window.Middling, true},
	} {
		w := window.Learn(p, []window.Bend{row.bend}, row.of)
		if counted := w.Target(1) != guess; counted != row.count || w.Guess() == row.count {
			t.Errorf("%s: counted %v, a guess %v", row.name, counted, w.Guess())
		}
	}
}

// Test bends of one day may be told in any order.
func TestOrderOfTestBends(t *testing.T) {
	p := oak(t)
	rapid.Check(t, func(t *rapid.T) {
		bends := rapid.SliceOfN(bendGen(window.Middling), 1, 6).Draw(t, "bends")
		for i := range bends {
			bends[i].InRun = false
		}
		a := window.Learn(p, bends, window.Middling)
		b := window.Learn(p, rapid.Permutation(bends).Draw(t, "shuffled"), window.Middling)
		if x, y := a.Soft().Median, b.Soft().Median; math.Abs(float64(x/y)-1) > 1e-6 {
			t.Fatalf("soft %v or %v", x, y)
		}
		sane(t, a)
	})
}

// A box whose door end is the hotter one is the mirror of the other: same ends,
// same chance. The search for the target is as fine as 1 %.
func TestMirroredBox(t *testing.T) {
	p := oak(t)
	rapid.Check(t, func(t *rapid.T) {
		w := window.Learn(p, rapid.SliceOfN(bendGen(window.Middling), 0, 4).Draw(t, "bends"), window.Middling)
		r := rapid.Float64Range(0.3, 1).Draw(t, "ratio")
		cold, hot := w.Target(r), w.Target(1/r)
		if math.Abs(cold.Chance-hot.Chance) > 2e-3 {
			t.Fatalf("chance %g with a cold door end, %g with a hot one", cold.Chance, hot.Chance)
		}
		if c := w.Chance(cold.Steam*soak.Exposure(r), 1/r); math.Abs(c-cold.Chance) > 1e-9 {
			t.Fatalf("the same ends the other way round: %g, %g", c, cold.Chance)
		}
	})
}

// Uneven ends leave less room.
func TestUnevenEndsCost(t *testing.T) {
	w := window.Learn(oak(t), several(3, offcut(3, window.Supple)), window.Middling)
	even, uneven, worse := w.Target(1), w.Target(0.75), w.Target(0.5)
	if !(even.Chance > uneven.Chance && uneven.Chance > worse.Chance) || uneven.Steam <= even.Steam {
		t.Errorf("%+v, %+v, %+v", even, uneven, worse)
	}
}

// An untold rib weighs a quarter of a supple one, so four make one.
func TestUntoldWeighsLittle(t *testing.T) {
	p := oak(t)
	four := window.Learn(p, several(4, offcut(3, "")), window.Middling)
	one := window.Learn(p, several(1, offcut(3, window.Supple)), window.Middling)
	for e := soak.Exposure(0.5); e < 20; e *= 1.5 {
		if a, b := four.Chance(e, 1), one.Chance(e, 1); math.Abs(a-b) > 1e-9 {
			t.Errorf("at %v four untold give %g, one supple %g", e, a, b)
		}
	}
}

// A run makes the stick wander: the same bends say less if they were long ago.
func TestDriftWidens(t *testing.T) {
	p := oak(t)
	long := append(several(6, offcut(3, window.Supple)), several(4, offcut(1.4, window.Stiff))...)
	still := window.Learn(p, long, window.Middling).Soft()
	for i := range long {
		long[i].InRun = true
	}
	run := window.Learn(p, long, window.Middling)
	later := run.Soft()
	for range 40 { // hard ribs that failed say nothing here, but time passes
		run.Add(window.Bend{Cool: 3, Hot: 3, Outcome: window.Stiff, Difficulty: window.Hard, InRun: true})
	}
	last := run.Soft()
	if !(still.Hi/still.Lo < later.Hi/later.Lo && later.Hi/later.Lo < last.Hi/last.Lo) {
		t.Errorf("still %+v, in the run %+v, forty ribs later %+v", still, later, last)
	}
}

func TestFiring(t *testing.T) {
	w := window.Learn(oak(t), nil, window.Middling)
	for n := 1; n <= window.MaxFiring; n++ {
		got := w.Firing(1, n)
		if len(got) != n || got[0] < w.Soft().Lo*0.99 || got[n-1] > w.Over().Hi*1.01 {
			t.Errorf("%d: %v", n, got)
		}
		if n == 3 && !(got[1] > 1.15*got[0] && got[2] > 1.15*got[1]) {
			t.Errorf("not spread: %v", got)
		}
	}
	if one := w.Firing(1, 1)[0]; one != w.Next(1, nil).Steam || w.Next(1, nil).Reason != window.First {
		t.Errorf("one of a firing %v, next %+v", one, w.Next(1, nil))
	}
}

func TestCause(t *testing.T) {
	w := window.Learn(oak(t), []window.Bend{offcut(3, window.Supple), offcut(3.5, window.Supple)}, window.Middling)
	for _, row := range []struct {
		name  string
		bend  window.Bend
		under bool
	}{
		{"stiff at 1", offcut(1, window.Stiff), true},
		{"stiff at 10", offcut(10, window.Stiff), false},
	} {
		c := w.Cause(row.bend)
		if (c.Under > c.Over) != row.under || math.Abs(c.Under+c.Over+c.Neither-1) > 1e-9 || min(c.Under, c.Over, c.Neither) < 0 {
			t.Errorf("%s: %+v", row.name, c)
		}
	}
	at := func(where window.Where) window.Causes {
		return w.Cause(window.Bend{Cool: 5, Hot: 5, Outcome: window.Cracked, Where: where})
	}
	if out, unsaid, in := at(window.Outside), at(""), at(window.Snapped); !(out.Over < unsaid.Over && unsaid.Over < in.Over) {
		t.Errorf("outside %+v, unsaid %+v, snapped %+v", out, unsaid, in)
	}
}

func TestCheck(t *testing.T) {
	nan := soak.Exposure(math.NaN())
	for _, row := range []struct {
		name    string
		bend    window.Bend
		columns string // of the faults
	}{
		{"all wrong", window.Bend{Cool: 3, Hot: -1, Outcome: "bendy", Where: "middle", Difficulty: "mild"}, "exposure_min exposure_min outcome where bend"},
		{"not a number", offcut(nan, window.Supple), "exposure_min exposure_min"},
		{"nothing", window.Bend{Cool: 0, Hot: 2, Outcome: window.Supple}, "exposure_min"},
		{"a place where it is whole", window.Bend{Cool: 1, Hot: 1, Outcome: window.Stiff, Where: window.Inside}, "where"},
		{"all said", window.Bend{Cool: 1, Hot: 2, Outcome: window.Cracked, Where: window.Outside, Difficulty: window.Hard}, ""},
		{"untold", offcut(1, ""), ""},
	} {
		var columns []string
		for _, f := range row.bend.Check() {
			columns = append(columns, f.Column)
		}
		if got := strings.Join(columns, " "); got != row.columns {
			t.Errorf("%s: faults in %q, want %q", row.name, got, row.columns)
		}
	}
}

// A stick that is stiff whatever it is given pushes the belief to the end of its
// lattice; there it still answers.
func TestNextAtTheEndOfTheLattice(t *testing.T) {
	w := window.Learn(oak(t), nil, window.Middling)
	for e := soak.Exposure(2); e < 2000; e *= 1.3 {
		w.Add(offcut(e, window.Stiff))
		if n := w.Next(0.8, []soak.Exposure{e / 4, e / 2, e}); n.Steam < e/4 || n.Steam > e {
			t.Fatalf("after %v: next %v", e, n)
		}
		w.Firing(0.8, 2)
	}
}
