package calibrate_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/profile"
	"withy/steambox/unit"
)

// A box from 99 °C to 91 °C, by hand: 97 °C lies a quarter of the way, 93 °C three
// quarters; probes of 0.2 K each place it within 0.4/8.
func TestShare(t *testing.T) {
	for _, c := range []struct {
		name        string
		spot        calibrate.Spot
		share, with float64
		err         error
	}{
		{"a quarter", calibrate.Spot{XM: 0.3, SteamC: 99, C: 97, DoorC: 91}, 0.25, 0.05, nil},
		{"three quarters", calibrate.Spot{XM: 0.9, SteamC: 99, C: 93, DoorC: 91}, 0.75, 0.05, nil},
		{"door end hotter", calibrate.Spot{XM: 0.3, SteamC: 91, C: 93, DoorC: 99}, 0.25, 0.05, nil},
		{"hotter than both, by the inlet", calibrate.Spot{XM: 0.3, SteamC: 95, C: 99, DoorC: 91}, -1, 0.1, nil},
		{"ends alike", calibrate.Spot{XM: 0.3, SteamC: 99, C: 98.9, DoorC: 98.7}, 0, 0, calibrate.ErrEndsAlike},
		{"out in the shed", calibrate.Spot{XM: 0.3, SteamC: 99, C: 20, DoorC: 91}, 0, 0, calibrate.ErrShare},
		{"not a number", calibrate.Spot{XM: 0.3, SteamC: math.NaN(), C: 98, DoorC: 91}, 0, 0, calibrate.ErrEndsAlike},
	} {
		t.Run(c.name, func(t *testing.T) {
			share, within, err := c.spot.Share(steambox.CalibratedK)
			if !errors.Is(err, c.err) {
				t.Fatalf("error %v, want %v", err, c.err)
			}
			near(t, "share", share, c.share, 1e-12)
			near(t, "within", within, c.with, 1e-12)
		})
	}
}

// Probes as bought, ±2 K each, can't place anything in a box that falls by less than
// 4 K (DS18B20 data sheet).
func TestShareUncalibrated(t *testing.T) {
	spot := calibrate.Spot{XM: 0.5, SteamC: 99, C: 97, DoorC: 95.1}
	if _, _, err := spot.Share(steambox.UncalibratedK); !errors.Is(err, calibrate.ErrEndsAlike) {
		t.Errorf("3.9 K: %v", err)
	}
}

func TestKnotsTogether(t *testing.T) {
	_, err := calibrate.Knots([]calibrate.Spot{{XM: 0.3, SteamC: 99, C: 98.9, DoorC: 98.9}, {XM: 0.6, SteamC: 99, C: 20, DoorC: 91}}, 0.2)
	if !errors.Is(err, calibrate.ErrEndsAlike) || !errors.Is(err, calibrate.ErrShare) {
		t.Errorf("not all mistakes at once: %v", err)
	}
}

// Whatever the air along a box is, a survey made at some places gives it back there,
// through the package that the program reckons with.
func TestSurveyGivesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steam := rapid.Float64Range(95, 100).Draw(t, "steam")
		door := steam - rapid.Float64Range(1, 15).Draw(t, "fall")
		bend := rapid.Float64Range(0.3, 3).Draw(t, "bend")
		air := func(x float64) float64 { return steam + (door-steam)*math.Pow(x/1.5, bend) }
		var spots []calibrate.Spot
		for _, x := range []float64{0.3, 0.6, 0.9, 1.2} {
			spots = append(spots, calibrate.Spot{XM: x, SteamC: steam, C: air(x), DoorC: door})
		}
		knots, err := calibrate.Knots(spots, 0.2)
		if err != nil {
			t.Fatal(err)
		}
		a, err := profile.New(profile.Shape{X: []unit.Metre{0, 1.5}, Survey: knots})
		if err != nil {
			t.Fatal(err)
		}
		a.Update([]profile.Reading{{C: steam, OK: true}, {C: door, OK: true}}, 1)
		for _, s := range spots {
			if c, _ := a.At(unit.Metre(s.XM)); math.Abs(c-s.C) > 1e-9 {
				t.Fatalf("at %g m the survey says %g, it was %g", s.XM, c, s.C)
			}
		}
	})
}

// A slot half way along a straight fall from 99 to 91 °C stands over 95 °C by what is
// read there, by hand.
func TestSlotOffset(t *testing.T) {
	ends := [2]unit.Metre{0, 1.5}
	spot := calibrate.Spot{XM: 0.75, SteamC: 99, C: 94.4, DoorC: 91}
	off, err := calibrate.SlotOffset(spot, ends, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "straight", off, -0.6, 1e-12)
	// With a survey that puts a quarter of the fall there, 97 °C.
	off, err = calibrate.SlotOffset(spot, ends, []profile.Knot{{X: 0.75, Share: 0.25}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "surveyed", off, -2.6, 1e-12)
	if _, err := calibrate.SlotOffset(spot, ends, []profile.Knot{{X: 2, Share: 0.5}}); err == nil {
		t.Error("a survey beyond the door was taken")
	}
}
