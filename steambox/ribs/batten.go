package ribs

import "math"

// order is how many differences are taken: the fourth of a cubic are all zero.
const order = 4

// reach is over how many places a batten couples: a row of differences has order+1.
const reach = order + 1

// keel is where the ribs of one table stand. Ribs closer than samePlace of the mean
// gap share a place.
type keel struct {
	at   []int            // place of each rib
	x    []float64        // places in mean gaps, rising
	rows [][reach]float64 // fourth differences of the places, one row for each five in turn
}

// samePlace is the part of the mean gap within which two stations are one: a hull
// does not change by a saw's error over it.
const samePlace = 0.005

// layOut sorts the stations, which need not rise, into places.
func layOut(stationM []float64, byStation []int) keel {
	k := keel{at: make([]int, len(stationM))}
	first, last := stationM[byStation[0]], stationM[byStation[len(byStation)-1]]
	gap := (last - first) / float64(len(stationM)-1)
	for _, i := range byStation {
		x := (stationM[i] - first) / gap
		if n := len(k.x); n == 0 || x-k.x[n-1] > samePlace {
			k.x = append(k.x, x)
		}
		k.at[i] = len(k.x) - 1
	}
	for i := range max(0, len(k.x)-order) {
		k.rows = append(k.rows, difference(k.x[i:i+reach]))
	}
	return k
}

// speaking counts the places where a rib has a say.
func (k *keel) speaking(out []bool) int {
	has := map[int]bool{}
	for i, s := range k.at {
		if !out[i] {
			has[s] = true
		}
	}
	return len(has)
}

// difference returns the weights of the divided fourth difference over five places,
// times 4! so that even gaps of 1 give 1, −4, 6, −4, 1.
func difference(x []float64) (row [reach]float64) {
	for i := range row {
		row[i] = 24
		for j := range row {
			if j != i {
				row[i] /= x[i] - x[j]
			}
		}
	}
	return row
}

// batten is a fair curve's equations for one hull roughness: P = C + λ·DᵀD, with C
// how many lengths speak at each place, factored into L·diag(d)·Lᵀ.
type batten struct {
	low    [][order]float64 // L below its diagonal, nearest first
	d      []float64
	logDet float64
}

// factor takes P by its diagonal and the four below, nearest first.
func factor(p [][reach]float64) batten {
	n := len(p)
	b := batten{low: make([][order]float64, n), d: make([]float64, n)}
	for i := range n {
		for j := max(0, i-order); j <= i; j++ {
			v := p[i][i-j]
			for k := max(0, i-order); k < j; k++ {
				v -= b.low[i][i-k-1] * b.low[j][j-k-1] * b.d[k]
			}
			if j < i {
				b.low[i][i-j-1] = v / b.d[j]
				continue
			}
			b.d[i] = v
			b.logDet += math.Log(v)
		}
	}
	return b
}

// solve turns v into P⁻¹v.
func (b *batten) solve(v []float64) {
	n := len(v)
	for i := range n {
		for k := 1; k <= min(order, i); k++ {
			v[i] -= b.low[i][k-1] * v[i-k]
		}
	}
	for i := n - 1; i >= 0; i-- {
		v[i] /= b.d[i]
		for k := 1; k <= order && i+k < n; k++ {
			v[i] -= b.low[i+k][k-1] * v[i+k]
		}
	}
}

// inverse returns the elements of P⁻¹ on the diagonal and up to width beside it:
// element (i, j) of the upper triangle at i*(width+1)+j-i.
//
// Source: Takahashi, Fagan and Chen (1973); as in Hutchinson and de Hoog, Smoothing
// noisy data with spline functions, Numer. Math. 47 (1985) 99.
func (b *batten) inverse(width int) []float64 {
	n, step := len(b.d), width+1
	inv := make([]float64, n*step)
	for i := n - 1; i >= 0; i-- {
		for j := min(n-1, i+width); j >= i; j-- {
			v := 0.0
			if j == i {
				v = 1 / b.d[i]
			}
			for k := 1; k <= order && i+k < n; k++ {
				lo, hi := min(i+k, j), max(i+k, j)
				v -= b.low[i+k][k-1] * inv[lo*step+hi-lo]
			}
			inv[i*step+j-i] = v
		}
	}
	return inv
}
