package words

import (
	"fmt"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
)

// lostAfterS is how long a box without steam may be until its ribs are given up
// (common practice, no source).
const lostAfterS = 600

// noticeS is below how many seconds without steam nobody would notice.
const noticeS = 30

// refill says what cold water poured in has cost.
func refill(w steambox.WaterNow, u measure.Units) string {
	r := w.Refill
	if r == nil || r.BoilsS < noticeS || r.RibsIn == 0 && r.AgoS > r.BoilsHiS {
		return ""
	}
	said := fmt.Sprintf("%s that did not boil cost about %s of steam.", u.Volume(r.Litres), long(r.BoilsS))
	switch {
	case r.RibsIn == 0:
		return said
	case r.BoilsS > lostAfterS:
		return said + fmt.Sprintf(" What was in the box then (%s) may be lost: bend it gently, or keep it for a spare.", ribCount(r.RibsIn))
	}
	return said + fmt.Sprintf(" What was in the box then (%s) needs that much longer; the calls have moved.", ribCount(r.RibsIn))
}

func ribCount(n int) string {
	if n == 1 {
		return "one rib"
	}
	return fmt.Sprintf("%d ribs", n)
}

// plannedBreak says when a boiler that can't be filled hot needs its break.
func plannedBreak(w steambox.WaterNow) string {
	b := w.Break
	switch {
	case b == nil:
		return ""
	case !b.InTime:
		return fmt.Sprintf("Load no more: the heat must be off in %s, and what is in the box then comes out early.", long(b.HeatOffS))
	case b.Loads == 0:
		return fmt.Sprintf("Load no more: last rib out, heat off by %s from now, then wait until it no longer blows, and fill.", long(b.HeatOffS))
	}
	return fmt.Sprintf("Water for %s more. Then: last rib out, heat off (in %s at the latest), wait until it no longer blows, fill, warm up again.",
		ribCount(b.Loads), long(b.HeatOffS))
}

// fillUnknown asks for what nothing can be reckoned without.
func fillUnknown(w steambox.WaterNow) string {
	if w.Basis != boiler.FillUnknown || !w.Boiling {
		return ""
	}
	return "How much water there is isn't known: tell how much was filled, or read the level. Until then nobody can say when it runs dry."
}

// reserve says that a switch sits too low to call the kettle in time.
func reserve(w steambox.WaterNow) string {
	if w.ReserveS == nil || *w.ReserveS >= w.LeadS || w.SwitchL <= 0 {
		return ""
	}
	return fmt.Sprintf("The water switch sits too low: from its trip there are %s, and the kettle takes %s. Tell each fill, or set it higher when cold.",
		long(*w.ReserveS), long(w.LeadS))
}

// weak says that the boiler can't keep the box hot, let alone ribs, or only few.
func weak(h steambox.HeatNow, r steambox.Rhythm) string {
	if r.SoakS != nil && h.ShortestS > *r.SoakS {
		return fmt.Sprintf("This boiler heats one rib in %s: one slot at a time, and a longer soak than elsewhere. %s", long(h.ShortestS), ventOpen)
	}
	if h.MissingW <= 0 {
		return ""
	}
	return fmt.Sprintf("This boiler is too weak for the box by about %.0f W: lag the box, use a shorter one, or a second boiler. %s", h.MissingW, ventOpen)
}

// ventOpen ends every sentence that might make somebody stuff a gap.
const ventOpen = "Leave the vent and the drain open."

// coldEnd says why the door end is cold and what to do, the likeliest cause first.
func coldEnd(suspects []boiler.Suspect) string {
	if len(suspects) == 0 {
		return ""
	}
	said := "The door end is cold. Most likely " + causes[suspects[0].Cause]
	if next := suspects[1]; next.Chance > suspects[0].Chance/2 {
		said += " Or " + causes[next.Cause]
	}
	return said + " " + ventOpen
}

var causes = map[boiler.Cause]string{
	boiler.LoadingTooFast: "ribs go in too fast: wait longer from one to the next.",
	boiler.AirNotOut:      "there is still air in the box: give it time to blow through.",
	boiler.DoorLeak:       "air comes in round the door: see how it shuts.",
	boiler.HoseFull:       "water stands in the hose: heat off first, don't pull it, then let it drain and hang without a sag.",
}

// try names the rib that would tell whether the last one had too little or too much.
func try(t *steambox.Try) string {
	if t == nil {
		return ""
	}
	return fmt.Sprintf("Pull rib %s from %s early and try it. %s", t.Rib, t.Slot, WhyTest(t.Reason))
}

// Proposed asks about what was seen and not told; "" where there is nothing.
func Proposed(p *steambox.Proposal) string {
	switch {
	case p == nil:
		return ""
	case p.Do == steambox.PullCall:
		return fmt.Sprintf("The door was opened %s ago. Was rib %s pulled from %s then? Until you say, it counts as in.", long(p.AgoS), p.Rib, p.Slot)
	}
	return fmt.Sprintf("The door was opened %s ago. Did rib %s go into %s then? Until you say, it counts as out.", long(p.AgoS), p.Rib, p.Slot)
}
