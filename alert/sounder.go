package alert

import (
	"time"

	"withy/steambox"
)

// readySoonS is how many seconds before a pull its first sound comes.
const readySoonS = 15

// How often a sound comes again while its alarm is raised and nobody has heard it; that
// of a low one doesn't.
var repeated = map[Sound]time.Duration{Danger: 5 * time.Second, Kettle: 30 * time.Second, Look: time.Minute}

// Sounder decides which sound begins now. It counts real time, whatever the pace
// of the session. The zero value is ready.
type Sounder struct {
	soon, pulled string // the rib that was last called so, with how often it was soaked
	dry          int    // the round of a dry run that was last called, from 1
	last         map[Sound]time.Duration
	up           map[string]int // how often each alarm had been raised when it last sounded
}

// Next returns the sound that begins at real time now; Silent mostly. Danger goes
// before everything; no rib is called while there is pressure in the box; the
// kettle's sound waits while hands are full.
func (s *Sounder) Next(now time.Duration, st *steambox.Status, alarms []Alarm) Sound {
	if s.last == nil {
		s.last, s.up = map[Sound]time.Duration{}, map[string]int{}
	}
	if st.Dry == nil || !st.Dry.On {
		s.dry = 0
	}
	if s.due(now, Danger, alarms) {
		return Danger
	}
	if call := s.call(st); call != Silent && !KeepAway(alarms) {
		return call
	}
	if !handsFull(st) && s.due(now, Kettle, alarms) {
		return Kettle
	}
	if s.due(now, Look, alarms) {
		return Look
	}
	return Silent
}

// due reports whether an alarm of that sound is raised and wants to be heard now.
func (s *Sounder) due(now time.Duration, sound Sound, alarms []Alarm) bool {
	fresh, any := false, false
	for _, a := range alarms {
		if a.Sound != sound || a.State != Raised || a.Hushed {
			continue
		}
		again := s.up[a.Key()] != a.Count
		any = any || again || a.Priority != Low
		fresh = fresh || again
	}
	last, ever := s.last[sound]
	if !any || !fresh && ever && now-last < repeated[sound] {
		return false
	}
	s.last[sound] = now
	for _, a := range alarms {
		if a.Sound == sound && a.State == Raised {
			s.up[a.Key()] = a.Count
		}
	}
	return true
}

// call returns the sound of the next pull, each once a rib.
func (s *Sounder) call(st *steambox.Status) Sound {
	for _, c := range st.Calls {
		if c.Do == steambox.DryCall {
			return s.round(st.Dry)
		}
		if c.Do != steambox.PullCall || c.InS == nil {
			continue
		}
		name := c.Rib + "/" + c.Slot
		switch {
		case *c.InS <= 0 && s.pulled != name:
			s.pulled, s.soon = name, name
			return Pull
		case *c.InS > 0 && *c.InS <= readySoonS && s.soon != name:
			s.soon = name
			return ReadySoon
		case *c.InS > 2*readySoonS && s.soon == name:
			s.soon, s.pulled = "", "" // the same rib, in again
		}
		return Silent
	}
	return Silent
}

// round returns the sound of a dry run's round, each once.
func (s *Sounder) round(d *steambox.DryNow) Sound {
	if d.SinceS < 0 || s.dry == d.Rounds+1 {
		return Silent
	}
	s.dry = d.Rounds + 1
	return Pull
}

// KeepAway reports whether there is pressure in the box, so that nobody must be
// called to its door.
func KeepAway(alarms []Alarm) bool {
	for _, a := range alarms {
		if a.ID == Pressure && (a.State == Raised || a.State == HeardBy) {
			return true
		}
	}
	return false
}

// handsFull reports whether a pull is on or just over.
func handsFull(st *steambox.Status) bool {
	const before, after = 10, 20
	if st.QuietS < after && st.Phase == steambox.Running {
		return true
	}
	for _, c := range st.Calls {
		if c.Do == steambox.PullCall && c.InS != nil && *c.InS <= before && (c.GoodS == nil || *c.GoodS > 0) {
			return *c.InS > 0
		}
	}
	return false
}
