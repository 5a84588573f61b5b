package hull_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/hull"
)

// Stations in mm, laid by hand.
func TestLay(t *testing.T) {
	for _, row := range []struct {
		name   string
		known  []float64
		ribs   int
		want   []float64
		refuse string
	}{
		{"none", nil, 4, nil, ""},
		{"as they are", []float64{0, 150, 300}, 0, []float64{0, 150, 300}, ""},
		{"going aft", []float64{0, 150}, 4, []float64{0, 150, 300, 450}, ""},
		{"going forward", []float64{450, 300}, 4, []float64{0, 150, 300, 450}, ""},
		{"from the middle", []float64{300, 150, 450}, 5, []float64{0, 150, 300, 450, 600}, ""},
		{"from the middle, one end longer", []float64{300, 150, 450}, 4, []float64{0, 150, 300, 450}, ""},
		{"a gap is filled", []float64{0, 150, 600}, 0, []float64{0, 150, 300, 450, 600}, ""},
		{"uneven ones are left", []float64{0, 150, 330, 520}, 0, []float64{0, 150, 330, 520}, ""},
		{"an uneven gap is shared", []float64{0, 150, 480}, 0, []float64{0, 150, 315, 480}, ""},
		{"one replaced is one station", []float64{0, 150, 300, 150}, 4, []float64{0, 150, 300, 450}, ""},
		{"one alone, and no more", []float64{700}, 0, []float64{700}, ""},
		{"one alone tells no spacing", []float64{700}, 9, []float64{700}, ""},
		{"more than there are ribs", []float64{0, 150, 600}, 4, nil, "4 ribs: 5 stations lie 0.15 m apart from 0 to 0.6 m"},
		{"one mm apart", []float64{0, 1, 5000}, 0, nil, "over 500 stations at a spacing of 0.001 m"},
	} {
		got, err := hull.Lay(metres(row.known), row.ribs)
		if row.refuse != "" {
			if err == nil || !strings.Contains(err.Error(), row.refuse) {
				t.Errorf("%s: error %v, want %s", row.name, err, row.refuse)
			}
			continue
		}
		if err != nil || !same(got, metres(row.want)) {
			t.Errorf("%s: %v, %v, want %v mm", row.name, got, err, row.want)
		}
	}
}

func metres(mm []float64) []float64 {
	out := make([]float64, len(mm))
	for i := range mm {
		out[i] = mm[i] / 1000
	}
	return out
}

func same(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) < 1e-9 })
}

func TestNext(t *testing.T) {
	for _, row := range []struct {
		name   string
		fitted []float64
		want   float64 // mm; below 0: none
	}{
		{"going aft", []float64{0, 150}, 300},
		{"going forward", []float64{750, 600}, 450},
		{"by turns from the middle", []float64{300, 150, 450}, 0},
		{"by turns, the forward end done", []float64{300, 150, 450, 0}, 600},
		{"after a replacement", []float64{0, 150, 300, 150}, 450},
		{"one alone", []float64{300}, -1},
		{"all in", []float64{0, 150, 300, 450, 600, 750}, -1},
	} {
		got, ok := hull.Next(metres(row.fitted), metres([]float64{0, 150, 300, 450, 600, 750}))
		if ok != (row.want >= 0) || ok && math.Abs(got-row.want/1000) > 1e-9 {
			t.Errorf("%s: %g m, %v, want %g mm", row.name, got, ok, row.want)
		}
	}
}

// Whatever part of an even hull is in, worked from one end or from the middle, the
// stations are found and the next is the one that the crew goes to.
func TestLayFindsAnEvenHull(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 60).Draw(t, "ribs")
		order := fromTheBow(n)
		if rapid.Bool().Draw(t, "from the stern") {
			slices.Reverse(order)
		}
		in := rapid.IntRange(2, n-1).Draw(t, "in")
		stations := evenly(n)
		var fitted []float64
		for _, at := range order[:in] {
			fitted = append(fitted, stations[at])
		}
		laid, err := hull.Lay(fitted, n)
		if err != nil || !same(laid, stations) {
			t.Fatalf("%v, %v, want %v", laid, err, stations)
		}
		next, ok := hull.Next(fitted, laid)
		near(t, "next", next, stations[order[in]], 1e-9)
		if !ok {
			t.Error("no next station")
		}
	})
}
