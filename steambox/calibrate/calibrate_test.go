package calibrate_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/calibrate"
	"withy/steambox/steam"
)

// Boiling points of the U.S. Standard Atmosphere 1976 at 0, 500, 1500 and 3000 m
// and of some days' weather at sea level, by IAPWS-IF97 (computed with the Python
// packages fluids and iapws).
func TestBoiling(t *testing.T) {
	for _, c := range []struct {
		name   string
		pa     float64
		source calibrate.Source
		boils  float64
		within float64
	}{
		{"sea level", 101325.00, calibrate.Altitude, 99.974, 1.1},
		{"500 m", 95461.29, calibrate.Altitude, 98.313, 1.1},
		{"1500 m", 84559.68, calibrate.Altitude, 94.984, 1.1},
		{"3000 m", 70121.16, calibrate.Altitude, 89.977, 1.1},
		{"deep low", 97000, calibrate.Barometer, 98.757, 0.1},
		{"strong high", 104000, calibrate.Barometer, 100.706, 0.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			truth, err := calibrate.Boiling(calibrate.Pot, c.pa, c.source)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "boils at", float64(truth.C), c.boils, 0.0006)
			near(t, "known within", float64(truth.WithinK), c.within, 1e-9)
			if truth.Source != c.source || truth.PressurePa != c.pa {
				t.Errorf("pressure %g from %s", truth.PressurePa, truth.Source)
			}
		})
	}
	// Weather between the low and the high above moves boiling by 1.95 K, so by no
	// more than the kelvin either way that an altitude is taken to be off by.
	if _, err := calibrate.Boiling(calibrate.Pot, 10e3, calibrate.Barometer); !errors.Is(err, steam.ErrRange) {
		t.Errorf("at 10 kPa: %v", err)
	}
	// Dalton: 3 % of air leaves steam of 0.97 of 101.325 kPa, which is saturated at
	// 99.13 °C, 0.85 K lower (IAPWS-IF97, interpolated in the steam table).
	box, _ := calibrate.Boiling(calibrate.Box, 101325, calibrate.Barometer)
	if box.WithinK < 0.85 {
		t.Errorf("in a box with air it is known within %v", box.WithinK)
	}
}

// Two probes in one pot at 1500 m, water boiling at 94.984 °C: the offsets by hand.
func TestCompare(t *testing.T) {
	truth, _ := calibrate.Boiling(calibrate.Pot, 84559.68, calibrate.Altitude)
	offsets, doubts := calibrate.Compare(truth, []calibrate.Reading{{"steam", 95.5}, {"door", 93.75}})
	if len(doubts) > 0 {
		t.Fatal(doubts)
	}
	near(t, "steam off", offsets[0].OffK, -0.516, 0.001)
	near(t, "door off", offsets[1].OffK, 1.234, 0.001)
	near(t, "apart", offsets[1].BesideK-offsets[0].BesideK, 1.75, 1e-12)
}

// The DS18B20's data sheet: ±2 K near boiling, ±0.5 K near freezing, 85 °C held from
// power-up. Two probes of ±2 K may be 4 K apart.
func TestDoubts(t *testing.T) {
	sea, _ := calibrate.Boiling(calibrate.Pot, 101325, calibrate.Barometer)
	high, _ := calibrate.Boiling(calibrate.Pot, 58500, calibrate.Altitude) // about 4400 m
	for _, c := range []struct {
		name  string
		truth calibrate.Truth
		read  []float64
		want  []calibrate.DoubtKind
	}{
		{"worst of the data sheet", sea, []float64{97.97, 101.97}, nil},
		{"ice, worst of the data sheet", calibrate.Melting(), []float64{0.5, -0.5}, nil},
		{"one too low", sea, []float64{94.9, 99}, []calibrate.DoubtKind{calibrate.TooFar}},
		{"both too far and apart", sea, []float64{94, 106}, []calibrate.DoubtKind{calibrate.TooFar, calibrate.TooFar, calibrate.TooWide}},
		{"apart", sea, []float64{95.2, 104.8}, []calibrate.DoubtKind{calibrate.TooWide}},
		{"woken up", sea, []float64{85, 99}, []calibrate.DoubtKind{calibrate.WakesUp, calibrate.TooWide}},
		{"where water boils near 85", high, []float64{85, 85}, nil},
		{"no ice left", calibrate.Melting(), []float64{4, 4}, []calibrate.DoubtKind{calibrate.TooFar, calibrate.TooFar}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, doubts := calibrate.Compare(c.truth, readings(c.read))
			var got []calibrate.DoubtKind
			for _, d := range doubts {
				got = append(got, d.Kind)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("doubts %v, want kinds %v", doubts, c.want)
			}
		})
	}
}

