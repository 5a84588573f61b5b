// Package steambox is one box with the ribs in it: what has happened to it, what
// is known of it now, and what the crew should do next. A Session is the fold of
// its events; it does no I/O and knows no clock.
package steambox

import (
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/unit"
)

// Surroundings is what the air in the box can be at most and at least.
type Surroundings struct {
	BoilingC      float64 // where the box stands, °C
	BoilingDoubtK float64 // 0 with a barometer, about 0.3 K without
	ShopC         float64 // of the air around the box, °C
}

// SeenIn says how much of the air could be seen, by its quality.
func SeenIn(q profile.Quality) soak.Seen {
	return [...]soak.Seen{soak.Whole, soak.Partly, soak.Blind}[q]
}

// AirAt returns the air at x under each bound. Blind, the lower bound is the
// shop's and the upper one the hottest that steam can be here.
func AirAt(a *profile.Air, s Surroundings, x unit.Metre, seen soak.Seen) soak.Air {
	c, spread := a.At(x)
	hottest := s.BoilingC + s.BoilingDoubtK
	if seen == soak.Blind {
		return soak.Air{C: [soak.Bounds]float64{min(s.ShopC, c), c, max(hottest, c)}}
	}
	return soak.Air{C: [soak.Bounds]float64{c - spread, c, max(c, min(c+spread, hottest))}}
}

// NewSurroundings returns the surroundings under an air pressure in pascal.
// measured says that a barometer read it; else it comes from an altitude and the
// weather moves it by 1 K of boiling point (common practice: 97 to 104 kPa at sea
// level).
func NewSurroundings(pressurePa float64, measured bool, shopC float64) (Surroundings, error) {
	boils, err := steam.BoilingPoint(pressurePa)
	if err != nil {
		return Surroundings{}, err
	}
	s := Surroundings{BoilingC: float64(boils), ShopC: shopC}
	if !measured {
		s.BoilingDoubtK = 1
	}
	return s, nil
}
