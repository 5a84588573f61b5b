package rehearsal

import (
	"fmt"
	"math"
	"slices"
	"time"

	"withy/steambox/steam"
	"withy/steambox/unit"
)

// Scenario is a kind of day in the shop.
type Scenario struct {
	Name string // lower case with hyphens
	What string // one sentence
}

// day is a scenario with what sets it apart from a good run.
type day struct {
	Scenario
	set func(*state)
}

var days = []day{
	{Scenario{"good", "Everything works and the crew keeps pace."},
		func(*state) {}},
	{Scenario{"cold-door", "Air comes in round the door and through gaping joints, and the door end stays cold."},
		func(s *state) {
			s.Box.GapMolS, s.Box.LeakMolS = s.Dice.between(0.002, 0.004), s.Dice.between(0.0045, 0.0065)
		}},
	{Scenario{"boils-dry", "Nobody heeds the kettle call and the boiler runs dry in mid-run."},
		func(s *state) { s.Fitter.Refills = false }},
	{Scenario{"cold-refill", "The boiler is refilled from the cold tap and stops boiling."},
		func(s *state) { s.Fitter.PourL, s.Fitter.PourTemp = 2, unit.Celsius(s.Dice.between(6, 14)) }},
	{Scenario{"probe-dies", "The door end's probe stops answering in mid-run and comes back later."},
		func(s *state) {
			dies := minutes(s.Dice.between(44, 54))
			s.Probes[doorProbe].Dies, s.Probes[doorProbe].Returns = dies, dies+minutes(s.Dice.between(6, 12))
		}},
	{Scenario{"switch-stuck", "The level switch is held closed by scale and never tells of low water."},
		func(s *state) { s.Float.Stuck = true }},
	{Scenario{"slow-fitter", "Over a gas ring, and the fitter falls behind for a quarter of an hour."},
		func(s *state) {
			s.Kettle.Plate.Kind, s.Kettle.Plate.PowerW = "gas", 4400
			s.Kettle.Efficiency = s.Dice.between(0.44, 0.52)
			from := minutes(s.Dice.between(42, 52))
			s.Fitter.FallsBehind = Excursion{from, from + 15*time.Minute, s.Dice.between(2, 3)}
		}},
	{Scenario{"windy", "The box stands in a doorway, and gusts blow in round its door."},
		func(s *state) {
			s.Wind.MostMolS = s.Dice.between(0.004, 0.008) // up to as much as an open door lets in
		}},
}

func minutes(m float64) time.Duration {
	return time.Duration(m * float64(time.Minute)).Round(time.Second)
}

// Scenarios lists the scenarios that New knows, the good run first.
func Scenarios() []Scenario {
	list := make([]Scenario, len(days))
	for i, d := range days {
		list[i] = d.Scenario
	}
	return list
}

// New returns the box at the moment the fire has been lit under cold water. The
// same scenario and seed always make the same world.
func New(scenario string, seed uint64) (*World, error) {
	i := slices.IndexFunc(days, func(d day) bool { return d.Name == scenario })
	if i < 0 {
		return nil, fmt.Errorf("scenario %q: %w", scenario, ErrUnknown)
	}
	w := &World{state{Scenario: scenario, Seed: seed, Dice: newDice(seed), Calibrated: true, Windows: map[string]*Window{}}}
	s := &w.s
	s.drawShop()
	s.drawBox()
	s.drawKettle()
	s.drawProbes(calibratedK)
	s.drawStick()
	s.Fitter = drawFitter(s.Dice)
	days[i].set(s)
	s.Box.fill(s.around())
	s.Box.read(s.around())
	s.Float.step(0, &s.Kettle, s.Dice)
	for i := range s.Probes {
		s.Probes[i].measure(0, s.Dice)
	}
	return w, nil
}

// drawShop: a low-lying shop in any weather but a storm.
func (s *state) drawShop() {
	s.AltitudeM = math.Round(s.Dice.between(0, 400))
	standard, err := steam.PressureAt(s.AltitudeM)
	if err != nil {
		panic("rehearsal: " + err.Error())
	}
	s.AmbientPa = standard * s.Dice.between(0.985, 1.015)
	s.ShopC = s.Dice.between(8, 22)
	s.OutFilm = s.Dice.betweenLog(55, 115) // W/m²K: wet, handled, evaporating
	s.DoorS = s.Dice.between(4, 7)
}

// drawBox: damp boards of 25 mm with lagging, lid and door that fit like those of a
// shop-made box. Common practice, no source. The film, known within a factor of
// two, lies about the 300 to 400 W/m²K that the Wood Handbook's thinnest boards
// imply; air in the steam lowers it (box.read).
func (s *state) drawBox() {
	d := s.Dice
	s.Box = box{
		Wall: wall{
			BoardM: 0.025, ConductW: d.between(0.20, 0.28), HeatJ: d.between(1.4e6, 1.9e6),
			LagM2KPW: d.between(0.5, 0.9), BareShare: 1,
		},
		CleanFilm: d.betweenLog(190, 560), FilmTaper: d.between(-0.12, 0.06),
		LeakMolS: d.between(0.0010, 0.0022), GapMolS: d.between(0.0001, 0.0005), OpenMolS: d.between(0.006, 0.012),
		DrainShare: d.between(0.03, 0.08), MixM2PerS: d.between(0.009, 0.014),
	}
}

// drawKettle: a 2.2 kW boiler with 4 L of the shop's water in it.
func (s *state) drawKettle() {
	d := s.Dice
	s.Kettle = kettle{
		Plate:      Boiler{Kind: "electric", PowerW: 2200, CapacityL: 6, LevelL: 1.5},
		Efficiency: d.between(0.90, 0.97), LossWPerK: d.between(0.8, 1.6),
		WaterKg: 4 * coldKgPerL, WaterC: s.ShopC, HeaterC: s.ShopC, Fire: true,
	}
}

func (s *state) drawProbes(offset float64) {
	for i, name := range [probeCount]string{"steam", "door"} {
		s.Probes[i] = probe{
			Shown:   Probe{Name: name, X: unit.Metre(boxM * float64(i))},
			OffsetK: s.Dice.between(-offset, offset), LagS: s.Dice.between(6, 14), TipC: s.ShopC,
			Dies: neverHappens, Returns: neverHappens,
		}
	}
}

// drawStick: freshly sawn white oak. The diffusivities are those that the Wood
// Handbook's measured heating times of five green hardwoods imply.
func (s *state) drawStick() {
	s.MoisturePct = s.Dice.between(58, 78)
	s.Diffusivity = s.Dice.between(1.40e-7, 1.56e-7)
	w := drawWindow(s.Dice)
	s.Windows[TheBoat().Stick] = &w
}