func TestElsewhere(t *testing.T) {
	sea, _ := calibrate.Boiling(calibrate.Pot, 101325, calibrate.Barometer)
	for _, c := range []struct {
		name  string
		truth calibrate.Truth
		c     float64
		want  bool
	}{
		{"shed", sea, 15, true}, {"warming", sea, 75, true}, {"simmering", sea, 93, false}, {"boiling", sea, 99, false},
		{"cool shed, for ice", calibrate.Melting(), 8, true}, {"slush", calibrate.Melting(), 1, false},
	} {
		if got := calibrate.Elsewhere(c.truth, readings([]float64{c.c, c.c})); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// A line through 0.4 K at ice and 1.3 K at 90 °C by hand: 0.01 K a degree, so 1.4 at
// 100 °C.
func TestThrough(t *testing.T) {
	boil := calibrate.Offset{ReadC: 90, OffK: 1.3}
	line := calibrate.Through(boil, &calibrate.Offset{ReadC: 0, OffK: 0.4})
	near(t, "at 100", line.OffsetK, 1.4, 1e-12)
	near(t, "at 0", line.IceK, 0.4, 1e-12)
	if got := calibrate.Through(boil, nil); got != (calibrate.Line{OffsetK: 1.3, IceK: 1.3}) {
		t.Errorf("without ice: %+v", got)
	}
}

// What is corrected by a calibration and tried again needs no correction, and a
// second calibration of the same readings is the same.
func TestTwice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		truth := drawTruth(t)
		boil := truth.C
		read := drawReadings(t, float64(boil))
		ice := calibrate.Offset{ReadC: rapid.Float64Range(-0.5, 0.5).Draw(t, "ice")}
		ice.OffK = -ice.ReadC
		offsets, _ := calibrate.Compare(truth, read)
		again, _ := calibrate.Compare(truth, read)
		if !slices.Equal(offsets, again) {
			t.Fatalf("%v, then %v", offsets, again)
		}
		for i := range offsets {
			line := calibrate.Through(offsets[i], &ice)
			read[i].C = line.Correct(read[i].C)
			if c := line.Correct(ice.ReadC); math.Abs(c) > 1e-9 {
				t.Fatalf("ice corrected to %g", c)
			}
		}
		after, _ := calibrate.Compare(truth, read)
		for _, o := range after {
			if math.Abs(o.OffK) > 1e-9 || math.Abs(o.BesideK) > 1e-9 {
				t.Fatalf("corrected, and still off by %+v", o)
			}
		}
	})
}

func TestOrderOfProbes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		truth := drawTruth(t)
		read := drawReadings(t, float64(truth.C))
		offsets, doubts := calibrate.Compare(truth, read)
		shuffled := rapid.Permutation(read).Draw(t, "order")
		others, otherDoubts := calibrate.Compare(truth, shuffled)
		if len(doubts) != len(otherDoubts) {
			t.Fatalf("%d doubts, then %d", len(doubts), len(otherDoubts))
		}
		for _, o := range others {
			i := slices.IndexFunc(offsets, func(p calibrate.Offset) bool { return p.ID == o.ID })
			if p := offsets[i]; p.OffK != o.OffK || math.Abs(p.BesideK-o.BesideK) > 1e-9 {
				t.Fatalf("%+v, then %+v", p, o)
			}
		}
	})
}

// Noise of half a step of the chip's 1/16 K either way, whatever it does, and noise
// of a whole step that is random, move an offset by less than 0.05 K.
func TestNoise(t *testing.T) {
	truth, _ := calibrate.Boiling(calibrate.Pot, 101325, calibrate.Barometer)
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(96, 104).Draw(t, "reads")
		seed := rapid.Uint64().Draw(t, "seed")
		half := rapid.Float64Range(-1.0/32, 1.0/32)
		var contrary, random calibrate.Trace
		dice := rand.New(rand.NewPCG(seed, 1))
		few := rapid.SliceOfN(half, 10, 10).Draw(t, "noise")
		for i := range 200 {
			at := float64(i)
			contrary = append(contrary, calibrate.Sample{AtS: at, C: c + few[i*10/200]})
			random = append(random, calibrate.Sample{AtS: at, C: c + (2*dice.Float64()-1)/16})
		}
		for name, trace := range map[string]calibrate.Trace{"contrary": contrary, "random": random} {
			rest := calibrate.Calm.Judge(trace)
			offsets, _ := calibrate.Compare(truth, []calibrate.Reading{{"probe", rest.C}})
			if off := offsets[0].OffK - (float64(truth.C) - c); math.Abs(off) >= 0.05 {
				t.Fatalf("%s noise moved it by %.3f K", name, off)
			}
		}
	})
}

func drawTruth(t *rapid.T) calibrate.Truth {
	pa := rapid.Float64Range(60e3, 105e3).Draw(t, "pa")
	truth, err := calibrate.Boiling(calibrate.Pot, pa, calibrate.Barometer)
	if err != nil {
		t.Fatal(err)
	}
	return truth
}

// drawReadings are of sound probes: within the data sheet's 2 K.
func drawReadings(t *rapid.T, c float64) []calibrate.Reading {
	return readings(rapid.SliceOfN(rapid.Float64Range(c-2, c+2), 1, 8).Draw(t, "read"))
}

// readings names probes a, b, c and so on.
func readings(c []float64) []calibrate.Reading {
	var out []calibrate.Reading
	for i, x := range c {
		out = append(out, calibrate.Reading{ID: string(rune('a' + i)), C: x})
	}
	return out
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s %.5f, want %.5f ± %g", what, got, want, within)
	}
}
