package rehearsal

import "math"

// Boiler is what is written on the boiler's plate, and so may be told to anyone.
type Boiler struct {
	Kind      string  // "electric" or "gas"
	PowerW    float64 // electric power, or what the gas burnt would give
	CapacityL float64 // litres up to the lid
	LevelL    float64 // litres, hot, at which the level switch turns
}

// Water and heater. No source but common practice unless said.
const (
	waterJPerKgK = 4186.0 // specific heat of water; reference value for heat-up times
	coldKgPerL   = 0.998  // water as poured, about 20 °C
	heaterJPerK  = 400.0  // a tubular element of about a kilogram, or the pan's bottom
	heaterWPerK  = 150.0  // element to water: it runs some 12 K above it
	bareWPerK    = 2.0    // bare element to air
	coveredKg    = 0.25   // with this much water the element is just covered
	bareKg       = 0.05   // with this little it is wholly bare
	tripC        = 140.0  // the thermal cut-out opens
	resetC       = 80.0   // and closes again by itself
	scorchC      = 400.0  // a pan over gas gets no hotter: it radiates
	molarKgWater = 0.018015
)

// kettle is the boiler at work.
type kettle struct {
	Plate      Boiler
	Efficiency float64 // share of the power that reaches element or pan
	LossWPerK  float64 // standing loss per kelvin above the shop
	WaterKg    float64
	WaterC     float64
	HeaterC    float64
	Fire       bool
	CutOut     bool
	Boiling    bool
}

// spent says where a step's heat went, in J.
type spent struct{ fuel, flue, standing, steam, steamKg float64 }

// step heats for dt seconds and returns what left. The latent heat is in J/kg.
func (k *kettle) step(dt, shopC, boilC, latent float64) spent {
	k.guard()
	var s spent
	if k.Fire && !k.CutOut {
		s.fuel = k.Plate.PowerW * dt
		s.flue = s.fuel * (1 - k.Efficiency)
	}
	covered := k.covered()
	toWater := dt * heaterWPerK * covered * (k.HeaterC - k.WaterC)
	toAir := dt * bareWPerK * (1 - covered) * (k.HeaterC - shopC)
	k.HeaterC += (s.fuel - s.flue - toWater - toAir) / heaterJPerK
	s.standing = toAir
	if k.HeaterC > scorchC {
		s.standing += (k.HeaterC - scorchC) * heaterJPerK
		k.HeaterC = scorchC
	}
	lost := dt * k.LossWPerK * (k.WaterC - shopC) * min(1, k.WaterKg)
	s.standing += lost
	s.steamKg = k.warm(toWater-lost, boilC, latent)
	s.steam = s.steamKg * latent
	return s
}

// covered is the share of the heater that lies under water.
func (k *kettle) covered() float64 {
	return max(0, min(1, (k.WaterKg-bareKg)/(coveredKg-bareKg)))
}

// guard works the cut-out. A gas ring has none.
func (k *kettle) guard() {
	switch {
	case k.Plate.Kind == "gas":
	case k.HeaterC > tripC:
		k.CutOut = true
	case k.HeaterC < resetC:
		k.CutOut = false
	}
}

// warm gives the water some heat in J: first up to the boil, the rest makes
// steam. It returns the steam in kg.
func (k *kettle) warm(heat, boilC, latent float64) float64 {
	k.Boiling = false
	if k.WaterKg < 1e-6 {
		return 0
	}
	k.WaterC += heat / (k.WaterKg * waterJPerKgK)
	over := (k.WaterC - boilC) * k.WaterKg * waterJPerKgK
	if over <= 0 {
		return 0
	}
	k.WaterC, k.Boiling = boilC, true
	made := min(over/latent, k.WaterKg)
	k.WaterKg -= made
	return made
}

// pour adds litres, measured cold, at a temperature; what does not fit overflows.
func (k *kettle) pour(litres, c float64) {
	kg := min(litres*coldKgPerL, k.Plate.CapacityL*coldKgPerL-k.WaterKg)
	if !(kg > 0) {
		return
	}
	k.WaterC = (k.WaterKg*k.WaterC + kg*c) / (k.WaterKg + kg)
	k.WaterKg += kg
}

// hotL is the volume the water takes up as hot as it is. The parabola about
// 4 °C is within 0.3 % of the tables from 0 to 100 °C.
func (k *kettle) hotL() float64 {
	d := k.WaterC - 4
	return k.WaterKg / (1 - 4.5e-6*d*d)
}

// float is the level switch: closed while the water stands above it.
type float struct {
	Stuck  bool // held closed by scale, whatever the level
	Closed bool
	SloshL float64 // what boiling adds to the level, or takes from it, just now
}

// Slosh of boiling water at the float. Common practice, no source.
const (
	sloshL = 0.03
	sloshS = 0.6
)

// step lets the water slosh for dt seconds and reads the float.
func (f *float) step(dt float64, k *kettle, d dice) {
	f.SloshL *= math.Exp(-dt / sloshS)
	if k.Boiling {
		f.SloshL += sloshL * math.Sqrt(1-math.Exp(-2*dt/sloshS)) * d.normal(0, 1)
	}
	f.Closed = f.Stuck || k.hotL()+f.SloshL > k.Plate.LevelL
}
