package words_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/calibrate"
	"withy/steambox/measure"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/words"
)

// metricUnit is a figure with a metric unit, but for watts, which plugs and boilers bear
// everywhere.
var metricUnit = regexp.MustCompile(`\d\s?(°C|K|mm|cm|m|L|litres?|hPa|kPa)\b`)

// everyQuantity returns the sentences that have a quantity in them.
func everyQuantity(t *testing.T, u measure.Units) []string {
	t.Helper()
	lift, left := 0.02, 3.0
	s := steambox.Status{
		BoilingC: 99.974,
		Rig:      []steambox.RigNow{{Item: steambox.RigPlace}, {Item: steambox.RigProbes, State: steambox.RigOpen}, {Item: steambox.RigWater}},
		Water:    steambox.WaterNow{LeftL: &left, Refill: &steambox.RefillNow{Litres: 1.5, BoilsS: 384, BoilsHiS: 500, RibsIn: 3}},
		Ledger:   steambox.Ledger{KeelLiftM: &lift},
	}
	said := append(words.Advice(&s, u), reportSentences(u)...)
	for _, line := range words.Rig(&s, u) {
		said = append(append(said, line.Says), line.Do...)
	}
	for k := plan.TooFew; k <= plan.KettleTooSlow; k++ {
		said = append(said, words.Limit(plan.Limit{Kind: k, Ribs: []string{"7"}, N: 11, Is: 1.25, May: 0.65}, u))
	}
	said = append(said, words.Lengths(plan.Boat{Fairness: ribs.Fairness{Verdict: ribs.Fair, SeesM: 0.004}}, u), words.OffBy(-0.006, 0, "long", "short", u))
	for _, k := range boiler.Kinds {
		said = append(said, words.CallForWater(k, plan.Call{Litres: 1.5, PourS: 60}, u))
	}
	said = append(said, words.TankBreak(plan.Break{Litres: 3.1}, u)...)
	for _, place := range []calibrate.Place{calibrate.Pot, calibrate.Box} {
		for _, source := range []calibrate.Source{calibrate.Altitude, calibrate.Barometer} {
			truth, err := calibrate.Boiling(place, 101325, source)
			if err != nil {
				t.Fatal(err)
			}
			said = append(said, words.Bath(truth, u))
		}
	}
	for _, d := range []calibrate.Doubt{{Kind: calibrate.TooFar, K: -6.2}, {Kind: calibrate.WakesUp}, {Kind: calibrate.TooWide, K: 7}} {
		said = append(said, words.Doubt(calibrate.Truth{}, d, "door", u))
	}
	return append(said, words.CalibratedAgo(3, calibrate.Truth{WithinK: 1.1}, u), words.CarryTo(0.9, "B", u),
		words.CantSurvey(calibrate.ErrEndsAlike, calibrate.Spot{SteamC: 98.5, DoorC: 98.25}, u), words.CantSurvey(calibrate.ErrShare, calibrate.Spot{SteamC: 98.5, DoorC: 92, C: 20}, u))
}

// With US units no sentence has a metric one left; with metric ones the same sentences
// are found, so the test would see them.
func TestSentencesInUnits(t *testing.T) {
	for _, line := range everyQuantity(t, measure.US) {
		if metricUnit.MatchString(line) {
			t.Error(line)
		}
	}
	if !slices.ContainsFunc(everyQuantity(t, measure.Metric), metricUnit.MatchString) {
		t.Error("no metric unit is seen in metric sentences")
	}
}

// 1.5 L are 1.585 qt, 3 L 3.170 qt, 20 mm 50.4/64 in, 99.974 °C 211.95 °F, 6.2 K 11.16 °F, and 101 325 Pa
// 29.92 inHg (NIST Special Publication 811, appendix B.8, from memory; Handbook 44, appendix C).
func TestUSSentences(t *testing.T) {
	all := strings.Join(everyQuantity(t, measure.US), "\n")
	for _, want := range []string{
		"Water boils here at 212.0 °F", "they may be 4 °F off", "3.2 qt, as told", "1.6 qt that did not boil", "The keel lifts 25/32 in:", "An error of 11/64 in would", "15/64 in too short", "kettle on, 1.6 qt;", "fill (about 3.3 qt)",
		"Boiling here: 211.95 °F, by the barometer (29.92 inHg).", "move it by 2 °F", "door is 11.2 °F below", "gives 185 °F to the digit",
		"known within 2.0 °F", "slot B, 35 7/16 in from the steam end's probe", "up to 49 7/32 in with", "they are 0.45 °F apart", "68.00 °F, between 209.30 °F and 197.60 °F",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
}
