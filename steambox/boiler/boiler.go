// Package boiler keeps account of the water: how fast it boils off, how much is
// left and for how long, each with what is not known, and how early the backup
// kettle must go on.
package boiler

import (
	"math"
	"time"
)

// Kind is how a boiler takes water, which decides what the crew may be told.
type Kind string

// The kinds of boiler. A closed tank is never told to be opened hot.
const (
	OpenPot      Kind = "open-pot"      // takes water through a funnel while it boils
	ClosedTank   Kind = "closed-tank"   // screw cap: a break is planned instead
	SecondBoiler Kind = "second-boiler" // another one takes over
	NoRefill     Kind = "no-refill"
)

// Kinds lists all of them.
var Kinds = []Kind{OpenPot, ClosedTank, SecondBoiler, NoRefill}

// Boiler is what is known of one before the run. Litres are litres as poured cold.
type Boiler struct {
	Kind    Kind
	PowerW  float64 // of the element, or of the gas ring's flame
	Gas     bool    // most of a flame goes past the pot
	FullL   float64 // what it holds
	SwitchL float64 // what is left when the level switch trips; 0: no switch
	BareL   float64 // what is left when the element is bare
}

// How much of the power makes steam that reaches the box, and how well that is
// known before anything was measured: natural logarithm, standard deviation
// (common practice, no source; a lagged electric boiler and a pot on a ring).
const (
	electricShare, electricSd = 0.88, 0.10
	gasShare, gasSd           = 0.45, 0.35
)

// Rate is the boil-off in litres per second as a log-normal distribution.
type Rate struct {
	LogMean, LogSd float64
	MaxLPerS       float64 // what all the power could boil off: no rate is greater
}

// FirstRate returns what is known of the rate from the power alone, under a
// latent heat in J/kg.
func (b Boiler) FirstRate(latentJPerKg float64) Rate {
	share, sd := electricShare, electricSd
	if b.Gas {
		share, sd = gasShare, gasSd
	}
	all := b.PowerW / latentJPerKg // kg/s, and a litre as poured cold is a kilogram
	return Rate{LogMean: math.Log(all * share), LogSd: sd, MaxLPerS: all}
}

// sigmas is how many standard deviations the bounds stand away: one bound in a
// thousand is on the wrong side.
const sigmas = 3

// Span is a quantity with its bounds.
type Span struct{ Lo, Best, Hi float64 }

// Span returns the rate in L/s.
func (r Rate) Span() Span {
	best := math.Exp(r.LogMean)
	return Span{
		Lo:   math.Exp(r.LogMean - sigmas*r.LogSd),
		Best: best,
		Hi:   max(best, min(r.MaxLPerS, math.Exp(r.LogMean+sigmas*r.LogSd))),
	}
}

// Learn returns the rate after it was seen to be lPerS, known to a standard
// deviation of logSd in its logarithm: the product of two normal distributions.
func (r Rate) Learn(lPerS, logSd float64) Rate {
	a, b := 1/(r.LogSd*r.LogSd), 1/(logSd*logSd)
	r.LogMean = (a*r.LogMean + b*math.Log(lPerS)) / (a + b)
	r.LogSd = math.Sqrt(1 / (a + b))
	return r
}

// Kettle is the backup that boils a refill.
type Kettle struct {
	Litres, PowerW float64
	TapC           float64 // of the water it is filled with
	CarryS         float64 // from hearing the call to water in the boiler, boiling apart
}

// kettleShare is how much of a kettle's power heats its water: 5 to 20 % are lost
// (from memory).
const kettleShare = 0.88

// Lead returns how long before the water is needed the kettle must go on: boil,
// carry and pour. 0 W is a kettle that is always on the boil.
func (k Kettle) Lead(boilingC float64) time.Duration {
	const waterJPerKgK = 4186
	boil := 0.0
	if k.PowerW > 0 {
		boil = k.Litres * waterJPerKgK * max(0, boilingC-k.TapC) / (k.PowerW * kettleShare)
	}
	return time.Duration((boil + k.CarryS) * float64(time.Second))
}
