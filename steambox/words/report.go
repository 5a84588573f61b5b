package words

import (
	"fmt"
	"math"
	"strings"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
)

// anHour says how fast water boils off, in litres an hour.
func anHour(rateLH float64, u measure.Units) string { return u.Volume(rateLH) + " an hour" }

// HeatTaken returns the heat that an end took, in minutes at 100 °C, with its bounds: to
// stand where the unit is said once.
func HeatTaken(e steambox.EndHeat) string {
	return fmt.Sprintf("%.1f (%.1f to %.1f)", e.Min, e.LoMin, e.HiMin)
}

// between returns a best guess with its bounds, or without where they say the same.
func between(best, lo, hi string) string {
	if lo == hi {
		return "about " + best
	}
	return fmt.Sprintf("about %s (%s to %s)", best, lo, hi)
}

// BentHow says how a rib bent, and where it cracked if that was told.
func BentHow(place steambox.RibPlace, outcome, where string) string {
	switch {
	case place == steambox.InBox:
		return "still in the box"
	case place == steambox.Waiting:
		return "not bent"
	case outcome == "":
		return "not told"
	case where == "snapped":
		return "snapped"
	case where != "":
		return outcome + ", " + where
	}
	return outcome
}

// Mending is what is to be done about a rib that broke.
type Mending string

// What can be done about one; nothing about one that is whole.
const (
	ToGlue     Mending = "glue"
	ToReplace  Mending = "replace"
	IsReplaced Mending = "replaced"
)

// Mend says what is to be done about a rib that broke; by is the rib that took its
// place.
func Mend(m Mending, by string) string {
	switch m {
	case ToGlue:
		return "pin, glue and clamp"
	case ToReplace:
		return "replace; leave it in place until then"
	case IsReplaced:
		return "rib " + by + " took its place"
	}
	return ""
}

// Ribs counts ribs: 1 rib, 24 ribs.
func Ribs(n int) string { return countRibs(n) }

// BentCounts says how many ribs bent how.
func BentCounts(c steambox.Counts) string {
	all := c.Told() + c.Untold
	if all == 0 {
		return "No rib was bent."
	}
	out := fmt.Sprintf("%s bent: %s.", countRibs(all), Outcomes(c))
	if c.ToGo > 0 {
		out += fmt.Sprintf(" %d to go.", c.ToGo)
	}
	return out
}

// Outcomes lists how ribs bent: 12 supple, 1 cracked; "none" without any.
func Outcomes(c steambox.Counts) string {
	var said []string
	for _, one := range []struct {
		n   int
		how string
	}{{c.Supple, "supple"}, {c.Stiff, "stiff"}, {c.Cracked, "cracked"}, {c.Untold, "not told"}} {
		if one.n > 0 {
			said = append(said, fmt.Sprintf("%d %s", one.n, one.how))
		}
	}
	if len(said) == 0 {
		return "none"
	}
	return strings.Join(said, ", ")
}

// EndsShared says how much of the steam end's heat the door end of the ribs took, over
// so many ribs.
func EndsShared(median, lo, hi float64, ribs int) string {
	spread := ""
	if ribs > 1 {
		spread = fmt.Sprintf(" (%.2f to %.2f over %d ribs)", lo, hi, ribs)
	}
	switch {
	case median > 0.97 && median < 1.03:
		return fmt.Sprintf("Both ends took the same heat: the door end %.2f of the steam end's%s.", median, spread)
	case median > 1:
		return fmt.Sprintf("The door end was the hotter: it took %.2f of the heat that the steam end took%s.", median, spread)
	}
	return fmt.Sprintf("The door end of a rib took %.2f of the heat that its steam end took%s.", median, spread)
}

// Learned says what was learnt of a stick, where its window began and where it is now;
// first is the target that the first of its ribs was pulled by, 0: none was.
func Learned(k steambox.StickNow, first float64, u measure.Units) string {
	of := OfStick(k, u)
	if k.Guess {
		return fmt.Sprintf("%s: %.1f min at %s is wanted. %s", of, float64(k.Target), u.HeatAt(), GuessedWindow)
	}
	said := fmt.Sprintf("%s: by %s, the cooler end is ready at %.1f min at %s; soft from %.1f (%.1f to %.1f), too much from %.1f (%.1f to %.1f).",
		of, bends(k.Bends), float64(k.Target), u.HeatAt(), float64(k.Soft.Median), float64(k.Soft.Lo), float64(k.Soft.Hi),
		float64(k.Over.Median), float64(k.Over.Lo), float64(k.Over.Hi))
	if first > 0 && math.Abs(first-float64(k.Target)) >= 0.05 {
		said += fmt.Sprintf(" For the first of them it was %.1f.", first)
	}
	return said
}

