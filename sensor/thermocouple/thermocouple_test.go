package thermocouple_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"withy/sensor/thermocouple"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.5f, want %.5f within %g", what, got, want, tol)
	}
}

// The printed tables of NIST SRD 60, mV. K at −40 °C is from memory.
func TestTables(t *testing.T) {
	for _, row := range []struct{ c, k, t float64 }{
		{-200, -5.891, -5.603},
		{-40, -1.527, -1.475},
		{0, 0.000, 0.000},
		{20, 0.798, 0.790},
		{25, 1.000, 0.992},
		{50, 2.023, 2.036},
		{90, 3.682, 3.814},
		{95, 3.889, 4.046},
		{98, 4.013, 4.185},
		{99, 4.055, 4.232},
		{100, 4.096, 4.279},
		{101, 4.138, 4.325},
		{105, 4.303, 4.513},
		{110, 4.509, 4.750},
		{125, 5.124, 5.470},
		{150, 6.138, 6.704},
	} {
		near(t, "K", thermocouple.K.Millivolts(row.c), row.k, 0.0005)
		near(t, "T", thermocouple.T.Millivolts(row.c), row.t, 0.0005)
	}
	near(t, "K at −100 °C", thermocouple.K.Millivolts(-100), -3.554, 0.0005)
}

// The error of the inverse polynomials that NIST states beside them; for T above 0 °C
// from memory.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		for _, test := range []struct {
			kind        thermocouple.Type
			lo, hi, tol float64
		}{
			{thermocouple.K, -199.9, 1371.9, 0.061}, {thermocouple.K, 0, 150, 0.05},
			{thermocouple.T, -199.9, 399.9, 0.041}, {thermocouple.T, 0, 150, 0.03},
		} {
			c := rapid.Float64Range(test.lo, test.hi).Draw(r, "c")
			back, err := test.kind.Celsius(test.kind.Millivolts(c))
			if err != nil || math.Abs(back-c) > test.tol {
				r.Errorf("%v: %g °C comes back as %g, %v", test.kind, c, back, err)
			}
		}
	})
}

// What adding degrees instead of millivolts makes of it stands in the last column, and
// is a kelvin and more off.
func TestColdEnd(t *testing.T) {
	for _, row := range []struct {
		kind                     thermocouple.Type
		cold, mv, correct, wrong float64
	}{
		{thermocouple.K, 25, 3.0960, 99.969, 100.882},
		{thermocouple.K, 20, 3.0911, 94.968, 95.764},
		{thermocouple.K, 22, 1.5576, 60.021, 60.705},
		{thermocouple.T, 25, 3.2865, 100.005, 103.417},
		{thermocouple.T, 20, 3.2559, 95.002, 97.738},
		{thermocouple.T, 22, 1.5978, 59.985, 61.663},
	} {
		got, err := row.kind.Compensated(row.mv, row.cold)
		if err != nil {
			t.Fatal(err)
		}
		near(t, row.kind.String(), got, row.correct, 0.002)
		degrees, _ := row.kind.Celsius(row.mv)
		near(t, row.kind.String()+" by degrees", degrees+row.cold, row.wrong, 0.002)
	}
}

func TestRange(t *testing.T) {
	for _, mv := range []float64{-5.9, 54.9, 1e9, math.Inf(1), math.NaN()} {
		if c, err := thermocouple.K.Celsius(mv); !errors.Is(err, thermocouple.ErrRange) {
			t.Errorf("%g mV of a K is %g °C, %v", mv, c, err)
		}
	}
	if c, err := thermocouple.T.Celsius(20.9); !errors.Is(err, thermocouple.ErrRange) {
		t.Errorf("20.9 mV of a T is %g °C, %v", c, err)
	}
}

func TestParse(t *testing.T) {
	for _, letter := range []string{"K", "T"} {
		if kind, err := thermocouple.Parse(letter); err != nil || kind.String() != letter {
			t.Errorf("%s: %v, %v", letter, kind, err)
		}
	}
	for _, letter := range []string{"", "k", "J", "KT"} {
		if _, err := thermocouple.Parse(letter); err == nil {
			t.Errorf("%q passes", letter)
		}
	}
}
