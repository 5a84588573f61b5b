package boiler

import "withy/steambox/wood"

// Budget is where the boiler's heat goes when ribs follow one another, all best
// guesses.
type Budget struct {
	BoilerW           float64 // what makes steam
	WallsW            float64 // what the walls take
	VentW             float64 // what must blow through vent and drain, or air comes back in
	RibsW             float64 // what the ribs take, on average
	SpareW            float64 // what is left over; below nought the ribs come too fast
	ShortestIntervalS float64 // from one rib to the next that the boiler can hold; 0: none, it is too weak
	TooWeak           bool    // for the box alone, without any rib
	MissingW          float64 // what it lacks for that
}

// ventShare is how much of the steam must leave the box for the air to stay out
// (common practice, no source: "strong steam at the vent").
const ventShare = 0.10

// Balance returns the budget of a boiler that turns boilerW into steam, for walls
// that take wallsW, ribs that take ribJ each and one rib every intervalS; 0 is no
// ribs. Call it with the bounds of either for a bound of the answer.
func Balance(boilerW, wallsW, ribJ, intervalS float64) Budget {
	b := Budget{BoilerW: boilerW, WallsW: wallsW, VentW: ventShare * boilerW}
	forRibs := b.BoilerW - b.WallsW - b.VentW
	if intervalS > 0 {
		b.RibsW = ribJ / intervalS
	}
	b.SpareW = forRibs - b.RibsW
	if forRibs <= 0 {
		b.TooWeak, b.MissingW = true, -forRibs
		return b
	}
	b.ShortestIntervalS = ribJ / forRibs
	return b
}

// RibJ returns the heat in J that a rib of a volume in m³ takes to rise by riseK
// throughout: mass times specific heat is its conductivity over its diffusivity.
func RibJ(m wood.Material, volumeM3, riseK float64) float64 {
	return m.ConductivityWPerMK / m.DiffusivityM2PerS * volumeM3 * max(0, riseK)
}
