package steambox

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// Session is one box from cold to cold: the fold of its samples and events in
// the order of their elapsed time. The same ones give the same session, bit for
// bit on one processor family. It belongs to one goroutine.
type Session struct {
	begun Box // with which it was begun
	setup
	state
	scratch [MaxPoints]soak.Air
	fitted  *fits // nil: to be made anew
	epoch   int   // rises with every event: what follows from them is kept until then
}

// setup is the box as it is set now, and what follows from that alone.
type setup struct {
	box    Box
	around Surroundings
	latent float64 // heat, J/kg
	models map[wood.Section]*soak.Model
	air    *profile.Air
	works  map[wood.Section]pace.Out
	sticks map[stickKey]*stick
}

// state is all of a session that changes.
type state struct {
	At         time.Duration
	Began      bool
	Sampled    time.Duration // when the last sample was taken
	Air        profile.State
	Lag        [profile.MaxProbes]profile.Lag
	Probes     []ProbeSample
	Water      boiler.Water
	HeatOff    bool
	Refill     *refilled // the last that was not boiling; nil: none
	Walls      boiler.Walls
	WallsTried bool             // the warm-up was fitted, or could not be
	Warming    []boiler.WarmRow // of the warm-up so far
	Loads      []time.Duration  // the last few, in the order they came
	Kettle     time.Duration    // when the kettle was put on; 0: it isn't
	SetTo      *Box             // as the box was set last; nil: as the session was begun
	Ribs       []RibState
	Listed     int     // so many of the ribs, the first, are or were in the table
	LnRatio    float64 // of door end to steam end, as the next rib will have it
	Bent       []bent  // in the order of the pulls
	InSlot     []int   // which rib lies in each slot; empty: none
	Crew       pace.Crew
	LastIn     time.Duration
	LastOut    time.Duration
	Door       door
	Closed     bool // a batch that has been pulled from: it takes no more
	Resting    bool
	Warmth     warmth
	Moved      time.Duration // when a rib last went in or out
	GapS       float64
	GapEnd     time.Duration // when the last time that nobody watched was over
	Keel       keel          // as last measured
	Rig        rig
	Dry        dry
	Unreached  []string  // outputs that could not tell of an alarm in time
	NoBeat     []string  // watchers outside that take no sign of life
	Ails       []Ailment // the board, not the box
	Told       []string  // ids of the last events
}

// empty is a slot with no rib in it.
const empty = -1

// RibState is one rib's way through the day.
type RibState struct {
	Rib
	Place      RibPlace
	Slot       int
	Heat       soak.Heat
	In, Out    time.Duration
	Followed   time.Duration    // until when its heat was
	AtPull     [2]soak.Exposure // steam end, door end: best guess when it was pulled
	PullHeat   [2]EndHeat       // the same with its bounds
	Wanted     Window           // what was wanted of it at its pull
	Called     string           // where its mark was called to go when it was pulled
	Outcome    string           // "" until told
	Where      string
	Mark       string // as fitted; "" until told
	Soaks      int    // how often it was loaded
	Test       bool   // an offcut that is bent to learn, and no rib of the boat
	Split      split
	ReplacedBy string // the rib that took its place
	Replaces   string // whose place it took
}

// RibPlace is where a rib is.
type RibPlace string

// A rib waits as a blank, lies in the box, or has been pulled.
const (
	Waiting RibPlace = "waiting"
	InBox   RibPlace = "in"
	Out     RibPlace = "pulled"
)

// NewSession returns a session of a box that passes Check.
func NewSession(box Box) (*Session, error) {
	if err := box.Check(); err != nil {
		return nil, err
	}
	now, err := setUp(box, nil)
	if err != nil {
		return nil, err
	}
	s := &Session{begun: box, setup: now}
	s.state.Air = s.air.State
	s.Water = boiler.NewWater(box.Boiler, s.latent)
	if s.Walls, err = box.size().FirstWalls(); err != nil {
		return nil, err
	}
	s.Probes = make([]ProbeSample, len(box.Probes))
	for range box.Slots {
		s.InSlot = append(s.InSlot, empty)
	}
	for _, r := range box.Ribs {
		s.Ribs = append(s.Ribs, RibState{Rib: r, Place: Waiting})
	}
	s.Listed = len(s.Ribs)
	if box.After != nil {
		s.takeOver(box.After)
	}
	return s, nil
}

