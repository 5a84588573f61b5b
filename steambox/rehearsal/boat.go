package rehearsal

import (
	"math"
	"strconv"

	"withy/steambox/unit"
)

// Boat is the boat that is being ribbed in the rehearsal, and where.
type Boat struct {
	Name, Shop string
	Stick      string // the stick of wood that all her ribs are cut from
	Species    string // as in the Forest Service's common names, with hyphens
}

// TheBoat returns the rehearsal's boat. She, the shop and the stick are invented.
func TheBoat() Boat {
	return Boat{Name: "Marsh Lantern", Shop: "the Quill Slip", Stick: "Lower Hanger 3", Species: "white-oak"}
}

// Rib is a rib as cut: what the rib table says of it.
type Rib struct {
	Label     string // "1" at the bow to "24" at the stern
	Stick     string
	Length    unit.Metre
	Thickness unit.Metre
	Width     unit.Metre
	Station   unit.Metre // along the keel, from the bow
	Bend      Difficulty
}

const (
	planRibs = 24
	spacingM = 0.165
	bowM     = 0.48 // first rib from the stem
)

// Plan returns the boat's ribs in loading order: amidships first, where the
// bends are easy, then by turns towards the ends.
func Plan() []Rib {
	plan := make([]Rib, 0, planRibs)
	for step := range planRibs {
		i := planRibs/2 + (step+1)/2 // 12, 11, 13, 10, ... counted from 0
		if step%2 == 1 {
			i = planRibs/2 - (step+1)/2
		}
		plan = append(plan, planRib(i))
	}
	return plan
}

// planRib is rib i, counted from 0 at the bow. The girths run smoothly from
// 1,180 mm amidships to 880 mm at the bow and some more at the stern.
func planRib(i int) Rib {
	xi := 2*float64(i)/(planRibs-1) - 1 // -1 at the bow
	drop := 300.0
	if xi > 0 {
		drop = 260
	}
	mm := math.Round(1180 - drop*math.Pow(math.Abs(xi), 2.2))
	return Rib{
		Label: strconv.Itoa(i + 1), Stick: TheBoat().Stick,
		Length: unit.Metre(mm / 1000), Thickness: 0.0065, Width: 0.028,
		Station: unit.Metre(math.Round(1000*(bowM+spacingM*float64(i))) / 1000), Bend: sharpness(math.Abs(xi)),
	}
}

// sharpness grows towards the ends, where the sections turn quicker.
func sharpness(xi float64) Difficulty {
	switch {
	case xi < 0.55:
		return Easy
	case xi < 0.85:
		return Middling
	}
	return Hard
}
