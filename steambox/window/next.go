package window

import (
	"math"
	"slices"

	"withy/steambox/soak"
)

// Reason is why a bend is the one worth making next.
type Reason string

// The reasons; the sentences are in package words.
const (
	First     Reason = "first"      // nothing was bent yet
	Earlier   Reason = "earlier"    // a failure may be under- or overdone: a shorter soak tells
	Later     Reason = "later"      // the same, and a longer soak tells
	HowLittle Reason = "how-little" // the lower threshold is the less certain
	HowMuch   Reason = "how-much"   // the upper one is
)

// Test is a bend worth making.
type Test struct {
	Steam  soak.Exposure // of the steam end, or of a short offcut
	Reason Reason
}

// MaxFiring is the most offcuts that Firing chooses together: as many as are
// bent in one go, and each doubles the reckoning.
const MaxFiring = 5

// Next returns the bend from which the most is to be expected: the best chance of
// Target after it, weighed over its outcomes, what it tells of the middle of the
// window, which pays only after further bends, and a little for the piece itself.
//
// With candidates it is one of them: ribs now in the box, by their steam end's
// exposure, the door end having ratio times as much. Without, it is an offcut,
// both ends alike, of any soak.
func (w *Window) Next(ratio float64, candidates []soak.Exposure) Test {
	lnRatio := math.Log(ratio)
	p := newProspect(&w.all, lnRatio)
	if len(candidates) == 0 {
		e := exp(p.best(w.all.lattice(0), 0))
		return Test{e, w.reason(e, 1)}
	}
	lns := make([]float64, len(candidates))
	for i, e := range candidates {
		lns[i] = math.Log(float64(e))
	}
	e := candidates[slices.Index(lns, p.best(lns, lnRatio))]
	return Test{e, w.reason(e, ratio)}
}

// Firing returns the exposures, rising, of n offcuts that go into the box
// together, 1 to MaxFiring: each the best beside those before it, whatever their
// outcomes will be.
func (w *Window) Firing(ratio float64, n int) []soak.Exposure {
	p, lns := newProspect(&w.all, math.Log(ratio)), w.all.lattice(0)
	chosen := make([]soak.Exposure, min(n, MaxFiring))
	for i := range chosen {
		ln := p.best(lns, 0)
		chosen[i] = exp(ln)
		p.forks = p.outcomes(ln, 0)
	}
	slices.Sort(chosen)
	return chosen
}

func exp(ln float64) soak.Exposure { return soak.Exposure(math.Exp(ln)) }

// unclear is the least chance that either fault must have for a failure to be
// ambiguous.
const unclear = 0.1

func (w *Window) reason(e soak.Exposure, ratio float64) Reason {
	if w.Guess() {
		return First
	}
	for _, b := range w.told {
		if c := w.Cause(b); b.failed() && min(c.Under, c.Over) > unclear {
			if e < b.Hot {
				return Earlier
			}
			return Later
		}
	}
	steam := e
	door := soak.Exposure(float64(e) * ratio)
	if c := w.Cause(Bend{Cool: min(steam, door), Hot: max(steam, door), Outcome: Stiff}); c.Under < c.Over {
		return HowMuch
	}
	return HowLittle
}

// lattice returns the steam ends' exposures worth a thought, as logarithms.
func (b *belief) lattice(lnRatio float64) []float64 {
	const apart = 2 * step
	lo, hi := b.span()
	var lns []float64
	for ln := lo - max(0, lnRatio); ln <= hi-min(0, lnRatio); ln += apart {
		lns = append(lns, ln)
	}
	return lns
}

// prospect weighs bends that could be made next against each other.
type prospect struct {
	belief *belief
	nodes  []node
	// For each target thought of, how likely each node is to be supple at both ends.
	targets [][]float64
	// What may be believed after the bends chosen so far: a weight per node for each
	// set of their outcomes.
	forks [][]float64
}

// node is one combination of thresholds and spread that is still likely, by its
// places in a belief's lattices.
type node struct{ spread, soft, over int }

// leastShare is how likely a node must be to be weighed, as a share of what it
// would be if all were alike: those left out sum to less than this.
const leastShare = 1e-3

