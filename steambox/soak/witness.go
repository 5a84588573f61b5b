package soak

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// WitnessRow is one moment of a witness: an offcut with a probe in its core.
type WitnessRow struct {
	ElapsedS    float64 // rising
	AirC, CoreC float64
}

// Limits of the film coefficients that FitFilm looks among, W/m²K.
const (
	fitLow  = 20.0
	fitHigh = 20000.0
)

// FitFilm returns the film coefficient in W/m²K with which the core of a witness
// comes out as it was measured, and the root mean square of what is left, in
// kelvin. The rows begin when the witness goes in, at its core's own temperature;
// the model of its wood is a, whose own film counts for nothing. With a.BoilingC
// the coefficient is the one in steam with some air, whatever air the witness lay
// in, so that it holds for the whole box.
//
// It finds the least sum of squares by golden section over the logarithm, which
// has one minimum because a better film always warms the core sooner. Errors: fewer
// than ten rows, times that don't rise, a core that hardly moved.
func FitFilm(a Assumed, rows []WitnessRow) (filmWPerM2K, leftK float64, err error) {
	if err := checkWitness(rows); err != nil {
		return 0, 0, err
	}
	a.FilmFactor, a.DiffusivityShare = 1, 0
	a.FilmWPerM2K = DefaultFilm
	if _, err := NewModel(a); err != nil {
		return 0, 0, err
	}
	miss := func(logFilm float64) float64 {
		a.FilmWPerM2K = math.Exp(logFilm)
		m, err := NewModel(a)
		if err != nil {
			return math.Inf(1)
		}
		return missK(m, rows)
	}
	best := goldenSection(miss, math.Log(fitLow), math.Log(fitHigh))
	return math.Exp(best), miss(best), nil
}

func checkWitness(rows []WitnessRow) error {
	if len(rows) < 10 {
		return fmt.Errorf("%d rows of a witness: at least 10", len(rows))
	}
	for i := 1; i < len(rows); i++ {
		if !(rows[i].ElapsedS > rows[i-1].ElapsedS) {
			return fmt.Errorf("row %d of the witness does not come after the one before", i+1)
		}
	}
	if rose := rows[len(rows)-1].CoreC - rows[0].CoreC; math.Abs(rose) < 20 {
		return errors.New("the witness's core moved by less than 20 K: nothing can be learnt from it")
	}
	return nil
}

// missK is the root mean square between a model's core and the witness's.
func missK(m *Model, rows []WitnessRow) float64 {
	t := enter(m, Best, rows[0].CoreC, rows[0].AirC)
	sum := 0.0
	for i := 1; i < len(rows); i++ {
		s := rows[i].ElapsedS - rows[i-1].ElapsedS
		c := m.at(InBox, Best, t.Rung)
		t.advance(c.stepOf(time.Duration(s*float64(time.Second))), rows[i].AirC)
		t.follow(m, Best, s/(s+filmFollowsS))
		sum += (t.CoreC - rows[i].CoreC) * (t.CoreC - rows[i].CoreC)
	}
	return math.Sqrt(sum / float64(len(rows)-1))
}

// goldenSection returns where f, with one minimum between lo and hi, is least, to
// a thousandth.
func goldenSection(f func(float64) float64, lo, hi float64) float64 {
	const inverse = 0.6180339887498949
	a, b := hi-inverse*(hi-lo), lo+inverse*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > 1e-3 {
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - inverse*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + inverse*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}
