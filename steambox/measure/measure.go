// Package measure says quantities in the units that somebody measures in, and
// reads a length as somebody types it. It decides how many digits there are and
// what the unit is called; nothing is reckoned, kept or sent in these units.
package measure

import (
	"fmt"
	"math"
	"strings"
)

// Units are the units that people see. The zero value is Metric.
type Units string

// Metric is °C, mm and litres; US is °F, inches to the 64th, quarts and gallons.
const (
	Metric Units = "metric"
	US     Units = "us"
)

// All lists what Units can be.
var All = []Units{Metric, US}

// All of these are exact but that of mercury. Source: NIST Special Publication 811,
// appendix B.8, and NIST Handbook 44, appendix C (a gallon is 231 cubic inches).
const (
	mmPerInch       = 25.4
	mPerFoot        = 0.3048
	litresPerGallon = 3.785411784
	litresPerQuart  = litresPerGallon / 4
	litresPerPint   = litresPerGallon / 8
	pascalPerInchHg = 3386.389 // conventional
	degreesFPerK    = 1.8
	freezingF       = 32
)

// What an inch is parted into: the finest that is told, and most tapes.
const finest, onTapes = 64, 16

// manyQuarts is from where water is told in gallons.
const manyQuarts = 12

// Temperature says a level of temperature with so many decimals: 98.6 °C, 209.5 °F.
func (u Units) Temperature(c float64, decimals int) string {
	if u == US {
		return decimal(c*degreesFPerK+freezingF, decimals) + " °F"
	}
	return decimal(c, decimals) + " °C"
}

// Difference says how far apart two temperatures are, as people in a shed say it: 2.0 °C, 3.6 °F.
func (u Units) Difference(k float64, decimals int) string {
	if u == US {
		return decimal(k*degreesFPerK, decimals) + " °F"
	}
	return decimal(k, decimals) + " °C"
}

// Offset says what is added to a temperature, with its sign: +0.20 °C, -0.36 °F.
func (u Units) Offset(k float64, decimals int) string {
	said := u.Difference(k, decimals)
	if !strings.HasPrefix(said, "-") {
		said = "+" + said
	}
	return said
}

// HeatAt is the temperature that heat is counted at, as in "minutes at 100 °C". It
// is the boiling point by definition in both units, so the minutes are the same.
func (u Units) HeatAt() string { return u.Temperature(100, 0) }

// Length says a length in metres, in millimetres with so many decimals or in inches
// to the 64th: 948 mm, 37 21/64 in. What is not nought is never said as nought inches.
func (u Units) Length(m float64, decimals int) string {
	if u == US {
		return inches(m*1000/mmPerInch, finest)
	}
	return decimal(m*1000, decimals) + " mm"
}

// LengthUp says a length in metres that must not be told as less than it is: in whole
// millimetres or 64ths of an inch, rounded up.
func (u Units) LengthUp(m float64) string {
	// What floating point adds to a whole number of steps is not a step more.
	const noise = 1e-9
	if u == US {
		return inches(math.Ceil(m*1000/mmPerInch*finest-noise)/finest, finest)
	}
	return decimal(math.Ceil(m*1000-noise), 0) + " mm"
}

// Beside says a length in metres as the other tape in the shed has it: in inches to
// the 16th beside millimetres, in whole millimetres beside inches.
func (u Units) Beside(m float64) string {
	if u == US {
		return Metric.Length(m, 0)
	}
	return inches(m*1000/mmPerInch, onTapes)
}

// Section says two sides of a cut: 25 × 6.5 mm, 63/64 × 1/4 in.
func (u Units) Section(widthM, thicknessM float64) string {
	unit := " mm"
	if u == US {
		unit = " in"
	}
	return strings.TrimSuffix(u.Side(widthM), unit) + " × " + u.Side(thicknessM)
}

// Side says one side of a cut, with no more decimals than it has: 6.5 mm, 25 mm.
func (u Units) Side(m float64) string {
	if u == US {
		return u.Length(m, 0)
	}
	return fmt.Sprintf("%g mm", math.Round(m*1e6)/1e3)
}

// Stock says how much wood there is in all: 18.7 m, 61.4 ft.
func (u Units) Stock(m float64) string {
	if u == US {
		return decimal(m/mPerFoot, 1) + " ft"
	}
	return decimal(m, 1) + " m"
}

// Volume says how much water there is: 1.5 L; 1.6 qt. Less than a quart is told in
// pints, three gallons and more in gallons, as pots are sold (common practice, no source).
func (u Units) Volume(l float64) string {
	switch size := math.Abs(l); {
	case u != US:
		return decimal(l, 1) + " L"
	case size < litresPerQuart:
		return decimal(l/litresPerPint, 1) + " pt"
	case size < manyQuarts*litresPerQuart:
		return decimal(l/litresPerQuart, 1) + " qt"
	}
	return decimal(l/litresPerGallon, 1) + " gal"
}

// Pressure says a barometer's reading: 1013 hPa, 29.92 inHg.
func (u Units) Pressure(pa float64) string {
	if u == US {
		return decimal(pa/pascalPerInchHg, 2) + " inHg"
	}
	return decimal(pa/100, 0) + " hPa"
}

// decimal writes a number with so many decimals; what rounds to nought has no sign.
// A tie goes to the even digit (NIST Special Publication 811, appendix B.7.1).
func decimal(x float64, decimals int) string {
	said := fmt.Sprintf("%.*f", decimals, x)
	if strings.Trim(said, "-0.") == "" {
		return strings.TrimPrefix(said, "-")
	}
	return said
}

// inches writes a length with its fraction of an inch in lowest terms: 37 5/16 in.
func inches(in float64, of int) string {
	parts := int(math.Round(math.Abs(in) * float64(of)))
	sign := ""
	if in < 0 {
		sign = "-"
	}
	if parts == 0 {
		if in != 0 {
			return fmt.Sprintf("under 1/%d in", of)
		}
		return "0 in"
	}
	whole, part := parts/of, parts%of
	for part > 0 && part%2 == 0 {
		part, of = part/2, of/2
	}
	switch {
	case part == 0:
		return fmt.Sprintf("%s%d in", sign, whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d in", sign, part, of)
	}
	return fmt.Sprintf("%s%d %d/%d in", sign, whole, part, of)
}
