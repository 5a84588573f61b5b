package sensor

import (
	"fmt"
	"time"

	"withy/steambox/unit"
)

// Sample is what one read of one probe gave, before anybody believes it.
type Sample struct {
	Probe string
	// At is when the read ended.
	At time.Duration
	// Milli is the value in thousandths of a degree Celsius.
	Milli int
	// Pad is the scratchpad the value came from, nil where the kernel did not
	// show it.
	Pad *Scratchpad
	// Proven is set where no failure of the source looks like this value.
	Proven bool
	// Fault is set when the read gave no value.
	Fault *Fault
}

// Limits of what the DS18B20 measures, which serve for every other probe too, and the two
// values it or the bus gives for other reasons, in thousandths of a degree. Source:
// DS18B20 data sheet, table 1; w1_therm.c for the supply's 0x07FF.
const (
	minMilli      = -55000
	maxMilli      = 125000
	lowPowerMilli = 127937 // the supply sagged during conversion
	powerOnMilli  = 85000  // never converted, or truly 85 °C
	deadMilli     = 0      // data line held low, or truly 0 °C
)

// Two samples vouch for each other when they are no more than nearMilli apart in
// value and nearTime in time. A probe with a time constant of 10 s moves 1.5 K in a
// second as it passes 85 °C in steam.
const (
	nearMilli = 5000
	nearTime  = 10 * time.Second
)

// Judge decides which values to believe, one probe beside its own past and
// the other probes. It holds no clock and does no I/O. Not safe for
// concurrent use.
//
// Two values are legal temperatures and also what a failure looks like: 85.000 °C is
// held by a chip that never converted, 0.000 °C is read off a data line held
// low. The box passes 85 °C on every warm-up and probes are calibrated in
// ice, so neither can be thrown away. Such a value is believed at once when it is
// near the one before, or when its scratchpad proves it. Otherwise
// it is held back until the next sample: near that, it was true;
// else it is a fault. So a true value is never lost, only late by one sample.
//
// A sudden change to any other value is believed: the CRC guards against
// damage on the wire, and a lid opened in front of a bare probe is sudden.
type Judge struct {
	probes map[string]*track
}

// track is what the judge remembers of one probe.
type track struct {
	last  *Sample // the newest value believed
	doubt *Sample // a value held back
	still stillness
}

// NewJudge returns a judge who has seen nothing yet.
func NewJudge() *Judge { return &Judge{probes: map[string]*track{}} }

// Doubts reports whether the newest value of a probe is held back. A read of
// its scratchpad, added as the next sample, decides.
func (j *Judge) Doubts(probe string) bool { return j.track(probe).doubt != nil }

// Add takes a probe's next sample and returns the readings it decides, oldest
// first: usually one; none when the sample is held back; two when it
// also decides the one held back before it. Samples of one probe must come in
// order of time.
func (j *Judge) Add(s Sample) []Reading {
	t := j.track(s.Probe)
	if s.Fault == nil {
		s.Fault = s.impossible()
	}
	var out []Reading
	if d := t.doubt; d != nil {
		t.doubt = nil
		out = append(out, j.settle(t, *d, s))
	}
	switch {
	case s.Fault != nil:
		return append(out, s.reading())
	case s.twoFaced() && !s.proven() && !near(t.last, &s):
		t.doubt = &s
		return out
	}
	return append(out, j.believe(t, s))
}

func (j *Judge) track(probe string) *track {
	t := j.probes[probe]
	if t == nil {
		t = &track{}
		j.probes[probe] = t
	}
	return t
}

// settle decides a value held back by the sample after it. Another doubtful
// value vouches for nothing: a chip that loses its supply at each conversion
// says 85.000 every time.
func (j *Judge) settle(t *track, d, next Sample) Reading {
	vouches := next.Fault == nil && (!next.twoFaced() || next.proven())
	if vouches && near(&d, &next) {
		return j.believe(t, d)
	}
	kind := PowerOn
	if d.Milli == deadMilli {
		kind = Shorted
	}
	d.Fault = faultf(kind, "%s %s", d, t.before())
	return d.reading()
}

// before words the value that a rejected one came after.
func (t *track) before() string {
	if t.last == nil {
		return "as the first value"
	}
	return "after " + t.last.String()
}

// believe enters a value into the probe's past and returns it as a reading,
// unless the probe has not moved for too long.
func (j *Judge) believe(t *track, s Sample) Reading {
	j.watch(t, s)
	t.last = &s
	r := s.reading()
	r.Fault = j.stuck(t, s)
	return r
}

// impossible returns the fault of a value that cannot be true whatever the
// neighbours say.
func (s Sample) impossible() *Fault {
	switch {
	case s.Pad != nil && s.Pad.Dead():
		return faultf(Shorted, "scratchpad all zero")
	case s.Pad != nil && s.Pad.PowerOn():
		return faultf(PowerOn, "scratchpad % x", s.Pad[:])
	case s.Milli == lowPowerMilli && !s.Proven:
		return faultf(LowPower, "%s", s)
	case s.Milli < minMilli || s.Milli > maxMilli:
		return faultf(OutOfRange, "%s", s)
	}
	return nil
}

// twoFaced reports whether the value is one that failures give as well.
func (s Sample) twoFaced() bool { return s.Milli == powerOnMilli || s.Milli == deadMilli }

// proven reports whether the source or the scratchpad shows that the value was measured. A
// scratchpad does not where its register counts in other steps than the DS18B20's.
func (s Sample) proven() bool { return s.Proven || s.Pad != nil && s.Pad.Milli() == s.Milli }

// near reports whether two samples, a before b, vouch for each other.
func near(a, b *Sample) bool {
	return a != nil && b.At-a.At <= nearTime && distance(a.Milli, b.Milli) <= nearMilli
}

func distance(a, b int) int { return max(a-b, b-a) }

func (s Sample) reading() Reading {
	r := Reading{Probe: s.Probe, At: s.At, Fault: s.Fault}
	if s.Fault == nil {
		r.Temp = unit.Celsius(s.Milli) / 1000
	}
	return r
}

// String returns the value with all the digits the kernel gave.
func (s Sample) String() string { return fmt.Sprintf("%.3f °C", float64(s.Milli)/1000) }
