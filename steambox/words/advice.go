package words

import (
	"fmt"
	"slices"
	"strings"

	"withy/steambox"
	"withy/steambox/measure"
)

// Hulls returns what is to be said of each boat: how she balances and the way round
// of her next rib. The boat is named where there are several.
func Hulls(hulls []steambox.HullNow) []string {
	out := make([]string, len(hulls))
	for i, h := range hulls {
		said := []string{}
		if len(hulls) > 1 {
			said = append(said, h.Boat+":")
		}
		if h.Fitted > 0 {
			said = append(said, Balance(h.Balance()))
		}
		switch {
		case h.Advice != nil:
			said = append(said, fmt.Sprintf("Rib %s: %s", h.Next, WayRound(*h.Advice)))
		case h.Fitted > 0 && h.Fitted == h.Stations:
			said = append(said, AllFitted)
		}
		out[i] = strings.Join(said, " ")
	}
	return out
}

// Advice returns what can wait for the next break: on water and heat, a rib to try,
// the pace, what broke, the spares and the keel. It is empty on a day that goes well.
func Advice(s *steambox.Status, u measure.Units) []string {
	out := []string{}
	for _, one := range []string{
		swapped(s.Rig),
		refill(s.Water, u), plannedBreak(s.Water), fillUnknown(s.Water), reserve(s.Water), weak(s.Heat, s.Rhythm), coldEnd(s.ColdEnd),
		try(s.Try), paceAdvice(s), breakage(s.Ledger), glue(s.Ledger), blanks(s.Ledger), keel(s.Ledger, u),
	} {
		if one != "" {
			out = append(out, one)
		}
	}
	if done(s) {
		out = append(out, afterwards...)
	}
	return out
}

// done reports whether the last rib of the day is out.
func done(s *steambox.Status) bool {
	return len(s.Calls) > 0 && s.Calls[0].Do == steambox.DoneCall
}

// afterwards is what is easily forgotten when the last rib is in: common practice, no
// source.
var afterwards = []string{
	"Look for the marks in the boat and tap those that went the other way.",
	"When the box is cold: open it, drain it and let it dry.",
	"The ribs give for an hour or so: fair them by eye now. Leave ties and clamps for a day or two.",
	"When they are off, measure how far the ribs sprang back, and the keel's lift: the next boat begins there.",
}

func swapped(rig []steambox.RigNow) string {
	if slices.Contains(rig, steambox.RigNow{Item: steambox.RigEnds, State: steambox.RigWrong, Seen: true}) {
		return ProbesSwapped
	}
	return ""
}

func paceAdvice(s *steambox.Status) string {
	p := s.Pace
	switch {
	case done(s):
		return "" // there is no next rib to do better with
	case p.Verdict == "too-fast":
		return fmt.Sprintf("The last ribs came out about %s too early. Wait for the call.", long(p.ByS))
	case p.Verdict == "too-slow" && p.Do == "drop":
		return fmt.Sprintf("The last ribs lay about %s too long. Use one slot less.", long(p.ByS))
	case p.Verdict == "too-slow":
		return fmt.Sprintf("The last ribs lay about %s too long. Hold the next blank back until one is out.", long(p.ByS))
	}
	return ""
}

func breakage(l steambox.Ledger) string {
	if !l.Beyond {
		return ""
	}
	why := map[string]string{
		"stick": "The heat was right, so it is more likely the stick: look for runout and dry wood, and try another.",
		"soak":  "Most had too little or too much heat at an end: bend a test piece before the next rib.",
		"pace":  "The pace was off: put that right first.",
	}[l.Favours]
	return "More are breaking than usual. " + why
}

func glue(l steambox.Ledger) string {
	if len(l.Glue) == 0 {
		return ""
	}
	return fmt.Sprintf("To pin, glue and clamp: %s.", ribList(l.Glue))
}

func blanks(l steambox.Ledger) string {
	var said []string
	if len(l.Replace) > 0 {
		said = append(said, fmt.Sprintf("To be replaced, and left in place until then: %s.", ribList(l.Replace)))
	}
	if l.SparesLeft != nil && l.MakeMore > 0 {
		said = append(said, fmt.Sprintf("%s left, and at this stick's rate that will not do: cut %d more.", spares(*l.SparesLeft), l.MakeMore))
	}
	return strings.Join(said, " ")
}

func spares(n int) string {
	switch n {
	case 0:
		return "No spare is"
	case 1:
		return "One spare is"
	}
	return fmt.Sprintf("%d spares are", n)
}

func keel(l steambox.Ledger, u measure.Units) string {
	switch {
	case l.KeelLiftM == nil:
		return ""
	case l.KeelTooHigh:
		return fmt.Sprintf("The keel lifts %s: the bottom comes out too round. Flatten the next ribs amidships a little.", u.Length(*l.KeelLiftM, 0))
	}
	return fmt.Sprintf("The keel lifts %s: that settles as the ribs dry.", u.Length(*l.KeelLiftM, 0))
}

// ribList names ribs: rib 3; ribs 3, 8 and 11.
func ribList(labels []string) string {
	last := len(labels) - 1
	if last == 0 {
		return "rib " + labels[0]
	}
	return "ribs " + strings.Join(labels[:last], ", ") + " and " + labels[last]
}
