package steambox

import (
	"math"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// Phase is how far the box has come.
type Phase string

// The phases of a session, by what the probes say rather than by what anybody
// pressed.
const (
	Cold     Phase = "cold"    // nothing hot yet
	Warming  Phase = "warming" // heat is coming
	Ready    Phase = "ready"   // both ends level near boiling
	Running  Phase = "running" // ribs have gone in
	Cooling  Phase = "cooling" // it was ready once and is falling off
	NoProbes Phase = "blind"   // nothing to go by
)

// Levels in °C that part the phases (common practice, no source): steam has
// reached a probe, the box is no danger any more.
const (
	steamC = 60
	coldC  = 45
)

// bucket is how long one entry of the ends' history covers, buckets how many are
// kept: ten minutes.
const (
	bucket  = 10 * time.Second
	buckets = 60
)

// warmth is how the ends have been doing.
type warmth struct {
	Began      time.Duration // when the box began to warm
	Warm       bool          // it has begun
	FirstSteam time.Duration
	LevelAt    time.Duration // when both ends first were level
	ReadyAt    time.Duration
	Ready      bool
	Forced     bool          // ready because somebody said so
	Cooled     time.Duration // since when the box has been cold; 0: it isn't
	Steamed    bool          // it had steam at some time; never forgotten
	FirstReady time.Duration // when it first was ready after a warm-up of its own; never forgotten, 0: never
	OffLowC    float64       // coldest that the hottest end has been since heat off was told
	OffNear    time.Duration // when it was last away from boiling since then
	Lo, Hi     [2][buckets]float64
	N          int           // buckets in use, the last one being filled
	Opened     time.Duration // when the last one was begun
}

// ends returns the temperature at the first and the last probe, and whether any
// probe was read at the last sample.
func (s *Session) ends() (c [2]float64, ok bool) {
	last := len(s.box.Probes) - 1
	return [2]float64{s.state.Air.T[0], s.state.Air.T[last]}, s.state.Air.Quality != profile.Bad
}

// boiling reports whether steam comes from the boiler: its end is within reach of
// the boiling point and nobody has turned the heat off.
func (s *Session) boiling() bool {
	c, _ := s.ends()
	return !s.HeatOff && s.Began && max(c[unit.SteamEnd], c[unit.DoorEnd]) > steamC
}

// boils says what is known of the water over a step, given whether it boiled
// before it: unseen, it may have if it did before or does now, and where no probe
// was ever read.
func (s *Session) boils(before bool, seen soak.Seen) boiler.Boils {
	now := s.boiling()
	switch {
	case s.HeatOff:
		return boiler.Still
	case seen == soak.Blind && (before || now || s.neverSeen()):
		return boiler.Unseen
	case now:
		return boiler.Boiling
	}
	return boiler.Still
}

// neverSeen reports that no probe has been read since the session began.
func (s *Session) neverSeen() bool { return s.Warmth.N == 0 }

// A box whose heat was said to be off is plainly on again when it has risen so far
// over its coldest since, or has kept near boiling for so long.
const (
	onAgainK    = 5.0
	onAgainSpan = 5 * time.Minute
)

// relit takes "heat off" back when the box itself says otherwise: an alarm must not
// hang on somebody remembering to tell.
func (s *Session) relit(now time.Duration, hottest float64) {
	if !s.HeatOff {
		return
	}
	h := &s.Warmth
	h.OffLowC = min(h.OffLowC, hottest)
	if hottest < s.around.BoilingC-s.box.Warm.BelowK {
		h.OffNear = now
	}
	if hottest > steamC && hottest > h.OffLowC+onAgainK || now-h.OffNear >= onAgainSpan {
		s.HeatOff = false
	}
}

// warm enters the ends into their history and judges the warm-up.
func (s *Session) warm(d time.Duration) {
	c, ok := s.ends()
	if !ok {
		return
	}
	h := &s.Warmth
	now := s.At + d
	if h.N == 0 && s.begun.After != nil && s.begun.After.Ready && min(c[0], c[1]) >= s.around.BoilingC-s.box.Warm.BelowK {
		at := max(now, 1)
		h.Warm, h.Began, h.FirstSteam, h.LevelAt, h.Ready, h.ReadyAt = true, at, at, at, true, at
	}
	h.enter(now, c)
	hottest := max(c[0], c[1])
	s.relit(now, hottest)
	switch {
	case hottest >= coldC:
		h.Cooled = 0
	case h.Cooled == 0:
		h.Cooled = max(now, 1)
	}
	if !h.Warm && hottest > coldC {
		h.Warm, h.Began = true, now
	}
	if h.FirstSteam == 0 && hottest > steamC {
		h.FirstSteam = now
	}
	h.Steamed = h.Steamed || h.FirstSteam > 0
	if level := s.level(c); level && h.LevelAt == 0 {
		h.LevelAt = now
	}
	s.fitWalls(now, c)
	early := now < seconds(s.box.Warm.AtLeastS)
	if !h.Ready && (h.Forced || h.LevelAt > 0 && s.level(c) && !early) {
		h.Ready, h.ReadyAt = true, now
		if h.FirstReady == 0 && (s.begun.After == nil || !s.begun.After.Ready) {
			h.FirstReady = max(now, 1)
		}
	}
	if hottest < coldC && h.Ready && s.Empty() {
		h.Ready, h.Forced, h.LevelAt, h.FirstSteam, h.Warm = false, false, 0, 0, false
	}
}

// level reports whether both ends have kept still near boiling for long enough.
func (s *Session) level(c [2]float64) bool {
	h := &s.Warmth
	need := int(s.box.Warm.LevelS / bucket.Seconds())
	if h.N < need || min(c[0], c[1]) < s.around.BoilingC-s.box.Warm.BelowK {
		return false
	}
	for _, e := range unit.Ends {
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := h.N - need; i < h.N; i++ {
			lo, hi = min(lo, h.Lo[e][i]), max(hi, h.Hi[e][i])
		}
		if hi-lo > 2*s.box.Warm.LevelK {
			return false
		}
	}
	return true
}

func (h *warmth) enter(now time.Duration, c [2]float64) {
	if h.N == 0 || now-h.Opened >= bucket {
		if h.N == buckets {
			for _, e := range unit.Ends {
				copy(h.Lo[e][:], h.Lo[e][1:])
				copy(h.Hi[e][:], h.Hi[e][1:])
			}
			h.N--
		}
		h.N++
		h.Opened = now
		for _, e := range unit.Ends {
			h.Lo[e][h.N-1], h.Hi[e][h.N-1] = c[e], c[e]
		}
		return
	}
	for _, e := range unit.Ends {
		h.Lo[e][h.N-1], h.Hi[e][h.N-1] = min(h.Lo[e][h.N-1], c[e]), max(h.Hi[e][h.N-1], c[e])
	}
}

// fellK returns how far each end stands below the hottest it has been in the last
// span of time.
func (s *Session) fellK(span time.Duration) (k [2]float64) {
	h := &s.Warmth
	c, ok := s.ends()
	if !ok {
		return k
	}
	n := min(h.N, int(span/bucket)+1)
	for _, e := range unit.Ends {
		for i := h.N - n; i < h.N; i++ {
			k[e] = max(k[e], h.Hi[e][i]-c[e])
		}
	}
	return k
}

// coldFor is how long a box that was used must have been cold before its session
// is over: longer than any lunch, so that what was bent can still be told of and
// no rib is called twice.
const coldFor = 6 * time.Hour

// idleFor is how old a session may grow in which no rib was ever loaded.
const idleFor = 24 * time.Hour

// Over reports whether a box that was in use has been cold and empty for so long
// that the session is over; one that nobody used is, cold, after a day.
func (s *Session) Over() bool {
	used := s.LastIn > 0 || s.At >= idleFor
	return used && s.Empty() && s.Warmth.Cooled > 0 && s.At-s.Warmth.Cooled >= coldFor
}

// phase says how far the box has come.
func (s *Session) phase() Phase {
	c, ok := s.ends()
	hottest := max(c[0], c[1])
	switch {
	case !ok:
		return NoProbes
	case s.Warmth.Ready && s.LastIn == 0:
		return Ready
	case s.Warmth.Ready && hottest > s.around.BoilingC-3*s.box.Warm.BelowK:
		return Running
	case s.Warmth.Ready:
		return Cooling
	case hottest > coldC:
		return Warming
	}
	return Cold
}

// Empty reports whether no rib is in the box, nor any test piece.
func (s *Session) Empty() bool { return s.count(InBox) == 0 }

func (s *Session) count(p RibPlace) int {
	n := 0
	for i := range s.Ribs {
		if s.Ribs[i].Place == p {
			n++
		}
	}
	return n
}
