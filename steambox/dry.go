package steambox

import (
	"time"

	"withy/steambox/pace"
)

// dry is a dry run: sticks, no steam, the real sounder. Pull, walk, fit, walk back,
// some times over; it teaches the pace, and the helper.
type dry struct {
	On     bool
	Called time.Duration // when this round is called
	Rounds int           // that are done, of all dry runs
	Pace   pace.Crew     // from each call until somebody was back at the box
}

// dryPause is how long after somebody is back the next round is called: time to lay
// the stick down.
const dryPause = 5 * time.Second

// DryNow is a dry run as it is, and what came of it.
type DryNow struct {
	On     bool     `json:"on"`
	Rounds int      `json:"rounds"`           // that are done
	SinceS float64  `json:"since_s"`          // of this round; below 0: until it is called
	LastS  *float64 `json:"last_s,omitempty"` // the last round
	PaceS  *float64 `json:"pace_s,omitempty"` // the middle one of the last; absent before the third
}

// dryRun begins a dry run, or ends it. What an earlier one taught stays: a pause for a cup of
// tea is not to cost it.
func (s *Session) dryRun(on bool) (func(), error) {
	switch {
	case !on:
		return func() { s.Dry.On = false }, nil
	case !s.Empty():
		return nil, refuse("There are ribs in the box: a dry run is for a box without.")
	case s.Warmth.Ready:
		return nil, refuse("The box is hot. A dry run is for before.")
	case s.drying():
		return func() {}, nil
	}
	return func() { s.Dry.On, s.Dry.Called = true, s.At+dryPause }, nil
}

// round ends one round of a dry run.
func (s *Session) round() (func(), error) {
	switch {
	case !s.drying():
		return nil, refuse("No dry run is on.")
	case s.At < s.Dry.Called:
		return nil, refuse("This round has not been called yet.")
	}
	return func() {
		s.Dry.Rounds++
		s.Dry.Pace.Pulled(s.At - s.Dry.Called)
		s.Dry.Called = s.At + dryPause
	}, nil
}

// drying reports whether a dry run is on. A box that has become ready ends it: nobody
// needs to press for that.
func (s *Session) drying() bool { return s.Dry.On && !s.Warmth.Ready }

// crew is the least time from one rib to the next: what the crew has shown, else what
// a dry run showed, else what the settings say.
func (s *Session) crew() time.Duration {
	least := s.box.crew()
	if dry, known := s.Dry.Pace.Pace(); known {
		least = dry
	}
	if own, known := s.Crew.Pace(); known {
		least = max(least, own)
	}
	return least
}

// dryNow returns the dry run; nil before the first.
func (s *Session) dryNow() *DryNow {
	if !s.Dry.On && s.Dry.Rounds == 0 {
		return nil
	}
	out := &DryNow{On: s.drying(), Rounds: s.Dry.Rounds}
	if out.On {
		out.SinceS = (s.At - s.Dry.Called).Seconds()
	}
	if last := s.Dry.Pace.Last; len(last) > 0 {
		out.LastS = inSeconds(last[len(last)-1])
	}
	if middle, known := s.Dry.Pace.Pace(); known {
		out.PaceS = inSeconds(middle)
	}
	return out
}

// dryCall is what a dry run asks now.
func (s *Session) dryCall() Call {
	return Call{Do: DryCall, InS: inSeconds(max(0, s.Dry.Called-s.At)), Sure: true}
}
