// Package soak keeps account of the heat that a rib has taken: its core
// temperature at points along its length and the exposure each has gathered,
// with a lower and an upper bound for what could not be seen.
package soak

import (
	"fmt"
	"math"
)

// Exposure is how much heat wood has taken, in minutes at 100 °C that would have
// done the same. It is a proxy, the severity factor of the steam treatment of
// wood, made for hotter processes; here it only compares one moment, end or
// altitude with another on the same stick, and test bends fix its scale.
type Exposure float64

// String returns the exposure with one decimal and its unit.
func (e Exposure) String() string { return fmt.Sprintf("%.1f min at 100 °C", float64(e)) }

// perK is the temperature rise that multiplies the rate of exposure by e.
const perK = 14.75

// Rate returns the exposure gathered in one minute with the core at c °C; at
// 100 °C it is 1.
//
// Source: Overend and Chornet, Phil. Trans. R. Soc. A 321 (1987) 523, equation
// for the reaction ordinate R0.
func Rate(c float64) float64 { return math.Exp((c - 100) / perK) }

// Factor returns by what an error of k kelvin multiplies an exposure.
func Factor(k float64) float64 { return math.Exp(k / perK) }

// over returns the exposure of s seconds in which the core goes from one level
// to another, given the rates at both, in a straight line.
func over(s, from, to, rateFrom, rateTo float64) float64 {
	x := (to - from) / perK
	if math.Abs(x) < 0.2 {
		// (e^x − 1)/x about the middle, to 1e-6 of it.
		return s / 60 * (rateFrom + rateTo) / 2 * (1 - x*x/12)
	}
	return s / 60 * (rateTo - rateFrom) / x
}

// Bound names one of the three accounts kept at every point.
type Bound int

// Low and High enclose what the heat can have been, given the probes'
// uncertainty, the range of film coefficient and diffusivity, and all that was
// not seen. Best is the best guess.
const (
	Low Bound = iota
	Best
	High
)

// Bounds is how many accounts there are.
const Bounds = 3