// setUp returns what follows from a box that passes Check. There is a model for each
// of its ribs and for those that there are besides.
func setUp(box Box, besides []RibState) (setup, error) {
	s := setup{box: box, models: map[wood.Section]*soak.Model{}, sticks: map[stickKey]*stick{}, works: map[wood.Section]pace.Out{}}
	var err error
	if s.around, err = NewSurroundings(box.PressurePa, box.Measured, box.ShopC); err != nil {
		return s, err
	}
	if s.latent, err = steam.LatentHeat(box.PressurePa); err != nil {
		return s, err
	}
	shape := box.shape()
	shape.BoilingC = s.around.BoilingC
	if s.air, err = profile.New(shape); err != nil {
		return s, err
	}
	if _, err := s.model(box.Common); err != nil {
		return s, err
	}
	for _, r := range box.Ribs {
		if _, err := s.model(r); err != nil {
			return s, fmt.Errorf("rib %s: %w", r.Label, err)
		}
	}
	for _, r := range besides {
		if _, err := s.model(r.Rib); err != nil {
			return s, fmt.Errorf("rib %s: %w", r.Label, err)
		}
	}
	return s, nil
}

// model returns the conduction of a rib, shared by all of its section.
func (s *setup) model(r Rib) (*soak.Model, error) {
	section := wood.Section{WidthM: r.WidthM, ThicknessM: r.ThicknessM}
	if m, ok := s.models[section]; ok {
		return m, nil
	}
	m, err := soak.NewModel(s.assumed(r))
	if err == nil {
		s.models[section] = m
	}
	return m, err
}

// assumed is what is taken for granted of a rib's wood in this box.
func (s *setup) assumed(r Rib) soak.Assumed {
	a := soak.Default(wood.Section{WidthM: r.WidthM, ThicknessM: r.ThicknessM})
	a.Material, a.FilmWPerM2K, a.FilmFactor = s.box.Wood.Material, s.box.Wood.FilmWPerM2, s.box.Wood.FilmFactor
	a.BoilingC = s.around.BoilingC
	return a
}

// modelOf is model for a rib whose section has been seen to be sound.
func (s *setup) modelOf(r *RibState) *soak.Model {
	m, err := s.model(r.Rib)
	if err != nil {
		panic("steambox: rib " + r.Label + " without a model: " + err.Error())
	}
	return m
}

// Box returns the box as it is set now.
func (s *Session) Box() Box { return s.box }

// Begun returns the box that the session was begun with, for Refold.
func (s *Session) Begun() Box { return s.begun }

// Elapsed returns the time of the last sample or event.
func (s *Session) Elapsed() time.Duration { return s.At }

// longestGap is the longest time without a sample that counts as seen.
const longestGap = 10 * time.Second

// Sample enters what all sensors said at elapsed time at, one reading per probe
// of the box. A time before the last one counts as that one.
func (s *Session) Sample(at time.Duration, m Sample) {
	d := max(0, at-s.At)
	if !s.Began {
		d = 0
	}
	boiled := s.boiling()
	s.read(at, d, m)
	seen := s.seenUpTo(at, d)
	s.pass(d, seen, s.boils(boiled, seen), m.Level)
	s.warm(d)
	s.At, s.Began = max(s.At, at), true
	s.Sampled = s.At
	s.watchDoor(at, m.Door)
	s.Rig.watch(s, at, m.Level)
	s.followRatio()
}

// read turns what the probes said into the air of the box.
func (s *Session) read(at, d time.Duration, m Sample) {
	var now [profile.MaxProbes]profile.Reading
	limit := s.around.BoilingC + s.around.BoilingDoubtK
	for i := range s.box.Probes {
		p := &s.box.Probes[i]
		if i < len(m.Probes) {
			s.Probes[i] = m.Probes[i]
		} else {
			s.Probes[i] = ProbeSample{Fault: "absent"}
		}
		if s.Probes[i].Fault == "" {
			c := p.corrected(float64(s.Probes[i].MilliC) / 1000)
			now[i] = s.Lag[i].Correct(at.Seconds(), c, p.LagS, limit)
		}
	}
	s.air.State = s.state.Air
	s.air.Update(now[:len(s.box.Probes)], d.Seconds())
	s.state.Air = s.air.State
}

