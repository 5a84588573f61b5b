package boiler_test

import (
	"testing"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/rehearsal"
	"withy/steambox/steam"
)

// IAPWS-IF97 enthalpies at 101.325 kPa: from 5, 15 and 25 °C to the boil a kilogram
// takes 397.87, 355.91 and 314.06 kJ; at 1 kW as many seconds.
func TestColdRefillAgainstTables(t *testing.T) {
	for _, row := range []struct{ c, kJ float64 }{{5, 397.87}, {15, 355.91}, {25, 314.06}} {
		r := boiler.ColdRefill(2, 1, row.c, 99.974, boiler.Span{Lo: 500, Best: 1000, Hi: 2000}, latent)
		near(t, "heat, kJ", r.HeatJ/1e3, row.kJ, 0.003*row.kJ)
		near(t, "seconds at 1 kW", r.BoilsAgainS.Best, row.kJ, 0.003*row.kJ)
		near(t, "at twice the power", r.BoilsAgainS.Lo, row.kJ/2, 0.003*row.kJ)
		near(t, "at half of it", r.BoilsAgainS.Hi, row.kJ*2, 0.006*row.kJ)
	}
}

// Worked by hand. 1.5 kg at 12 °C into 2 kg at 100 °C: (1.5×12 + 2×100)/3.5 =
// 62.29 °C; 3.5 kg × 4.19 kJ/kgK × 37.71 K = 553 kJ; at 2 kW 277 s; 553/2256.5 =
// 0.245 kg of steam that does not come.
func TestColdRefillByHand(t *testing.T) {
	net := boiler.Span{Lo: 2000, Best: 2000, Hi: 2000}
	r := boiler.ColdRefill(2, 1.5, 12, 100, net, latent)
	near(t, "mixed, °C", r.MixedC, 62.29, 0.01)
	near(t, "seconds", r.BoilsAgainS.Best, 277, 1)
	near(t, "steam lost, kg", r.SteamLostKg, 0.245, 0.001)
	hot := boiler.ColdRefill(2, 1.5, 100, 100, net, latent)
	near(t, "boiling water costs", hot.BoilsAgainS.Hi, 0, 0)
	near(t, "and stays, °C", hot.MixedC, 100, 1e-9)
}

// Against the rehearsed boiler, which has an element and a standing loss of its own.
// The power is what it boiled off in the ten minutes before.
func TestColdRefillAgainstRehearsal(t *testing.T) {
	for seed := range uint64(5) {
		w, err := rehearsal.New("cold-refill", seed)
		if err != nil {
			t.Fatal(err)
		}
		w.Step(30 * time.Minute)
		latentHere, before := steam.LatentHeatAt(w.BoilingC()), w.Heat().Steam
		w.Step(10 * time.Minute)
		net := (w.Heat().Steam - before) / 600
		cost := boiler.ColdRefill(w.WaterL(), 2, 10, float64(w.BoilingC()), boiler.Span{Lo: net, Best: net, Hi: net}, latentHere)
		w.Refill(2, 10)
		s := 0.0
		for w.Step(time.Second); w.WaterTemp() < w.BoilingC(); w.Step(time.Second) {
			s++
		}
		t.Logf("seed %d: boils again after %.0f s, reckoned %.0f", seed, s, cost.BoilsAgainS.Best)
		near(t, "seconds", cost.BoilsAgainS.Best, s, 0.06*s)
	}
}

// A boiler that a cold refill has quietened loses no water meanwhile, but the early
// bound does not count on it.
func TestChillIsUnseen(t *testing.T) {
	w := boiler.NewWater(pot, latent)
	w.Fill(4)
	w.Chill(300)
	w.Pass(pot, 600, boiler.Boiling, boiler.Unknown)
	left, _ := w.Now()
	r := w.Rate.Span()
	near(t, "best guess of the loss", 4-left.Best, 450*r.Best, 1e-9)
	plain := boiler.NewWater(pot, latent)
	plain.Fill(4)
	plain.Pass(pot, 600, boiler.Boiling, boiler.Unknown)
	early, _ := plain.UntilDry(pot)
	if dry, _ := w.UntilDry(pot); dry.Lo > early.Lo+1e-9 || dry.Hi <= early.Hi {
		t.Errorf("dry in %+v, without the chill %+v", dry, early)
	}
}