// SetWindow says that the window was set and nothing is learnt.
func SetWindow(w steambox.Window, u measure.Units) string {
	return fmt.Sprintf("As you set it: the cooler end is ready at %.1f min at %s, too much is %.1f.", float64(w.Target), u.HeatAt(), float64(w.Over))
}

func bends(n int) string {
	if n == 1 {
		return "1 bend"
	}
	return fmt.Sprintf("%d bends", n)
}

// OfStick names a stick with the thickness and the bend of its ribs.
func OfStick(k steambox.StickNow, u measure.Units) string {
	name := "This wood"
	if k.Stick != "" {
		name = "Stick " + k.Stick
	}
	return fmt.Sprintf("%s, %s, %s bends", name, u.Side(k.ThicknessM), k.Bend)
}

// HotAlready is said of a session that began in the box of another one, ready as that had
// left it.
const HotAlready = "The box was hot already, from the log before: there was no warm-up."

// WarmedUp says how the warm-up went.
func WarmedUp(w steambox.WarmUp) string {
	switch {
	case w.ReadyS == nil && w.Forced:
		return "Loading began before the box was level."
	case w.FirstSteamS == nil:
		return "The box never got steam at both ends."
	case w.ReadyS == nil:
		return "The box never came to be ready."
	}
	return fmt.Sprintf("%s from the beginning to first steam, %s more until the box was ready.",
		Hours(*w.FirstSteamS), Hours(*w.ReadyS-*w.FirstSteamS))
}

// PaceWas says how the ribs followed one another; intervalS 0: too few to tell.
func PaceWas(intervalS, soakS float64, slots int) string {
	switch {
	case soakS == 0:
		return ""
	case intervalS == 0:
		return fmt.Sprintf("%s in the steam.", Clock(soakS))
	case slots == 1:
		return fmt.Sprintf("As a rule %s in the steam, one rib at a time, one every %s.", Clock(soakS), Clock(intervalS))
	}
	return fmt.Sprintf("As a rule %s in the steam, up to %d ribs at once, one out every %s.", Clock(soakS), slots, Clock(intervalS))
}

// WaterFilled says what a boiler held when it was filled.
func WaterFilled(at string, litres float64, u measure.Units) string {
	return fmt.Sprintf("Filled to %s at %s.", u.Volume(litres), at)
}

// WaterTakenOver says what was in the boiler from the log before: best guess, least and
// most.
func WaterTakenOver(litres [3]float64, u measure.Units) string {
	return fmt.Sprintf("Taken over from the log before: %s.", water(litres, u))
}

// NoFillTold says that the water can't be accounted for.
const NoFillTold = "How much was filled was not told, so what was left can't be said."

// WaterPoured says how often water was poured in and how much.
func WaterPoured(times []string, litres float64, u measure.Units) string {
	switch len(times) {
	case 0:
		return "Nothing was poured in."
	case 1:
		return fmt.Sprintf("%s poured in at %s.", u.Volume(litres), times[0])
	}
	last := len(times) - 1
	return fmt.Sprintf("%s poured in, at %s and %s.", u.Volume(litres), strings.Join(times[:last], ", "), times[last])
}

// WaterBoiled says how long it boiled and what that took: best guess, least and most.
func WaterBoiled(boiledS float64, litres, rateLH [3]float64, u measure.Units) string {
	if boiledS < 60 {
		return "It did not boil."
	}
	return fmt.Sprintf("It boiled for %s at %s an hour, so %s boiled off.", Hours(boiledS), water(rateLH, u), water(litres, u))
}

// WaterLeft says what was left at the end: best guess, least and most.
func WaterLeft(litres [3]float64, u measure.Units) string {
	return fmt.Sprintf("Left at the end: %s.", water(litres, u))
}

// water says how much water it is: best guess, least and most, none below nought.
func water(litres [3]float64, u measure.Units) string {
	return between(u.Volume(max(0, litres[0])), u.Volume(max(0, litres[1])), u.Volume(max(0, litres[2])))
}