func newProspect(b *belief, lnRatio float64) *prospect {
	p := &prospect{belief: b, forks: make([][]float64, 1)}
	for at, q := range b.p {
		if q > leastShare/float64(nodes) {
			soft := at % softs
			gap := at / softs % len(gaps)
			p.nodes = append(p.nodes, node{at / softs / len(gaps), soft, soft + gaps[gap]})
			p.forks[0] = append(p.forks[0], q)
		}
	}
	for _, ln := range b.lattice(lnRatio) {
		p.targets = append(p.targets, p.supple(ends(ln, lnRatio)))
	}
	return p
}

// supple returns how likely each node is to be supple at these exposures of its ends.
func (p *prospect) supple(lnCool, lnHot float64) []float64 {
	var c curves
	c.at(p.belief, lnCool, lnHot)
	out := make([]float64, len(p.nodes))
	for i, n := range p.nodes {
		out[i] = (1 - grainShare) * (1 - c.under[n.spread][n.soft]) * (1 - c.past[n.spread][n.over])
	}
	return out
}

// outcomes returns the forks after one more bend: in each, it was supple or it
// failed. How it failed tells too little to be weighed.
func (p *prospect) outcomes(lnSteam, lnRatio float64) [][]float64 {
	supple := p.supple(ends(lnSteam, lnRatio))
	var forks [][]float64
	for _, f := range p.forks {
		good, bad := make([]float64, len(f)), make([]float64, len(f))
		for i, q := range f {
			good[i] = q * supple[i]
			bad[i] = q - good[i]
		}
		forks = append(forks, good, bad)
	}
	return forks
}

// best returns that of the steam ends' exposures which is worth most.
func (p *prospect) best(lns []float64, lnRatio float64) float64 {
	worth, best := math.Inf(-1), 0.0
	for _, ln := range lns {
		if w := p.worth(p.outcomes(ln, lnRatio)); w > worth {
			worth, best = w, ln
		}
	}
	return best
}

// informationWeight is what a nat of information is worth in chance. Found by
// simulation: five bends led to a chance of 0.736 with 0.3, 0.730 with 0.1 and
// 0.723 by information alone (500 sticks, ratio 0.75, pieceWeight 0).
const informationWeight = 0.3

// pieceWeight is what a piece that comes out supple is worth in chance: it is a rib
// more. It also settles the direction where a shorter and a longer soak would teach
// alike: after good ribs and then stiff ones, the earlier one is tried.
const pieceWeight = 0.1

// worth is what a set of forks, supple and failed by turns, is good for: the chance
// that is left to expect if each is followed by its own best target, what they tell
// of the window's middle, and the last piece itself.
func (p *prospect) worth(forks [][]float64) float64 {
	worth := informationWeight * p.information(forks)
	for i, f := range forks {
		best := 0.0
		for _, t := range p.targets {
			best = max(best, dot(f, t))
		}
		worth += best
		if i%2 == 0 {
			worth += pieceWeight * sum(f)
		}
	}
	return worth
}

// dot is the sum of the products of a and b, in four strands that the processor
// can follow side by side.
func dot(a, b []float64) float64 {
	var s0, s1, s2, s3 float64
	b = b[:len(a)]
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return s0 + s1 + s2 + s3
}

// The middle of the window is where the target belongs, whatever the ratio of
// the ends; it is told apart in cells of this many half steps.
const (
	middleCell = 4
	middles    = (2*(softs-1)+maxGap)/middleCell + 1
)

// information returns what the outcomes tell of the middle of the window, in
// nats: their mutual information.
func (p *prospect) information(forks [][]float64) float64 {
	var all [middles]float64
	each := make([][middles]float64, len(forks))
	for f, weights := range forks {
		for i, n := range p.nodes {
			each[f][(n.soft+n.over)/middleCell] += weights[i]
		}
		for m, x := range each[f] {
			all[m] += x
		}
	}
	nats := 0.0
	for _, fork := range each {
		whole := sum(fork[:])
		for m, x := range fork {
			if x > 0 {
				nats += x * math.Log(x/(whole*all[m]))
			}
		}
	}
	return nats
}
