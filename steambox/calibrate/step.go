package calibrate

import (
	"errors"
	"math"
	"slices"

	"withy/steambox/median"
)

// Step is how a probe followed a sudden change.
type Step struct {
	TauS       float64 // s until 63 % of the way: its time constant
	FromC, ToC float64 // °C before and after
}

// What a trace is not a step for.
var (
	ErrNoStep   = errors.New("it never rose far enough")
	ErrTooQuick = errors.New("it rose faster than the readings come")
	ErrNotSharp = errors.New("it did not rise as after one sudden step")
	ErrTooSlow  = errors.New("it follows more slowly than can be undone")
)

// Limits of a step. MinRiseK is 30 K: from the shed's air into steam is 80. A lag
// beyond 120 s can't be set either.
const (
	MinRiseK  = 30.0
	maxTauS   = 120.0
	maxMisfit = 0.05
)

// The part of the rise that is fitted, as shares of it, and how many readings
// must fall into it. The beginning is spoiled by the hand that carries the probe, the end
// by what the last steps of 1/16 K and the steam's play do to a logarithm.
const (
	fitFrom, fitTo = 0.15, 0.85
	fitLeast       = 3
)

// edge is how many readings the levels before and after are taken from.
const edge = 5

// FitStep returns the time constant of the rise from a trace's coolest moment to its
// end, where the probe must have come to rest.
//
// A probe that goes by one time constant τ has ln of what is left of the rise fall
// by 1/τ each second, whenever the step was; the slope is the median of those
// between all pairs of readings (Theil–Sen). A trace that keeps off the curve
// by more than 5 % of the rise is no single step. The errors are
// [ErrNoStep], [ErrTooQuick], [ErrNotSharp] and [ErrTooSlow].
func FitStep(t Trace) (Step, error) {
	low := coolest(t)
	if low < 0 {
		return Step{}, ErrNoStep
	}
	s := Step{FromC: medianC(t[low : low+edge]), ToC: medianC(t[len(t)-edge:])}
	if s.ToC-s.FromC < MinRiseK {
		return s, ErrNoStep
	}
	rise := t[low:]
	logs := s.logsLeft(rise)
	if len(logs) < fitLeast {
		return s, ErrTooQuick
	}
	fall := slope(logs)
	if !(fall < 0) {
		return s, ErrNotSharp
	}
	s.TauS = -1 / fall
	switch {
	case s.misfit(rise, began(logs, s.TauS)) > maxMisfit:
		return s, ErrNotSharp
	case s.TauS > maxTauS:
		return s, ErrTooSlow
	}
	return s, nil
}

// coolest returns where the five readings begin whose median is the lowest, the
// last such; -1 for a trace too short to tell.
func coolest(t Trace) int {
	best, at := math.Inf(1), -1
	for i := 0; i+2*edge <= len(t); i++ {
		if c := medianC(t[i : i+edge]); c <= best {
			best, at = c, i
		}
	}
	return at
}

// share returns how much of the rise is done at c.
func (s *Step) share(c float64) float64 { return (c - s.FromC) / (s.ToC - s.FromC) }

// logsLeft returns the logarithm of what is left of the rise, in the middle of it.
func (s *Step) logsLeft(rise Trace) Trace {
	var out Trace
	for _, x := range rise {
		if u := s.share(x.C); u >= fitFrom && u <= fitTo {
			out = append(out, Sample{AtS: x.AtS, C: math.Log(1 - u)})
		}
	}
	return out
}

// began returns when the step was, on the trace's clock.
func began(logs Trace, tauS float64) float64 {
	at := make([]float64, len(logs))
	for i, l := range logs {
		at[i] = l.AtS + tauS*l.C
	}
	return median.Of(at)
}

// misfit returns the share of the way that nine in ten readings of the rise's
// first five time constants keep within of the curve.
func (s *Step) misfit(rise Trace, beganS float64) float64 {
	var off []float64
	for _, x := range rise {
		age := (x.AtS - beganS) / s.TauS
		if age > 0 && age < 5 {
			off = append(off, math.Abs(s.share(x.C)-(1-math.Exp(-age))))
		}
	}
	if len(off) == 0 {
		return 1
	}
	slices.Sort(off)
	return off[len(off)*9/10]
}
