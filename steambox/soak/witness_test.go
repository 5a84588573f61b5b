package soak_test

import (
	"testing"
	"time"

	"withy/steambox/rehearsal"
	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// A witness in the rehearsal box, whose wood and film the fit is not told: with
// the film that it finds, the core comes out within a kelvin, and closer than with
// the default.
func TestWitnessInTheRehearsalBox(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		w, err := rehearsal.New("good", seed)
		if err != nil {
			t.Fatal(err)
		}
		w.Step(35 * time.Minute)
		rib := rehearsal.Plan()[0]
		if err := w.Load(0, rib); err != nil {
			t.Fatal(err)
		}
		middle := rib.Length / 2
		var rows []soak.WitnessRow
		for s := range 300 {
			truth, _ := w.Truth(rib.Label, middle)
			rows = append(rows, soak.WitnessRow{ElapsedS: float64(s), AirC: float64(w.Gas(middle)), CoreC: float64(truth.Core)})
			w.Step(time.Second)
		}
		a := soak.Default(wood.Section{WidthM: float64(rib.Width), ThicknessM: float64(rib.Thickness)})
		film, left, err := soak.FitFilm(a, rows)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("seed %d: film %.0f W/m²K, %.2f K left", seed, film, left)
		if left > 1.5 || film < 100 || film > 1200 {
			t.Errorf("seed %d: film %.0f, %.2f K left", seed, film, left)
		}
	}
}

// A witness made with a known film gives it back.
func TestWitnessGivesTheFilmBack(t *testing.T) {
	a := soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065})
	a.FilmWPerM2K, a.FilmFactor = 220, 1
	m := model(t, a)
	h := soak.NewHeat(m, 0, 1, 2, 15, all(2, 97))
	var rows []soak.WitnessRow
	for s := range 240 {
		rows = append(rows, soak.WitnessRow{ElapsedS: float64(s), AirC: 97, CoreC: h.End(unit.SteamEnd).Track[soak.Best].CoreC})
		h.Advance(m, time.Second, all(2, 97), soak.Whole)
	}
	film, left, err := soak.FitFilm(a, rows)
	if err != nil || film < 215 || film > 225 || left > 0.3 {
		t.Errorf("film %.1f, %.3f K left, %v; want 220", film, left, err)
	}
	for name, bad := range map[string][]soak.WitnessRow{"few": rows[:5], "no rise": rows[200:], "back in time": append(rows[50:], rows[0])} {
		if _, _, err := soak.FitFilm(a, bad); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}
