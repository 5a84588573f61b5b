package words

import (
	"fmt"
	"math"
	"strings"

	"withy/steambox/hull"
)

// evenRibs is how far from even still counts as balanced, in ribs the wrong way
// round: turns themselves leave half a rib over in an odd hull and a little more
// between the ends of an even one.
const evenRibs = 0.75

// Balance says how even a hull is as ribbed so far: which side is the rounder and
// how many ribs the wrong way round would make her so.
func Balance(b hull.Balance) string {
	lean, twist := math.Abs(b.Lean), math.Abs(b.Twist)
	switch {
	case b.Ribs < 2:
		return "Too few ribs are in to say how she balances."
	case max(lean, twist) <= evenRibs*b.PerRib:
		return "Balanced."
	case lean <= 2*b.LeanSD && twist <= 2*b.TwistSD:
		return "Balanced, as far as the probes can tell."
	case twist > 1.25*lean:
		return twisted(b)
	}
	return leaning(b)
}

// leaning finds the ribs that, the wrong way round, would give this lean and this
// twist together: each moves the twist by its place on the keel times the lean.
func leaning(b hull.Balance) string {
	where := "amidships"
	switch xi := b.Twist / b.Lean; {
	case xi < -1.0/3:
		where = "forward"
	case xi > 1.0/3:
		where = "aft"
	}
	ribs := wrongRibs(math.Abs(b.Lean) / b.PerRib)
	return fmt.Sprintf("Rounder to %s, as if %s %s were the wrong way round.", rounder(b.Lean), ribs, where)
}

// twisted supposes one rib half way to the bow and one half way to the stern for
// each rib's worth of twist.
func twisted(b hull.Balance) string {
	ribs := wrongRibs(math.Abs(b.Twist) / b.PerRib)
	return fmt.Sprintf("Twisted, rounder to %s aft and to %s forward, as if %s forward and as many aft were the wrong way round.",
		rounder(b.Twist), rounder(-b.Twist), ribs)
}

func wrongRibs(n float64) string {
	if n < 1.5 {
		return "one rib"
	}
	return fmt.Sprintf("%.0f ribs", n)
}

// rounder is the side to which a lean of this sign makes the hull rounder.
func rounder(lean float64) hull.Side {
	if lean > 0 {
		return hull.Starboard
	}
	return hull.Port
}

// What is said where there is no next rib, or none that can be told.
const (
	AllFitted = "Every rib is in."
	WhereIsIt = "Where the next rib goes can't be told from these: say its station."
)

// WayRound says to which side the mark of the next rib goes and why.
func WayRound(a hull.Advice) string {
	switch a.Reason {
	case hull.First:
		return fmt.Sprintf("Mark to %s: the first rib. From here one port, one starboard.", a.Mark)
	case hull.Depart:
		return onPurpose(a)
	}
	return fmt.Sprintf("Mark to %s%s: one port, one starboard.%s", a.Mark, likeNeighbour(a), whyTurns(a))
}

// onPurpose is said when the turns are left, so that nobody takes it for a slip.
func onPurpose(a hull.Advice) string {
	lead := "Out of turn, on purpose"
	if a.SameAs != "" {
		lead = "Same side again, on purpose"
	}
	return fmt.Sprintf("%s: mark to %s%s. %s This evens it out: about %.0f %% is left at the end of what turns would leave.",
		lead, a.Mark, likeNeighbour(a), wentWrong(a), 100*a.BestWorst/a.PlainWorst)
}

func likeNeighbour(a hull.Advice) string {
	if a.SameAs == "" {
		return ""
	}
	return ", as rib " + a.SameAs
}

// whyTurns says why turns are kept; nothing on an ordinary day.
func whyTurns(a hull.Advice) string {
	switch a.Reason {
	case hull.Blind:
		return " Which end came out softer isn't known, so no better way can be."
	case hull.Always:
		return " " + wentWrong(a) + " Turns are kept always, as you set it."
	case hull.Wait:
		return " " + wentWrong(a) + " A rib still to come evens it out better than this one."
	case hull.Keep:
		return " " + wentWrong(a) + " Putting another out of turn would not mend enough."
	}
	return ""
}

// wentWrong names the ribs for which turns may be left. One that was put out of
// turn on purpose is among them.
func wentWrong(a hull.Advice) string {
	var said []string
	if len(a.Against) > 0 {
		said = append(said, ribsDo(a.Against, "stands out of turn.", "stand out of turn."))
	}
	if len(a.Replaced) > 0 {
		said = append(said, ribsDo(a.Replaced, "replaced another and came out unlike its neighbours.", "replaced others and came out unlike their neighbours."))
	}
	return strings.Join(said, " ")
}

// ribsDo puts the ribs' names before what one or several of them do.
func ribsDo(labels []string, one, several string) string {
	does := several
	if len(labels) == 1 {
		does = one
	}
	list := ribList(labels)
	return strings.ToUpper(list[:1]) + list[1:] + " " + does
}
