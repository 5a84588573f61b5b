package steambox

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/hull"
	"withy/steambox/pace"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// As many ribs as a plan and a hull take, a dozen boats, and as many test bends: what
// follows from them is reckoned again with each event, in the goroutine that watches the
// box. With 500 bends that takes 0.06 s, with 8,000 it took 18 (2 cores of a virtual
// x86-64 machine).
const (
	MaxRibs      = hull.MaxRibs
	MaxTestBends = 500
)

// MaxSlots is how many slots a box may have: the letters of the alphabet.
const MaxSlots = 26

// Box is all that is settled about a box and its run before it starts: what a
// configuration says, in SI. It is kept with the session's record, so that the
// session can be reckoned again.
type Box struct {
	Name       string         `json:"name" means:"Name of the box."`
	LengthM    float64        `json:"length_m" means:"Length inside, in metres."`
	InsideM    float64        `json:"inside_m,omitempty" means:"Side of its square inside, in metres; absent for 0.15."`
	BoardM     float64        `json:"board_m,omitempty" means:"Thickness of its walls, in metres; absent for 0.025."`
	Slots      []string       `json:"slots" means:"Letters painted at the door, in order."`
	Probes     []BoxProbe     `json:"probes" means:"Probes in the box, from the steam end on."`
	Survey     []profile.Knot `json:"survey,omitempty" means:"How the air goes from the steam end's temperature to the door end's, from the steam end on; absent for a straight line."`
	InletM     float64        `json:"inlet_m" means:"Where the steam comes in, in metres from the steam end's probe."`
	SlotK      []float64      `json:"slot_offset_k,omitempty" means:"By how much the air of each slot is hotter than the box's at the same place, in K; absent for none."`
	PressurePa float64        `json:"pressure_pa" means:"Pressure of the air where the box stands, in pascal."`
	Measured   bool           `json:"pressure_measured" means:"Whether a barometer measured the pressure; else it follows from the altitude."`
	ShopC      float64        `json:"shop_c" means:"Temperature of the shop, in °C."`
	WoodC      float64        `json:"wood_c" means:"Temperature of a rib before it goes in, in °C."`
	Points     int            `json:"points" means:"Number of points along a rib at which its heat is reckoned."`
	Boiler     boiler.Boiler  `json:"boiler" means:"The boiler before the run."`
	Kettle     boiler.Kettle  `json:"kettle" means:"The backup kettle."`
	Window     Window         `json:"window" means:"Heat that bends the wood, where nothing is to be learnt."`
	Learn      bool           `json:"learn" means:"Whether the window is learnt from test bends and ribs."`
	Dryness    window.Dryness `json:"dryness,omitempty" means:"How dry the wood comes to the box."`
	TestBends  []TestBend     `json:"test_bends,omitempty" means:"Test bends made before the session."`
	Earlier    []Earlier      `json:"earlier,omitempty" means:"Sticks of the same kind in earlier sessions, the last first."`
	After      *After         `json:"after,omitempty" means:"What its session takes over from the one before it, for this program to read; absent where nothing is known."`
	Way        pace.Way       `json:"way" means:"How ribs follow one another."`
	CrewS      float64        `json:"crew_s" means:"Least time from one rib to the next, in seconds."`
	Wood       Stock          `json:"wood" means:"What the ribs are made of."`
	Warm       Warm           `json:"warm" means:"When the box is ready for the first rib."`
	ColdEndK   float64        `json:"cold_end_k" means:"Difference of the ends from which on it is an alarm, in K."`
	Boat       string         `json:"boat" means:"Name of the boat."`
	Ribs       []Rib          `json:"ribs" means:"Ribs in the order they go in."`
	Common     Rib            `json:"common" means:"Section and length of a rib that is not in the table."`
	Spares     int            `json:"spares,omitempty" means:"Number of blanks cut beyond the table."`
	HullMargin float64        `json:"hull_margin" means:"By how much leaving the turns must lower the worst of lean and twist to be worth it, no unit."`
	ByTurns    bool           `json:"by_turns" means:"Whether marks go one port, one starboard, whatever happened."`
	Away       bool           `json:"away,omitempty" means:"Whether there is a way to tell somebody away from the box."`
	Rehearsal  bool           `json:"rehearsal" means:"Whether it is a rehearsal: no wood is bent."`
}

