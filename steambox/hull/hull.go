// Package hull keeps the two sides of a boat alike. The end of a rib that took
// more heat comes out softer and so rounder; fitted all the same way round, the
// ribs make a hull that looks fair and leans later. The package adds up the lean
// and the twist of a hull as ribbed so far and says to which side the mark of the
// next rib goes: by turns along the keel, and otherwise only after a rib went in
// the wrong way round or was replaced.
//
// How much heat an end took is for package soak to say; the sentences that the
// crew reads are in package words.
package hull

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"withy/steambox/soak"
	"withy/steambox/unit"
)

// Side is a side of the boat, facing forward.
type Side string

// The two sides. A rib's mark is on the end that lay at the box's door, so "mark
// to port" puts the steam end to starboard.
const (
	Port      Side = "port"
	Starboard Side = "starboard"
)

// Sides lists both.
var Sides = []Side{Port, Starboard}

// Other returns the opposite side.
func (s Side) Other() Side {
	if s == Port {
		return Starboard
	}
	return Port
}

// sign is +1 for a mark to port and −1 for one to starboard.
func (s Side) sign() float64 {
	if s == Port {
		return 1
	}
	return -1
}

// DefaultSD is the standard deviation of a rib's difference where none is given.
// Two of it are the 5 % within which the ratio of the ends is meant to be known
// for 95 ribs of 100 with calibrated probes; where it is known worse, say so.
const DefaultSD = 0.025

// MaxRibs is how many stations a hull may have.
const MaxRibs = 500

// What a fitted rib may be, both ends included: exposures in min at 100 °C.
const (
	MinExposure soak.Exposure = 0.01
	MaxExposure soak.Exposure = 1000
	MinWeight                 = 0.001
	MaxWeight                 = 1000
	MinSD                     = 0.001
	MaxSD                     = 2
	MaxStationM               = 100 // either way
)

// Fitted is a rib in the boat.
type Fitted struct {
	Label    string        // by which the crew calls it; nothing is reckoned from it
	StationM float64       // its place on the keel, m, growing from bow to stern
	Mark     Side          // where its marked end went, the one from the box's door
	Steam    soak.Exposure // of the end that lay at the steam end, min at 100 °C
	Door     soak.Exposure // of the end that lay at the door, min at 100 °C
	Weight   float64       // how much it stiffens the hull beside the others, such as thickness³; 0: 1
	SD       float64       // standard deviation of its difference; 0: DefaultSD
}

// Difference returns how much softer the steam end came out than the door end,
// as the natural logarithm of their exposures' ratio; below 0 where the door end
// took more.
func (f Fitted) Difference() float64 { return math.Log(float64(f.Steam / f.Door)) }

func (f Fitted) weight() float64 { return cmp.Or(f.Weight, 1) }

func (f Fitted) sd() float64 { return cmp.Or(f.SD, DefaultSD) }

// check returns all that is wrong with one rib.
func (f Fitted) check() error {
	var errs []error
	within := func(what string, x, lo, hi float64) {
		if !unit.Finite(x) || x < lo || x > hi {
			errs = append(errs, fmt.Errorf("rib %q: %s %g: outside %g to %g", f.Label, what, x, lo, hi))
		}
	}
	within("station m", f.StationM, -MaxStationM, MaxStationM)
	within("steam end min", float64(f.Steam), float64(MinExposure), float64(MaxExposure))
	within("door end min", float64(f.Door), float64(MinExposure), float64(MaxExposure))
	within("weight", f.weight(), MinWeight, MaxWeight)
	within("standard deviation", f.sd(), MinSD, MaxSD)
	if !slices.Contains(Sides, f.Mark) {
		errs = append(errs, fmt.Errorf("rib %q: mark %q: port or starboard", f.Label, f.Mark))
	}
	return errors.Join(errs...)
}

// place is one station and the rib that stands there now.
type place struct {
	stationM float64
	xi       float64 // −1 at the foremost station, +1 at the aftmost
	rib      *Fitted // nil: none yet
	replaced bool    // the rib took another's place
}

// Hull is a boat's stations with the ribs fitted so far.
type Hull struct {
	places []place // from the bow
}

// whole returns a station in whole millimetres, by which stations are told apart.
func whole(stationM float64) float64 { return math.Round(stationM * 1000) }

// New returns the hull with ribs fitted in the order of work. The order matters
// only at one station: there the later rib replaced the earlier.
//
// stationsM are the stations of all ribs that she will have, in any order; none:
// those of the ribs fitted. Stations are told apart to the millimetre. The error
// joins all mistakes: values out of range, and ribs at no station.
func New(stationsM []float64, fitted []Fitted) (*Hull, error) {
	h := &Hull{}
	var errs []error
	for _, m := range stationsM {
		if !(math.Abs(m) <= MaxStationM) {
			errs = append(errs, fmt.Errorf("station m %g: outside %d to %d", m, -MaxStationM, MaxStationM))
		}
		h.add(m)
	}
	if len(stationsM) == 0 {
		for i := range fitted {
			h.add(fitted[i].StationM)
		}
	}
	if len(h.places) > MaxRibs {
		errs = append(errs, fmt.Errorf("%d stations: at most %d", len(h.places), MaxRibs))
	}
	slices.SortFunc(h.places, func(a, b place) int { return cmp.Compare(a.stationM, b.stationM) })
	h.measure()
	if err := errors.Join(append(errs, h.fit(fitted))...); err != nil {
		return nil, err
	}
	return h, nil
}

func (h *Hull) add(stationM float64) {
	same := func(p place) bool { return whole(p.stationM) == whole(stationM) }
	if !slices.ContainsFunc(h.places, same) {
		h.places = append(h.places, place{stationM: stationM})
	}
}

// measure sets where each station lies between the outermost two.
func (h *Hull) measure() {
	if len(h.places) < 2 {
		return
	}
	first, last := h.places[0].stationM, h.places[len(h.places)-1].stationM
	for i := range h.places {
		p := &h.places[i]
		p.xi = ((p.stationM - first) - (last - p.stationM)) / (last - first)
	}
}

// fit enters ribs and returns what is wrong with them.
func (h *Hull) fit(fitted []Fitted) error {
	var errs []error
	for i := range fitted {
		f := fitted[i]
		if err := f.check(); err != nil {
			errs = append(errs, err)
			continue
		}
		at, ok := h.index(f.StationM)
		if !ok {
			errs = append(errs, fmt.Errorf("rib %q: no station at %g m", f.Label, f.StationM))
			continue
		}
		p := &h.places[at]
		p.rib, p.replaced = &f, p.rib != nil
	}
	return errors.Join(errs...)
}

// index returns which station lies at stationM, counted from the bow.
func (h *Hull) index(stationM float64) (int, bool) {
	i := slices.IndexFunc(h.places, func(p place) bool { return whole(p.stationM) == whole(stationM) })
	return i, i >= 0
}

// Ribs returns how many stations have a rib and how many there are.
func (h *Hull) Ribs() (fitted, stations int) {
	for i := range h.places {
		if h.places[i].rib != nil {
			fitted++
		}
	}
	return fitted, len(h.places)
}
