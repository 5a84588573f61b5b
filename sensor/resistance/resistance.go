// Package resistance turns the resistance of a platinum thermometer or a thermistor into
// a temperature and back. It is pure.
package resistance

import (
	"errors"
	"fmt"
	"math"
)

// ErrRange is returned for a resistance that the element doesn't have at any
// temperature that its formula is good for.
var ErrRange = errors.New("outside what the element has")

// Element is something whose resistance tells its temperature.
type Element interface {
	// Celsius returns the temperature at which the element has so many ohms; its
	// error wraps [ErrRange].
	Celsius(ohm float64) (float64, error)
}

// Platinum is a platinum thermometer by the resistance that it has at 0 °C, in ohms:
// 100 for a Pt100.
type Platinum float64

// The Callendar–Van Dusen equation of IEC 60751.
const (
	a = 3.9083e-3
	b = -5.775e-7
	c = -4.183e-12 // only below 0 °C
)

// Ohms returns the resistance at t °C, −200 to 850.
func (p Platinum) Ohms(t float64) float64 {
	ratio := 1 + a*t + b*t*t
	if t < 0 {
		ratio += c * (t - 100) * t * t * t
	}
	return float64(p) * ratio
}

// Celsius returns the temperature at which the thermometer has so many ohms, from −200
// to 850 °C.
func (p Platinum) Celsius(ohm float64) (float64, error) {
	if !(ohm >= p.Ohms(-200) && ohm <= p.Ohms(850)) {
		return 0, fmt.Errorf("%.4g ohm: %w, %.4g to %.4g", ohm, ErrRange, p.Ohms(-200), p.Ohms(850))
	}
	// The root of the equation without its last term is exact from 0 °C up, and below
	// it a start from which three steps of Newton's come within 1e-6 K.
	t := (-a + math.Sqrt(a*a-4*b*(1-ohm/float64(p)))) / (2 * b)
	for i := 0; i < 3 && t < 0; i++ {
		slope := a + 2*b*t + c*(4*t*t*t-300*t*t)
		t -= (p.Ohms(t) - ohm) / float64(p) / slope
	}
	return t, nil
}

// Thermistor is a thermistor by the coefficients of Steinhart and Hart:
// 1/T = A + B ln R + C (ln R)³, T in kelvin and R in ohms.
type Thermistor struct{ A, B, C float64 }

// Kelvins between the two zeros.
const zeroK = 273.15

// FromBeta returns the thermistor that has ohm25 at 25 °C and the given beta, in
// kelvin. Near boiling beta alone is off by a kelvin and more: prefer
// [FromTable].
func FromBeta(ohm25, betaK float64) Thermistor {
	return Thermistor{A: 1/(25+zeroK) - math.Log(ohm25)/betaK, B: 1 / betaK}
}

// FromTable returns the thermistor through three rows of its maker's table: its ohms
// at three temperatures in °C, which rise. Ohms that don't fall are an error.
func FromTable(at, ohm [3]float64) (Thermistor, error) {
	var l, y [3]float64
	for i := range at {
		if i > 0 && !(at[i] > at[i-1] && ohm[i] < ohm[i-1]) || !(ohm[i] > 0) {
			return Thermistor{}, fmt.Errorf("%g ohm at %g °C: a thermistor's ohms fall as it gets warmer", ohm[i], at[i])
		}
		l[i], y[i] = math.Log(ohm[i]), 1/(at[i]+zeroK)
	}
	g2, g3 := (y[1]-y[0])/(l[1]-l[0]), (y[2]-y[0])/(l[2]-l[0])
	c := (g3 - g2) / (l[2] - l[1]) / (l[0] + l[1] + l[2])
	b := g2 - c*(l[0]*l[0]+l[0]*l[1]+l[1]*l[1])
	return Thermistor{A: y[0] - (b+l[0]*l[0]*c)*l[0], B: b, C: c}, nil
}

// Celsius returns the temperature at which the thermistor has so many ohms. Good
// between the temperatures that its coefficients come from, and 20 K beyond; from −55 to
// 200 °C it is given at all.
func (th Thermistor) Celsius(ohm float64) (float64, error) {
	l := math.Log(ohm)
	t := 1/(th.A+th.B*l+th.C*l*l*l) - zeroK
	if !(t >= -55 && t <= 200) {
		return 0, fmt.Errorf("%.4g ohm: %w from −55 to 200 °C", ohm, ErrRange)
	}
	return t, nil
}
