// Package rehearsal is a steam box that is not there: boiler, box, ribs, probes
// and the wood's hidden liking, followed by their physics. It drives rehearsals
// and tests at any speed, and it knows the truth that estimates from two probes
// are judged by. For that it has its own finite-volume rib and shares nothing
// with the packages it judges.
//
// A World is moved on by Step and handled as a crew would handle a box: Load,
// Pull, Bend, Refill, SetFire, OpenDoor. It does nothing by itself: who plays the
// crew takes pace and habits from Fitter and Delay. Its chance comes from its own
// seeded generator, so the same scenario, seed and calls give the same world,
// also across a JSON round trip. It belongs to one goroutine.
//
// Nothing above, below or across the box is followed, only along it: all slots
// are alike.
package rehearsal

import (
	"encoding/json"
	"fmt"
	"time"

	"withy/steambox/steam"
	"withy/steambox/unit"
)

// tick is the step of the simulation. Step moves whole ticks on and keeps what is
// left, so that it does not matter how a stretch of time is divided.
const tick = 500 * time.Millisecond

// gasSteps is how many steps the gas takes in a tick: it is quicker than the wood.
const gasSteps = 2

// World is one steam box in one shop on one day.
type World struct{ s state }

// state is all there is to keep of a World.
type state struct {
	Scenario string
	Seed     uint64
	Dice     dice

	Elapsed   time.Duration // since the fire was lit
	Ticked    time.Duration // of that: simulated
	DoorUntil time.Duration // the door is open until then

	AltitudeM, AmbientPa float64
	ShopC                float64
	OutFilm              float64 // W/m²K round a rib out of the box
	DoorS                float64 // how long a load or pull leaves the door open
	MoisturePct          float64
	Diffusivity          float64 // m²/s at 60 °C, the stick's
	Calibrated           bool

	Kettle  kettle
	Float   float
	Box     box
	Wind    wind
	Probes  [probeCount]probe
	Tips    Tips
	TipsAt  time.Duration // when they were carried there
	Pieces  []*piece      // every rib that was ever in the box, in that order
	Windows map[string]*Window
	Fitter  Fitter
	Ledger  Ledger
}

// Step lets dt pass; negative times do nothing. The simulation runs in ticks of
// half a second, so what happens between two ticks is felt at the next one.
func (w *World) Step(dt time.Duration) {
	w.s.Elapsed += max(0, dt)
	for w.s.Ticked+tick <= w.s.Elapsed {
		w.tick()
	}
}

func (w *World) tick() {
	const dt = float64(tick) / float64(time.Second)
	s, a := &w.s, w.s.around()
	open := s.Ticked < s.DoorUntil
	s.Ticked += tick

	made := s.Kettle.step(dt, s.ShopC, a.boilC, a.latent)
	s.Float.step(dt, &s.Kettle, s.Dice)
	var ribJ [boxCells]float64
	for _, p := range s.Pieces {
		if p.Slot == outside {
			p.cool(dt, s.ShopC, s.OutFilm)
		} else {
			p.steam(dt, &s.Box, ribJ[:])
		}
	}
	s.Ledger.boiler(made)
	for i := range ribJ {
		ribJ[i] /= gasSteps
	}
	s.Box.GustMolS = s.Wind.step(s.Ticked, s.Dice)
	for range gasSteps {
		f := s.Box.step(dt/gasSteps, a, made.steamKg/molarKgWater/gasSteps, ribJ[:], open)
		s.Box.read(a)
		s.Ledger.box(f, ribJ[:], a.latentMol())
	}
	s.watch(dt)
}

// watch lets the probes follow the gas and take their readings.
func (s *state) watch(dt float64) {
	for i := range s.Probes {
		p := &s.Probes[i]
		p.follow(dt, s.tipIn(p))
		if s.Ticked%probeEvery == 0 {
			p.measure(s.Ticked, s.Dice)
		}
	}
}

// Tips is where somebody has carried the tips of the probes.
type Tips int

// At first they hang at their ends.
const (
	AtTheirEnds Tips = iota
	InAPot           // of boiling water
	InIce
	TiedInTheBox // half way along
	IntoSteam    // from the shed's air, after some minutes there
)

// tipIn is what surrounds a probe's tip, °C.
func (s *state) tipIn(p *probe) float64 {
	switch s.Tips {
	case InAPot:
		return s.around().boilC
	case InIce:
		return 0
	case IntoSteam:
		if s.Elapsed-s.TipsAt < coolsFor {
			return s.ShopC
		}
		return s.around().boilC
	case TiedInTheBox:
		return float64(s.Box.at(boxM / 2))
	}
	return float64(s.Box.at(p.Shown.X))
}

// CarryTips carries the tips of the probes somewhere; they follow as slowly as ever.
func (w *World) CarryTips(to Tips) { w.s.Tips, w.s.TipsAt = to, w.s.Elapsed }

// coolsFor is how long tips are left to cool before they are put into steam.
const coolsFor = 4 * time.Minute

