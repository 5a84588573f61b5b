package boiler

import "math"

// Refill is what a refill that was not boiling costs.
type Refill struct {
	MixedC      float64 // what the water comes to at once
	HeatJ       float64 // to bring it back to the boil
	BoilsAgainS Span    // seconds until it boils again; Lo by the most power
	SteamLostKg float64 // steam that the box misses meanwhile
}

// ColdRefill returns what it costs to pour litres of pouredC °C on leftL litres at
// the boil, under a boiling point of boilingC °C and a latent heat in J/kg. netW is
// the heat that goes into the water, SteamW of its rate.
//
// The time does not depend on what was left: that is at the boil already, and what
// the mixing takes from it must be given back. What the pot itself gives and the
// smaller loss of cooler water are left out: both shorten the time by a few
// hundredths.
func ColdRefill(leftL, litres, pouredC, boilingC float64, netW Span, latentJPerKg float64) Refill {
	litres, under := max(0, litres), max(0, boilingC-pouredC)
	heat := litres * waterJPerKgK * under
	r := Refill{MixedC: boilingC, HeatJ: heat, SteamLostKg: heat / latentJPerKg}
	if litres > 0 {
		r.MixedC = boilingC - under*litres/(max(0, leftL)+litres)
	}
	r.BoilsAgainS = Span{Lo: over(heat, netW.Hi), Best: over(heat, netW.Best), Hi: over(heat, netW.Lo)}
	return r
}

// over is a/b, and nought where there is nothing to divide.
func over(a, b float64) float64 {
	switch {
	case a <= 0:
		return 0
	case b <= 0:
		return math.Inf(1)
	}
	return a / b
}

// SteamW returns the heat in W that makes steam at a rate, under a latent heat in
// J/kg.
func (r Rate) SteamW(latentJPerKg float64) Span {
	s := r.Span()
	return Span{s.Lo * latentJPerKg, s.Best * latentJPerKg, s.Hi * latentJPerKg}
}
