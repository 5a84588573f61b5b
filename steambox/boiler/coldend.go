package boiler

import (
	"cmp"
	"math"
	"slices"
)

// Cause is why a door end is colder than it should be. Whatever it is, the vent and
// the drain stay open.
type Cause string

// The causes, in the order in which they are to be thought of: a leak is looked for
// only after the crew's own pace, because who hears of a leak stuffs gaps.
const (
	LoadingTooFast Cause = "loading-too-fast" // it falls with each load and comes back between
	AirNotOut      Cause = "air-not-out"      // the box has not steamed for long enough
	DoorLeak       Cause = "door-leak"        // cold all the time, and more so in a wind
	HoseFull       Cause = "hose-full"        // water in a kinked or sagging hose: the steam end falls though the boiler boils
)

// causes is how likely each is before anything was seen (common practice, no source).
var causes = [...]Suspect{{LoadingTooFast, 0.4}, {AirNotOut, 0.2}, {DoorLeak, 0.25}, {HoseFull, 0.15}}

// Suspect is a cause with its chance, 0 to 1; the chances of all add up to 1.
type Suspect struct {
	Cause  Cause   `json:"cause"`
	Chance float64 `json:"chance"`
}

// ColdEnd is what was seen of a box whose door end is cold.
type ColdEnd struct {
	Loads      int     // seen lately; 0: the next three say nothing
	AfterLoadK float64 // how much further the door end falls behind after a load, at worst
	RecoverS   float64 // until it is back within 1 K of where it was before a load
	IntervalS  float64 // from one load to the next
	Steady     bool    // the box was left alone for five minutes or more, so that SteadyK says something
	SteadyK    float64 // door end behind the steam end then
	SwingK     float64 // how far the door end wanders within a minute then: wind
	SteamLowK  float64 // steam end under the boiling point
	SteamFallK float64 // how far the steam end fell in the last five minutes, nobody having loaded
	Boiling    bool    // the boiler is known to boil: heard, or the level sinks
	SteamS     float64 // since steam first reached the box
}

// Levels that the marks of each cause are judged by, with the width over which the
// judgement turns (common practice, no source). Ends 8 K apart are an alarm; half of
// that at rest, with nobody at the door, is not the loading's doing.
var (
	marksDip     = mark{2.5, 0.7}  // K after a load
	marksHurry   = mark{0.7, 0.15} // recovery as a share of the interval
	marksSteady  = mark{4, 1}      // K at rest
	marksWind    = mark{1, 0.3}    // K within a minute
	marksNoSteam = mark{4, 1}      // K that the steam end is low
	marksFalling = mark{1.5, 0.5}  // K that it fell
	marksLate    = mark{20, 3}     // min of steam, by which a box has been blown through
)

// mark says how plainly a measure speaks: 0 well below its level, 1 well above.
type mark struct{ level, width float64 }

func (m mark) of(x float64) float64 { return 1 / (1 + math.Exp((m.level-x)/m.width)) }

// Diagnose returns the causes, the likeliest first; of equals the one to be thought
// of first.
func (c ColdEnd) Diagnose() [len(causes)]Suspect {
	out := causes
	sum := 0.0
	for i := range out {
		out[i].Chance *= 0.01 + c.speaksFor(out[i].Cause) // nothing is ever ruled out
		sum += out[i].Chance
	}
	for i := range out {
		out[i].Chance /= sum
	}
	slices.SortStableFunc(out[:], func(a, b Suspect) int { return cmp.Compare(b.Chance, a.Chance) })
	return out
}

// speaksFor returns how well what was seen fits a cause, 0 to 1.
func (c ColdEnd) speaksFor(cause Cause) float64 {
	cold, noSteam := 0.5, marksNoSteam.of(c.SteamLowK) // half: not seen at rest
	if c.Steady {
		cold = marksSteady.of(c.SteadyK)
	}
	late := marksLate.of(c.SteamS / 60)
	switch cause {
	case LoadingTooFast:
		return c.dips() * (1 - cold) * (1 - noSteam)
	case AirNotOut:
		return cold * (1 - late) * (1 - noSteam)
	case DoorLeak:
		return cold * late * (0.6 + 0.4*marksWind.of(c.SwingK)) * (1 - noSteam)
	}
	if !c.Boiling { // then the boiler itself is to be looked at
		return 0
	}
	return noSteam * marksFalling.of(c.SteamFallK)
}

// dips returns how plainly the loads show.
func (c ColdEnd) dips() float64 {
	if c.Loads == 0 || c.IntervalS <= 0 {
		return 0
	}
	return marksDip.of(c.AfterLoadK) * (0.4 + 0.6*marksHurry.of(c.RecoverS/c.IntervalS))
}
