package steambox

import "slices"

// Ailment is something wrong with the board that watches, not with the box.
type Ailment string

// The ailments that can be seen from the board itself.
const (
	TooHot Ailment = "hot"    // its processor slows itself down, or soon will
	Full   Ailment = "full"   // hardly any room is left where the log is kept
	Unkept Ailment = "unkept" // the log can't be written
)

// Ailments is all of them.
var Ailments = []Ailment{TooHot, Full, Unkept}

// board enters whether something ails the board.
func (s *Session) board(e Event) (func(), error) {
	a := Ailment(e.Text)
	if !slices.Contains(Ailments, a) {
		return nil, refuse("A board knows no %q.", e.Text)
	}
	return func() {
		s.Ails = slices.DeleteFunc(s.Ails, func(o Ailment) bool { return o == a })
		if e.On {
			s.Ails = append(s.Ails, a)
		}
	}, nil
}
