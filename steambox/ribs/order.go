package ribs

import (
	"cmp"
	"math"
	"slices"
)

// MiddleFirst returns the indices of one boat's ribs in the order in which to bend
// them when the middle goes first: outwards from midships, bow and stern in turn.
// Of two equally far, to a tenth of a millimetre, the one nearer the bow is first.
// The table must have passed Check.
func MiddleFirst(boat []Rib) []int {
	if len(boat) == 0 {
		return nil
	}
	m, order := stations(boat)
	middle := (m[order[0]] + m[order[len(order)-1]]) / 2
	away := func(i int) float64 { return math.Round(math.Abs(m[i]-middle) * 1e4) }
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(away(a), away(b)) })
	return order
}
