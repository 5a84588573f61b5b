package boiler

import "math"

// pullNearS is how long before a pull the crew has eyes and hands for nothing else
// (common practice, no source).
const pullNearS = 20

// KettleAt returns in how many seconds the backup kettle is to be called for: at the
// latest moment that leaves leadS before the water may be gone, in dryEarlyS at the
// early bound, and that does not fall on a pull. pulls are the seconds to each
// expected pull, in any order, a pull just made with its negative; a pull is busy
// from 20 s before it to busyS after.
//
// Water comes before ribs: where pulls leave no free moment before the latest one,
// that one is returned. 0 is now, and also what is too late.
func KettleAt(dryEarlyS, leadS float64, pulls []float64, busyS float64) float64 {
	latest := max(0, dryEarlyS-leadS)
	at := latest
	for moved := true; moved; {
		moved = false
		for _, p := range pulls {
			if at > p-pullNearS && at < p+busyS {
				at, moved = p-pullNearS, true
			}
		}
	}
	if at < 0 {
		return latest
	}
	return at
}

// Break is a break planned for a boiler that can't be filled hot: stop loading, last
// rib out, heat off, wait, fill, warm up again. All count in seconds from now.
type Break struct {
	Loads    int     // ribs that may still go in
	LastInS  float64 // when the last of them goes in; 0 where Loads is
	LastOutS float64 // when the last rib of all is out of the box
	HeatOffS float64 // when the heat must be off at the latest
	InTime   bool    // the last rib is out by then
}

// Going is how ribs are going through the box, as PlannedBreak needs it.
type Going struct {
	NextInS   float64   // seconds to the next load
	IntervalS float64   // from one load to the next
	SoakS     float64   // that a rib loaded from now on takes to be ready
	PullsS    []float64 // seconds to the pull of each rib in the box, in any order
	BusyS     float64   // that a pull takes until the rib is out and the door shut
}

// PlannedBreak returns the break that a closed tank needs: its heat goes off
// marginS before the water may be gone, in dryEarlyS at the early bound, and no rib
// goes in that would not be out by then.
func PlannedBreak(dryEarlyS, marginS float64, g Going) Break {
	b := Break{HeatOffS: max(0, dryEarlyS-marginS)}
	for _, p := range g.PullsS {
		b.LastOutS = max(b.LastOutS, p+g.BusyS)
	}
	room := b.HeatOffS - g.SoakS - g.BusyS - g.NextInS
	if room >= 0 && g.IntervalS > 0 {
		b.Loads = 1 + int(math.Floor(room/g.IntervalS))
		b.LastInS = g.NextInS + float64(b.Loads-1)*g.IntervalS
		b.LastOutS = max(b.LastOutS, b.LastInS+g.SoakS+g.BusyS)
	}
	b.InTime = b.LastOutS <= b.HeatOffS
	return b
}
