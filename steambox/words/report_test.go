package words_test

import (
	"regexp"
	"strings"
	"testing"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// stick is one of which enough was bent to know it.
var stick = steambox.StickNow{Stick: "A", ThicknessM: 0.0065, Bend: "hard", Target: 4.3, Chance: 0.96, Bends: 11}

// wholeDay is a day on which all went well: 24 ribs at 3:12, of which each had 6:32 in
// the steam.
func wholeDay() words.Learnt {
	return words.Learnt{
		Pulled: 24, Bent: steambox.Counts{Supple: 22, Stiff: 1, Cracked: 1}, Learns: true,
		Set: steambox.Window{Soft: 2.2, Target: 2.8, Over: 5.5}, Stick: &stick, SupplesS: 401, SoakS: 392, IntervalS: 192,
		CrewS: 75, Slots: 4, Told: true, BoiledS: 6840, BoiledL: [3]float64{5.8, 4.1, 6.7}, RateLH: 3.05,
		SteamBeforeS: 1080, Kind: boiler.OpenPot,
	}
}

func TestNextTime(t *testing.T) {
	for _, row := range []struct {
		name     string
		sentence int
		change   func(*words.Learnt)
		want     string
	}{
		{"known stick", 0, func(*words.Learnt) {}, "Stick A, 6.5 mm, hard bends: let the cooler end take 4.3 min at 100 °C, here about 6:41 in the steam, and both ends come out supple 96 times in 100; bend two offcuts first if it is another stick."},
		{"none supple", 0, func(l *words.Learnt) { l.SupplesS = 0 }, "Stick A, 6.5 mm, hard bends: let the cooler end take 4.3 min at 100 °C, and both ends come out supple 96 times in 100; bend two offcuts first if it is another stick."},
		{"nothing pulled", 0, func(l *words.Learnt) { l.Pulled = 0 }, "Nothing was bent, so begin with what is usual for such wood, and bend two or three offcuts first."},
		{"untold", 0, func(l *words.Learnt) { l.Bent, l.Stick = steambox.Counts{Untold: 24}, nil }, "Tell how each rib bent: without it the soak stays a guess, what is usual for such wood."},
		{"set", 0, func(l *words.Learnt) { l.Learns = false }, "The window is as you set it, 2.8 min at 100 °C: 22 of 24 ribs told came out supple with it."},
		{"set, untold", 0, func(l *words.Learnt) { l.Learns, l.Bent = false, steambox.Counts{Untold: 24} }, "The window is as you set it, 2.8 min at 100 °C: tell how each rib bent, for without it nobody can say whether it was right."},

		// 392 s in the steam over 192 s from pull to pull are 2.04 ribs in the box.
		{"two slots", 1, func(*words.Learnt) {}, "You took a rib every 3:12: with 6:32 in the steam that fills 2 slots, one in as one comes out."},
		{"slower than the soak", 1, func(l *words.Learnt) { l.IntervalS = 900 }, "You took a rib every 15:00, longer than the 6:32 in the steam: load one at a time, when you are ready for it."},
		{"faster than the box", 1, func(l *words.Learnt) { l.IntervalS = 60 }, "You took a rib every 1:00: with all 4 slots and 6:32 in the steam load one as one comes out."},
		{"one rib", 1, func(l *words.Learnt) { l.IntervalS = 0 }, "Too few ribs were pulled to know your pace: plan for one every 1:15, and make a dry run with cold sticks."},

		{"water", 2, func(*words.Learnt) {}, "Have 7.0 L of water for a day like this: 1 h 54 min of steam, 18 min of it before the first rib could go in, at 3.0 L an hour."},
		{"nearly dry", 2, func(l *words.Learnt) { l.NearlyDry = true }, "Have 7.0 L of water for a day like this: 1 h 54 min of steam, 18 min of it before the first rib could go in, at 3.0 L an hour, and put the kettle on as soon as it is called: this time it was nearly dry."},
		{"dry tank, never ready", 2, func(l *words.Learnt) {
			l.RanDry, l.NearlyDry, l.Kind, l.SteamBeforeS = true, true, boiler.ClosedTank, 0
		}, "Have 7.0 L of water for a day like this: 1 h 54 min of steam, at 3.0 L an hour, and plan the break for water earlier: this time the boiler ran dry."},
		{"no fill told", 2, func(l *words.Learnt) { l.Told, l.SteamBeforeS = false, 0 }, "Have 7.0 L of water for a day like this: 1 h 54 min of steam, at 3.0 L an hour, and tell how much you fill, for without it nobody can say when the boiler is dry."},
		{"second boat", 2, func(l *words.Learnt) {
			l.After, l.BoiledS, l.BoiledL, l.SteamBeforeS = true, 840, [3]float64{0.7, 0.4, 0.9}, 0
		}, "Plan the water for the warm-up and for the boats before by the logs before this one, and have 1.0 L more for a boat like this: 14 min of steam, at 3.0 L an hour."},
		{"never boiled", 2, func(l *words.Learnt) { l.BoiledS, l.Told = 0, false }, "The boiler did not boil, so nothing was learnt of its water: tell how much you fill, and the rest follows."},
		{"never boiled, fill told", 2, func(l *words.Learnt) { l.BoiledS = 0 }, "The boiler did not boil, so nothing was learnt of its water: go by the plan."},
	} {
		l := wholeDay()
		row.change(&l)
		next := words.NextTime(l, measure.Metric)
		if got := next[row.sentence]; got != row.want {
			t.Errorf("%s:\n%s, want\n%s", row.name, got, row.want)
		}
		for _, u := range []measure.Units{measure.Metric, measure.US} {
			for _, s := range words.NextTime(l, u) {
				if !oneSentence.MatchString(s) {
					t.Errorf("%s: not one sentence: %q", row.name, s)
				}
			}
		}
	}
}

// oneSentence has one full stop, but for those in figures.
var oneSentence = regexp.MustCompile(`^[A-Z]([^.]|\.\d)*\.$`)

func TestBentHow(t *testing.T) {
	for _, row := range []struct {
		place          steambox.RibPlace
		outcome, where string
		want           string
	}{
		{steambox.InBox, "", "", "still in the box"},
		{steambox.Waiting, "", "", "not bent"},
		{steambox.Out, "", "", "not told"},
		{steambox.Out, "supple", "", "supple"},
		{steambox.Out, "cracked", "outside", "cracked, outside"},
		{steambox.Out, "cracked", "snapped", "snapped"},
	} {
		if got := words.BentHow(row.place, row.outcome, row.where); got != row.want {
			t.Errorf("%v: %s, want %s", row, got, row.want)
		}
	}
}

func TestToldAfterwards(t *testing.T) {
	over, heard := 580.0, 120.0
	litres := [3]float64{0.4, -0.3, 1.1}
	for _, row := range []struct{ got, want string }{
		{words.BentCounts(steambox.Counts{}), "No rib was bent."},
		{words.BentCounts(steambox.Counts{Supple: 1, ToGo: 23}), "1 rib bent: 1 supple. 23 to go."},
		{words.BentCounts(steambox.Counts{Supple: 20, Stiff: 1, Cracked: 2, Untold: 1}), "24 ribs bent: 20 supple, 1 stiff, 2 cracked, 1 not told."},
		{words.EndsShared(0.88, 0.81, 0.94, 24), "The door end of a rib took 0.88 of the heat that its steam end took (0.81 to 0.94 over 24 ribs)."},
		{words.EndsShared(1.1, 1.1, 1.1, 1), "The door end was the hotter: it took 1.10 of the heat that the steam end took."},
		{words.EndsShared(0.99, 0.99, 0.99, 1), "Both ends took the same heat: the door end 0.99 of the steam end's."},
		{words.AlarmLasted(100, nil, nil), "still so at the end, heard by nobody"},
		{words.AlarmLasted(100, &over, &heard), "for 8 minutes, heard after 20 seconds"},
		{words.NotSeen("10:02", "10:07", "", 300), "10:02 to 10:07 (5 minutes): nothing was seen of the box."},
		{words.NotSeen("10:02", "10:03", "door", 60), "10:02 to 10:03 (60 seconds): probe door could not be read; its end was guessed from the rest."},
		{words.Untold(0, 0), ""},
		{words.Untold(1, 2), "How 1 rib bent was not told: it counts as a weak guess of supple. Which way round 2 ribs went in was not told: the side where the mark was called to go stands in its place."},
		{words.PaceWas(0, 0, 0), ""},
		{words.PaceWas(0, 330, 1), "5:30 in the steam."},
		{words.PaceWas(400, 330, 1), "As a rule 5:30 in the steam, one rib at a time, one every 6:40."},
		{words.WaterPoured(nil, 0, measure.Metric), "Nothing was poured in."},
		{words.WaterPoured([]string{"10:02", "10:40", "11:05"}, 4.5, measure.Metric), "4.5 L poured in, at 10:02, 10:40 and 11:05."},
		{words.WaterLeft(litres, measure.Metric), "Left at the end: about 0.4 L (0.0 L to 1.1 L)."},
		{words.MarkWent("", false), "?"},
		{words.MarkWent("port", false), "port (as called)"},
		{words.MarkWent("port", true), "port"},
		{words.FromSticks(nil), ""},
		{words.FromSticks([]string{"A", "B", "C"}), "Cut from sticks A, B and C."},
		{words.Mend(words.IsReplaced, "25"), "rib 25 took its place"},
	} {
		if row.got != row.want {
			t.Errorf("%s, want %s", row.got, row.want)
		}
	}
}

// A day's water in quarts: 7 L are 7.397 qt and 3.05 L 3.223 qt; 6.5 mm are 0.256 in (NIST Special
// Publication 811, appendix B.8, from memory).
func TestNextTimeUS(t *testing.T) {
	all := strings.Join(append(reportSentences(measure.US), ""), "\n")
	for _, want := range []string{"Have 7.4 qt of water", "at 3.2 qt an hour", "Stick A, 1/4 in, hard bends", "4.3 min at 212 °F"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
}

// reportSentences returns the report's sentences that have a quantity in them.
func reportSentences(u measure.Units) []string {
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam"}, {Name: "door", XM: 1.5, Calibrated: true}}
	next := words.NextTime(wholeDay(), u)
	said := append(next[:], words.Measured(b, u)...)
	return append(said, words.Learned(stick, 3.5, u), words.SetWindow(steambox.Window{Target: 2.8, Over: 5.5}, u),
		words.WaterFilled("09:00", 4, u), words.WaterPoured([]string{"10:02"}, 1.5, u),
		words.WaterBoiled(6840, [3]float64{5.8, 4.1, 6.7}, [3]float64{3, 2.2, 3.5}, u), words.WaterLeft([3]float64{4, 3, 5}, u),
		words.CourseKey(80, true, u), words.HeatKey(u), words.HeatColumns(u))
}
