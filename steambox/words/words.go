// Package words holds the sentences that the crew hears and reads: the shed's
// words, one place for all of them.
package words

import (
	"fmt"
	"math"
	"strings"

	"withy/steambox"
)

// Clock returns seconds as minutes and seconds, such as 1:05.
func Clock(s float64) string {
	n := int(math.Round(math.Abs(s)))
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// long returns seconds the way one says them when they need not be exact.
func long(s float64) string {
	switch m := s / 60; {
	case m < 1.5:
		return fmt.Sprintf("%.0f seconds", 5*math.Round(s/5))
	case m < 90:
		return fmt.Sprintf("%.0f minutes", m)
	default:
		return fmt.Sprintf("%.1f hours", m/60)
	}
}

// Call returns one call as a sentence, with how long the rib will still wait.
func Call(c steambox.Call) string {
	switch c.Do {
	case steambox.PullCall:
		return pull(c)
	case steambox.LoadCall:
		when := " now"
		if c.InS != nil && *c.InS >= 1 {
			when = " in " + Clock(*c.InS)
		}
		return fmt.Sprintf("Load rib %s%s into %s%s, mark towards you.", c.Rib, of(c.Boat), c.Slot, when)
	case steambox.HoldCall:
		return "You are on a break: load no more."
	case steambox.DryCall:
		return dry(c)
	case steambox.DoneCall:
		return AllOut
	}
	return "The box is not ready. Load nothing yet."
}

func dry(c steambox.Call) string {
	if c.InS != nil && *c.InS >= 1 {
		return "Dry run. Next round in " + Clock(*c.InS) + "."
	}
	return "Dry run: pull the stick, walk, fit it, walk back, and press."
}

func pull(c steambox.Call) string {
	var b strings.Builder
	switch {
	case c.InS == nil:
		fmt.Fprintf(&b, "Rib %s%s in %s: the box is too cold to say when.", c.Rib, of(c.Boat), c.Slot)
		return b.String()
	case c.TooFar:
		fmt.Fprintf(&b, "Pull rib %s%s from %s: its hotter end has had too much. Bend it gently.", c.Rib, of(c.Boat), c.Slot)
	case *c.InS < 1:
		fmt.Fprintf(&b, "Pull rib %s%s from %s. ", c.Rib, of(c.Boat), c.Slot)
		b.WriteString(good(c.GoodS))
	case c.GoodS != nil && *c.GoodS < 1:
		fmt.Fprintf(&b, "Rib %s%s from %s in %s. Its hotter end will have had enough before the cooler one is soft: pull it early, and bend it gently.", c.Rib, of(c.Boat), c.Slot, Clock(*c.InS))
	default:
		fmt.Fprintf(&b, "Rib %s%s from %s in %s. ", c.Rib, of(c.Boat), c.Slot, Clock(*c.InS))
		b.WriteString(good(c.GoodS))
	}
	switch {
	case c.Test:
		b.WriteString(" A test piece: bend it as the boat's tightest bend, and tell how it went.")
	case c.Mark != "":
		fmt.Fprintf(&b, " Mark to %s.", c.Mark)
	default:
		b.WriteString(" Mark to the side of the rib it replaces.")
	}
	if !c.Sure {
		b.WriteString(" Not sure: part of its time was not seen.")
	}
	return b.String()
}

// of names the boat, where there are several.
func of(boat string) string {
	if boat == "" {
		return ""
	}
	return " of " + boat
}

// good says how long a rib waits once it is ready.
func good(s *float64) string {
	switch {
	case s == nil:
		return "Good for as long as you like."
	case *s < 20:
		return "It won't wait."
	}
	return "Good for " + long(*s) + "."
}

// What is said once all ribs are out, while the heat is on and when it is off.
const (
	AllOut        = "All ribs are out. Burner off? The watch goes on until the box is cold."
	AllOutHeatOff = "All ribs are out and the heat is off. The watch goes on until the box is cold."
)

// KeepAway stands in place of every call while there is pressure in the box.
const KeepAway = "Keep away from the door: pressure in the box."

// Stop answers "can I stop?".
func Stop(s steambox.Stop) string {
	if s.Back != nil {
		return back(s)
	}
	if s.InBox == 0 {
		return "The box is empty. Stop when you like; the water still boils."
	}
	empty := "The box is too cold to say when it is empty."
	if s.EmptyS != nil {
		empty = "Load no more. Box empty in " + Clock(*s.EmptyS) + "."
	}
	if s.WaitS == nil {
		return empty
	}
	wait := ribsWait(s)
	return fmt.Sprintf("%s Or: %s", empty, strings.ToLower(wait[:1])+wait[1:])
}

// ribsWait says how long the ribs in the box can be left; "" where that isn't known.
func ribsWait(s steambox.Stop) string {
	switch {
	case s.WaitS == nil:
		return ""
	case s.InBox == 1:
		return "The rib in the box waits " + Clock(*s.WaitS) + " at most."
	}
	return fmt.Sprintf("%d ribs wait %s at most.", s.InBox, Clock(*s.WaitS))
}

// back says how to begin again after a break.
func back(s steambox.Stop) string {
	said := "The box is not hot: warm it up before you load."
	if s.Back.Ready {
		said = "The box is hot: load the first when you are back, and one interval later the next."
		if s.Back.LoadS >= 1 {
			said = "The box is hot: the next can go in in " + Clock(s.Back.LoadS) + "."
		}
	}
	if s.InBox > 0 {
		said = strings.TrimSpace(ribsWait(s) + " " + said)
	}
	if s.Back.WaterS != nil {
		said += " Water for " + long(*s.Back.WaterS) + ": it boils while you are away."
	}
	return said
}
