package steambox

import "slices"

// set puts another box in the place of the one there is, between two samples or with
// ribs in it. What was told and seen stays: the ribs that have been in, the water, the
// air as it was read last, how far the warm-up has come. What was learnt of a thing that
// is told otherwise now is to be learnt again.
func (s *Session) set(b Box) (func(), error) {
	if n := len(s.box.Probes); len(b.Probes) != n {
		return nil, refuse("The box has %d probes, and other ones take a new start.", n)
	}
	slots, err := s.slotsIn(&b)
	if err != nil {
		return nil, err
	}
	for _, r := range b.Ribs {
		if i := s.rib(r.Label); i >= 0 && s.Ribs[i].Test {
			return nil, refuse("%s was a test piece: no rib of the table can be called that.", r.Label)
		}
	}
	now, err := setUp(b, s.Ribs)
	if err != nil {
		return nil, refuse("That can't be reckoned with: %v.", err)
	}
	return func() { s.become(now, slots) }, nil
}

// slotsIn returns where each slot is among those of another box; empty where it is no
// more.
func (s *Session) slotsIn(b *Box) ([]int, error) {
	slots := make([]int, len(s.box.Slots))
	for k, letter := range s.box.Slots {
		to, ok := b.slot(letter)
		if !ok {
			to = empty
			if i := s.InSlot[k]; i != empty {
				return nil, refuse("Rib %s lies in slot %s: pull it, or leave that slot its letter.", s.Ribs[i].Label, letter)
			}
		}
		slots[k] = to
	}
	return slots, nil
}

// become lets the box be another from now on, its slots where slots says.
func (s *Session) become(now setup, slots []int) {
	for i := range s.Ribs {
		if r := &s.Ribs[i]; r.Soaks > 0 && s.assumed(r.Rib) != now.assumed(r.Rib) {
			r.Heat.Remodel(s.modelOf(r), now.modelOf(r))
		}
	}
	s.Water.Refit(s.box.Boiler, now.box.Boiler, now.latent)
	if now.box.size() != s.box.size() {
		if w, err := now.box.size().FirstWalls(); err == nil {
			s.Walls, s.Warming, s.WallsTried = w, nil, false
		}
	}
	s.relist(now.box.Ribs)
	s.reslot(slots, len(now.box.Slots))
	s.setup = now
	s.air.State = s.state.Air
	s.SetTo = &now.box
}

// told reports whether anything was told of a rib, so that no table can take it away.
func (r *RibState) told() bool { return r.Place != Waiting || r.Replaces != "" }

// relist lets the ribs be those of a table, in its order, and after them the others of
// which something was told: first those that stood in a table before.
func (s *Session) relist(table []Rib) {
	s.setApart(table)
	was := s.Ribs
	to := make([]int, len(was)) // where each is now
	for i := range to {
		to[i] = empty
	}
	var ribs []RibState
	for _, r := range table {
		if i := s.toldOf(r.Label); i >= 0 {
			to[i] = len(ribs)
			ribs = append(ribs, was[i].listedAs(r))
		} else {
			ribs = append(ribs, RibState{Rib: r, Place: Waiting})
		}
	}
	keep := func(listed bool) {
		for i := range was {
			if to[i] == empty && was[i].told() && listed == (s.placed(i) && was[i].Replaces == "") {
				to[i] = len(ribs)
				ribs = append(ribs, was[i])
			}
		}
	}
	keep(true)
	listed := len(ribs)
	keep(false)
	s.Ribs, s.Listed = ribs, listed
	for n := range s.Bent {
		s.Bent[n].Rib = to[s.Bent[n].Rib]
	}
	for k, i := range s.InSlot {
		if i != empty {
			s.InSlot[k] = to[i]
		}
	}
}

// setApart puts the boat's name behind the labels of ribs of which something was told, where
// a table names another boat and has ribs of the same numbers for it; a table of their own
// boat gives them their numbers back.
func (s *Session) setApart(table []Rib) {
	for _, in := range table {
		if in.Boat == "" {
			continue
		}
		if i := s.toldOf(in.Label); i >= 0 {
			if boat := s.boat(&s.Ribs[i]); boat != "" && boat != in.Boat {
				s.Ribs[i].Boat = boat
				s.relabel(i, in.Label+" "+boat)
			}
		}
		if i := s.toldOf(in.Label + " " + in.Boat); i >= 0 && s.toldOf(in.Label) < 0 {
			s.relabel(i, in.Label)
		}
	}
}

// toldOf returns the index of the rib with that label of which something was told, or -1.
func (s *Session) toldOf(label string) int {
	return slices.IndexFunc(s.Ribs, func(r RibState) bool { return r.Label == label && r.told() })
}

func (s *Session) relabel(i int, label string) {
	was := s.Ribs[i].Label
	for k := range s.Ribs {
		r := &s.Ribs[k]
		if r.Replaces == was {
			r.Replaces = label
		}
		if r.ReplacedBy == was {
			r.ReplacedBy = label
		}
	}
	s.Ribs[i].Label = label
}

// listedAs is the rib with what a table says of it now. One that has been in the box
// keeps its size, one that took another's place that one's.
func (r RibState) listedAs(in Rib) RibState {
	was := r.Rib
	r.Rib = in
	if r.Place != Waiting {
		r.LengthM, r.ThicknessM, r.WidthM = was.LengthM, was.ThicknessM, was.WidthM
	}
	if r.Replaces != "" {
		r.StationM, r.Boat = was.StationM, was.Boat
	}
	return r
}

// reslot moves what lies in the slots to where they are among n others.
func (s *Session) reslot(slots []int, n int) {
	in := slices.Repeat([]int{empty}, n)
	for k, i := range s.InSlot {
		if i != empty {
			in[slots[k]] = i
		}
	}
	s.InSlot = in
	for i := range s.Ribs {
		if r := &s.Ribs[i]; r.Place != Waiting {
			r.Slot = max(0, slots[r.Slot])
		}
	}
	if o := s.Door.Open; o != nil {
		if slots[o.Slot] == empty {
			s.Door.Open = nil
		} else {
			o.Slot = slots[o.Slot]
		}
	}
}
