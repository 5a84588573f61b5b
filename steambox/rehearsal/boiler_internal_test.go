package rehearsal

import (
	"math"
	"testing"
)

const (
	boilC  = 99.97
	latent = 2256.5e3 // J/kg at 1 atm (IAPWS-IF97)
	dt     = 0.25
)

// bare is a boiler that loses nothing.
func bare(powerW, litres, c float64) *kettle {
	return &kettle{
		Plate:      Boiler{Kind: "electric", PowerW: powerW, CapacityL: 20, LevelL: 1.5},
		Efficiency: 1, WaterKg: litres, WaterC: c, HeaterC: c, Fire: true,
	}
}

func run(k *kettle, seconds float64) (steamKg float64) {
	for range int(seconds / dt) {
		steamKg += k.step(dt, 15, boilC, latent).steamKg
	}
	return steamKg
}

// 3600/2256.5 = 1.595 kg of water an hour and kilowatt; 1.598 L as poured cold,
// 1.665 L as hot water in the boiler.
func TestBoilOff(t *testing.T) {
	k := bare(1000, 4, boilC)
	run(k, 60) // the element comes to its temperature
	hot := k.hotL()
	if got := run(k, 3600); math.Abs(got-1.595) > 0.002 {
		t.Errorf("boiled off %.4f kg in an hour at 1 kW, want 1.595", got)
	}
	if got := hot - k.hotL(); math.Abs(got-1.665) > 0.005 {
		t.Errorf("level fell by %.4f L, want 1.665", got)
	}
}

// V ρ cp ΔT/P, no loss: 5 L from 15 °C at 2 kW 14.8 min, 10 L from 20 °C at 2 kW 27.9.
func TestHeatUp(t *testing.T) {
	for _, row := range []struct{ litres, c, minutes float64 }{{5, 15, 14.8}, {10, 20, 27.9}} {
		k, s := bare(2000, row.litres, row.c), 0.0
		for ; !k.Boiling && s < 1e4; s += dt {
			k.step(dt, 15, boilC, latent)
		}
		element := heaterJPerK * (boilC - row.c + 2000/heaterWPerK) / 2000 / 60 // is heated too
		if got := s/60 - element; math.Abs(got-row.minutes) > 0.05 {
			t.Errorf("%g L from %g °C: %.2f min, want %g", row.litres, row.c, got, row.minutes)
		}
	}
}

// A kilogram and a half at 12 °C into two at the boil makes 62 °C, and at 2 kW two
// minutes of no steam: 3.5 kg × 4.186 kJ/kgK × 37.7 K / 2 kW = 276 s.
func TestColdRefillStopsBoiling(t *testing.T) {
	k, s := bare(2000, 2, boilC), 0.0
	run(k, 60)
	k.WaterKg = 2
	k.pour(1.5/coldKgPerL, 12)
	if math.Abs(k.WaterC-62.3) > 0.1 {
		t.Errorf("mixed to %.2f °C, want 62.3", k.WaterC)
	}
	for k.step(dt, 15, boilC, latent); !k.Boiling; s += dt {
		k.step(dt, 15, boilC, latent)
	}
	if math.Abs(s-276) > 5 {
		t.Errorf("boiled again after %.0f s, want about 276", s)
	}
}

func TestCutOutWhenDry(t *testing.T) {
	k := bare(2200, 0.4, boilC)
	opened, hottest := 0, 0.0
	for range int(1800 / dt) {
		was := k.CutOut
		k.step(dt, 15, boilC, latent)
		hottest = max(hottest, k.HeaterC)
		if k.CutOut && !was {
			opened++
		}
	}
	if opened < 2 || hottest > tripC+5 {
		t.Errorf("opened %d times, element up to %.0f °C", opened, hottest)
	}
	if steam := run(k, 600); steam > 0.01 {
		t.Errorf("made %.4f kg of steam in 10 min from dregs of %.2f kg", steam, k.WaterKg)
	}
	k.pour(1.5, 15)
	if steam := run(k, 900); steam < 0.1 {
		t.Errorf("made %.3f kg of steam in 15 min after a refill", steam)
	}
}

func TestGasRingHasNoCutOut(t *testing.T) {
	k := bare(4400, 0.2, boilC)
	k.Plate.Kind, k.Efficiency = "gas", 0.5
	run(k, 1800)
	if k.CutOut || k.HeaterC < 300 || k.HeaterC > scorchC {
		t.Errorf("cut-out %v, pan at %.0f °C", k.CutOut, k.HeaterC)
	}
}

func TestPourOverflows(t *testing.T) {
	k := bare(2000, 19, 50)
	k.pour(5, 50)
	if math.Abs(k.WaterKg-20*coldKgPerL) > 1e-9 {
		t.Errorf("%.3f kg in a boiler of 20 L", k.WaterKg)
	}
	k.pour(-3, 50)
	k.pour(math.NaN(), 50)
	if math.Abs(k.WaterKg-20*coldKgPerL) > 1e-9 {
		t.Errorf("%.3f kg after pouring nothing", k.WaterKg)
	}
}

// The float chatters where the boiling level meets it, and nowhere else.
func TestFloatChatters(t *testing.T) {
	turns := func(litresOff float64, stuck bool) (n int, closed bool) {
		k, f, d := bare(0, 1, boilC), float{Stuck: stuck}, newDice(3)
		k.WaterKg *= (k.Plate.LevelL + litresOff) / k.hotL()
		k.Boiling = true
		f.step(dt, k, d)
		for range 600 {
			was := f.Closed
			f.step(dt, k, d)
			if f.Closed != was {
				n++
			}
		}
		return n, f.Closed
	}
	if n, _ := turns(0, false); n < 50 {
		t.Errorf("turned %d times at its level", n)
	}
	if n, closed := turns(0.2, false); n > 0 || !closed {
		t.Errorf("turned %d times 0.2 L above, closed %v", n, closed)
	}
	if n, closed := turns(-0.2, false); n > 0 || closed {
		t.Errorf("turned %d times 0.2 L below, closed %v", n, closed)
	}
	if _, closed := turns(-1, true); !closed {
		t.Error("a stuck float opened")
	}
}
