package words_test

import (
	"strings"
	"testing"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/words"
)

func TestHeatAdvice(t *testing.T) {
	reserve := 120.0
	for name, row := range map[string]struct {
		s    steambox.Status
		want string
	}{
		"cold water": {steambox.Status{Water: steambox.WaterNow{Refill: &steambox.RefillNow{Litres: 1.5, BoilsS: 384, BoilsHiS: 500, RibsIn: 3}}},
			"1.5 L that did not boil cost about 6 minutes of steam. What was in the box then (3 ribs) needs that much longer; the calls have moved."},
		"cold water, long": {steambox.Status{Water: steambox.WaterNow{Refill: &steambox.RefillNow{Litres: 4, BoilsS: 900, BoilsHiS: 1000, RibsIn: 1}}},
			"4.0 L that did not boil cost about 15 minutes of steam. What was in the box then (one rib) may be lost: bend it gently, or keep it for a spare."},
		"closed tank": {steambox.Status{Water: steambox.WaterNow{Break: &steambox.BreakNow{Loads: 5, HeatOffS: 1800, InTime: true}}},
			"Water for 5 ribs more. Then: last rib out, heat off (in 30 minutes at the latest), wait until it no longer blows, fill, warm up again."},
		"closed tank, late": {steambox.Status{Water: steambox.WaterNow{Break: &steambox.BreakNow{HeatOffS: 240}}},
			"Load no more: the heat must be off in 4 minutes, and what is in the box then comes out early."},
		"fill unknown": {steambox.Status{Water: steambox.WaterNow{Basis: boiler.FillUnknown, Boiling: true}},
			"How much water there is isn't known: tell how much was filled, or read the level. Until then nobody can say when it runs dry."},
		"switch too low": {steambox.Status{Water: steambox.WaterNow{Basis: boiler.FromFill, SwitchL: 0.5, ReserveS: &reserve, LeadS: 360}},
			"The water switch sits too low: from its trip there are 2 minutes, and the kettle takes 6 minutes. Tell each fill, or set it higher when cold."},
		"weak": {steambox.Status{Heat: steambox.HeatNow{MissingW: 140}},
			"This boiler is too weak for the box by about 140 W: lag the box, use a shorter one, or a second boiler. Leave the vent and the drain open."},
		"try": {steambox.Status{Try: &steambox.Try{Rib: "9", Slot: "B", Reason: "earlier"}},
			"Pull rib 9 from B early and try it. A rib that failed may have had too much or too little: one pulled earlier tells which."},
	} {
		if got := words.Advice(&row.s, measure.Metric); len(got) != 1 || got[0] != row.want {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// Nothing that is said of a cold door may tempt anybody to close the vent.
func TestColdEndKeepsTheVentOpen(t *testing.T) {
	for _, c := range []boiler.ColdEnd{
		{Loads: 4, AfterLoadK: 5, RecoverS: 90, IntervalS: 60, SteamS: 4000},
		{Steady: true, SteadyK: 9, SwingK: 2, SteamS: 4000},
		{Steady: true, SteadyK: 6, SteamLowK: 8, SteamFallK: 5, Boiling: true, SteamS: 4000},
		{Steady: true, SteadyK: 9, SteamS: 300},
	} {
		found := c.Diagnose()
		said := words.Advice(&steambox.Status{ColdEnd: found[:]}, measure.Metric)
		if len(said) != 1 || !strings.HasSuffix(said[0], "Leave the vent and the drain open.") {
			t.Errorf("%+v: %q", c, said)
		}
	}
}