// BoxProbe is one probe in the box.
type BoxProbe struct {
	Name       string  `json:"name" means:"Name of the probe."`
	ID         string  `json:"id,omitempty" means:"What the sensors call it; absent where that is its name."`
	XM         float64 `json:"x_m" means:"Where it hangs, in metres from the steam end's probe."`
	OffsetK    float64 `json:"offset_k" means:"What is added to its reading near boiling, in K."`
	IceK       float64 `json:"ice_k" means:"What is added to its reading near freezing, in K; in a straight line between."`
	LagS       float64 `json:"lag_s" means:"How slowly it follows the air, in seconds."`
	Calibrated bool    `json:"calibrated" means:"Whether it was calibrated."`
}

// Stock is what the ribs are made of.
type Stock struct {
	Material   wood.Material `json:"material" means:"How the wood takes heat."`
	Species    string        `json:"species,omitempty" means:"What the material was told as, if it was."`
	Moisture   float64       `json:"moisture_pct,omitempty" means:"The same, in percent of dry mass."`
	FilmWPerM2 float64       `json:"film_w_m2k" means:"How well steam heats the wood, in W/m²K."`
	FilmFactor float64       `json:"film_factor" means:"Within which factor either way that is known, no unit."`
}

// Window is the heat that bends this stick: in minutes at 100 °C.
type Window struct {
	Soft   soak.Exposure `json:"soft_min" means:"Below it a rib is stiff, in minutes at 100 °C."`
	Target soak.Exposure `json:"target_min" means:"With it the cooler end is ready, in minutes at 100 °C."`
	Over   soak.Exposure `json:"over_min" means:"From it on the hotter end turns brittle, in minutes at 100 °C."`
}

// Warm says when the box is ready for the first rib.
type Warm struct {
	LevelK   float64 `json:"level_k" means:"Each end keeps within this, either way, in K."`
	LevelS   float64 `json:"level_s" means:"For so long, in seconds."`
	BelowK   float64 `json:"below_k" means:"And within this of boiling, in K."`
	AtLeastS float64 `json:"at_least_s" means:"And not sooner after the session began, in seconds."`
}

// Rib is one rib of the plan.
type Rib struct {
	Label      string  `json:"rib" means:"Label of the rib."`
	LengthM    float64 `json:"length_m" means:"Length, in metres."`
	ThicknessM float64 `json:"thickness_m" means:"Thickness, in metres."`
	WidthM     float64 `json:"width_m" means:"Width, in metres."`
	StationM   float64 `json:"station_m" means:"Place along the keel, in metres from the bow."`
	Bend       string  `json:"bend,omitempty" means:"How hard it bends: easy, middling or hard."`
	Stick      string  `json:"stick,omitempty" means:"The stick that it is cut from."`
	Boat       string  `json:"boat,omitempty" means:"The boat that it is for, where that is not the box's."`
	Meant      bool    `json:"meant,omitempty" means:"Whether it is off the curve of the others on purpose."`
}

// DefaultBox returns the defaults for everything that has one: common practice
// where no source is named at the field's own package.
func DefaultBox() Box {
	return Box{
		LengthM: 1.5, Slots: []string{"A", "B", "C", "D"}, PressurePa: 101325, ShopC: 15, WoodC: 15,
		Points: soak.DefaultPoints,
		Boiler: boiler.Boiler{Kind: boiler.OpenPot, PowerW: 2200, FullL: 5, SwitchL: 1.2, BareL: 0.4},
		Kettle: boiler.Kettle{Litres: 1.5, PowerW: 2200, TapC: 12, CarryS: 90},
		// Four to eight minutes for fresh white oak of a quarter inch: common practice.
		Window: Window{Soft: 2.2, Target: 2.8, Over: 5.5},
		Learn:  true, Dryness: window.Green,
		Way: pace.Run, CrewS: 75,
		Wood:       Stock{Material: wood.WhiteOak, Species: "white-oak", Moisture: 65, FilmWPerM2: soak.DefaultFilm, FilmFactor: soak.DefaultFilmFactor},
		Warm:       Warm{LevelK: 0.5, LevelS: 300, BelowK: 8, AtLeastS: 1800},
		ColdEndK:   8,
		HullMargin: hull.DefaultMargin,
		Common:     Rib{LengthM: 1.1, ThicknessM: 0.0065, WidthM: 0.025},
	}
}

