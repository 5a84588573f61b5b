package hull_test

import (
	"math"
	"math/bits"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/hull"
	"withy/steambox/soak"
)

var usual = hull.Rule{Margin: hull.DefaultMargin}

// Rib h of a hull of 24 went in to port where turns have starboard. One such rib
// moves the lean by 2·ln(4/3)/24 = 0.024.
const oneWrong = "pspspspp"

func TestDepartAfterAWrongRib(t *testing.T) {
	stations := evenly(24)
	h := mustNew(t, stations, marked(stations, oneWrong))
	a := advise(t, h, stations[8], usual)
	if a.Reason != hull.Depart || a.Mark != hull.Starboard || a.ByTurns != hull.Port {
		t.Errorf("%+v", a)
	}
	if !slices.Equal(a.Against, []string{"h"}) || len(a.Replaced) != 0 || a.SameAs != "" {
		t.Errorf("against %v, replaced %v, same as %q", a.Against, a.Replaced, a.SameAs)
	}
	near(t, "by turns", a.PlainWorst, 2*math.Log(4.0/3)/24, 1e-12)
	// Eight equal ribs whose say halves over two stations: by the sums of two
	// geometric series their mean is known to 0.44095 of one rib's deviation.
	near(t, "doubt", a.Doubt, 2*0.44095*hull.DefaultSD/24, 1e-7)
	if !(a.BestWorst < a.PlainWorst-hull.DefaultMargin) {
		t.Errorf("%g is not well below %g", a.BestWorst, a.PlainWorst)
	}
}

// The same hull, where the advice is held back.
func TestHeldBack(t *testing.T) {
	stations := evenly(24)
	for _, row := range []struct {
		name, marks string
		rule        hull.Rule
		want        hull.Reason
	}{
		{"nothing in yet", "", usual, hull.First},
		{"nothing went wrong", "pspsps", usual, hull.Turns},
		{"always by turns", oneWrong, hull.Rule{Always: true}, hull.Always},
		{"always by turns, nothing wrong", "psp", hull.Rule{Always: true}, hull.Turns},
		{"the ends can't be told apart", oneWrong, hull.Rule{Blind: true}, hull.Blind},
		{"nor when nothing went wrong", "psp", hull.Rule{Blind: true}, hull.Blind},
		{"not worth so wide a margin", oneWrong, hull.Rule{Margin: 0.03}, hull.Keep},
		{"two wrong ribs that even each other out", "pspsspps", usual, hull.Keep},
	} {
		a := advise(t, mustNew(t, stations, marked(stations, row.marks)), stations[len(row.marks)], row.rule)
		if a.Reason != row.want || a.Mark != a.ByTurns {
			t.Errorf("%s: %s, mark to %s, by turns to %s, want %s", row.name, a.Reason, a.Mark, a.ByTurns, row.want)
		}
	}
}

// By turns a neighbour of a rib that went in wrong gets the same side as it.
func TestSameAs(t *testing.T) {
	stations := evenly(24)
	h := mustNew(t, stations, marked(stations, oneWrong))
	if a := advise(t, h, stations[8], hull.Rule{Always: true}); a.SameAs != "h" {
		t.Errorf("the same side as rib h: %+v", a)
	}
	if a := advise(t, h, stations[9], usual); a.SameAs != "" {
		t.Errorf("no neighbour is in: %+v", a)
	}
}

// A rib replaced by one from a colder box is a reason to leave the turns, one that
// came out like the rest is not.
func TestReplacements(t *testing.T) {
	stations := evenly(16)
	for _, row := range []struct {
		name        string
		steam, door soak.Exposure
		replaced    []string
		depart      bool
	}{
		{"like the rest", 4.05, 3, nil, false},
		{"evenly heated, too little to mend", 4, 4, []string{"j2"}, false},
		{"the other end hotter", 3, 5, []string{"j2"}, true},
	} {
		fitted := append(marked(stations, "pspspspsps"),
			hull.Fitted{Label: "j2", StationM: stations[9], Mark: hull.Starboard, Steam: row.steam, Door: row.door})
		departed := false
		for _, m := range stations[10:] {
			a := advise(t, mustNew(t, stations, fitted), m, usual)
			if !slices.Equal(a.Replaced, row.replaced) {
				t.Errorf("%s: replaced %v, want %v", row.name, a.Replaced, row.replaced)
			}
			departed = departed || a.Reason == hull.Depart
			fitted = append(fitted, hull.Fitted{StationM: m, Mark: a.Mark, Steam: 4, Door: 3})
		}
		if departed != row.depart {
			t.Errorf("%s: left the turns %v, want %v", row.name, departed, row.depart)
		}
	}
}

