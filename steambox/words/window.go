package words

import (
	"fmt"

	"withy/steambox/window"
)

// WhyTest says why a bend is the one worth making next.
func WhyTest(r window.Reason) string {
	switch r {
	case window.Earlier:
		return "A rib that failed may have had too much or too little: one pulled earlier tells which."
	case window.Later:
		return "A rib that failed may have had too little or too much: one left in longer tells which."
	case window.HowLittle:
		return "It shows how short a soak will still do."
	case window.HowMuch:
		return "It shows how long a soak the wood will stand."
	}
	return "Nothing of this stick has been bent yet: this one tells the most."
}

// GuessedWindow says that a window was learnt from no bend.
const GuessedWindow = "A guess: no bend has shown it yet. It is what is usual for such wood."

// Failure says what a bend that failed probably was, from its causes.
func Failure(b window.Bend, c window.Causes) string {
	what := "Stiff"
	if b.Outcome == window.Cracked {
		what = "Cracked"
	}
	at := fmt.Sprintf("%.1f", float64(b.Hot))
	if cool := fmt.Sprintf("%.1f", float64(b.Cool)); cool != at {
		at = cool + " to " + at
	}
	return fmt.Sprintf("%s at %s: %s.", what, at, blame(c))
}

// blame names the cause of a failure that has most of the chance, if one has.
func blame(c window.Causes) string {
	const sure = 0.7
	switch {
	case c.Under > sure:
		return "most likely too little heat"
	case c.Over > sure:
		return "most likely too much heat"
	case c.Neither > sure:
		return "most likely its grain"
	}
	return "not sure why"
}

// Chance says a chance the way one says it in the shed.
func Chance(p float64) string { return fmt.Sprintf("%.0f times in 100", 100*p) }
