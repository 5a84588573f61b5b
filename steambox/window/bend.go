package window

import (
	"fmt"
	"slices"

	"withy/steambox/soak"
	"withy/steambox/unit"
)

// Outcome is how a bend went. The empty one is untold: it counts as supple with
// little weight, because a crew with full hands reports the good ribs last.
type Outcome string

// The outcomes. Stiff is ambiguous: underdone or overdone.
const (
	Supple  Outcome = "supple"
	Stiff   Outcome = "stiff"
	Cracked Outcome = "cracked"
)

// Outcomes lists those that can be told.
var Outcomes = []Outcome{Supple, Stiff, Cracked}

// Where is the place of a crack; empty: nobody looked.
type Where string

// The places of a crack. Outside speaks for underdone wood, the other two for
// overdone; with exceptions, so they only shift the weights.
const (
	Outside Where = "outside"
	Inside  Where = "inside"
	Snapped Where = "snapped"
)

// Wheres lists them.
var Wheres = []Where{Outside, Inside, Snapped}

// Difficulty is how sharp a bend is. A harder bend has the narrower window.
type Difficulty string

// The difficulties; the empty one is middling.
const (
	Easy     Difficulty = "easy"
	Middling Difficulty = "middling"
	Hard     Difficulty = "hard"
)

// Difficulties lists them, easiest first.
var Difficulties = []Difficulty{Easy, Middling, Hard}

// rank orders difficulties, easiest first.
func (d Difficulty) rank() int {
	if d == "" {
		d = Middling
	}
	return slices.Index(Difficulties, d)
}

// Bend is one piece that came out of the steam and was bent.
type Bend struct {
	Cool       soak.Exposure `means:"Heat that its cooler end took, in minutes at 100 °C."`
	Hot        soak.Exposure `means:"Heat that its hotter end took, in minutes at 100 °C; as much for a short offcut."`
	Outcome    Outcome       `means:"How it bent."`
	Where      Where         `means:"Where it cracked; empty where it did not, or nobody told."`
	Difficulty Difficulty    `means:"How hard it bends; empty for middling."`
	InRun      bool          `means:"Whether it was a rib of the run and not a test bend: the stick has drifted a little since."`
}

// Limits of an exposure that can be believed, in minutes at 100 °C. The upper one
// is a week and more; the logarithm needs the lower one.
const (
	MinExposure soak.Exposure = 0.001
	MaxExposure soak.Exposure = 10000
)

// Fault is one thing that is wrong with a bend.
type Fault struct {
	Column string // that it would stand in: exposure_min, outcome, where or bend
	Says   string
}

// Check returns all that is wrong with a bend; nothing if it can be learnt from.
func (b Bend) Check() []Fault {
	var faults []Fault
	add := func(column, format string, a ...any) {
		faults = append(faults, Fault{column, fmt.Sprintf(format, a...)})
	}
	for _, e := range []soak.Exposure{b.Cool, b.Hot} {
		if !unit.Finite(float64(e)) || e < MinExposure || e > MaxExposure {
			add("exposure_min", "%g is outside %g to %g", float64(e), float64(MinExposure), float64(MaxExposure))
		}
	}
	if b.Cool > b.Hot {
		add("exposure_min", "the cooler end has %g and the hotter %g", float64(b.Cool), float64(b.Hot))
	}
	if b.Outcome != "" && !slices.Contains(Outcomes, b.Outcome) {
		add("outcome", "%q is not one of %v", b.Outcome, Outcomes)
	}
	switch {
	case b.Where != "" && !slices.Contains(Wheres, b.Where):
		add("where", "%q is not one of %v", b.Where, Wheres)
	case b.Where != "" && b.Outcome != Cracked:
		add("where", "%q belongs to a cracked bend", b.Where)
	}
	if b.Difficulty.rank() < 0 {
		add("bend", "%q is not one of %v", b.Difficulty, Difficulties)
	}
	return faults
}

// failed reports whether the bend was told to have gone wrong.
func (b Bend) failed() bool { return b.Outcome == Stiff || b.Outcome == Cracked }

// counts reports whether the bend says something of bends of difficulty d: what
// a harder bend allowed an easier one allows too, and what an easier one refused a
// harder one refuses.
func (b Bend) counts(d Difficulty) bool {
	if b.failed() {
		return b.Difficulty.rank() <= d.rank()
	}
	return b.Difficulty.rank() >= d.rank()
}
