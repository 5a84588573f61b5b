package calibrate_test

import (
	"testing"

	"withy/steambox/calibrate"
)

func TestHeld(t *testing.T) {
	still := calibrate.Trace{{0, 15}, {5, 15.1}, {10, 14.9}}
	warmed := calibrate.Trace{{0, 15}, {5, 14.8}, {10, 16.9}}
	for name, c := range map[string]struct {
		traces []calibrate.Trace
		probe  int
		ok     bool
	}{
		"the second":             {[]calibrate.Trace{still, warmed, still}, 1, true},
		"none yet":               {[]calibrate.Trace{still, still}, -1, false},
		"two in one hand":        {[]calibrate.Trace{warmed, warmed}, -1, false},
		"one and a draught":      {[]calibrate.Trace{warmed, {{0, 15}, {10, 16.1}}}, -1, false},
		"the box is heating up":  {[]calibrate.Trace{{{0, 15}, {10, 30}}, {{0, 15}, {10, 18}}}, -1, false},
		"one that can't be read": {[]calibrate.Trace{nil, warmed}, 1, true},
		"only one":               {[]calibrate.Trace{warmed}, 0, true},
		"nothing":                {nil, -1, false},
	} {
		if probe, ok := calibrate.Held(c.traces); probe != c.probe || ok != c.ok {
			t.Errorf("%s: %d, %v", name, probe, ok)
		}
	}
}
