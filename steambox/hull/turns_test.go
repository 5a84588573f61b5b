package hull_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/hull"
	"withy/steambox/soak"
)

func advise(t failer, h *hull.Hull, stationM float64, r hull.Rule) hull.Advice {
	t.Helper()
	a, err := h.Advise(stationM, r)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// At a constant difference between the ends, and no mistake, marks go by turns
// along the keel whatever the order of work and with no margin at all.
func TestConstantIsByTurns(t *testing.T) {
	for n := 2; n <= 80; n++ {
		aft := fromTheBow(n)
		slices.Reverse(aft)
		for name, order := range map[string][]int{"bow": fromTheBow(n), "stern": aft, "middle": fromTheMiddle(n)} {
			byTurns(t, fmt.Sprintf("%d from the %s", n, name), order, 4.0/3)
		}
	}
}

func TestConstantIsByTurnsInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 80).Draw(t, "ribs")
		order := rapid.Permutation(fromTheBow(n)).Draw(t, "order")
		byTurns(t, "any order", order, rapid.Float64Range(0.3, 3).Draw(t, "ratio"))
	})
}

// byTurns fits a whole hull as advised and looks at every mark.
func byTurns(t failer, name string, order []int, ratio float64) {
	stations := evenly(len(order))
	var fitted []hull.Fitted
	for _, at := range order {
		a := advise(t, mustNew(t, stations, fitted), stations[at], hull.Rule{})
		if a.Mark != hull.Sides[at%2] || a.ByTurns != a.Mark {
			t.Errorf("%s: mark at station %d to %s, by turns %s", name, at, a.Mark, a.ByTurns)
		}
		fitted = append(fitted, hull.Fitted{StationM: stations[at], Mark: a.Mark, Steam: soak.Exposure(3 * ratio), Door: 3})
	}
}

// A difference that scatters is no mistake: turns are kept.
func TestScatterIsByTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var fitted []hull.Fitted
		stations := evenly(30)
		for i, m := range stations {
			a := advise(t, mustNew(t, stations, fitted), m, hull.Rule{})
			if a.Reason == hull.Depart {
				t.Fatalf("left the turns at rib %d: %+v", i, a)
			}
			steam := soak.Exposure(rapid.Float64Range(2, 8).Draw(t, "steam"))
			fitted = append(fitted, hull.Fitted{StationM: m, Mark: a.Mark, Steam: steam, Door: 3})
		}
	})
}

// What turns are after a rib went in the wrong way round, with gaps and at a
// station that has a rib already. Reckoned by eye.
func TestTurns(t *testing.T) {
	stations := evenly(8)
	for _, row := range []struct {
		name, marks string // marks by station, - for none
		next        int
		want        hull.Side
	}{
		{"an empty hull begins with port", "--------", 0, hull.Port},
		{"and goes by station", "--------", 3, hull.Starboard},
		{"next to one", "p-------", 1, hull.Starboard},
		{"over a gap of one", "p-------", 2, hull.Port},
		{"over a gap of two", "p-------", 3, hull.Starboard},
		{"from aft, five away", "-------s", 2, hull.Port},
		{"one wrong changes nothing after it", "psppp---", 5, hull.Starboard},
		{"nor next to it", "psss----", 4, hull.Port},
		{"most ribs decide", "sspsp---", 5, hull.Starboard},
		{"as many either way: the nearest decides", "pssp----", 4, hull.Starboard},
		{"as many either way and equally near: the one forward", "p-----ss", 3, hull.Starboard},
		{"a rib being replaced has no say", "ps--p---", 4, hull.Port},
	} {
		var fitted []hull.Fitted
		for i, letter := range row.marks {
			if letter != '-' {
				f := marked(stations[i:], string(letter))[0]
				fitted = append(fitted, f)
			}
		}
		a := advise(t, mustNew(t, stations, fitted), stations[row.next], hull.Rule{Margin: math.MaxFloat64})
		if a.ByTurns != row.want || a.Mark != row.want {
			t.Errorf("%s: %s at %d: by turns to %s, mark to %s, want %s", row.name, row.marks, row.next, a.ByTurns, a.Mark, row.want)
		}
	}
}
