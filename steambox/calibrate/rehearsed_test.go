package calibrate_test

import (
	"math"
	"testing"
	"time"

	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/profile"
	"withy/steambox/rehearsal"
	"withy/steambox/unit"
)

// The rehearsal box is physics of its own: it knows nothing of this package.

// warmUp lets a box warm up with probes as bought, up to 2 K off, and returns what
// they read.
func warmUp(t *testing.T, scenario string, seed uint64) (w *rehearsal.World, steam, door calibrate.Trace) {
	t.Helper()
	w, err := rehearsal.New(scenario, seed)
	if err != nil {
		t.Fatal(err)
	}
	w.Uncalibrate()
	for w.Elapsed() < 40*time.Minute {
		w.Step(time.Second)
		s := w.Elapsed().Seconds()
		p := w.Probes()
		steam = append(steam, calibrate.Sample{AtS: s, C: float64(p[0].Temp)})
		door = append(door, calibrate.Sample{AtS: s, C: float64(p[1].Temp)})
	}
	return w, steam, door
}

// Every warm-up tells which probe hangs where, and with the plugs changed over tells
// that too.
func TestSwappedRehearsed(t *testing.T) {
	leastS := math.Inf(1)
	for _, scenario := range []string{"good", "cold-door"} {
		for seed := range uint64(10) {
			_, steam, door := warmUp(t, scenario, seed)
			if at := seconds(t, door, 40) - seconds(t, steam, 40); at < leastS {
				leastS = at
			}
			if got := calibrate.Swapped(steam, door, nil); got != calibrate.AsNamed {
				t.Errorf("%s, seed %d: order %d", scenario, seed, got)
			}
			if got := calibrate.Swapped(door, steam, nil); got != calibrate.OtherWay {
				t.Errorf("%s, seed %d, changed over: order %d", scenario, seed, got)
			}
		}
	}
	t.Logf("the steam end was 40 K up at least %.0f s before the door end", leastS)
}

// seconds returns when a probe had risen by k.
func seconds(t *testing.T, trace calibrate.Trace, k float64) float64 {
	t.Helper()
	for _, s := range trace {
		if s.C >= trace[0].C+k {
			return s.AtS
		}
	}
	t.Fatalf("never rose by %g K", k)
	return 0
}

// An opened door shows the same in a box that is warm, whose warm-up nobody watched.
func TestDoorRehearsed(t *testing.T) {
	for seed := range uint64(10) {
		w, _, _ := warmUp(t, "good", seed)
		opened := w.Elapsed().Seconds() + 60
		var steam, door calibrate.Trace
		for range 240 {
			w.Step(time.Second)
			s := w.Elapsed().Seconds()
			if s == opened {
				w.OpenDoor(20 * time.Second)
			}
			p := w.Probes()
			steam = append(steam, calibrate.Sample{AtS: s, C: float64(p[0].Temp)})
			door = append(door, calibrate.Sample{AtS: s, C: float64(p[1].Temp)})
		}
		if got := calibrate.Swapped(steam, door, []float64{opened}); got != calibrate.AsNamed {
			t.Errorf("seed %d: order %d", seed, got)
		}
		if got := calibrate.Swapped(door, steam, []float64{opened}); got != calibrate.OtherWay {
			t.Errorf("seed %d, changed over: order %d", seed, got)
		}
	}
}

// Between the places of a survey the air is told better than by a straight line.
func TestSurveyRehearsed(t *testing.T) {
	var straightK, surveyedK, fallK float64
	n := 0.0
	for seed := range uint64(5) {
		w, _, _ := warmUp(t, "cold-door", seed)
		l := w.Length()
		gas := func(x unit.Metre) float64 { return sixteenths(float64(w.Gas(x))) }
		var spots []calibrate.Spot
		for _, part := range []unit.Metre{0.2, 0.4, 0.6, 0.8} {
			spots = append(spots, calibrate.Spot{XM: float64(part * l), SteamC: gas(0), DoorC: gas(l), C: gas(part * l)})
		}
		knots, err := calibrate.Knots(spots, steambox.CalibratedK)
		if err != nil {
			t.Logf("seed %d: %v", seed, err)
			continue
		}
		n++
		straightK += worst(t, w, nil)
		surveyedK += worst(t, w, knots)
		fallK += gas(0) - gas(l)
	}
	t.Logf("%v boxes that fall by %.1f K: at worst off by %.2f K by a straight line, %.2f K surveyed, on average", n, fallK/n, straightK/n, surveyedK/n)
	if !(surveyedK < straightK/2) {
		t.Errorf("surveyed %.2f K off, straight %.2f K", surveyedK/n, straightK/n)
	}
}

// worst returns how far the air is told wrong between the ends, K.
func worst(t *testing.T, w *rehearsal.World, knots []profile.Knot) float64 {
	t.Helper()
	l := w.Length()
	a, err := profile.New(profile.Shape{X: []unit.Metre{0, l}, Survey: knots})
	if err != nil {
		t.Fatal(err)
	}
	a.Update([]profile.Reading{{C: float64(w.Gas(0)), OK: true}, {C: float64(w.Gas(l)), OK: true}}, 1)
	off := 0.0
	for part := unit.Metre(0.05); part < 1; part += 0.1 {
		c, _ := a.At(part * l)
		off = max(off, math.Abs(c-float64(w.Gas(part*l))))
	}
	return off
}
