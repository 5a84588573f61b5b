package pace

import "time"

// Out is how long a rib can be worked, counted from the pull.
type Out struct {
	Bend   time.Duration // bent over the knee or the form
	Shape  time.Duration // in the boat and in its shape
	Give   time.Duration // it still gives a little
	Adjust time.Duration // small changes, and no more
}

// usual is common practice at 6 to 7 mm in a shop of 15 °C, no source: about seven
// seconds to bend, seven to shape, some give to half a minute, small changes to two.
var usual = Out{7 * time.Second, 14 * time.Second, 30 * time.Second, 2 * time.Minute}

// UsualThicknessM and UsualShopC are the rib and the shop that common practice
// speaks of, in metres and °C.
const (
	UsualThicknessM = 0.0065
	UsualShopC      = 15.0
)

// OutOf returns the times of a rib that keeps its heat keeps times as long as the
// usual one.
func OutOf(keeps float64) Out {
	scale := func(d time.Duration) time.Duration { return time.Duration(float64(d) * keeps) }
	return Out{scale(usual.Bend), scale(usual.Shape), scale(usual.Give), scale(usual.Adjust)}
}
