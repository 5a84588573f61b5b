package calibrate

// What a probe that somebody warms in a hand does, and what others beside it don't
// (common practice, no source): a hand is 15 K warmer than a shed and more, and a probe
// in it is half way there within a quarter of a minute.
const (
	warmedK = 2
	sameK   = 1
)

// Held returns which of several probes somebody is warming: the one that has risen by
// warmedK above its own coolest, while no other has by sameK. ok is false while there is
// none, or they rise together.
func Held(traces []Trace) (probe int, ok bool) {
	probe = -1
	for i, t := range traces {
		switch rise := t.risen(); {
		case rise >= warmedK && probe < 0:
			probe = i
		case rise >= sameK:
			return -1, false
		}
	}
	return probe, probe >= 0
}

// risen is how far a probe is above the coolest that it was.
func (t Trace) risen() float64 {
	if len(t) == 0 {
		return 0
	}
	coolest := t[0].C
	for _, s := range t {
		coolest = min(coolest, s.C)
	}
	return t[len(t)-1].C - coolest
}