// seenUpTo says how much was seen of the last d before at. Too long after the last
// sample it is nothing, whatever the crew told meanwhile.
func (s *Session) seenUpTo(at, d time.Duration) soak.Seen {
	if s.Began && at-s.Sampled > longestGap {
		s.GapS += d.Seconds()
		s.GapEnd = at
		return soak.Blind
	}
	return SeenIn(s.air.Quality)
}

// until lets the time up to at go by with the air as it was read last, so that an
// event between two samples falls on its own moment.
func (s *Session) until(at time.Duration) {
	if d := at - s.At; d > 0 && s.Began {
		seen := s.seenUpTo(at, d)
		s.pass(d, seen, s.boils(s.boiling(), seen), s.Water.Reads)
	}
	s.At = max(s.At, at)
}

// pass lets d go by for the water and for every rib that still takes heat.
func (s *Session) pass(d time.Duration, seen soak.Seen, boils boiler.Boils, level boiler.Contact) {
	s.Water.Pass(s.box.Boiler, d.Seconds(), boils, level)
	for i := range s.Ribs {
		r := &s.Ribs[i]
		if r.Place != Waiting && !r.Heat.Cold {
			seen := s.seenOf(i, seen)
			r.Heat.Advance(s.modelOf(r), d, s.airAlong(&r.Heat, r.Slot, seen), seen)
			r.Followed = s.At + d
		}
	}
}

// airAlong returns the air at the points of a rib in a slot, or that was in it; it
// is good until the next call.
func (s *Session) airAlong(h *soak.Heat, slot int, seen soak.Seen) []soak.Air {
	air := s.scratch[:len(h.Points)]
	for i := range air {
		if h.Place == soak.OutOfBox {
			air[i].C = [soak.Bounds]float64{s.box.ShopC, s.box.ShopC, s.box.ShopC}
			continue
		}
		air[i] = AirAt(s.air, s.around, h.Points[i].X, seen)
		if len(s.box.SlotK) > 0 {
			for b := range air[i].C {
				air[i].C[b] += s.box.SlotK[slot]
			}
		}
	}
	return air
}

// endInsetM is how far from its ends a rib's outermost points lie, in metres: the
// last few centimetres warm through the end face and are not bent (common
// practice, no source).
const endInsetM = 0.03

// lay returns the heat of a rib that goes into a slot now, pushed to the steam end.
func (s *Session) lay(r *RibState, slot int) soak.Heat {
	inset := min(endInsetM, r.LengthM/4)
	inner, outer := unit.Metre(inset), unit.Metre(r.LengthM-inset)
	h := soak.Heat{Points: make([]soak.Point, s.box.Points)}
	for i := range h.Points {
		h.Points[i].X = inner + (outer-inner)*unit.Metre(i)/unit.Metre(s.box.Points-1)
	}
	air := s.airAlong(&h, slot, SeenIn(s.air.Quality))
	return soak.NewHeat(s.modelOf(r), inner, outer, s.box.Points, s.box.WoodC, air)
}

// Snapshot returns the session's whole state, for Restore.
func (s *Session) Snapshot() ([]byte, error) {
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(&s.state); err != nil {
		return nil, fmt.Errorf("snapshot: %w", err)
	}
	return b.Bytes(), nil
}

// Restore puts a session that was begun with the same box back to where Snapshot was taken.
func (s *Session) Restore(snapshot []byte) error {
	var st state
	if err := gob.NewDecoder(bytes.NewReader(snapshot)).Decode(&st); err != nil {
		return fmt.Errorf("snapshot: %w", err)
	}
	box := s.begun
	if st.SetTo != nil {
		box = *st.SetTo
	} else {
		st.Listed = len(box.Ribs)
	}
	if len(st.InSlot) != len(box.Slots) || len(st.Probes) != len(box.Probes) {
		return fmt.Errorf("snapshot of a box with %d slots and %d probes", len(st.InSlot), len(st.Probes))
	}
	now, err := setUp(box, st.Ribs)
	if err != nil {
		return fmt.Errorf("snapshot: %w", err)
	}
	s.setup, s.state = now, st
	s.air.State = st.Air
	s.epoch++
	s.fitted = nil
	return nil
}
