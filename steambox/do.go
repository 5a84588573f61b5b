package steambox

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"withy/steambox/pace"
	"withy/steambox/soak"
)

// remembered is how many event ids are kept to know one that is told twice.
const remembered = 256

// RefusedError says why an event can't be taken now, in a sentence for the crew.
type RefusedError struct{ Why string }

// Error returns the sentence.
func (e *RefusedError) Error() string { return e.Why }

func refuse(format string, a ...any) error { return &RefusedError{fmt.Sprintf(format, a...)} }

// Do enters what the crew did at elapsed time at. It changes nothing when it
// returns an error: what is wrong with the event itself, or a RefusedError. An
// event whose id was told before is taken once. One that Corrects takes Refold
// beside it.
func (s *Session) Do(at time.Duration, e Event) error {
	if err := e.Check(); err != nil || s.Knows(e.ID) {
		return err
	}
	do, err := s.plan(e)
	if err != nil {
		return err
	}
	s.until(at)
	do()
	s.epoch++
	s.fitted = nil
	s.Told = append(s.Told, e.ID)
	if len(s.Told) > remembered {
		s.Told = s.Told[1:]
	}
	return nil
}

// Check returns what Do would refuse an event for, without doing it. What it would
// be to correct the past, only Refold can tell.
func (s *Session) Check(e Event) error {
	if err := e.Check(); err != nil || s.Knows(e.ID) || e.Corrects() {
		return err
	}
	_, err := s.plan(e)
	return err
}

// Knows reports whether an event with that id has been taken lately.
func (s *Session) Knows(id string) bool { return slices.Contains(s.Told, id) }

// plan returns what an event does, or why it can't be taken.
func (s *Session) plan(e Event) (func(), error) {
	switch e.Kind {
	case Loaded:
		return s.load(e)
	case Pulled:
		return s.pull(e)
	case Outcome, Fitted:
		return s.tell(e)
	case Split, Replaced:
		return s.broke(e)
	case KeelLift:
		return func() { s.Keel = keel{true, e.LiftMM / 1000} }, nil
	case Filled:
		return func() { s.Water.Fill(e.Litres) }, nil
	case Level:
		return func() { s.Water.Read(e.Litres) }, nil
	case Refilled:
		return func() { s.refill(e) }, nil
	case KettleOn:
		return func() { s.Kettle = max(s.At, 1) }, nil
	case Heat:
		return func() { s.heat(e.On) }, nil
	case Break, Back:
		return func() { s.Resting = e.Kind == Break }, nil
	case Peeped:
		return func() { s.Door.Peeped, s.Door.Open = s.At, nil }, nil
	case Checked:
		return func() { s.Rig.check(RigItem(e.Item), e.On) }, nil
	case Dry:
		return s.dryRun(e.On)
	case Round:
		return s.round()
	case Forget:
		return func() { s.Dry.Rounds, s.Dry.Pace = 0, pace.Crew{} }, nil
	case Set:
		return s.set(*e.Box)
	case Reach:
		return func() { s.Unreached = among(s.Unreached, e.Text, !e.On) }, nil
	case Beat:
		return func() { s.NoBeat = among(s.NoBeat, e.Text, !e.On) }, nil
	case Board:
		return s.board(e)
	case Start:
		return func() { s.Warmth.Forced = true }, nil
	}
	return func() {}, nil // Heard, Reset, Remind, Note and corrections change nothing in the box by themselves
}

// among returns the names with one more, once, or one less.
func among(names []string, name string, is bool) []string {
	names = slices.DeleteFunc(names, func(n string) bool { return n == name })
	if is {
		names = append(names, name)
	}
	return names
}

// heat enters that the heat was switched by hand.
func (s *Session) heat(on bool) {
	c, _ := s.ends()
	s.HeatOff = !on
	s.Warmth.OffLowC, s.Warmth.OffNear = max(c[0], c[1]), s.At
}

// load puts a rib into a slot. A label that is not in the table is a rib of the
// common size.
func (s *Session) load(e Event) (func(), error) {
	slot, ok := s.box.slot(e.Slot)
	if !ok {
		return nil, refuse("There is no slot %s; the slots are %v.", e.Slot, s.box.Slots)
	}
	if in := s.InSlot[slot]; in != empty {
		return nil, refuse("Rib %s lies in slot %s.", s.Ribs[in].Label, s.box.Slots[slot])
	}
	i := s.rib(e.Rib)
	if i >= 0 && s.Ribs[i].Place == InBox {
		return nil, refuse("Rib %s lies in slot %s already.", e.Rib, s.box.Slots[s.Ribs[i].Slot])
	}
	return func() {
		if i < 0 {
			r := s.box.Common
			r.Label = e.Rib
			if len(s.box.Ribs) == 0 {
				r.StationM = float64(len(s.Ribs)) // no table, no stations: the order of loading stands for them
			}
			s.Ribs = append(s.Ribs, RibState{Rib: r, Place: Waiting, Test: e.Test})
			i = len(s.Ribs) - 1
		}
		s.enter(i, slot)
	}, nil
}

