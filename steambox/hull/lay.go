package hull

import (
	"fmt"
	"math"
	"slices"
)

// Lay returns the stations of a hull that no table tells: those known, in the
// order of work, with the gaps between them filled and stations added beyond the
// outermost until there are as many as ribs. 0 ribs: the gaps are only filled.
//
// The spacing is the smallest between two known stations; until two neighbours
// are known that must be too wide, and one station alone is all that is returned.
// Stations are added on the side to which the work goes, or on both alike where it
// has gone both ways. The error says that there are too many.
func Lay(knownM []float64, ribs int) ([]float64, error) {
	known := distinct(knownM)
	if len(known) < 2 {
		return known, nil
	}
	sorted := slices.Sorted(slices.Values(known))
	spacing := smallestGap(sorted)
	laid, err := fillGaps(sorted, spacing)
	if err != nil {
		return nil, err
	}
	if ribs > 0 && len(laid) > ribs {
		return nil, fmt.Errorf("%d ribs: %d stations lie %.3g m apart from %.4g to %.4g m", ribs, len(laid), spacing, laid[0], laid[len(laid)-1])
	}
	return lengthen(laid, spacing, ribs, heading(known)), nil
}

// distinct returns stations without those that came before.
func distinct(stationsM []float64) []float64 {
	var out []float64
	for _, m := range stationsM {
		if !slices.ContainsFunc(out, func(o float64) bool { return whole(o) == whole(m) }) {
			out = append(out, m)
		}
	}
	return out
}

// smallestGap returns the smallest step in rising numbers.
func smallestGap(sorted []float64) float64 {
	smallest := math.Inf(1)
	for i := 1; i < len(sorted); i++ {
		smallest = min(smallest, sorted[i]-sorted[i-1])
	}
	return smallest
}

// fillGaps puts stations evenly where a gap is nearer to several spacings.
func fillGaps(sorted []float64, spacing float64) ([]float64, error) {
	laid := sorted[:1:1]
	for i := 1; i < len(sorted); i++ {
		from, gap := sorted[i-1], sorted[i]-sorted[i-1]
		steps := math.Round(gap / spacing)
		if float64(len(laid))+steps > MaxRibs {
			return nil, fmt.Errorf("over %d stations at a spacing of %.3g m, the smallest between two", MaxRibs, spacing)
		}
		for k := 1.0; k < steps; k++ {
			laid = append(laid, from+gap*k/steps)
		}
		laid = append(laid, sorted[i])
	}
	return laid, nil
}

// heading returns +1 where stations only rise in the order of work, −1 where they
// only fall, 0 where they do neither.
func heading(known []float64) int {
	up, down := 0, 0
	for i := 1; i < len(known); i++ {
		if known[i] > known[i-1] {
			up++
		} else {
			down++
		}
	}
	switch {
	case down == 0 && up > 0:
		return 1
	case up == 0 && down > 0:
		return -1
	}
	return 0
}

// lengthen adds stations at the ends until there are ribs of them.
func lengthen(laid []float64, spacing float64, ribs, heading int) []float64 {
	missing := max(0, ribs-len(laid))
	aft := missing / 2
	switch heading {
	case 1:
		aft = missing
	case -1:
		aft = 0
	}
	for range aft {
		laid = append(laid, laid[len(laid)-1]+spacing)
	}
	for range missing - aft {
		laid = slices.Insert(laid, 0, laid[0]-spacing)
	}
	return laid
}

// Next guesses the station of the next rib from those fitted, in the order of
// work, and all stations of the hull, rising: one on in the direction of the last
// two, or beyond the other end where work goes by turns from the middle. Stations
// must be told apart to the millimetre. False: there is none free there.
func Next(fittedM, stationsM []float64) (float64, bool) {
	order := distinct(fittedM)
	if len(order) < 2 {
		return 0, false
	}
	at := func(m float64) int {
		return slices.IndexFunc(stationsM, func(s float64) bool { return whole(s) == whole(m) })
	}
	last, before := at(order[len(order)-1]), at(order[len(order)-2])
	taken := func(i int) bool {
		return slices.ContainsFunc(order, func(m float64) bool { return at(m) == i })
	}
	from, step := last, 1
	if last < before {
		step = -1
	}
	if apart(last, before) > 1 {
		from, step = before, -step
	}
	for i := from + step; i >= 0 && i < len(stationsM); i += step {
		if !taken(i) {
			return stationsM[i], true
		}
	}
	return 0, false
}
