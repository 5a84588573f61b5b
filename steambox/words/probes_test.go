package words_test

import (
	"fmt"
	"strings"
	"testing"

	"withy/steambox/calibrate"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// Whoever stands at the pot must hear which probe, how far off, and what to look at: the
// trade's own causes are a pot that only simmers, a pressure of somewhere else, tips apart,
// a loose supply wire (common practice, no source).
func TestDoubtSaysWhatToDo(t *testing.T) {
	for _, c := range []struct {
		place calibrate.Place
		doubt calibrate.Doubt
		says  []string
	}{
		{calibrate.Pot, calibrate.Doubt{Kind: calibrate.TooFar, K: -6.2}, []string{"door is 6.2 °C below", "rolling boil", "pressure"}},
		{calibrate.Box, calibrate.Doubt{Kind: calibrate.TooFar, K: 5.5}, []string{"door is 5.5 °C above", "warm-up", "pressure"}},
		{calibrate.Ice, calibrate.Doubt{Kind: calibrate.TooFar, K: 4}, []string{"ice left", "stirred"}},
		{calibrate.Pot, calibrate.Doubt{Kind: calibrate.WakesUp, K: -15}, []string{"door gives 85 °C", "supply wire"}},
		{calibrate.Pot, calibrate.Doubt{Kind: calibrate.TooWide, K: 7}, []string{"7.0 °C apart", "touch"}},
	} {
		got := words.Doubt(calibrate.Truth{Place: c.place}, c.doubt, "door", measure.Metric)
		for _, want := range c.says {
			if !strings.Contains(got, want) {
				t.Errorf("%q lacks %q", got, want)
			}
		}
	}
}

// 1013.25 hPa boils water at 99.974 °C (IAPWS-IF97); whose word for the pressure it is must
// be said, and that the vent stays open wherever a box is near boiling.
func TestBathSaysWhere(t *testing.T) {
	for _, c := range []struct {
		place  calibrate.Place
		source calibrate.Source
		says   []string
	}{
		{calibrate.Pot, calibrate.Barometer, []string{"rolling boil", "not on the bottom", "99.97 °C, by the barometer (1013 hPa)"}},
		{calibrate.Box, calibrate.Altitude, []string{"rib height", "vent and drain open", "by the altitude, so the weather may move it by 1 °C"}},
	} {
		truth, err := calibrate.Boiling(c.place, 101325, c.source)
		if err != nil {
			t.Fatal(err)
		}
		got := words.Bath(truth, measure.Metric)
		for _, want := range c.says {
			if !strings.Contains(got, want) {
				t.Errorf("%q lacks %q", got, want)
			}
		}
	}
}

func TestCalibratedAgo(t *testing.T) {
	truth := calibrate.Truth{WithinK: 1.1}
	for days, want := range map[float64]string{0: "today", 0.9: "today", 1.2: "yesterday", 40.6: "40 days ago"} {
		if got := words.CalibratedAgo(days, truth, measure.Metric); got != "calibrated "+want+", boiling known within 1.1 °C" {
			t.Errorf("%g days: %q", days, got)
		}
	}
}

func TestLag(t *testing.T) {
	for want, err := range map[string]error{
		"steam follows in 9.6 seconds": nil, "faster than it is read": calibrate.ErrTooQuick,
		"at one stroke": fmt.Errorf("probe: %w", calibrate.ErrNotSharp), "can't be told": calibrate.ErrTooSlow,
	} {
		if got := words.Lag("steam", calibrate.Step{TauS: 9.6}, err); !strings.Contains(got, want) {
			t.Errorf("%q lacks %q", got, want)
		}
	}
}