// AlarmLasted says how long an alarm was so and when somebody heard it; overS nil: it
// was so to the end, heardS nil: nobody said so.
func AlarmLasted(raisedS float64, overS, heardS *float64) string {
	said := "still so at the end"
	if overS != nil {
		said = "for " + long(*overS-raisedS)
	}
	if heardS == nil {
		return said + ", heard by nobody"
	}
	return said + fmt.Sprintf(", heard after %s", long(*heardS-raisedS))
}

// NoAlarms is said of a session without any.
const NoAlarms = "None."

// NotSeen says what was not seen for how long: a probe, or "" for the whole box.
func NotSeen(from, to, probe string, s float64) string {
	if probe == "" {
		return fmt.Sprintf("%s to %s (%s): nothing was seen of the box.", from, to, long(s))
	}
	return fmt.Sprintf("%s to %s (%s): probe %s could not be read; its end was guessed from the rest.", from, to, long(s), probe)
}

// SeenAll is said where nothing was missed.
const SeenAll = "Both ends were seen all the time."

// Untold says of how many ribs it was not told how they bent or which way round they
// went in; "" where all was told.
func Untold(bent, marks int) string {
	var said []string
	if bent > 0 {
		said = append(said, fmt.Sprintf("How %s bent was not told: it counts as a weak guess of supple.", countRibs(bent)))
	}
	if marks > 0 {
		said = append(said, fmt.Sprintf("Which way round %s went in was not told: the side where the mark was called to go stands in its place.", countRibs(marks)))
	}
	return strings.Join(said, " ")
}

// uncalibratedK is what a probe as it was bought may be off by, in kelvin.
const uncalibratedK = 2

// Measured says what was measured in a box.
func Measured(b steambox.Box, u measure.Units) []string {
	calibrated := 0
	for _, p := range b.Probes {
		if p.Calibrated {
			calibrated++
		}
	}
	probes := fmt.Sprintf("The air at %d places in the box, by probes that were calibrated.", len(b.Probes))
	switch {
	case len(b.Probes) == 1:
		probes = "The air at one place in the box: the ends can't be told apart."
	case calibrated < len(b.Probes):
		probes = fmt.Sprintf("The air at %d places in the box; %d of the probes were not calibrated and may be off by %s.", len(b.Probes), len(b.Probes)-calibrated, u.Difference(uncalibratedK, 0))
	}
	pressure := fmt.Sprintf("The air pressure was taken from the altitude, so the weather may have moved the boiling point by %s.", u.Difference(1, 0))
	if b.Measured {
		pressure = "The air pressure was measured."
	}
	water := "Whether the water was above its switch."
	if b.Boiler.SwitchL <= 0 {
		water = "The water had no switch."
	}
	return []string{probes, water, pressure}
}

// Inferred says what was reckoned from it.
func Inferred(b steambox.Box) []string {
	wood := "The heat in the wood, from the air along the box and how wood conducts. How well steam heats its face is known within a factor of two only: that moves all ribs alike, and the ends against one another hardly."
	if b.Wood.FilmFactor < 1.5 {
		wood = "The heat in the wood, from the air along the box and how wood conducts, with how well steam heats its face as a test piece with a probe showed it."
	}
	return []string{wood, "The water left, from what was told and how long it boiled. Times of loads and pulls are those that were told."}
}

// Learnt is what a session has to say to the next.
type Learnt struct {
	Pulled       int // ribs, test pieces too
	Bent         steambox.Counts
	Learns       bool
	Set          steambox.Window    // where nothing is learnt
	Stick        *steambox.StickNow // of which most was told; nil: none
	SupplesS     float64            // usual soak of its ribs that came out supple; 0: none did
	SoakS        float64            // usual soak of all
	IntervalS    float64            // usual time from one pull to the next; 0: too few
	CrewS        float64            // the pace that was set
	Slots        int                // of the box
	After        bool               // it went on in the box of another log, which has what was bent before and, as a rule, the warm-up
	Told         bool               // a fill was, in this log or in the one before
	FullL        float64            // what the boiler holds
	BoiledS      float64
	BoiledL      [3]float64 // best guess, least, most
	RateLH       float64
	RanDry       bool
	NearlyDry    bool    // it might have run dry before a kettle put on then had boiled
	SteamBeforeS float64 // from first steam until the box was ready; 0: it never was
	Kind         boiler.Kind
}

