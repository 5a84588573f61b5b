package rehearsal

import "math"

// timber is what one rib's wood stores and conducts. Both change with
// temperature: the heat per volume is HeatA·T + HeatB·T²/2 above 0 °C, the
// conductivity ConductA + ConductB·T, T in °C.
type timber struct {
	HeatA    float64 // J/(m³ K)
	HeatB    float64 // J/(m³ K²)
	ConductA float64 // W/(m K)
	ConductB float64 // W/(m K²)
}

const (
	// basicGravity of white oak, oven-dry mass over green volume: USDA Forest
	// Service inventory table REF_SPECIES, agreeing with Wood Handbook table 5-3a.
	basicGravity = 0.60
	// alongGrain is how much better wood conducts along the grain than across it
	// (Wood Handbook FPL-GTR-190, printed page 4-11: 1.5 to 2.8, on average 1.8).
	alongGrain = 1.8
	// conductRise is the share by which the conductivity rises per kelvin (Wood
	// Handbook, same page: 2 to 3 % per 10 °C), about referenceC.
	conductRise = 0.002
	// referenceC is the temperature at which a diffusivity is stated: the middle
	// of a rib's way from the shop to the steam.
	referenceC = 60
)

// greenOak returns green white oak of a moisture in percent of dry mass, above
// fibre saturation (30 %), with the given diffusivity at 60 °C in m²/s.
//
// The specific heat is the mixture of dry wood's 0.1031 + 0.003867 T kJ/(kg K),
// T in kelvin (Wood Handbook equation 4-16a), with 4.18 for the water.
func greenOak(moisturePct, diffusivity float64) timber {
	water := moisturePct / 100
	dryKgPerM3 := 1000 * basicGravity // per green volume; shrinking starts below 30 %
	t := timber{
		HeatA: dryKgPerM3 * 1e3 * (0.1031 + 0.003867*273.15 + 4.18*water),
		HeatB: dryKgPerM3 * 1e3 * 0.003867,
	}
	k := diffusivity * (t.HeatA + t.HeatB*referenceC)
	t.ConductA, t.ConductB = k*(1-conductRise*referenceC), k*conductRise
	return t
}

// heat returns the heat in a cubic metre at a temperature in °C, in J above 0 °C.
func (t timber) heat(c float64) float64 { return c * (t.HeatA + t.HeatB*c/2) }

// temperature undoes heat. This form of the root holds for HeatB = 0 too.
func (t timber) temperature(heat float64) float64 {
	return 2 * heat / (t.HeatA + math.Sqrt(t.HeatA*t.HeatA+2*t.HeatB*heat))
}

// conductivity returns the conductivity across the grain in W/(m K).
func (t timber) conductivity(c float64) float64 { return t.ConductA + t.ConductB*c }

// potential returns the integral of the conductivity from 0 °C (Kirchhoff), in
// W/m: the flow between two places is exactly the difference of theirs.
func (t timber) potential(c float64) float64 { return c * (t.ConductA + t.ConductB*c/2) }

// quickest returns the largest diffusivity below 120 °C, for the step limit.
func (t timber) quickest() float64 { return t.conductivity(120) / t.HeatA }
