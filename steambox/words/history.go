package words

import (
	"fmt"

	"withy/steambox/measure"
)

// NoStick is what the ribs are from of which nobody told the stick; NotKnown stands for a
// number that there is none of; NotRead is said of a session that can't be read.
const (
	NoStick  = "not told"
	NotKnown = "–"
	NotRead  = "It can’t be read."
)

// BesideRows is what two sessions are compared by.
var BesideRows = []string{
	"Bent", "Warm after", "Heat at the door end over the steam end’s, middle (least to most)", "Usual soak", "Usual time from pull to pull",
	"Boiled off", "Alarms", "Water boiled at",
}

// BesideKey explains the graph on which two sessions are drawn.
func BesideKey(bendC float64, u measure.Units) string {
	return fmt.Sprintf("Thick lines are session 1, thin ones session 2; whole lines the steam end, broken ones the door end. Time counts from when "+
		"each box was ready. Above %s the scale is stretched. A dot is a pull, a cross a rib that cracked.", u.Temperature(bendC, 0))
}

// Spread says from where to where something was: 5:00 to 5:30, or 5:30 alone.
func Spread(say func(float64) string, lo, hi float64) string {
	if say(lo) == say(hi) {
		return say(lo)
	}
	return say(lo) + " to " + say(hi)
}

// FoundSessions says how many sessions there are, or were found by a text.
func FoundSessions(n int, text string) string {
	sessions := fmt.Sprintf("%d sessions", n)
	if n == 1 {
		sessions = "1 session"
	}
	switch {
	case text == "":
		return sessions + "."
	case n == 0:
		return fmt.Sprintf("Nothing is found by “%s”.", text)
	}
	return fmt.Sprintf("%s found by “%s”; of each only the ribs that it is found in are counted.", sessions, text)
}
