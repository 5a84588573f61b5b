// Package calibrate finds out how far each probe is off, how slowly it follows
// and which end of the box it hangs at, from what it reads where the truth is
// known: in boiling water, in melting ice, in the step from the shed's air into
// steam, and carried along a steady box.
//
// It judges readings that others took; when to read, what to say and where to
// keep the result is decided elsewhere.
package calibrate

import (
	"fmt"

	"withy/steambox/steam"
	"withy/steambox/unit"
)

// Place is where the tips lie together.
type Place string

// The places whose temperature is known. In a box air may still be among the
// steam, so a pot is the better one.
const (
	Pot Place = "pot" // open, at a rolling boil
	Box Place = "box" // at rib height, in the last minutes of warm-up
	Ice Place = "ice" // melting, crushed, stirred with a little water
)

// Steam is no place to be compared in, but to be put into at one stroke, from the shed's
// air: a bath of that sort finds how slowly each probe follows.
const Steam Place = "steam"

// Places lists them, the best first.
var Places = []Place{Pot, Box, Ice}

// Source says where the pressure that a boiling point was reckoned from came from.
type Source string

// The sources of a pressure.
const (
	Barometer Source = "barometer" // read where the box stands
	Altitude  Source = "altitude"  // of the standard atmosphere; weather moves it by 3 %
)

// Truth is what the tips are truly at.
type Truth struct {
	Place      Place        `json:"place"`
	C          unit.Celsius `json:"true_c"`
	WithinK    unit.Kelvin  `json:"within_k"`              // half width of what C may be off by
	PressurePa float64      `json:"pressure_pa,omitempty"` // 0 for ice
	Source     Source       `json:"pressure_from,omitempty"`
}

// How far a truth may be off. Weather between 970 and 1040 hPa at sea level is
// 98.76 to 100.71 °C, so one kelvin either way of the standard 99.97. One in a
// thousand of the pressure, a shed's barometer, is 0.03 K; a boil that rolls
// keeps within a tenth (common practice, no source). Air of 3 % among the steam of
// a box takes 0.9 K off (Dalton: saturated at 99.1 °C).
const (
	boilWithinK    = 0.1
	weatherWithinK = 1
	airWithinK     = 1
	iceWithinK     = 0.1
)

// Boiling returns the truth of a place where water boils under pa pascal.
//
// The pressure must lie within 50 to 110 kPa, those of the box; outside it the
// error wraps [steam.ErrRange].
func Boiling(place Place, pa float64, source Source) (Truth, error) {
	if !(pa >= 50e3 && pa <= 110e3) {
		return Truth{}, fmt.Errorf("pressure %g Pa: %w (50000 to 110000)", pa, steam.ErrRange)
	}
	c, err := steam.BoilingPoint(pa)
	if err != nil {
		return Truth{}, err
	}
	t := Truth{Place: place, C: c, WithinK: boilWithinK, PressurePa: pa, Source: source}
	if source != Barometer {
		t.WithinK += weatherWithinK
	}
	if place == Box {
		t.WithinK += airWithinK
	}
	return t, nil
}

// Melting returns the truth of melting ice: 0 °C at any pressure that a shed has.
func Melting() Truth { return Truth{Place: Ice, WithinK: iceWithinK} }

// Reading is what one probe read at rest.
type Reading struct {
	ID string
	C  float64 // °C, uncorrected
}

// Offset is how far one probe was off among others in one place.
type Offset struct {
	ID      string  `json:"id"`
	ReadC   float64 `json:"read_c"`   // °C at rest
	OffK    float64 `json:"off_k"`    // to be added for the truth; as good as the truth is
	BesideK float64 `json:"beside_k"` // to be added for the mean of the probes beside it: needs no truth, so it is exact
}

// Compare returns how far each probe is off, in the order of the readings, and
// what makes that hard to believe. With any doubt nothing should be kept.
func Compare(t Truth, read []Reading) ([]Offset, []Doubt) {
	mean := meanOf(read)
	out := make([]Offset, len(read))
	for i, r := range read {
		out[i] = Offset{ID: r.ID, ReadC: r.C, OffK: float64(t.C) - r.C, BesideK: mean - r.C}
	}
	return out, doubts(t, read)
}

// Elsewhere reports whether the tips are so far from the truth that they can't
// have been put there yet: in the shed's air, in a pot that only warms.
func Elsewhere(t Truth, read []Reading) bool {
	off := unit.Celsius(meanOf(read)).Sub(t.C)
	return off > t.farK() || off < -t.farK()
}

// farK is how far from the truth says that the tips are somewhere else. Ice must be
// told from a cool shed, boiling only from a pot that warms.
func (t Truth) farK() unit.Kelvin {
	if t.Place == Ice {
		return 5
	}
	return 20
}

func meanOf(read []Reading) float64 {
	var sum float64
	for _, r := range read {
		sum += r.C
	}
	return sum / float64(max(1, len(read)))
}

// Line is what is added to a probe's readings: OffsetK where it reads 100 °C, IceK
// where it reads 0, in a straight line between and beyond.
type Line struct {
	OffsetK, IceK float64
}

// Through returns the line through how far a probe was off at the boil, and in ice
// if that was tried; nil: the same everywhere. The boil need not be at 100 °C:
// on a mountain the line is drawn on to there.
func Through(boil Offset, ice *Offset) Line {
	if ice == nil || !(boil.ReadC-ice.ReadC > 1) {
		return Line{OffsetK: boil.OffK, IceK: boil.OffK}
	}
	slope := (boil.OffK - ice.OffK) / (boil.ReadC - ice.ReadC)
	at := func(c float64) float64 { return boil.OffK + slope*(c-boil.ReadC) }
	return Line{OffsetK: at(100), IceK: at(0)}
}

// Correct returns what a probe that reads c °C means.
func (l Line) Correct(c float64) float64 { return c + l.IceK + (l.OffsetK-l.IceK)*c/100 }
