package calibrate

import "math"

// Order says whether two probes hang at the ends that they are named for.
type Order int

// The zero Order is Untold: nothing happened that would show it, or the signs
// contradict each other.
const (
	Untold Order = iota
	AsNamed
	OtherWay // they are swapped
)

// What counts as a sign. In a warm-up the steam end is minutes ahead by the time it
// has risen half way (at the first few kelvin it may be seconds: TestSwappedRehearsed);
// an opened door takes several kelvin off the door end and little off the other
// (common practice, no source).
const (
	riseK     = 40.0 // a probe has risen once it is so far above its first readings
	leadS     = 30.0 // and first when it did so this much earlier; lags differ by less
	dipK      = 2.0  // an end dipped more when its fall is so much the greater
	dipLookS  = 45.0 // after a door was opened
	dipSinceS = 15.0 // from what it read so long before
)

// Swapped says whether the probes named for the steam end and the door end hang
// there, from what they read meanwhile: the steam end rises first, and the door end
// dips when the door is opened, at the times opened, in seconds on the traces' clock.
// How far either probe is off doesn't matter.
func Swapped(steam, door Trace, opened []float64) Order {
	signs := signOf(riseLead(steam, door), leadS)
	dips := 0
	for _, at := range opened {
		dips += signOf(dip(door, at)-dip(steam, at), dipK)
	}
	switch signs += signOf(float64(dips), 0.5); {
	case signs > 0:
		return AsNamed
	case signs < 0:
		return OtherWay
	}
	return Untold
}

// signOf is +1 from limit up, -1 from -limit down, else 0; NaN is 0.
func signOf(x, limit float64) int {
	switch {
	case x >= limit:
		return 1
	case x <= -limit:
		return -1
	}
	return 0
}

// riseLead returns how much earlier the steam end rose, s; the end that did not
// rise is as late as the trace goes. 0 when neither did.
func riseLead(steam, door Trace) float64 {
	s, d := roseAt(steam), roseAt(door)
	if math.IsInf(s, 1) && math.IsInf(d, 1) {
		return 0
	}
	return min(d, endOf(door)) - min(s, endOf(steam))
}

// roseAt returns when a probe had risen, +Inf if it never did.
func roseAt(t Trace) float64 {
	start := medianC(t[:min(edge, len(t))])
	for i := 1; i < len(t); i++ {
		if t[i].C >= start+riseK && t[i-1].C >= start+riseK { // twice: one bad reading is no rise
			return t[i].AtS
		}
	}
	return math.Inf(1)
}

func endOf(t Trace) float64 {
	if len(t) == 0 {
		return 0
	}
	return t[len(t)-1].AtS
}

// dip returns how far a probe fell after a moment, K; 0 where it wasn't watched.
func dip(t Trace, atS float64) float64 {
	var before, after Trace
	for _, s := range t {
		switch since := s.AtS - atS; {
		case since > -dipSinceS && since <= 0:
			before = append(before, s)
		case since > 0 && since <= dipLookS:
			after = append(after, s)
		}
	}
	if len(before) == 0 || len(after) < 3 {
		return 0
	}
	lowest := math.Inf(1)
	for i := 2; i < len(after); i++ {
		lowest = min(lowest, medianC(after[i-2:i+1]))
	}
	return medianC(before) - lowest
}
