// Package ribs reads the rib table before anything is cut: is it fair, what is
// to be sawn, which spares with it, and in what order the ribs go into the boat.
//
// It decides which lengths and thicknesses are out of line with the others and
// what the others suggest. Whether an odd one is meant is the builder's to say.
package ribs

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Bend is how hard a rib bends.
type Bend string

// The difficulties. A rib of which nothing was said counts as middling.
const (
	Easy     Bend = "easy"
	Middling Bend = "middling"
	Hard     Bend = "hard"
)

// Rib is one line of the table.
type Rib struct {
	Label      string  // as the builder calls it, unique in the table
	Boat       string  // empty: the only one
	Stick      string  // the board it is cut from; empty: not said
	LengthM    float64 // from tip to tip, 0.01 to 20 m
	ThicknessM float64 // 0.0005 to 0.2 m; 0: not said
	WidthM     float64 // 0.001 to 0.5 m; 0: not said
	StationM   float64 // along the keel from the bow, −100 to 100 m; only with HasStation
	HasStation bool    // said for every rib of a boat or for none: then they are evenly spaced
	Meant      bool    // off the curve on purpose: never named, and no witness against others
	Bend       Bend    // empty counts as middling
}

// Check returns every mistake in a table, one a line, or nil. The other functions
// take a table that has passed.
func Check(table []Rib) error {
	var errs []error
	seen := map[string]int{}
	for i, r := range table {
		row := func(format string, args ...any) {
			errs = append(errs, fmt.Errorf("row %d: "+format, append([]any{i + 1}, args...)...))
		}
		if r.Label == "" {
			row("rib has no name")
		} else if first, twice := seen[r.Label]; twice {
			row("rib %s stands in row %d already", r.Label, first)
		} else {
			seen[r.Label] = i + 1
		}
		for _, v := range r.ranges() {
			if v.zeroIsUnsaid && v.m == 0 {
				continue
			}
			if !(v.m >= v.lo && v.m <= v.hi) {
				row("%s %g: %g to %g", v.key, v.m*1000, v.lo*1000, v.hi*1000)
			}
		}
		if !slices.Contains([]Bend{"", Easy, Middling, Hard}, r.Bend) {
			row("bend %q: easy, middling or hard", r.Bend)
		}
	}
	return errors.Join(append(errs, checkStations(table)...)...)
}

// span is a figure of the table with what it may be, in metres.
type span struct {
	key          string
	m, lo, hi    float64
	zeroIsUnsaid bool
}

func (r Rib) ranges() []span {
	all := []span{
		{"length_mm", r.LengthM, 0.01, 20, false},
		{"thickness_mm", r.ThicknessM, 0.0005, 0.2, true},
		{"width_mm", r.WidthM, 0.001, 0.5, true},
	}
	if r.HasStation {
		all = append(all, span{"station_mm", r.StationM, -100, 100, false})
	}
	return all
}

// checkStations refuses a boat of which only some ribs have a station.
func checkStations(table []Rib) (errs []error) {
	for _, boat := range Boats(table) {
		with := 0
		for _, r := range boat {
			if r.HasStation {
				with++
			}
		}
		if with != 0 && with != len(boat) {
			errs = append(errs, fmt.Errorf("station_mm: %d of %d ribs have one%s: all or none", with, len(boat), ofBoat(boat[0].Boat)))
		}
	}
	return errs
}

func ofBoat(name string) string {
	if name == "" {
		return ""
	}
	return " in boat " + name
}

// Boats parts a table by boat, in the order in which they first appear.
func Boats(table []Rib) [][]Rib {
	var boats [][]Rib
	at := map[string]int{}
	for _, r := range table {
		i, known := at[r.Boat]
		if !known {
			i = len(boats)
			at[r.Boat] = i
			boats = append(boats, nil)
		}
		boats[i] = append(boats[i], r)
	}
	return boats
}

// stations returns where the ribs of one boat stand, in metres, and their indices
// from bow to stern. Without stations they stand one gap of a metre apart.
func stations(boat []Rib) (m []float64, fromBow []int) {
	m, fromBow = make([]float64, len(boat)), make([]int, len(boat))
	for i, r := range boat {
		m[i], fromBow[i] = float64(i), i
		if r.HasStation {
			m[i] = r.StationM
		}
	}
	slices.SortStableFunc(fromBow, func(a, b int) int { return cmp.Compare(m[a], m[b]) })
	return m, fromBow
}
