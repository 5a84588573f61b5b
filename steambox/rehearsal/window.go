package rehearsal

import (
	"math"
	"slices"
)

// Window is what the wood of one stick hides: between which exposures it bends.
type Window struct {
	LnSoft float64 // ln of the exposure (min at 100 °C) from which half the ribs are done
	LnOver float64 // ln of the exposure from which half are overdone
	Sigma  float64 // spread of both from rib to rib, in ln
	Grain  float64 // share of ribs that crack by their grain, whatever the soak
	Drift  float64 // how far both have wandered since the first rib, in ln
}

// Difficulty is how sharp a bend is: the sharper, the narrower the window.
type Difficulty string

// The three difficulties, with the share of the window lost at either side:
// nothing, a tenth, a fifth. Common practice, no source.
const (
	Easy     Difficulty = "easy"
	Middling Difficulty = "middling"
	Hard     Difficulty = "hard"
)

var lost = map[Difficulty]float64{Easy: 0, Middling: 0.1, Hard: 0.2}

// Result is how a bend went.
type Result string

// The results of a bend.
const (
	Supple  Result = "supple"
	Stiff   Result = "stiff"
	Cracked Result = "cracked"
)

// Outcome is a bend's result and, when it cracked, where: "outside" of the bend,
// "inside", or "snapped" across; else empty.
type Outcome struct {
	Result Result
	Where  string
}

// How under- and overdone wood fails: the shares that are stiff and not cracked.
// A model, no measurement.
const (
	stiffOfUnder = 0.7
	stiffOfOver  = 0.6
	driftSD      = 0.03 // per rib bent, in ln
	bendAboveC   = 60.0 // a core below this has stiffened again (common practice, no source)
)

// drawWindow draws a stick's window: thin green oak, done after some 2½ minutes
// at 100 °C, which with the core's warm-up makes the 4 to 8 minutes of common
// practice; overdone at about 2½ times that.
func drawWindow(d dice) Window {
	soft := d.normal(math.Log(2.5), 0.35)
	gap := 0.9 * math.Exp(d.normal(0, 0.3))
	return Window{LnSoft: soft, LnOver: soft + gap, Sigma: d.betweenLog(0.06, 0.2), Grain: d.between(0.02, 0.06)}
}

// bend draws what happens to a rib with these exposures at its ends. One rib is
// one piece of wood, so both ends meet the same two thresholds: the cooler end
// must be done, the hotter not overdone.
func (w *Window) bend(d dice, ends [2]float64, hard Difficulty, cold bool) Outcome {
	cut := lost[hard] * (w.LnOver - w.LnSoft)
	soft := w.LnSoft + w.Drift + cut + w.Sigma*d.rand.NormFloat64()
	over := w.LnOver + w.Drift - cut + w.Sigma*d.rand.NormFloat64()
	w.Drift += d.normal(0, driftSD)
	grain, stiff, side := d.chance(w.Grain), d.rand.Float64(), d.chance(0.7)
	lo, hi := math.Log(slices.Min(ends[:])), math.Log(slices.Max(ends[:]))
	switch {
	case grain:
		return cracked(side, "outside")
	case cold || lo < soft:
		return failed(stiff < stiffOfUnder, side, "outside")
	case hi > over:
		return failed(stiff < stiffOfOver, side, "inside")
	}
	return Outcome{Result: Supple}
}

func failed(stiff, side bool, where string) Outcome {
	if stiff {
		return Outcome{Result: Stiff}
	}
	return cracked(side, where)
}

// cracked is a crack at the usual side for its cause, or a rib snapped across.
func cracked(side bool, where string) Outcome {
	if side {
		return Outcome{Cracked, where}
	}
	return Outcome{Cracked, "snapped"}
}