// around returns what surrounds the box. The air is saturated at the shop's
// temperature: that little vapour spares the box a second kind of gas.
func (s *state) around() around {
	boil, err := steam.BoilingPoint(s.AmbientPa)
	if err != nil {
		panic("rehearsal: " + err.Error())
	}
	latent, _ := steam.LatentHeat(s.AmbientPa) // fails only where BoilingPoint does
	vapour, err := steam.SaturationPressure(unit.Celsius(s.ShopC))
	if err != nil {
		panic("rehearsal: " + err.Error())
	}
	return around{s.AmbientPa, float64(boil), latent, s.ShopC, vapour / s.AmbientPa}
}

// Name returns the scenario's name.
func (w *World) Name() string { return w.s.Scenario }

// Elapsed returns the time since the fire was lit.
func (w *World) Elapsed() time.Duration { return w.s.Elapsed }

// Length returns the distance between the two probes, which sit at the ends.
func (w *World) Length() unit.Metre { return boxM }

// Slots returns how many ribs the box holds; slots count from 0, for A.
func (w *World) Slots() int { return slots }

// Probes returns the probes' last readings, steam end first; they are taken once
// a second. Their order, names and places never change.
func (w *World) Probes() []Probe {
	shown := make([]Probe, probeCount)
	for i := range w.s.Probes {
		shown[i] = w.s.Probes[i].Shown
	}
	return shown
}

// Calibrated tells whether the probes have been corrected to within 0.2 K.
func (w *World) Calibrated() bool { return w.s.Calibrated }

// Uncalibrate swaps the probes for others as bought, in error by up to 2 K. It is
// for the start of a rehearsal.
func (w *World) Uncalibrate() {
	w.s.Calibrated = false
	for i := range w.s.Probes {
		w.s.Probes[i].OffsetK = w.s.Dice.between(-asBoughtK, asBoughtK)
	}
}

// LevelClosed tells whether the level switch is closed, as it is while the water
// stands above it. Boiling water makes it chatter near its level.
func (w *World) LevelClosed() bool { return w.s.Float.Closed }

// Boiler returns what is written on the boiler's plate.
func (w *World) Boiler() Boiler { return w.s.Kettle.Plate }

// WaterL returns the water in the boiler in litres as poured cold.
func (w *World) WaterL() float64 { return w.s.Kettle.WaterKg / coldKgPerL }

// WaterTemp returns how hot the water in the boiler is.
func (w *World) WaterTemp() unit.Celsius { return unit.Celsius(w.s.Kettle.WaterC) }

// CutOut tells whether the boiler's thermal cut-out has opened.
func (w *World) CutOut() bool { return w.s.Kettle.CutOut }

// AltitudeM returns how high the shop lies, in metres.
func (w *World) AltitudeM() float64 { return w.s.AltitudeM }

// AmbientPa returns the pressure in the shop, in pascal: the weather's, not the
// standard atmosphere's.
func (w *World) AmbientPa() float64 { return w.s.AmbientPa }

// BoilingC returns the temperature at which water boils in the shop.
func (w *World) BoilingC() unit.Celsius { return unit.Celsius(w.s.around().boilC) }

// ShopC returns the temperature of the shop and of wood that has lain in it.
func (w *World) ShopC() unit.Celsius { return unit.Celsius(w.s.ShopC) }

// Gas returns the true temperature of the gas at x metres from the steam end.
func (w *World) Gas(x unit.Metre) unit.Celsius { return w.s.Box.at(x) }

// Truth returns the rib's core at x metres from the end that lay at the steam
// end; a rib is pushed home when it is loaded, so in the box that is the place in
// the box too. It is false for a rib that was never loaded and off the rib. A rib
// that is bent and under 60 °C throughout is not followed further.
func (w *World) Truth(rib string, x unit.Metre) (Truth, bool) {
	p := w.find(rib)
	if p == nil {
		return Truth{}, false
	}
	return p.truth(float64(x))
}

// Window returns what the wood of a stick hides, to judge estimates by. It is
// false for a stick of which no rib has been loaded, but the plan's is known.
func (w *World) Window(stick string) (Window, bool) {
	v, ok := w.s.Windows[stick]
	if !ok {
		return Window{}, false
	}
	return *v, true
}

// Heat returns where the heat went so far.
func (w *World) Heat() Ledger { return w.s.Ledger }

// Fitter returns the crew's habits.
func (w *World) Fitter() Fitter { return w.s.Fitter }

// Delay draws how long the crew will take over a task that begins now.
func (w *World) Delay(t Task) time.Duration {
	return w.s.Fitter.delay(t, w.s.Elapsed, w.s.Dice)
}

// MarshalJSON writes everything, hidden things too.
func (w *World) MarshalJSON() ([]byte, error) { return json.Marshal(&w.s) }

// UnmarshalJSON takes up a world that MarshalJSON wrote: the same calls then have
// the same effects. Text from elsewhere is not checked beyond its shape.
func (w *World) UnmarshalJSON(text []byte) error {
	var s state
	if err := json.Unmarshal(text, &s); err != nil {
		return err
	}
	if len(s.Box.Cells) != boxCells || s.Dice.pcg == nil {
		return fmt.Errorf("state of a rehearsal: %w", ErrUnknown)
	}
	for _, p := range s.Pieces {
		p.prepare()
	}
	s.Box.read(s.around())
	w.s = s
	return nil
}