// Check returns all that is wrong with the box at once, each mistake with the
// key and the allowed range.
func (b *Box) Check() error {
	c := checker{}
	c.number("box.length_m", b.LengthM, 0.2, 20)
	if b.InsideM != 0 {
		c.number("box.inside_m", b.InsideM, 0.05, 2)
	}
	if b.BoardM != 0 {
		c.number("box.board_m", b.BoardM, 0.003, 0.1)
	}
	c.number("place.pressure_pa", b.PressurePa, 50e3, 110e3)
	c.number("place.shop_c", b.ShopC, -30, 50)
	c.number("wood.start_c", b.WoodC, -30, 100)
	c.number("box.points", float64(b.Points), 2, MaxPoints)
	c.number("box.cold_end_k", b.ColdEndK, 1, 50)
	c.number("run.crew_s", b.CrewS, 5, 3600)
	c.number("window.soft_min", float64(b.Window.Soft), 0.05, 500)
	c.number("window.target_min", float64(b.Window.Target), 0.05, 500)
	c.number("window.over_min", float64(b.Window.Over), 0.05, 1000)
	if !(b.Window.Soft <= b.Window.Target && b.Window.Target < b.Window.Over) {
		c.add("window: soft_min %g, target_min %g, over_min %g must rise", float64(b.Window.Soft), float64(b.Window.Target), float64(b.Window.Over))
	}
	if !slices.Contains(pace.Ways, b.Way) {
		c.add("run.way: %q is not one of %v", b.Way, pace.Ways)
	}
	c.number("boat.margin", b.HullMargin, 0, 1)
	c.number("boat.spares", float64(b.Spares), 0, 1000)
	if b.Learn && !slices.Contains(window.Drynesses, b.Dryness) {
		c.add("window.dryness: %q is not one of %v", b.Dryness, window.Drynesses)
	}
	c.number("window.bends", float64(len(b.TestBends)), 0, MaxTestBends)
	for i := range b.TestBends {
		for _, f := range b.TestBends[i].Bend.Check() {
			c.add("window.bends[%d].%s: %s", i, f.Column, f.Says)
		}
	}
	b.checkSlots(&c)
	b.checkProbes(&c)
	b.checkSurvey(&c)
	b.checkBoiler(&c)
	b.checkRibs(&c)
	if b.After != nil {
		b.After.check(&c)
	}
	return errors.Join(c...)
}

func (b *Box) checkSlots(c *checker) {
	c.number("box.slots", float64(len(b.Slots)), 1, MaxSlots)
	for i, s := range b.Slots {
		if s == "" || slices.Contains(b.Slots[:i], s) {
			c.add("box.slots: slot %d is %q; each needs a letter of its own", i+1, s)
		}
	}
}

func (b *Box) checkSurvey(c *checker) {
	c.number("box.inlet_m", b.InletM, 0, 20)
	if n := len(b.SlotK); n != 0 && n != len(b.Slots) {
		c.add("box.slot_offset_k: %d offsets for %d slots", n, len(b.Slots))
	}
	for i, k := range b.SlotK {
		c.number(fmt.Sprintf("box.slot_offset_k[%d]", i), k, -10, 10)
	}
}

func (b *Box) checkProbes(c *checker) {
	c.number("probes", float64(len(b.Probes)), 1, profile.MaxProbes)
	for i, p := range b.Probes {
		key := fmt.Sprintf("probes[%d]", i)
		if p.Name == "" {
			c.add("%s.name: empty", key)
		}
		c.number(key+".x_m", p.XM, -1, 20)
		c.number(key+".offset_k", p.OffsetK, -10, 10)
		c.number(key+".ice_k", p.IceK, -10, 10)
		c.number(key+".lag_s", p.LagS, 0, 120)
		for j, q := range b.Probes[:i] {
			if q.Name == p.Name {
				c.add("%s.name: %q is probes[%d] already", key, p.Name, j)
			}
			if q.XM == p.XM {
				c.add("%s.x_m: %g m is where probes[%d] is", key, p.XM, j)
			} else if q.XM > p.XM {
				c.add("%s.x_m: %g m lies nearer the steam than probes[%d]; list them from the steam end", key, p.XM, j)
			}
		}
	}
}