// NextTime says in three sentences what to do next time: on the wood, the pace and the
// water.
func NextTime(l Learnt, u measure.Units) [3]string {
	return [3]string{nextWood(l, u), nextPace(l), nextWater(l, u)}
}

func nextWood(l Learnt, u measure.Units) string {
	told := l.Bent.Told()
	switch {
	case l.Pulled == 0:
		return "Nothing was bent, so begin with what is usual for such wood, and bend two or three offcuts first."
	case !l.Learns && told == 0:
		return fmt.Sprintf("The window is as you set it, %.1f min at %s: tell how each rib bent, for without it nobody can say whether it was right.", float64(l.Set.Target), u.HeatAt())
	case !l.Learns:
		return fmt.Sprintf("The window is as you set it, %.1f min at %s: %d of %d ribs told came out supple with it.", float64(l.Set.Target), u.HeatAt(), l.Bent.Supple, told)
	case l.Stick == nil || l.Stick.Guess || told == 0 && l.Stick.Bends <= l.Bent.Untold:
		return "Tell how each rib bent: without it the soak stays a guess, what is usual for such wood."
	}
	steam := ""
	if l.SupplesS > 0 {
		steam = fmt.Sprintf(", here about %s in the steam", Clock(l.SupplesS))
	}
	return fmt.Sprintf("%s: let the cooler end take %.1f min at %s%s, and both ends come out supple %s; bend two offcuts first if it is another stick.",
		OfStick(*l.Stick, u), float64(l.Stick.Target), u.HeatAt(), steam, Chance(l.Stick.Chance))
}

func nextPace(l Learnt) string {
	if l.IntervalS <= 0 || l.SoakS <= 0 {
		return fmt.Sprintf("Too few ribs were pulled to know your pace: plan for one every %s, and make a dry run with cold sticks.", Clock(l.CrewS))
	}
	slots := int(math.Round(l.SoakS / l.IntervalS))
	switch {
	case slots < 1:
		return fmt.Sprintf("You took a rib every %s, longer than the %s in the steam: load one at a time, when you are ready for it.", Clock(l.IntervalS), Clock(l.SoakS))
	case slots > l.Slots:
		return fmt.Sprintf("You took a rib every %s: with all %s and %s in the steam load one as one comes out.", Clock(l.IntervalS), slotCount(l.Slots), Clock(l.SoakS))
	}
	return fmt.Sprintf("You took a rib every %s: with %s in the steam that fills %s, one in as one comes out.", Clock(l.IntervalS), Clock(l.SoakS), slotCount(slots))
}

func slotCount(n int) string {
	if n == 1 {
		return "1 slot"
	}
	return fmt.Sprintf("%d slots", n)
}

func nextWater(l Learnt, u measure.Units) string {
	happened := "it was nearly dry"
	if l.RanDry {
		happened = "the boiler ran dry"
	}
	var more string
	switch {
	case (l.RanDry || l.NearlyDry) && l.Kind == boiler.OpenPot:
		more = ", and put the kettle on as soon as it is called: this time " + happened
	case l.RanDry || l.NearlyDry:
		more = ", and plan the break for water earlier: this time " + happened
	case !l.Told:
		more = ", and tell how much you fill, for without it nobody can say when the boiler is dry"
	}
	switch {
	case l.BoiledS < 60 && !l.Told:
		return "The boiler did not boil, so nothing was learnt of its water: tell how much you fill, and the rest follows."
	case l.BoiledS < 60:
		return "The boiler did not boil, so nothing was learnt of its water: go by the plan."
	}
	warm := ""
	if l.SteamBeforeS > 0 {
		warm = fmt.Sprintf(", %s of it before the first rib could go in", Hours(l.SteamBeforeS))
	}
	most := u.Volume(roundUp(l.BoiledL[2]))
	have := "Have " + most + " of water for a day like this"
	if l.After {
		have = "Plan the water for the warm-up and for the boats before by the logs before this one, and have " + most + " more for a boat like this"
	}
	return fmt.Sprintf("%s: %s of steam%s, at %s%s.", have, Hours(l.BoiledS), warm, anHour(l.RateLH, u), more)
}

// roundUp goes to the next half litre.
func roundUp(l float64) float64 { return math.Ceil(l*2) / 2 }

