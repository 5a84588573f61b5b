package soak_test

import (
	"math"
	"testing"
	"time"

	"withy/steambox/soak"
	"withy/steambox/wood"
)

// A thin rib taken back for a moment is hot through again after about two minutes:
// common practice, no source. From half a minute in the shop it is less, from wood
// that went cold about what a fresh one takes (178 to 236 s for 6 to 7 mm, by the
// plane-wall series with a film of 300 W/m²K).
func TestReheats(t *testing.T) {
	m := rib(t)
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 98))
	h.Advance(m, 6*time.Minute, all(2, 98), soak.Whole)
	h.Pull(m, 15)
	var last time.Duration
	for _, row := range []struct{ outS, least, most float64 }{{5, 0, 90}, {30, 60, 150}, {120, 90, 200}, {3600, 150, 236}} {
		h.Advance(m, time.Duration(row.outS)*time.Second, all(2, 15), soak.Whole)
		back, ok := h.Reheats(m, 98, 2)
		if s := back.Seconds(); !ok || s < row.least || s > row.most || back < last {
			t.Errorf("%g s more in the shop: hot again after %v, %v; want %g to %g s", row.outS, back, ok, row.least, row.most)
		}
		last = back
	}
	if h.Place != soak.OutOfBox {
		t.Error("asking has put it back")
	}
}

// A square bar with Bi = 0.7 by the one-term series of two plane walls: ζ = 0.7506,
// C = 1.0919 (Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 5.1;
// from memory), so the centre is down to a share θ after ln(C²/θ)·L²/(2αζ²).
func TestCools(t *testing.T) {
	a := soak.Default(wood.Section{WidthM: 0.0065, ThicknessM: 0.0065})
	half := a.Section.ThicknessM / 2
	a.OutFilmWPerM2K = 0.7 * a.Material.ConductivityWPerMK / half
	m := model(t, a)
	for _, row := range []struct{ to, shop float64 }{{60, 15}, {85, 15}, {60, 30}} {
		theta := (row.to - row.shop) / (98 - row.shop)
		want := math.Log(1.0919*1.0919/theta) * half * half / (2 * a.Material.DiffusivityM2PerS * 0.7506 * 0.7506)
		if got := m.Cools(98, row.to, row.shop).Seconds(); math.Abs(got-want) > 1.5 {
			t.Errorf("to %g °C in a shop of %g °C in %g s, want %.1f s", row.to, row.shop, got, want)
		}
	}
	if m.Cools(98, 10, 15) != 30*time.Minute {
		t.Error("colder than the shop")
	}
}