func TestUnknownStation(t *testing.T) {
	if _, err := mustNew(t, evenly(4), nil).Advise(7, usual); err == nil {
		t.Error("advice for a station that the hull does not have")
	}
}

// What is looked ahead to, beside every way of fitting the rest with at most three
// ribs out of turn, each weighed as a whole hull.
func TestLookAheadMissesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 12).Draw(t, "stations")
		stations := evenly(n)
		in := rapid.IntRange(3, n-1).Draw(t, "ribs in")
		fitted := oneAgainst(stations[:in], rapid.IntRange(1, in-1).Draw(t, "wrong"))
		a := advise(t, mustNew(t, stations, fitted), stations[in], hull.Rule{})
		if len(a.Against) != 1 {
			t.Skip("as many ribs one way as the other")
		}
		first := hull.Sides[0]
		if a.ByTurns != hull.Sides[in%2] {
			first = hull.Sides[1]
		}
		plain, best := math.Inf(1), math.Inf(1)
		for turned := range uint(1) << (n - in) {
			if bits.OnesCount(turned) > hull.MaxDepartures {
				continue
			}
			w := worst(mustNew(t, stations, finished(fitted, stations, first, turned)).Balance())
			best = min(best, w)
			if turned == 0 {
				plain = w
			}
		}
		near(t, "by turns", a.PlainWorst, plain, 1e-12)
		near(t, "at best", a.BestWorst, best, 1e-12)
	})
}

// oneAgainst returns ribs by turns but for one.
func oneAgainst(stations []float64, wrong int) []hull.Fitted {
	var fitted []hull.Fitted
	for i, m := range stations {
		f := hull.Fitted{Label: "x", StationM: m, Mark: hull.Sides[i%2], Steam: 4, Door: 3}
		if i == wrong {
			f.Mark = f.Mark.Other()
		}
		fitted = append(fitted, f)
	}
	return fitted
}

// finished fits the rest by turns, first's way, but for those whose bit is set.
func finished(fitted []hull.Fitted, stations []float64, first hull.Side, turned uint) []hull.Fitted {
	all := slices.Clone(fitted)
	for i := len(fitted); i < len(stations); i++ {
		mark := first
		if (uint(i)+turned>>(i-len(fitted)))%2 == 1 {
			mark = first.Other()
		}
		all = append(all, hull.Fitted{StationM: stations[i], Mark: mark, Steam: 4, Door: 3})
	}
	return all
}

// At a constant difference and one rib the wrong way round the advice never ends
// worse than turns do, and port and starboard are treated alike.
func TestNeverWorseAtConstant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 40).Draw(t, "stations")
		wrong := rapid.IntRange(2, n-1).Draw(t, "wrong")
		stations := evenly(n)
		var fitted []hull.Fitted
		for i, m := range stations {
			a := advise(t, mustNew(t, stations, fitted), m, usual)
			if i > 0 {
				mirrored(t, stations, fitted, m, a)
			}
			f := hull.Fitted{StationM: m, Mark: a.Mark, Steam: 4, Door: 3}
			if i == wrong {
				f.Mark = f.Mark.Other()
			}
			fitted = append(fitted, f)
		}
		got := worst(mustNew(t, stations, fitted).Balance())
		plain := worst(mustNew(t, stations, oneAgainst(stations, wrong)).Balance())
		if got > plain+1e-12 {
			t.Errorf("%g, by turns %g", got, plain)
		}
	})
}

func mirrored(t *rapid.T, stations []float64, fitted []hull.Fitted, stationM float64, a hull.Advice) {
	across := slices.Clone(fitted)
	for i := range across {
		across[i].Mark = across[i].Mark.Other()
	}
	if b := advise(t, mustNew(t, stations, across), stationM, usual); b.Mark != a.Mark.Other() || b.Reason != a.Reason {
		t.Errorf("%+v, mirrored %+v", a, b)
	}
}
