// Package steam knows how hot steam can be where the box stands: the boiling
// point under the ambient pressure, the pressure at an altitude, and what it
// takes to turn water into steam.
package steam

import (
	"errors"
	"fmt"
	"math"

	"withy/steambox/unit"
)

// ErrRange says that an argument lies outside the range that the source covers.
var ErrRange = errors.New("out of range")

// ZeroCelsiusK is 0 °C in kelvin.
const ZeroCelsiusK = 273.15

// StandardPa is the standard atmosphere, in pascal.
const StandardPa = 101325.0

// The saturation line's limits: the triple point's temperature rounded as the
// source has it, and the critical point.
const (
	minPa, maxPa = 611.213, 22.064e6
	minK, maxK   = 273.15, 647.096
)

// region4 holds n1 to n10 of IAPWS R7-97(2012), table 34.
var region4 = [...]float64{
	0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
	0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
}

// BoilingPoint returns the temperature at which water boils under an absolute
// pressure of pa pascal.
//
// Valid from 611.213 Pa to 22.064 MPa; outside it the error wraps ErrRange.
//
// Source: IAPWS R7-97(2012), region 4, backward equation (31).
func BoilingPoint(pa float64) (unit.Celsius, error) {
	if !(pa >= minPa && pa <= maxPa) {
		return 0, fmt.Errorf("pressure %g Pa: %w (%g to %g)", pa, ErrRange, minPa, maxPa)
	}
	n := &region4
	b := math.Sqrt(math.Sqrt(pa / 1e6))
	e := b*b + n[2]*b + n[5]
	f := n[0]*b*b + n[3]*b + n[6]
	g := n[1]*b*b + n[4]*b + n[7]
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	s := n[9] + d
	kelvin := (s - math.Sqrt(s*s-4*(n[8]+n[9]*d))) / 2
	return unit.Celsius(kelvin - ZeroCelsiusK), nil
}

// SaturationPressure returns the pressure in pascal under which water boils at
// the level c.
//
// Valid from 0 °C to 373.946 °C; outside it the error wraps ErrRange.
//
// Source: IAPWS R7-97(2012), region 4, basic equation (30).
func SaturationPressure(c unit.Celsius) (float64, error) {
	kelvin := float64(c) + ZeroCelsiusK
	if !(kelvin >= minK && kelvin <= maxK) {
		return 0, fmt.Errorf("temperature %v: %w (0 to 373.946 °C)", c, ErrRange)
	}
	n := &region4
	th := kelvin + n[8]/(kelvin-n[9])
	a := th*th + n[0]*th + n[1]
	b := n[2]*th*th + n[3]*th + n[4]
	g := n[5]*th*th + n[6]*th + n[7]
	p := 2 * g / (-b + math.Sqrt(b*b-4*a*g))
	return p * p * p * p * 1e6, nil
}

// LatentHeat returns the heat that turns one kilogram of boiling water into
// steam under pa pascal, in J/kg: LatentHeatAt its boiling point, with the errors
// of BoilingPoint.
func LatentHeat(pa float64) (float64, error) {
	tb, err := BoilingPoint(pa)
	if err != nil {
		return 0, err
	}
	return LatentHeatAt(tb), nil
}

// LatentHeatAt returns the heat that turns one kilogram of water of c into steam
// of the same temperature, in J/kg.
//
// A cubic through the published values of 0 to 105 °C, where it agrees with
// IAPWS-IF97 and the usual steam tables to 0.1 kJ/kg (TestLatentHeat).
func LatentHeatAt(c unit.Celsius) float64 {
	x := float64(c) / 100
	return 1e3 * (2500.9228 + x*(-237.6519+x*(5.9602-x*12.7596)))
}

// PressureAt returns the pressure in pascal at an altitude of m metres above
// sea level in the U.S. Standard Atmosphere 1976. m is the geometric height.
//
// Valid from -500 m to 9,000 m, where people build boats and beyond; outside it
// the error wraps ErrRange. Weather moves the true pressure by some 3 %.
//
// Source: U.S. Standard Atmosphere 1976, equations (18) and (33a).
func PressureAt(m float64) (float64, error) {
	if !(m >= MinAltitudeM && m <= MaxAltitudeM) {
		return 0, fmt.Errorf("altitude %g m: %w (%g to %g)", m, ErrRange, MinAltitudeM, MaxAltitudeM)
	}
	geopotential := earthM * m / (earthM + m)
	return StandardPa * math.Pow(1-lapseKPerM*geopotential/seaK, exponent), nil
}

// AltitudeAt is the inverse of PressureAt, for a pressure in pascal that it gives.
func AltitudeAt(pa float64) float64 {
	geopotential := seaK / lapseKPerM * (1 - math.Pow(pa/StandardPa, 1/exponent))
	return earthM * geopotential / (earthM - geopotential)
}

// The U.S. Standard Atmosphere 1976 below 11 km, tables 2 and 4: the earth's radius, the
// air at the sea, how fast it cools upwards, and g0·M/(R·lapse).
const earthM, seaK, lapseKPerM, exponent = 6356766.0, 288.15, 0.0065, 5.255876

// The altitudes that PressureAt accepts, in metres.
const (
	MinAltitudeM = -500.0
	MaxAltitudeM = 9000.0
)
