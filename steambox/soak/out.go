package soak

import (
	"time"

	"withy/steambox/unit"
)

// slowest is the longest that cooling or heating again is followed.
const slowest = 30 * time.Minute

// Cools returns how long wood that is fromC °C throughout takes, pulled into air of
// shopC °C, until its core is toC °C; 30 min where it never is.
func (m *Model) Cools(fromC, toC, shopC float64) time.Duration {
	h := NewHeat(m, 0, 1, 2, fromC, evenly(2, fromC))
	h.Pull(m, shopC)
	shop := evenly(2, shopC)
	passed := time.Duration(0)
	for ; passed < slowest && h.Points[0].Track[Best].CoreC > toC; passed += time.Second {
		h.Advance(m, time.Second, shop, Whole)
	}
	return passed
}

// Reheats returns how long a rib that was pulled and goes back into air of airC °C
// now takes until its core is within a K of it all along, false if that is longer
// than half an hour.
//
// About two minutes for a thin rib: common practice, no source (TestReheats).
func (h *Heat) Reheats(m *Model, airC float64, within unit.Kelvin) (time.Duration, bool) {
	back := Heat{Place: h.Place, Points: append([]Point{}, h.Points...), Cold: h.Cold}
	air := evenly(len(h.Points), airC)
	back.PutBack(m, air)
	for passed := time.Duration(0); passed <= slowest; passed += time.Second {
		if back.coldestCore() >= airC-float64(within) {
			return passed, true
		}
		back.Advance(m, time.Second, air, Whole)
	}
	return 0, false
}

func (h *Heat) coldestCore() float64 {
	c := h.Points[0].Track[Best].CoreC
	for i := range h.Points {
		c = min(c, h.Points[i].Track[Best].CoreC)
	}
	return c
}

// evenly is air of c °C at n points, under every bound.
func evenly(n int, c float64) []Air {
	air := make([]Air, n)
	for i := range air {
		air[i] = Air{[Bounds]float64{c, c, c}}
	}
	return air
}