// Breakage returns what breakage has come to: what to glue, what to replace, what took
// whose place, spares, and whether it is more than usual.
func Breakage(l steambox.Ledger) []string {
	var out []string
	for _, one := range []string{breakage(l), glue(l), blanks(l), replaced(l)} {
		if one != "" {
			out = append(out, one)
		}
	}
	return out
}

// Unbroken is said where nothing broke.
const Unbroken = "Nothing broke."

func replaced(l steambox.Ledger) string {
	var said []string
	for _, r := range l.Replaced {
		said = append(said, fmt.Sprintf("Rib %s took the place of rib %s.", r.By, r.Rib))
	}
	return strings.Join(said, " ")
}

// Keel says how far the keel lifted; "" where nobody measured.
func Keel(l steambox.Ledger, u measure.Units) string { return keel(l, u) }

// KeelLift is how far the keel lifted off its blocks, in metres, and when that was
// measured, in seconds since the session began.
type KeelLift struct {
	AtS   float64 `json:"at_s"`
	LiftM float64 `json:"lift_m"`
}

// KeelLifted tells how the keel went where it was measured more than once; "" where not.
func KeelLifted(lifts []KeelLift, clock func(s float64) string, u measure.Units) string {
	if len(lifts) < 2 {
		return ""
	}
	var said []string
	for _, l := range lifts {
		said = append(said, u.Length(l.LiftM, 0)+" at "+clock(l.AtS))
	}
	return "It was measured as " + list(said) + "."
}

// ClampsUntil says when the clamps of a boat may come off, by the days after its last
// rib.
func ClampsUntil(early, late string) string {
	return fmt.Sprintf("Leave ties and clamps until %s, better until %s.", early, late)
}

// ClampsADay says the same where the board did not know which day it was.
const ClampsADay = "Leave ties and clamps until a day after the last rib, better two."

// Undated is said of a session that may have been on another day than its log says.
const Undated = "The board did not know the date: the day and the times of day may be wrong."

// UnknownDay stands for the day of such a session.
const UnknownDay = "a day that the board did not know"

// MarkWent says to which side a rib's mark went, or was only called to go.
func MarkWent(mark string, told bool) string {
	switch {
	case mark == "":
		return "?"
	case !told:
		return mark + " (as called)"
	}
	return mark
}

// TestPiece stands for the way round of an offcut that was bent to learn.
const TestPiece = "test piece"

// FromSticks says which sticks a boat's ribs were cut from; "" where nobody told.
func FromSticks(sticks []string) string {
	switch len(sticks) {
	case 0:
		return ""
	case 1:
		return "Cut from stick " + sticks[0] + "."
	}
	last := len(sticks) - 1
	return fmt.Sprintf("Cut from sticks %s and %s.", strings.Join(sticks[:last], ", "), sticks[last])
}

// Rehearsed is said of a session that no wood was bent in.
const Rehearsed = "A rehearsal: no wood was bent."

// NotFinished says that a report ends before its session did.
func NotFinished(until string) string {
	return fmt.Sprintf("Not finished: this is how things stood at %s.", until)
}

// SpringBack ends a sheet to take home.
const SpringBack = "When they are off, measure how far the ribs sprang back, and the keel's lift: the next boat begins there."

// CourseKey explains the drawing of a session; bendC is below which temperature it is
// drawn smaller.
func CourseKey(bendC float64, alarms bool, u measure.Units) string {
	said := fmt.Sprintf("Temperatures: full line the steam end, broken line the door end; below %s they are drawn smaller. Under them, the ribs in their slots. At the foot the water left, thin lines as little and as much as there may be; a triangle where water went in.",
		u.Temperature(bendC, 0))
	if alarms {
		said += " Numbered triangles at the top are the alarms below."
	}
	return said
}

// HeatKey explains the drawing of the heat at both ends of the ribs.
func HeatKey(u measure.Units) string {
	return fmt.Sprintf("Minutes at %s at the pull, rib by rib as they came out: filled dot the steam end, open dot the door end, thin lines as little and as much as it may have been. The pale band is what was wanted by then: from ready (line) to too much (broken line). Foot: dot supple, bar stiff, cross cracked, ? not told.", u.HeatAt())
}

// HeatColumns explains the heat in a table of ribs.
func HeatColumns(u measure.Units) string {
	return fmt.Sprintf("Heat taken at the pull in minutes at %s: best guess, and as little and as much as it may have been. A ? where part of the soak was not seen.", u.HeatAt())
}
