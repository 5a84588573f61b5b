package steambox

import (
	"slices"

	"withy/steambox/boiler"
	"withy/steambox/pace"
)

// After is what a session takes over that begins where another one in the same box is ended
// while that goes on: another boat on the same day.
type After struct {
	Ready  bool         `json:"ready"` // both ends were level near boiling
	Water  boiler.Water `json:"water"`
	Walls  boiler.Walls `json:"walls"`
	Crew   pace.Crew    `json:"crew"`
	Dry    pace.Crew    `json:"dry"`
	Rounds int          `json:"rounds"` // of dry runs
}

// After returns what the next session takes over from this one if it begins at once.
func (s *Session) After() *After {
	phase := s.phase()
	return &After{
		Ready: phase == Ready || phase == Running, Water: s.Water, Walls: s.Walls,
		Crew: s.Crew, Dry: s.Dry.Pace, Rounds: s.Dry.Rounds,
	}
}

// takeOver lets a session begin with it.
func (s *Session) takeOver(a *After) {
	s.Water, s.Walls, s.WallsTried = a.Water, a.Walls, a.Walls.Fitted
	s.Crew.Last, s.Dry.Pace.Last = slices.Clip(a.Crew.Last), slices.Clip(a.Dry.Last) // a copy of the session grows its own
	s.Dry.Rounds = a.Rounds
}

func (a *After) check(c *checker) {
	c.number("after.water.left", a.Water.Left.L, 0, 500)
	c.number("after.walls.fade_s", a.Walls.FadeS, 1, 1e6)
	c.number("after.rounds", float64(a.Rounds), 0, 1e6)
}
