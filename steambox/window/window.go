// Package window learns the soak window of one stick of wood from bends: from
// which exposure it is soft enough and from which it has had too much. It says
// what to aim at so that both ends of a rib come out supple, how likely that is,
// and which bend would teach the most.
//
// A stiff rib may be underdone or overdone, so the window is not a pair of
// numbers but a belief: the probability of every combination of the two
// thresholds and of the scatter from piece to piece. All that is assumed before
// the first bend stands in one table, in prior.go.
package window

import (
	"math"
	"slices"

	"withy/steambox/soak"
)

// Window is what is known of one stick at one difficulty. It is made by Learn and
// belongs to one goroutine. The bends are its whole state: learning them again
// gives the same window.
type Window struct {
	difficulty Difficulty
	told       []Bend // that count here
	// From all bends that count, and from those alone that are as hard as this or
	// harder. The second is nil while no easier bend has failed: then both are one.
	all    belief
	harder *belief
}

// Learn returns the window of a stick for bends of difficulty d, from bends in the
// order in which they were made, each of which passes Check.
func Learn(p Prior, bends []Bend, d Difficulty) *Window {
	w := &Window{difficulty: d, all: newBelief(p)}
	for _, b := range bends {
		w.Add(b)
	}
	return w
}

// Add takes in one more bend.
func (w *Window) Add(b Bend) {
	if b.counts(w.difficulty) {
		w.learn(b)
	}
	if b.InRun {
		w.all.drift()
		if w.harder != nil {
			w.harder.drift()
		}
	}
}

func (w *Window) learn(b Bend) {
	easier := b.Difficulty.rank() < w.difficulty.rank()
	if easier && w.harder == nil {
		without := w.all.clone()
		w.harder = &without
	}
	w.told = append(w.told, b)
	w.all.learn(b)
	if w.harder != nil && !easier {
		w.harder.learn(b)
	}
}

// Guess reports whether no bend has said anything yet, so that all answers are
// the handbook's.
func (w *Window) Guess() bool { return len(w.told) == 0 }

// Told returns the bends that count at this difficulty, in the order in which they
// were made.
func (w *Window) Told() []Bend { return w.told }

// Interval is a threshold with what is not known of it, in minutes at 100 °C: it
// lies between Lo and Hi with a chance of 80 %.
type Interval struct {
	Median soak.Exposure `json:"median" means:"Best guess, in minutes at 100 °C."`
	Lo     soak.Exposure `json:"lo" means:"Least that it may be, in minutes at 100 °C."`
	Hi     soak.Exposure `json:"hi" means:"Most that it may be, in minutes at 100 °C."`
}

// Soft returns the exposure from which half the pieces of the stick are soft enough.
func (w *Window) Soft() Interval { return w.all.interval(w.all.softShares()) }

// Over returns the exposure from which half the pieces have had too much.
func (w *Window) Over() Interval { return w.all.interval(w.all.overShares()) }

// Target is what to aim at.
type Target struct {
	Steam  soak.Exposure // of the steam end
	Chance float64       // that both ends are supple there
}

// Target returns the steam end's exposure with which both ends of a rib are most
// likely to be supple, where the door end takes ratio times as much, ratio > 0.
//
// Failures of easier bends may raise it; what easier bends say never makes it
// lower than it would be without them.
func (w *Window) Target(ratio float64) Target {
	t := w.all.target(ratio)
	if w.harder != nil {
		if least := w.harder.target(ratio).Steam; least > t.Steam {
			t = Target{least, w.Chance(least, ratio)}
		}
	}
	return t
}

// Chance returns how likely both ends are to be supple when the steam end takes e
// and the door end ratio times as much.
func (w *Window) Chance(e soak.Exposure, ratio float64) float64 {
	return w.all.chance(ends(math.Log(float64(e)), math.Log(ratio)))
}

// ends returns the cooler and the hotter end, all in logarithms.
func ends(lnSteam, lnRatio float64) (lnCool, lnHot float64) {
	return lnSteam + min(0, lnRatio), lnSteam + max(0, lnRatio)
}

// Causes are the chances of what a bend's piece was, given how it came out; they
// sum to 1.
type Causes struct {
	Under, Over float64
	Neither     float64 // it was right, or failed by its grain
}

// Cause returns what a bend that is already learnt was probably like.
func (w *Window) Cause(b Bend) Causes {
	var c curves
	c.at(&w.all, math.Log(float64(b.Cool)), math.Log(float64(b.Hot)))
	t := said(b.Outcome, b.Where)
	var under, over, sum float64
	w.all.each(&c, func(p, u, past []float64) {
		for i, p := range p {
			v := past[i] * (1 - u[i])
			like := t.sound*(1-u[i]-v) + t.under*u[i] + t.over*v
			under += p * t.under * u[i] / like
			over += p * t.over * v / like
			sum += p
		}
	})
	return Causes{under / sum, over / sum, 1 - (under+over)/sum}
}

// shares is a distribution of a threshold over the lattice.
type shares []float64

func (b *belief) softShares() shares {
	out := make(shares, softs)
	for run := range slices.Chunk(b.p, softs) {
		for i, p := range run {
			out[i] += p
		}
	}
	return out
}

func (b *belief) overShares() shares {
	out := make(shares, overs)
	at := 0
	for range spreads {
		for _, k := range gaps {
			for i, p := range b.p[at : at+softs] {
				out[i+k] += p
			}
			at += softs
		}
	}
	return out
}

// quantile returns the place on the lattice, in steps, below which q of it lies.
// Each node's share is spread over its cell.
func (s shares) quantile(q float64) float64 {
	sum := 0.0
	for i, p := range s {
		if sum+p >= q && p > 0 {
			return float64(i) - 0.5 + (q-sum)/p
		}
		sum += p
	}
	return float64(len(s)) - 0.5
}

// tail is what an interval leaves out at either end.
const tail = 0.1

func (b *belief) interval(s shares) Interval {
	at := func(q float64) soak.Exposure { return soak.Exposure(math.Exp(b.lnFirst + step*s.quantile(q))) }
	return Interval{Median: at(0.5), Lo: at(tail), Hi: at(1 - tail)}
}

// span is where targets are looked for: from where a tenth of the soft thresholds
// lie below to where a tenth of the upper ones lie above.
func (b *belief) span() (lnLo, lnHi float64) {
	return b.lnFirst + step*b.softShares().quantile(tail), b.lnFirst + step*b.overShares().quantile(1-tail)
}

// target looks along the lattice for the best chance, which may have several
// peaks, and then closely around the highest.
func (b *belief) target(ratio float64) Target {
	const coarse, fine = 2 * step, step / 8
	lnRatio := math.Log(ratio)
	lo, hi := b.span()
	best, chance := lo, -1.0
	look := func(from, to, by float64) {
		for ln := from; ln <= to; ln += by {
			if c := b.chance(ends(ln, lnRatio)); c > chance {
				best, chance = ln, c
			}
		}
	}
	look(lo+min(0, -lnRatio), hi+max(0, -lnRatio), coarse)
	look(best-coarse, best+coarse, fine)
	return Target{soak.Exposure(math.Exp(best)), chance}
}
