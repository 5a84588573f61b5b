// Package median is the middle of some numbers: what is left of them when one in a
// few is wild.
package median

import "slices"

// Of returns the median of v, which it sorts; 0 for none. It allocates nothing.
func Of(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	m := len(v) / 2
	if len(v)%2 == 1 {
		return v[m]
	}
	return (v[m-1] + v[m]) / 2
}
