package ribs

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Fourth differences of a cubic are nought and those of x⁴ are 4! wherever the
// places are (any textbook of numerical analysis: divided differences).
func TestDifference(t *testing.T) {
	for _, row := range []struct {
		name string
		x    []float64
	}{
		{"even", []float64{0, 1, 2, 3, 4}},
		{"uneven", []float64{0, 0.4, 1.9, 2.2, 5}},
		{"two close", []float64{0, 1, 1.01, 2, 3}},
	} {
		d := difference(row.x)
		for power, want := range []float64{0, 0, 0, 0, 24} {
			sum := 0.0
			for i, x := range row.x {
				sum += d[i] * math.Pow(x, float64(power))
			}
			if math.Abs(sum-want) > 1e-6 {
				t.Errorf("%s: x^%d gives %g, want %g", row.name, power, sum, want)
			}
		}
	}
	if got := difference([]float64{0, 1, 2, 3, 4}); got != [reach]float64{1, -4, 6, -4, 1} {
		t.Errorf("even gaps: %v", got)
	}
}

// The shifts are the generalised least squares of the lengths' fourth differences
// with covariance DDᵀ + rough²·I, worked out here the long way: a dense matrix by
// Gauss–Jordan.
func TestShiftsAreLeastSquares(t *testing.T) {
	stations := []float64{0, 1.1, 2, 2.7, 4.2, 5, 6.3, 7, 8.4, 9, 10.2, 11, 12.6, 13, 14}
	n := len(stations)
	r := rand.New(rand.NewPCG(1, 1))
	length, order := make([]float64, n), make([]int, n)
	for i, x := range stations {
		length[i], order[i] = 1900-3*x*x+2*r.NormFloat64(), i
	}
	k := layOut(stations, order)
	h := hold(&k, length, make([]bool, n))
	for g := 5; g < roughSteps; g += 3 {
		long := newLeastSquares(k.rows, n, hulls[g].rough)
		before := -math.Log(long.det)/2 - long.form(length, length)/2
		for i := range n {
			e := long.unit(i)
			free := long.form(e, e)
			h.alone(i)
			check := func(what string, got, want float64) {
				t.Helper()
				if math.Abs(got-want) > 1e-6*max(1, math.Abs(want)) {
					t.Errorf("rib %d, roughness %g: %s %.9g, want %.9g", i, hulls[g].rough, what, got, want)
				}
			}
			check("shift", h.off[g], long.form(e, length)/free)
			check("variance", h.variance[g], 1/free)
			gained := h.logs[g] - h.lays[g].logL
			check("evidence", gained, math.Pow(long.form(e, length), 2)/free/2-math.Log(free)/2)
			if i == 0 {
				continue
			}
			f := long.unit(i - 1)
			a, b, c := free, long.form(f, f), long.form(e, f)
			h.beside(i, i-1)
			check("shift of two", h.off[g], (b*long.form(e, length)-c*long.form(f, length))/(a*b-c*c))
			check("variance of two", h.variance[g], b/(a*b-c*c))
		}
		first := newLeastSquares(k.rows, n, hulls[5].rough)
		was := -math.Log(first.det)/2 - first.form(length, length)/2 + hulls[5].prior
		got, want := h.lays[g].logL-h.lays[5].logL, before+hulls[g].prior-was
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("roughness %g: log likelihood %g over the first, want %g", hulls[g].rough, got, want)
		}
	}
}

// leastSquares has D and the inverse and determinant of DDᵀ + rough²·I.
type leastSquares struct {
	d, inverse [][]float64
	det        float64
}

func newLeastSquares(rows [][reach]float64, n int, rough float64) leastSquares {
	m := len(rows)
	s := leastSquares{det: 1}
	both := make([][]float64, m) // S and the unit matrix beside it
	for i, row := range rows {
		d := make([]float64, n)
		copy(d[i:], row[:])
		s.d = append(s.d, d)
		both[i] = make([]float64, 2*m)
		both[i][m+i] = 1
	}
	for i := range m {
		for j := range m {
			for k := range n {
				both[i][j] += s.d[i][k] * s.d[j][k]
			}
		}
		both[i][i] += rough * rough
	}
	for i := range m {
		p := both[i][i]
		s.det *= p
		for j := range both[i] {
			both[i][j] /= p
		}
		for k := range m {
			if f := both[k][i]; k != i {
				for j := range both[k] {
					both[k][j] -= f * both[i][j]
				}
			}
		}
	}
	for i := range m {
		s.inverse = append(s.inverse, both[i][m:])
	}
	return s
}

func (s leastSquares) unit(i int) []float64 {
	e := make([]float64, len(s.d[0]))
	e[i] = 1
	return e
}

// form returns (Da)ᵀ S⁻¹ (Db).
func (s leastSquares) form(a, b []float64) (sum float64) {
	da, db := s.differences(a), s.differences(b)
	for i := range da {
		for j := range db {
			sum += da[i] * s.inverse[i][j] * db[j]
		}
	}
	return sum
}

func (s leastSquares) differences(v []float64) []float64 {
	out := make([]float64, len(s.d))
	for i, row := range s.d {
		for k := range row {
			out[i] += row[k] * v[k]
		}
	}
	return out
}
