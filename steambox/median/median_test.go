package median_test

import (
	"testing"

	"withy/steambox/median"
)

// By hand.
func TestOf(t *testing.T) {
	for _, row := range []struct {
		v    []float64
		want float64
	}{{nil, 0}, {[]float64{3}, 3}, {[]float64{9, 1, 5}, 5}, {[]float64{9, 1, 5, 2}, 3.5}, {[]float64{-1e9, 2, 2, 2, 1e9}, 2}} {
		if got := median.Of(row.v); got != row.want {
			t.Errorf("%v: %g, want %g", row.v, got, row.want)
		}
	}
}
