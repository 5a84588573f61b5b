package rehearsal

import (
	"math"
	"testing"
	"time"
)

// stores is the heat that boiler and walls hold, in J above 0 °C, and the latent
// heat of the vapour in the box.
func stores(w *World) (boiler, walls, vapour float64) {
	k := &w.s.Kettle
	boiler = k.WaterKg*waterJPerKgK*k.WaterC + heaterJPerK*k.HeaterC
	for i := range w.s.Box.Cells {
		walls += w.s.Box.Wall.heatJ(&w.s.Box.Cells[i].WallC, i == 0 || i == boxCells-1)
	}
	return boiler, walls, w.s.Box.vapour() * w.s.around().latentMol()
}

// Every joule of fuel is found again: in the flue, the shop, the water, the walls,
// the ribs, the fog, or gone with the steam.
func TestLedgerBalances(t *testing.T) {
	t.Parallel()
	for _, d := range days {
		w, err := New(d.Name, 11)
		if err != nil {
			t.Fatal(err)
		}
		boiler, walls, vapour := stores(w)
		w.Step(33 * time.Minute)
		for i, r := range Plan()[:3] {
			if err := w.Load(i, r); err != nil {
				t.Fatal(err)
			}
		}
		w.Step(7 * time.Minute)
		if d.Name == "boils-dry" {
			w.Step(60 * time.Minute) // through the cut-out
		}
		ribs := 0.0
		for _, p := range w.s.Pieces {
			ribs += p.Bar.heatJ() - float64(p.Rib.Thickness*p.Rib.Width*p.Rib.Length)*p.Bar.Timber.heat(w.s.ShopC)
		}
		b, wl, v := stores(w)
		l, near := w.Heat(), func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-6*w.Heat().Fuel {
				t.Errorf("%s: %s %.0f J against %.0f J", d.Name, what, got, want)
			}
		}
		steamKg := l.Steam / w.s.around().latent
		gone := steamKg * waterJPerKgK * w.s.around().boilC // the boiled-off water's own heat
		near("fuel", l.Fuel, l.Flue+l.Standing+l.Steam+gone+b-boiler)
		near("steam", l.Steam, l.Vented+l.Fog+l.Wall+l.Ribs+v-vapour)
		near("walls", l.Wall, l.Outside+wl-walls)
		near("ribs", l.Ribs, ribs)
	}
}

// Exposure goes on after the pull while the core is above 60 °C, and no longer.
func TestExposureAfterThePull(t *testing.T) {
	w, err := New("good", 5)
	if err != nil {
		t.Fatal(err)
	}
	w.Step(40 * time.Minute)
	r := Plan()[0]
	if err := w.Load(0, r); err != nil {
		t.Fatal(err)
	}
	w.Step(6 * time.Minute)
	if _, err := w.Pull(0); err != nil {
		t.Fatal(err)
	}
	last, _ := w.Truth(r.Label, 0.5)
	for range 300 {
		w.Step(time.Second)
		now, _ := w.Truth(r.Label, 0.5)
		// A cell's own core decides; 0.5 m lies between two that differ by little.
		if rises := now.ExposureMin > last.ExposureMin; now.Core > 60.5 && !rises || now.Core < 59 && rises {
			t.Fatalf("core %v, exposure %.6f → %.6f", now.Core, last.ExposureMin, now.ExposureMin)
		}
		last = now
	}
}

// In a gas that does not change the exposure is e^((T−100)/14.75) a minute.
func TestSteadyExposure(t *testing.T) {
	p := newPiece(Plan()[0], greenOak(65, 1.47e-7), 97)
	p.Slot = 0
	var b box
	for i := range b.temp {
		b.temp[i], b.film[i] = 97, 300
	}
	ribJ := make([]float64, boxCells)
	for range 240 {
		p.steam(0.25, &b, ribJ)
	}
	got, ok := p.truth(0.4)
	if want := math.Exp(-3 / 14.75); !ok || math.Abs(got.ExposureMin-want) > 1e-9 {
		t.Errorf("%.9f min, want %.9f", got.ExposureMin, want)
	}
}
