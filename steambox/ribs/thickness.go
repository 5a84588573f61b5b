package ribs

import (
	"math"
	"slices"

	"withy/steambox/median"
)

// The least that a thickness is named for, and the number of ribs below which a
// stick's middle says nothing.
const (
	leastThicknessM = 0.0003 // common practice, no source: what a thumb feels
	enoughOfStick   = 3
)

// normalMAD turns a median absolute deviation into the standard deviation of a
// normal distribution.
//
// Source: Rousseeuw and Croux, Alternatives to the median absolute deviation,
// J. Am. Stat. Assoc. 88 (1993) 1273: 1/Φ⁻¹(3/4).
const normalMAD = 1.4826

// OddThickness returns the ribs that are thicker or thinner than the others of
// their boat and stick by more than 3.5 robust standard errors and 0.3 mm, in the
// table's order. Ribs that are meant, or of which no thickness was said, neither
// count nor are named. The table must have passed Check.
func OddThickness(table []Rib) []Odd {
	type batch struct{ boat, stick string }
	all := map[batch][]float64{}
	for _, r := range table {
		if r.ThicknessM > 0 && !r.Meant {
			b := batch{r.Boat, r.Stick}
			all[b] = append(all[b], r.ThicknessM)
		}
	}
	var odd []Odd
	for i, r := range table {
		others := all[batch{r.Boat, r.Stick}]
		if r.ThicknessM == 0 || r.Meant || len(others) < enoughOfStick {
			continue
		}
		middle, spread := robust(others)
		if off := r.ThicknessM - middle; math.Abs(off) > max(sureStdErrs*spread, leastThicknessM) {
			odd = append(odd, Odd{Rib: i, Label: r.Label, IsM: r.ThicknessM, SuggestedM: middle, OffM: off, StdErrM: spread})
		}
	}
	return odd
}

// robust returns the median and the standard deviation that one wrong rib can't turn.
func robust(v []float64) (middle, spread float64) {
	middle = median.Of(slices.Clone(v))
	away := make([]float64, len(v))
	for i, x := range v {
		away[i] = math.Abs(x - middle)
	}
	return middle, normalMAD * median.Of(away)
}
