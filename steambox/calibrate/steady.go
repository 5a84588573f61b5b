package calibrate

import (
	"math"
	"slices"

	"withy/steambox/median"
)

// Sample is what a probe read at one moment.
type Sample struct {
	AtS float64 // s, on any clock that only goes forward
	C   float64 // °C
}

// Trace is what one probe read, in order of time. Gaps are allowed.
type Trace []Sample

// Rule says when a probe is at rest.
type Rule struct {
	ForS         float64 // s that it must have been watched without a gap
	BandK        float64 // K that eight in ten of its readings must lie within
	SlopeKPerMin float64 // K/min that it may still go, either way
}

// The rules. A band is four or more of the DS18B20's steps of 1/16 K; a rolling
// boil plays about as much (common practice, no source).
var (
	// Calm is for a calibration: three minutes, in which the slope allowed adds
	// up to 0.15 K.
	Calm = Rule{ForS: 180, BandK: 0.25, SlopeKPerMin: 0.05}
	// Carried is for a probe that is carried along a box whose steam plays.
	Carried = Rule{ForS: 120, BandK: 0.5, SlopeKPerMin: 0.1}
	// Arrived is for the end of a step: what is left of it is less than a slope
	// of 1 K/min times the probe's lag.
	Arrived = Rule{ForS: 30, BandK: 1, SlopeKPerMin: 1}
)

// maxGapS is the longest silence that a watch stands, in seconds: eight probes read
// one after the other take 6.
const maxGapS = 10

// Rest is how still a probe has been.
type Rest struct {
	Steady       bool
	C            float64 // °C, mean of the middle eight in ten readings of the last half
	BandK        float64 // K that the middle eight in ten of all span
	SlopeKPerMin float64
}

// Judge returns how still the last r.ForS seconds of a trace were. A trace that is
// shorter, or has a gap there, is not steady; the rest of the answer is then of
// what there is.
//
// The slope is the median of all slopes between the means of ten parts of
// that time (Theil–Sen): means, because single readings stand on steps of
// 1/16 K; the median, so that one bad part can't turn it.
func (r Rule) Judge(t Trace) Rest {
	if len(t) == 0 {
		return Rest{}
	}
	from := t[len(t)-1].AtS - r.ForS
	begin := len(t) - 1
	whole := true
	for begin > 0 && t[begin].AtS > from {
		whole = whole && t[begin].AtS-t[begin-1].AtS <= maxGapS
		begin--
	}
	whole = whole && t[begin].AtS <= from
	part := t[begin:]
	var out Rest
	_, out.BandK = middle(part)
	// The first readings may still be on their way up, as far as the band allows.
	out.C, _ = middle(part[len(part)/2:])
	out.SlopeKPerMin = 60 * slope(parts(part))
	out.Steady = whole && out.BandK <= r.BandK && math.Abs(out.SlopeKPerMin) <= r.SlopeKPerMin
	return out
}

// middle returns the mean and the span of the middle eight in ten readings.
func middle(t Trace) (mean, span float64) {
	c := make([]float64, len(t))
	for i, s := range t {
		c[i] = s.C
	}
	slices.Sort(c)
	cut := len(c) / 10
	c = c[cut : len(c)-cut]
	for _, x := range c {
		mean += x
	}
	return mean / float64(len(c)), c[len(c)-1] - c[0]
}

// partsOf is into how many parts a trace is cut to see its slope.
const partsOf = 10

// parts returns the means of ten equal spans of time; those without a sample are
// left out.
func parts(t Trace) Trace {
	from, span := t[0].AtS, t[len(t)-1].AtS-t[0].AtS
	var sum [partsOf]Sample
	var n [partsOf]float64
	for _, s := range t {
		i := 0
		if span > 0 {
			i = min(int(partsOf*(s.AtS-from)/span), partsOf-1)
		}
		sum[i].AtS, sum[i].C, n[i] = sum[i].AtS+s.AtS, sum[i].C+s.C, n[i]+1
	}
	var out Trace
	for i := range sum {
		if n[i] > 0 {
			out = append(out, Sample{AtS: sum[i].AtS / n[i], C: sum[i].C / n[i]})
		}
	}
	return out
}

// slope returns the median of the slopes between all pairs, K/s; 0 for fewer than
// two samples.
func slope(t Trace) float64 {
	var all []float64
	for i := range t {
		for j := range i {
			if dt := t[i].AtS - t[j].AtS; dt > 0 {
				all = append(all, (t[i].C-t[j].C)/dt)
			}
		}
	}
	return median.Of(all)
}

// medianC returns the median reading; 0 for none.
func medianC(t Trace) float64 {
	c := make([]float64, len(t))
	for i, s := range t {
		c[i] = s.C
	}
	return median.Of(c)
}
