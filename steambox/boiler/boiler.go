// Package boiler keeps account of the water and of the heat: how fast the boiler
// boils off, how much is left and for how long, how early the backup kettle must
// go on, what a cold refill costs, how quickly ribs may follow one another, and why
// a door end stays cold. Each answer comes with what is not known.
//
// It decides nothing about when steam is coming: whether a stretch of time boiled
// is told to it.
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

// Ring is how far a gas ring is turned up, where nobody knows its kilowatts.
type Ring string

// The settings of a gas ring. The empty Ring is none: the power is known.
const (
	LowRing    Ring = "low"
	MiddleRing Ring = "middle"
	HighRing   Ring = "high"
)

// Rings lists the settings, the smallest flame first.
var Rings = []Ring{LowRing, MiddleRing, HighRing}

// flameW is what a ring burns at each setting, in W. A kitchen hob's burners run
// from about 1 to 3.5 kW (from memory); a ring on a hose is larger, and the figures
// lean towards it, because too slow a guess calls the kettle too late.
func (r Ring) flameW() float64 {
	switch r {
	case LowRing:
		return 1500
	case MiddleRing:
		return 3000
	}
	return 5000
}

// Boiler is what is known of one before the run. Litres are litres as poured cold.
type Boiler struct {
	Kind    Kind    `means:"How it is refilled."`
	PowerW  float64 `means:"Power of the element or of the flame, in watts; not read where Ring is set."`
	Gas     bool    `means:"Whether it is heated by gas: most of a flame goes past the pot."`
	Ring    Ring    `means:"How far a gas ring of unknown power is turned up; empty where the power is known."`
	FullL   float64 `means:"What it holds, in litres as poured cold."`
	SwitchL float64 `means:"What is left when the level switch trips, in litres as poured cold; 0 for no switch."`
	BareL   float64 `means:"What is left when the element is bare, in litres as poured cold."`
}

// How much of the power makes steam that reaches the box, and how well that is
// known before anything was measured: natural logarithm, standard deviation
// (common practice, no source; a lagged electric boiler and a pot on a ring). For a
// ring the flame is unknown as well.
const (
	electricShare, electricSd = 0.88, 0.10
	gasShare, gasSd           = 0.45, 0.35
	ringSd                    = 0.60
)

// FirstRate returns what is known of the rate from the power alone, under a
// latent heat in J/kg.
func (b Boiler) FirstRate(latentJPerKg float64) Rate {
	if b.Ring != "" {
		return Rate{LogMean: math.Log(b.Ring.flameW() * gasShare / latentJPerKg), LogSd: ringSd}
	}
	share, sd := electricShare, electricSd
	if b.Gas {
		share, sd = gasShare, gasSd
	}
	all := b.PowerW / latentJPerKg // kg/s, and a litre as poured cold is a kilogram
	return Rate{LogMean: math.Log(all * share), LogSd: sd, MaxLPerS: all}
}

// waterJPerKgK is the specific heat of water between a tap and the boil
// (IAPWS-IF97: 4,188.6 J/kgK on average from 20 °C).
const waterJPerKgK = 4188

// Kettle is the backup that boils a refill.
type Kettle struct {
	Litres float64 `means:"What it holds, in litres."`
	PowerW float64 `means:"Its power, in watts."`
	TapC   float64 `means:"Temperature of the water it is filled with, in °C."`
	CarryS float64 `means:"Time from hearing the call to water in the boiler, boiling apart, in seconds."`
}

// kettleShare is how much of a kettle's power heats its water: 5 to 20 % are lost
// (from memory).
const kettleShare = 0.88

// Lead returns how long before the water is needed the kettle must go on: boil,
// carry and pour. 0 W is a kettle that is always on the boil.
func (k Kettle) Lead(boilingC float64) time.Duration {
	boil := 0.0
	if k.PowerW > 0 {
		boil = k.Litres * waterJPerKgK * max(0, boilingC-k.TapC) / (k.PowerW * kettleShare)
	}
	return time.Duration((boil + k.CarryS) * float64(time.Second))
}
