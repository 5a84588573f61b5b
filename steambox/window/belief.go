package window

import (
	"math"
	"slices"
)

// The grid of a belief. Its step in ln of the exposure is finer than the smallest
// spread, and it reaches a factor of eleven either way of the prior's median: four
// of its standard deviations. Gaps are whole steps, so that the upper threshold
// lies on the same lattice.
const (
	step  = 0.05
	softs = 97
	// The least and the greatest gap in steps, 0.2 and 3.6: three standard deviations.
	minGap, maxGap = 4, 72
	overs          = softs + maxGap
)

// gaps are the gaps thought of, in steps, farther apart the wider they are.
var gaps = func() (g []int) {
	for k := minGap; k <= maxGap; k += max(1, k/8) {
		g = append(g, k)
	}
	return g
}()

// nodes is how many combinations of thresholds and spread are thought of.
var nodes = len(spreads) * len(gaps) * softs

// belief is the probability of each combination: spread, then gap, then soft
// threshold, the last one running fastest. It always sums to 1.
type belief struct {
	lnFirst float64 // ln of the lowest soft threshold
	p       []float64
}

// newBelief returns what a prior says.
func newBelief(prior Prior) belief {
	b := belief{lnFirst: math.Log(float64(prior.Soft)) - step*(softs-1)/2, p: make([]float64, 0, nodes)}
	for range spreads {
		for g, k := range gaps {
			z := math.Log(step*float64(k)/gapMedian) / lnGapSd
			share := math.Exp(-z*z/2) / float64(k) * cell(g)
			for i := range softs {
				z := step * float64(i-(softs-1)/2) / prior.LnSd
				b.p = append(b.p, share*math.Exp(-z*z/2))
			}
		}
	}
	b.normalise()
	return b
}

// cell is the width in steps of what the g-th gap stands for.
func cell(g int) float64 {
	lo, hi := max(0, g-1), min(len(gaps)-1, g+1)
	return float64(gaps[hi]-gaps[lo]) / float64(hi-lo)
}

func (b *belief) normalise() {
	whole := sum(b.p)
	for i := range b.p {
		b.p[i] /= whole
	}
}

func sum(x []float64) float64 {
	s := 0.0
	for _, x := range x {
		s += x
	}
	return s
}

func (b *belief) clone() belief { return belief{b.lnFirst, slices.Clone(b.p)} }

// curves are the chances that a piece is underdone at its cooler end, by soft
// threshold, and that its hotter end is past the upper one, by that, for each
// spread.
type curves struct {
	under [len(spreads)][softs]float64
	past  [len(spreads)][overs]float64
}

// at fills in the curves for the ends' exposures, as logarithms.
func (c *curves) at(b *belief, lnCool, lnHot float64) {
	for s, spread := range spreads {
		for i := range softs {
			c.under[s][i] = below((lnCool - b.lnFirst - step*float64(i)) / spread)
		}
		for m := range overs {
			c.past[s][m] = below((b.lnFirst + step*float64(m) - lnHot) / spread)
		}
	}
}

// below returns the chance that a threshold of standard normal scatter lies more
// than z standard deviations above its mean: 1 − Φ(z).
func below(z float64) float64 {
	const far = 6 // 1e-9
	switch {
	case z > far:
		return 0
	case z < -far:
		return 1
	}
	return math.Erfc(z/math.Sqrt2) / 2
}

// each calls f for every run of soft thresholds with one spread and one gap: the
// beliefs of that run and, one for each of them, the chances of both faults.
func (b *belief) each(c *curves, f func(p, under, past []float64)) {
	at := 0
	for s := range spreads {
		for _, k := range gaps {
			f(b.p[at:at+softs], c.under[s][:], c.past[s][k:k+softs])
			at += softs
		}
	}
}

// told is the chance of what was told, by cause: of a sound piece, an underdone
// and an overdone one.
type told struct{ sound, under, over float64 }

// said returns the chances of an outcome and, if it cracked, of the place.
func said(o Outcome, where Where) told {
	const sure = 1 - grainShare
	var t told
	switch o {
	case Stiff:
		t = told{0, sure * stiffOfUnder, sure * stiffOfOver}
	case Cracked:
		under, over, grain := placed(where)
		t = told{
			grainShare * grain,
			sure*(1-stiffOfUnder)*under + grainShare*grain,
			sure*(1-stiffOfOver)*over + grainShare*grain,
		}
	default:
		t = told{sure, 0, 0}
	}
	t.sound, t.under, t.over = mixed(t.sound), mixed(t.under), mixed(t.over)
	return t
}

// mixed is a chance with the slips of those who tell.
func mixed(p float64) float64 { return (1-slip)*p + slip/float64(len(Outcomes)) }

// placed returns how likely a crack is at a place for each cause of it. Inside and
// snapped are one: both speak for overdone wood.
func placed(w Where) (under, over, grain float64) {
	switch w {
	case "":
		return 1, 1, 1
	case Outside:
		return whereShare, 1 - whereShare, 0.5
	}
	return 1 - whereShare, whereShare, 0.5
}

// learn takes in one bend.
func (b *belief) learn(x Bend) {
	var c curves
	c.at(b, math.Log(float64(x.Cool)), math.Log(float64(x.Hot)))
	t := said(x.Outcome, x.Where)
	untold := x.Outcome == ""
	b.each(&c, func(p, under, past []float64) {
		for i, u := range under {
			v := past[i] * (1 - u)
			like := t.sound*(1-u-v) + t.under*u + t.over*v
			if untold {
				like = math.Pow(like, untoldWeight)
			}
			p[i] *= like
		}
	})
	b.normalise()
}

// chance returns how likely a piece is to be supple at these exposures of its ends.
func (b *belief) chance(lnCool, lnHot float64) float64 {
	var c curves
	c.at(b, lnCool, lnHot)
	supple := 0.0
	b.each(&c, func(p, under, past []float64) {
		for i, u := range under {
			supple += p[i] * (1 - u) * (1 - past[i])
		}
	})
	return supple * (1 - grainShare)
}

// drift lets both thresholds wander by a standard deviation of driftSd, the gap
// staying as it is. Three points have the right variance.
func (b *belief) drift() {
	const share = driftSd * driftSd / (2 * step * step)
	for run := range slices.Chunk(b.p, softs) {
		before := run[0]
		for i, here := range run {
			after := run[min(i+1, softs-1)]
			run[i] += share * (before - 2*here + after)
			before = here
		}
	}
}