func (s *Session) enter(i, slot int) {
	r := &s.Ribs[i]
	if r.Soaks > 0 {
		if r.Heat.Cold {
			r.Heat.Rest(s.modelOf(r), s.At-r.Followed, s.box.ShopC)
		}
		r.Heat.PutBack(s.modelOf(r), s.airAlong(&soak.Heat{Points: r.Heat.Points}, slot, SeenIn(s.air.Quality)))
	} else {
		r.Heat = s.lay(r, slot)
	}
	s.Dry.On = false
	if s.Empty() {
		s.Closed = false
	}
	r.Place, r.Slot, r.In, r.Soaks = InBox, slot, s.At, r.Soaks+1
	r.Outcome, r.Where, r.Mark, r.Split = "", "", "", split{}
	s.InSlot[slot] = i
	s.LastIn, s.Moved = s.At, s.At
	s.noteLoad()
	s.explain()
}

func (s *Session) pull(e Event) (func(), error) {
	slot, ok := s.box.slot(e.Slot)
	if !ok {
		return nil, refuse("There is no slot %s; the slots are %v.", e.Slot, s.box.Slots)
	}
	i := s.InSlot[slot]
	if i == empty {
		return nil, refuse("Slot %s is empty.", s.box.Slots[slot])
	}
	return func() {
		r := &s.Ribs[i]
		r.Called = s.side(i)
		r.Wanted = s.windowOf(r.Rib)
		b := s.bentNow(i)
		s.Bent, r.AtPull = append(s.Bent, b), [2]soak.Exposure{b.Steam, b.Door}
		r.PullHeat = heatOf(&r.Heat)
		r.Heat.Pull(s.modelOf(r), s.box.ShopC)
		r.Place, r.Out = Out, s.At
		s.InSlot[slot] = empty
		if s.LastOut > 0 && !r.Test {
			s.Crew.Pulled(s.At - s.LastOut)
		}
		s.LastOut, s.Moved, s.Closed = s.At, s.At, true
		s.explain()
	}, nil
}

// tell enters what became of a rib that has been pulled.
func (s *Session) tell(e Event) (func(), error) {
	i := s.rib(e.Rib)
	if i < 0 {
		return nil, refuse("There is no rib %s.", e.Rib)
	}
	if s.Ribs[i].Place != Out {
		return nil, refuse("Rib %s has not been pulled.", e.Rib)
	}
	return func() {
		r := &s.Ribs[i]
		if e.Kind == Fitted {
			r.Mark = e.Mark
			return
		}
		r.Outcome, r.Where = e.Outcome, e.Where
		for n := len(s.Bent) - 1; n >= 0; n-- {
			if b := &s.Bent[n]; b.Rib == i {
				b.Outcome, b.Where = e.Outcome, e.Where
				break
			}
		}
	}, nil
}

// broke enters how far a rib has split, or which one took its place.
func (s *Session) broke(e Event) (func(), error) {
	i, with := s.rib(e.Rib), s.rib(e.With)
	switch {
	case i < 0:
		return nil, refuse("There is no rib %s.", e.Rib)
	case s.Ribs[i].Place != Out:
		return nil, refuse("Rib %s has not been pulled.", e.Rib)
	case e.Kind == Split:
		return func() { s.Ribs[i].Split = split{true, e.AcrossPct, e.ThroughPct} }, nil
	case with < 0 || with == i:
		return nil, refuse("There is no rib %s to take its place.", e.With)
	case s.Ribs[with].Replaces != "":
		return nil, refuse("Rib %s took the place of %s already.", e.With, s.Ribs[with].Replaces)
	}
	return func() {
		was, now := &s.Ribs[i], &s.Ribs[with]
		was.ReplacedBy, now.Replaces = now.Label, was.Label
		now.StationM, now.Boat = was.StationM, was.Boat
		now.Called = cmp.Or(now.Called, was.markIn())
	}, nil
}

// rib returns the index of the rib with that label, or -1.
func (s *Session) rib(label string) int {
	return slices.IndexFunc(s.Ribs, func(r RibState) bool { return r.Label == label })
}
