package calibrate

import (
	"errors"
	"fmt"
	"math"

	"withy/steambox/profile"
	"withy/steambox/unit"
)

// Spot is what three corrected probes read at rest: the two at the ends and one
// that was carried to a place between them.
type Spot struct {
	XM               float64 // m from the steam end's probe
	SteamC, DoorC, C float64 // °C
}

// Shares that a survey may come to; beyond them the carried probe lay somewhere else,
// or in the inlet's jet. They are those of the box's settings.
const minShare, maxShare = -1, 2

// ErrEndsAlike says that the two ends differ too little to place anything between
// them.
var ErrEndsAlike = errors.New("the ends differ less than the probes can tell")

// ErrShare says that the carried probe read what no place between the ends has.
var ErrShare = errors.New("far outside what the ends read")

// Share returns how far the air at the spot stands from the steam end's
// temperature to the door end's, and the half width of what that may be off by when
// each probe may be by eachK. Errors wrap [ErrEndsAlike] or [ErrShare].
func (s Spot) Share(eachK unit.Kelvin) (share, within float64, err error) {
	fall := s.SteamC - s.DoorC
	tellK := 2 * float64(eachK)
	if !(math.Abs(fall) >= tellK) {
		return 0, 0, fmt.Errorf("%.2f K from end to end: %w, %.1f K", math.Abs(fall), ErrEndsAlike, tellK)
	}
	share = (s.SteamC - s.C) / fall
	if !(share >= minShare && share <= maxShare) {
		return 0, 0, fmt.Errorf("share %.2f at %v: %w", share, unit.Metre(s.XM), ErrShare)
	}
	return share, tellK / math.Abs(fall), nil
}

// Knots returns the survey that the spots come to, which must rise from the steam
// end. All that is wrong with them is reported together.
func Knots(spots []Spot, eachK unit.Kelvin) ([]profile.Knot, error) {
	var out []profile.Knot
	var errs []error
	for _, s := range spots {
		share, _, err := s.Share(eachK)
		errs = append(errs, err)
		out = append(out, profile.Knot{X: unit.Metre(s.XM), Share: share})
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return out, nil
}

// SlotOffset returns how much hotter the air of a slot is than the box's at the same
// place, K, for a spot in that slot, probes at the two places ends, and the box's
// survey, which may be empty.
func SlotOffset(s Spot, ends [2]unit.Metre, survey []profile.Knot) (float64, error) {
	air, err := profile.New(profile.Shape{X: ends[:], Survey: survey})
	if err != nil {
		return 0, err
	}
	air.Update([]profile.Reading{{C: s.SteamC, OK: true}, {C: s.DoorC, OK: true}}, 1)
	box, _ := air.At(unit.Metre(s.XM))
	return s.C - box, nil
}
