package ribs

import (
	"math"
	"slices"
)

// A hull is a guess at how much of a table's roughness is the boat's own: the
// fourth differences of fair lengths have this standard deviation, in saw errors,
// times a factor that grows towards the ends where the hull closes quickly.
type hull struct {
	rough float64
	steep bool
	prior float64 // natural logarithm
}

// The guesses run from a global cubic to lengths that have nothing to do with one
// another: differences of a metre, with a saw error of half a millimetre. Rough hulls are thought the rarer, by
// the root of their roughness, and one in fifty has steep ends. Both shares come from
// trying them on hull curves (TestScore): without the one the end ribs of a cubic of
// 17 can't be judged, without the other those of an elliptic hull are blamed.
const (
	leastRough, mostRough = 0.01, 2000
	roughSteps            = 21
	rarer                 = 0.5
	steepShare            = 0.02
)

// hulls lists all guesses.
var hulls = func() (all []hull) {
	for _, steep := range []bool{false, true} {
		share := 1 - steepShare
		if steep {
			share = steepShare
		}
		for i := range roughSteps {
			rough := leastRough * math.Pow(mostRough/leastRough, float64(i)/(roughSteps-1))
			all = append(all, hull{rough, steep, math.Log(share) - rarer*math.Log(rough)})
		}
	}
	return all
}()

// steepness returns how much rougher than the middle a steep-ended hull is at a row
// of differences, counted from the nearer end.
//
// An ellipse's girth leaves the stem as a root, whose fourth derivative falls with
// the distance to the power 3.5; whole numbers are near enough.
func steepness(fromEnd int) float64 {
	return 1 + 20/math.Pow(float64(1+fromEnd), 3)
}

// lay is a batten laid through the lengths that speak, under one guess at the hull.
type lay struct {
	logL    float64   // log likelihood of the lengths, hull's prior included
	off     []float64 // each rib's length less the batten's, in saw errors
	inverse []float64 // of the batten's equations, near the diagonal
}

// layBatten minimises Σ(length − batten)² + Σ(difference / rough)² over the lengths
// that speak: the most likely fair curve. Its likelihood is that of the lengths'
// differences, with covariance DDᵀ + rough²·I in squared saw errors.
func layBatten(k *keel, v *voices, h hull, width int) lay {
	rows, logScale := h.rows(k)
	p, bent := v.equations(rows)
	b := factor(p)
	b.solve(bent) // the means less the batten
	l := lay{off: v.offsets(k, bent), inverse: b.inverse(width)}
	squares := v.squares(l.off)
	for i, row := range rows {
		z := dot(row, v.mean[i:]) - dot(row, bent[i:])
		squares += z * z
	}
	l.logL = h.prior - logScale - (b.logDet+squares)/2
	return l
}

// rows returns the differences in units of this hull's roughness, and the sum of the
// logarithms of those units.
func (h hull) rows(k *keel) (rows [][reach]float64, logScale float64) {
	rows = slices.Clone(k.rows)
	for i := range rows {
		scale := h.rough
		if h.steep {
			scale *= steepness(min(i, len(rows)-1-i))
		}
		logScale += math.Log(scale)
		for a := range rows[i] {
			rows[i][a] /= scale
		}
	}
	return rows, logScale
}

func dot(row [reach]float64, v []float64) (sum float64) {
	for a := range row {
		sum += row[a] * v[a]
	}
	return sum
}

// voices are the lengths and which of them speak, in saw errors.
type voices struct {
	length []float64 // of each rib
	out    []bool    // has no say: meant, or suspect
	count  []float64 // how many speak at each place
	mean   []float64 // their mean; where nobody speaks any figure will do
}

// hear gathers the lengths of those that are not out by place.
func hear(k *keel, length []float64, out []bool) *voices {
	n := len(k.x)
	v := &voices{length: length, out: out, count: make([]float64, n), mean: make([]float64, n)}
	for i, s := range k.at {
		if !out[i] {
			v.count[s]++
			v.mean[s] += length[i]
		}
	}
	for i, s := range k.at {
		if v.count[s] == 0 {
			v.mean[s] = length[i]
		}
	}
	for s, c := range v.count {
		if c > 1 {
			v.mean[s] /= c
		}
	}
	return v
}

// equations returns the batten's matrix C + DᵀD, by its diagonal and the four below,
// and DᵀD of the means.
func (v *voices) equations(rows [][reach]float64) (p [][reach]float64, bent []float64) {
	p, bent = make([][reach]float64, len(v.count)), make([]float64, len(v.count))
	for s, c := range v.count {
		p[s][0] = c
	}
	for i, row := range rows {
		z := dot(row, v.mean[i:])
		for a := range row {
			bent[i+a] += row[a] * z
			for b := range a + 1 {
				p[i+a][a-b] += row[a] * row[b]
			}
		}
	}
	return p, bent
}

// offsets returns each length less the batten at its place.
func (v *voices) offsets(k *keel, bent []float64) []float64 {
	off := make([]float64, len(v.length))
	for i, s := range k.at {
		off[i] = v.length[i] - v.mean[s] + bent[s]
	}
	return off
}

// squares sums the squared offsets of those that speak.
func (v *voices) squares(off []float64) (sum float64) {
	for i, o := range off {
		if !v.out[i] {
			sum += o * o
		}
	}
	return sum
}
