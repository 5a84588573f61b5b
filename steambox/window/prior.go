package window

import (
	"fmt"
	"math"
	"slices"
	"time"

	"withy/steambox/soak"
)

// Dryness is how far a stick has dried since it was a tree.
type Dryness string

// The three states in which wood comes to the box.
const (
	Green     Dryness = "green"
	AirDried  Dryness = "air-dried"
	KilnDried Dryness = "kiln-dried"
)

// Drynesses lists them, wettest first.
var Drynesses = []Dryness{Green, AirDried, KilnDried}

// Kiln-dried wood has 6 to 10 % of moisture, air-dried 15 to 25 % (common practice);
// above fibre saturation no cell has dried yet (Wood Handbook, printed page 4-2).
const airDriedFromPct, greenFromPct = 12.0, 30.0

// DrynessAt returns what wood of a moisture, in percent of its dry mass, must be.
func DrynessAt(moisturePct float64) Dryness {
	switch {
	case moisturePct < airDriedFromPct:
		return KilnDried
	case moisturePct < greenFromPct:
		return AirDried
	}
	return Green
}

// All that is assumed before a stick has been bent, with the reason. None of it
// has been measured on ribs: it is common practice turned into numbers.
const (
	// Wet oak softens near 80 °C (measured); a little more for the middle of the rib.
	softC = 85.0
	// Ribs of 1/4 in fresh white oak get 4 to 8 min (common practice). At 4 the core
	// has been hot for about this long, and half the ribs bend.
	hold = 130 * time.Second
	// The rib that the hold belongs to.
	holdThicknessM = 0.00635
	// Between the thickness, as the rule of an hour per inch has it, and its square,
	// as heat has it: this power leads from 4 to 8 min at 1/4 in to half an hour
	// per inch for green wood at 1 in.
	holdPower = 1.4
	// An hour per inch is for air-dried wood and "half that for green"; kiln-dried
	// ash of about 1/4 in got 15 min (common practice).
	airDriedTimes  = 2.0
	kilnDriedTimes = 4.0
	// Wood at the shop's temperature.
	woodC = 15.0
	// Practices for one size differ by a factor of two either way.
	lnSoftSd = 0.6
	// 4 min are enough for thin oak and 8 not yet too much; some manage with 15. The
	// window's ends lie a factor of 2½ apart, or anything from 1½ to 5½.
	gapMedian, lnGapSd = 0.9, 0.5
	// An earlier stick of the same kind moves where the search begins, but a stick is
	// a tree of its own.
	earlierSd = 0.4
	// Per rib of a run, in ln: two dozen wander by 15 %. Builders find that the time
	// which works shortens on the way (common practice).
	driftSd = 0.03
	// Underdone wood gives nothing, and splits outside if forced. Overdone wood is
	// stiff or brittle in about equal parts.
	stiffOfUnder, stiffOfOver = 0.7, 0.6
	// One rib in a boat of two dozen cracks by its grain, whatever the soak; what else
	// breaks, 1 to 4 in all (common practice), is the soak's.
	grainShare = 0.04
	// Outside splits mean underdone, wrinkles inside and clean breaks overdone, say
	// most; there is dissent, so three to one.
	whereShare = 0.75
	// A good rib is seldom reported, and neither is a bad one by full hands.
	untoldWeight = 0.25
	// Somebody means another rib. It also keeps contradictory bends reckonable.
	slip = 0.002
)

// spreads are the standard deviations from piece to piece of one stick, in ln of
// the exposure, that are thought of: a clear stick to a mixed one.
var spreads = [...]float64{0.06, 0.10, 0.16, 0.25}

// Prior is what is believed of a stick before any of it was bent.
type Prior struct {
	Soft soak.Exposure // from which half the pieces are soft enough, median
	LnSd float64       // of Soft in its logarithm
}

// Start returns the prior for a rib as a describes it, of a dryness: the core's
// way to 85 °C in steam of 100 °C, and then a time that grows with thickness and
// dryness, both turned into exposure by package soak. Errors wrap wood.ErrRange,
// or say which drynesses there are.
func Start(a soak.Assumed, d Dryness) (Prior, error) {
	times := map[Dryness]float64{Green: 1, AirDried: airDriedTimes, KilnDried: kilnDriedTimes}[d]
	if times == 0 {
		return Prior{}, fmt.Errorf("dryness %q is not one of %v", d, Drynesses)
	}
	m, err := soak.NewModel(a)
	if err != nil {
		return Prior{}, err
	}
	h := soak.NewHeat(m, 0, 1, 2, woodC, steam)
	core := &h.Points[0].Track[soak.Best]
	for core.CoreC < softC {
		h.Advance(m, time.Second, steam, soak.Whole)
	}
	times *= math.Pow(a.Section.ThicknessM/holdThicknessM, holdPower)
	h.Advance(m, time.Duration(times*float64(hold)), steam, soak.Whole)
	return Prior{Soft: core.Exposure, LnSd: lnSoftSd}, nil
}

// steam is saturated at sea level, at two points.
var steam = slices.Repeat([]soak.Air{{C: [soak.Bounds]float64{100, 100, 100}}}, 2)

// After returns where the search begins on a stick of the same kind as an earlier
// one, of which this was learnt: the centre moves, most of the doubt stays.
func (p Prior) After(soft Interval) Prior {
	const sigmas = 2.563 // between the ends of an 80 % interval
	sd := math.Log(float64(soft.Hi/soft.Lo)) / sigmas
	return Prior{Soft: soft.Median, LnSd: max(earlierSd, min(p.LnSd, sd))}
}
