// Package thermocouple turns a thermocouple's millivolts into temperatures and back,
// for the two types that are of use in a steam box. It is pure.
//
// A thermocouple gives the difference between its two ends. What the cold end makes is
// added in millivolts and never in degrees: for a type T at 100 °C with its cold end
// at 25 °C, degrees would be 3.4 K off.
//
// Source: NIST Standard Reference Database 60, ITS-90 thermocouple reference functions.
package thermocouple

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrRange is returned for what no thermocouple of the type gives.
var ErrRange = errors.New("outside what the thermocouple gives")

// Type is a kind of thermocouple: [K] or [T].
type Type struct {
	name         string
	below, above []float64   // mV from °C, under and from 0 °C
	bump         [3]float64  // of the reference function from 0 °C: a0 exp(a1 (t − a2)²)
	inverse      [][]float64 // °C from mV, in ranges that follow one another
	ends         []float64   // of those ranges, mV
}

// K is nickel-chromium against nickel-aluminium, 41 µV/K near boiling.
var K = Type{
	name: "K",
	below: []float64{0, 0.394501280250e-1, 0.236223735980e-4, -0.328589067840e-6, -0.499048287770e-8, -0.675090591730e-10,
		-0.574103274280e-12, -0.310888728940e-14, -0.104516093650e-16, -0.198892668780e-19, -0.163226974860e-22},
	above: []float64{-0.176004136860e-1, 0.389212049750e-1, 0.185587700320e-4, -0.994575928740e-7, 0.318409457190e-9,
		-0.560728448890e-12, 0.560750590590e-15, -0.320207200030e-18, 0.971511471520e-22, -0.121047212750e-25},
	bump: [3]float64{0.118597600000, -0.118343200000e-3, 126.968600000},
	inverse: [][]float64{
		{0, 2.5173462e1, -1.1662878, -1.0833638, -8.9773540e-1, -3.7342377e-1, -8.6632643e-2, -1.0450598e-2, -5.1920577e-4},
		{0, 2.508355e1, 7.860106e-2, -2.503131e-1, 8.315270e-2, -1.228034e-2, 9.804036e-4, -4.413030e-5, 1.057734e-6, -1.052755e-8},
		{-1.318058e2, 4.830222e1, -1.646031, 5.464731e-2, -9.650715e-4, 8.802193e-6, -3.110810e-8},
	},
	ends: []float64{-5.891, 0, 20.644, 54.886},
}

// T is copper against constantan, 47 µV/K near boiling, and by its tolerance much the
// better of the two in a steam box.
var T = Type{
	name: "T",
	below: []float64{0, 0.387481063640e-1, 0.441944343470e-4, 0.118443231050e-6, 0.200329735540e-7, 0.901380195590e-9,
		0.226511565930e-10, 0.360711542050e-12, 0.384939398830e-14, 0.282135219250e-16, 0.142515947790e-18,
		0.487686622860e-21, 0.107955392700e-23, 0.139450270620e-26, 0.797951539270e-30},
	above: []float64{0, 0.387481063640e-1, 0.332922278800e-4, 0.206182434040e-6, -0.218822568460e-8, 0.109968809280e-10,
		-0.308157587720e-13, 0.454791352900e-16, -0.275129016730e-19},
	inverse: [][]float64{
		{0, 2.5949192e1, -2.1316967e-1, 7.9018692e-1, 4.2527777e-1, 1.3304473e-1, 2.0241446e-2, 1.2668171e-3},
		{0, 2.592800e1, -7.602961e-1, 4.637791e-2, -2.165394e-3, 6.048144e-5, -7.293422e-7},
	},
	ends: []float64{-5.603, 0, 20.872},
}

// Parse returns the type with that letter, K or T.
func Parse(letter string) (Type, error) {
	for _, t := range []Type{K, T} {
		if t.name == letter {
			return t, nil
		}
	}
	return Type{}, fmt.Errorf("thermocouple type %q: K and T are known", letter)
}

// String returns the type's letter.
func (t Type) String() string { return t.name }

// Millivolts returns what the thermocouple gives at c °C with its cold end at 0 °C.
// From −200 °C to the type's greatest (K 1372 °C, T 400 °C) it agrees with the
// printed tables to their three decimals; beyond, it means nothing.
func (t Type) Millivolts(c float64) float64 {
	if c < 0 {
		return polynomial(t.below, c)
	}
	return polynomial(t.above, c) + t.bump[0]*math.Exp(t.bump[1]*(c-t.bump[2])*(c-t.bump[2]))
}

// Celsius returns the temperature at which the thermocouple gives mv with its cold end
// at 0 °C, within 0.05 K for type K and 0.04 K for T. Outside the tables, from −200 °C
// on, the error wraps [ErrRange].
func (t Type) Celsius(mv float64) (float64, error) {
	last := len(t.inverse)
	if !(mv >= t.ends[0] && mv <= t.ends[last]) {
		return 0, fmt.Errorf("%.3f mV of type %s: %w, %.3f to %.3f mV", mv, t.name, ErrRange, t.ends[0], t.ends[last])
	}
	i := 0
	for i < last-1 && mv >= t.ends[i+1] {
		i++
	}
	return polynomial(t.inverse[i], mv), nil
}

// Compensated returns the temperature of the hot end when mv were measured with the
// cold end at coldC. Its errors are those of [Type.Celsius].
func (t Type) Compensated(mv, coldC float64) (float64, error) {
	return t.Celsius(mv + t.Millivolts(coldC))
}

func polynomial(coefficients []float64, x float64) float64 {
	y := 0.0
	for _, c := range slices.Backward(coefficients) {
		y = y*x + c
	}
	return y
}
