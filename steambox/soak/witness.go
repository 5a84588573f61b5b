package soak

import (
	"errors"
	"fmt"
	"math"
	"time"

	"withy/steambox/wood"
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
// the model of its wood is a, whose own film counts for nothing. With a.BoilingC the
// coefficient is the one in steam with some air, whatever air the witness lay in, so
// that it holds for the whole box.
//
// It finds the least sum of squares by golden section over the logarithm, which
// has one minimum because a better film always warms the core sooner. Errors: fewer
// than ten rows, times that don't rise, a core that hardly moved.
func FitFilm(a Assumed, rows []WitnessRow) (filmWPerM2K, leftK float64, err error) {
	if err := checkWitness(rows); err != nil {
		return 0, 0, err
	}
	miss := func(logFilm float64) float64 {
		bar, err := wood.NewBar(a.Section, a.Material, math.Exp(logFilm))
		if err != nil {
			return math.Inf(1)
		}
		return missK(bar, rows)
	}
	if _, err := wood.NewBar(a.Section, a.Material, DefaultFilm); err != nil {
		return 0, 0, err
	}
	best := goldenSection(miss, math.Log(fitLow), math.Log(fitHigh))
	film, err := inSomeAir(math.Exp(best), soakedC(rows), a.BoilingC)
	return film, miss(best), err
}

// leastFlowK is what a row of a witness that has taken all its heat still counts, K.
const leastFlowK = 0.01

// soakedC is the temperature of the air that a witness lay in, in °C, each row
// counting by how much heat still flowed.
func soakedC(rows []WitnessRow) float64 {
	sum, weight := 0.0, 0.0
	for i := 1; i < len(rows); i++ {
		w := (leastFlowK + math.Abs(rows[i].AirC-rows[i].CoreC)) * (rows[i].ElapsedS - rows[i-1].ElapsedS)
		sum, weight = sum+w*rows[i].AirC, weight+w
	}
	return sum / weight
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

// missK is the root mean square between a bar's core and the witness's.
func missK(bar *wood.Bar, rows []WitnessRow) float64 {
	first := rows[0]
	t := Track{AirC: first.AirC, LowC: first.CoreC, HighC: first.CoreC}
	t.Field.Jump(bar, first.AirC-first.CoreC)
	sum := 0.0
	for i := 1; i < len(rows); i++ {
		step := bar.Step(time.Duration((rows[i].ElapsedS - rows[i-1].ElapsedS) * float64(time.Second)))
		t.settle(rows[i].AirC, t.Field.Advance(&step, rows[i].AirC-rows[i-1].AirC))
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