func (b *Box) checkBoiler(c *checker) {
	if !slices.Contains(boiler.Kinds, b.Boiler.Kind) {
		c.add("boiler.kind: %q is not one of %v", b.Boiler.Kind, boiler.Kinds)
	}
	if b.Boiler.Ring == "" {
		c.number("boiler.power_w", b.Boiler.PowerW, 100, 50e3)
	} else if !slices.Contains(boiler.Rings, b.Boiler.Ring) {
		c.add("boiler.ring: %q is not one of %v", b.Boiler.Ring, boiler.Rings)
	}
	c.number("boiler.full_l", b.Boiler.FullL, 0.2, 500)
	c.number("boiler.switch_l", b.Boiler.SwitchL, 0, b.Boiler.FullL)
	c.number("boiler.bare_l", b.Boiler.BareL, 0, b.Boiler.FullL)
	if b.Boiler.SwitchL > 0 && b.Boiler.SwitchL <= b.Boiler.BareL {
		c.add("boiler.switch_l: %g L is not above boiler.bare_l, %g L: the switch would trip too late", b.Boiler.SwitchL, b.Boiler.BareL)
	}
	c.number("kettle.litres", b.Kettle.Litres, 0, 50)
	c.number("kettle.power_w", b.Kettle.PowerW, 0, 10e3)
	c.number("kettle.tap_c", b.Kettle.TapC, 0, 100)
	c.number("kettle.carry_s", b.Kettle.CarryS, 0, 3600)
}

func (b *Box) checkRibs(c *checker) {
	b.Common.checkSize(c, "rib.")
	c.number("boat.ribs", float64(len(b.Ribs)), 0, MaxRibs)
	for i, r := range b.Ribs {
		key := fmt.Sprintf("ribs[%d] %q", i, r.Label)
		if r.Label == "" {
			c.add("%s: a rib needs a label", key)
		}
		if slices.IndexFunc(b.Ribs[:i], func(q Rib) bool { return q.Label == r.Label }) >= 0 {
			c.add("%s: named twice", key)
		}
		r.checkSize(c, key+" ")
		if r.Bend != "" && !slices.Contains(window.Difficulties, window.Difficulty(r.Bend)) {
			c.add("%s: bend %q is not easy, middling or hard", key, r.Bend)
		}
	}
}

func (r *Rib) checkSize(c *checker, key string) {
	c.number(key+"length_m", r.LengthM, 0.05, 20)
	c.number(key+"thickness_m", r.ThicknessM, wood.MinSideM, 0.1)
	c.number(key+"width_m", r.WidthM, wood.MinSideM, wood.MaxSideM)
}

// shape returns where the probes are.
func (b *Box) shape() profile.Shape {
	s := profile.Shape{Survey: b.Survey, UncertaintyK: CalibratedK}
	s.Inlet = unit.Metre(b.InletM)
	for _, p := range b.Probes {
		s.X = append(s.X, unit.Metre(p.XM))
		if !p.Calibrated {
			s.UncertaintyK = UncalibratedK
		}
	}
	return s
}

// How far a probe may be off near boiling: by its data sheet as bought, and once
// it was corrected at the boiling point.
const (
	CalibratedK   unit.Kelvin = 0.2
	UncalibratedK unit.Kelvin = 2
)

// corrected returns what a probe that reads c °C was calibrated to mean: the
// offsets found in boiling water and in melting ice, in a straight line.
func (p *BoxProbe) corrected(c float64) float64 {
	return c + p.IceK + (p.OffsetK-p.IceK)*c/100
}

// slot returns the index of the slot with that letter.
func (b *Box) slot(letter string) (int, bool) {
	i := slices.IndexFunc(b.Slots, func(s string) bool { return strings.EqualFold(s, letter) })
	return i, i >= 0
}

// crew is the least time from one rib to the next.
func (b *Box) crew() time.Duration { return seconds(b.CrewS) }

// seconds is the inverse of time.Duration.Seconds, to the nanosecond.
func seconds(s float64) time.Duration {
	return time.Duration(math.Round(s * float64(time.Second)))
}

// checker collects mistakes.
type checker []error

func (c *checker) add(format string, a ...any) { *c = append(*c, fmt.Errorf(format, a...)) }

// join adds the mistakes of an error that Check returned.
func (c *checker) join(err error) {
	if err != nil {
		*c = append(*c, err)
	}
}

func (c *checker) number(key string, x, lo, hi float64) {
	if !unit.Finite(x) || x < lo || x > hi {
		c.add("%s: %g is outside %g to %g", key, x, lo, hi)
	}
}
