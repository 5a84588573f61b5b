package calibration_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/calibration"
	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/profile"
	"withy/steambox/unit"
)

const (
	steam = "28-00000000000a"
	door  = "28-00000000000b"
)

var may = time.Date(2026, 5, 1, 10, 0, 0, 0, time.UTC)

// boiled is a record of both probes in a pot; off is what the steam end's reads too low.
func boiled(t *testing.T, off float64) calibration.Record {
	t.Helper()
	truth, err := calibrate.Boiling(calibrate.Pot, 101325, calibrate.Barometer)
	if err != nil {
		t.Fatal(err)
	}
	c := float64(truth.C)
	return calibration.Record{Bath: &calibration.Bath{Truth: truth, Probes: []calibrate.Offset{
		{ID: steam, ReadC: c - off, OffK: off}, {ID: door, ReadC: c + 0.7, OffK: -0.7},
	}}}
}

func save(t *testing.T, data string, r calibration.Record, at time.Time) string {
	t.Helper()
	name, err := calibration.Save(data, r, at)
	if err != nil {
		t.Fatal(err)
	}
	return name
}

func load(t *testing.T, data string) calibration.Kept {
	t.Helper()
	k, err := calibration.Load(data)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func box() steambox.Box {
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{
		{Name: "steam", ID: steam, OffsetK: 9, IceK: 9, LagS: 10},
		{Name: "door", ID: door, XM: 1.5, OffsetK: 9, IceK: 9, LagS: 10},
	}
	return b
}

func TestNothingKept(t *testing.T) {
	b := box()
	load(t, filepath.Join(t.TempDir(), "nowhere")).Apply(&b)
	if b.Probes[0].OffsetK != 9 || b.Probes[0].Calibrated {
		t.Errorf("no record, and the box has %+v", b.Probes[0])
	}
}

// What was tried counts, what was not stays as the configuration has it.
func TestApply(t *testing.T) {
	data := t.TempDir()
	save(t, data, boiled(t, 1.2), may)
	save(t, data, calibration.Record{Steps: []calibration.Lag{{ID: door, TauS: 6.5}}}, may.Add(time.Hour))
	b := box()
	load(t, data).Apply(&b)
	if err := b.Check(); err != nil {
		t.Error(err)
	}
	want := []steambox.BoxProbe{
		{Name: "steam", ID: steam, OffsetK: 1.2, IceK: 1.2, LagS: 10, Calibrated: true},
		{Name: "door", ID: door, XM: 1.5, OffsetK: -0.7, IceK: -0.7, LagS: 6.5, Calibrated: true},
	}
	for i, p := range b.Probes {
		if p != want[i] {
			t.Errorf("probe %+v, want %+v", p, want[i])
		}
	}
}

// Ice alone says nothing of boiling; with it the line goes through both.
func TestIce(t *testing.T) {
	data := t.TempDir()
	ice := calibration.Record{Bath: &calibration.Bath{Truth: calibrate.Melting(), Probes: []calibrate.Offset{{ID: steam, ReadC: 0.3, OffK: -0.3}}}}
	save(t, data, ice, may)
	b := box()
	load(t, data).Apply(&b)
	if b.Probes[0].Calibrated || b.Probes[0].IceK != 9 {
		t.Errorf("ice alone: %+v", b.Probes[0])
	}
	save(t, data, boiled(t, 1.2), may.Add(time.Minute))
	load(t, data).Apply(&b)
	// By hand: from −0.3 K at 0.3 °C to 1.2 K at 98.774 °C, 0.015232 K a degree.
	if p := b.Probes[0]; math.Abs(p.OffsetK-1.2187) > 1e-3 || math.Abs(p.IceK+0.3046) > 1e-3 {
		t.Errorf("through both: %+v", p)
	}
}

// The newest counts, whatever the order in which they came to lie in the folder; a clock
// that has gone back, as on a board without a battery, makes none the older.
func TestNewest(t *testing.T) {
	data := t.TempDir()
	save(t, data, boiled(t, 1.0), may)
	save(t, data, boiled(t, 2.0), time.Unix(60, 0))
	save(t, data, boiled(t, 3.0), time.Unix(60, 0))
	p := load(t, data).Probe(steam)
	if p.Boil == nil || p.Boil.OffK != 3 || !p.BoilAt.After(may) {
		t.Errorf("newest is %+v of %v", p.Boil, p.BoilAt)
	}
}

// A damaged record is told of by name and stands in nobody's way; one that was cut off
// while it was written was never there.
func TestDamaged(t *testing.T) {
	data := t.TempDir()
	first := save(t, data, boiled(t, 1.0), may)
	folder := filepath.Dir(first)
	for name, text := range map[string]string{
		"20260601T000000Z.json": `{"made":"2026-06-01T00:00:00Z","bath":{"place":"pot","probes":[{"id":"28-00000000000a","off_k":77}]}}`,
		"20260602T000000Z.json": `{"made":`,
		"20260603T000000Z.json": `{"made":"2026-06-03T00:00:00Z"}`,
		"new-12345":             `{"ma`,
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	k, err := calibration.Load(data)
	for _, want := range []string{"20260601", "off_k: 77 is outside -5 to 5", "20260602", "20260603", "neither bath, steps nor survey"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not told of: %v", want, err)
		}
	}
	if err != nil && strings.Contains(err.Error(), "new-") {
		t.Errorf("a half written file is told of: %v", err)
	}
	if p := k.Probe(steam); p.Boil == nil || p.Boil.OffK != 1 {
		t.Errorf("the good one is lost: %+v", p)
	}
}

func TestRefused(t *testing.T) {
	data := t.TempDir()
	if _, err := calibration.Save(data, boiled(t, 6), may); err == nil {
		t.Error("6 K off was kept")
	}
	if entries, _ := os.ReadDir(data); len(entries) > 0 {
		t.Errorf("a refused record left %v", entries)
	}
}

// A folder that nothing can be kept in is told of beforehand; a try leaves nothing.
func TestReady(t *testing.T) {
	data := filepath.Join(t.TempDir(), "data")
	if err := calibration.Ready(data); err != nil {
		t.Error(err)
	}
	if entries, err := os.ReadDir(filepath.Join(data, "calibration")); err != nil || len(entries) > 0 {
		t.Errorf("left %v, %v", entries, err)
	}
	file := filepath.Join(data, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := calibration.Ready(file); err == nil {
		t.Error("a file will do for a folder")
	}
}

func TestSurvey(t *testing.T) {
	data := t.TempDir()
	save(t, data, calibration.Record{Survey: &calibration.Survey{
		SteamID: steam, DoorID: door, EndsM: [2]unit.Metre{0, 1.5},
		Knots: []profile.Knot{{X: 0.75, Share: 0.2}}, ShareWithin: []float64{0.05},
		Slots: []string{"A", "B", "C", "D"}, OffsetsK: []float64{0.1, 0, -0.2, -0.4},
	}}, may)
	for _, c := range []struct {
		name         string
		change       func(*steambox.Box)
		knots, slots int
	}{
		{"its own box", func(*steambox.Box) {}, 1, 4},
		{"other slots", func(b *steambox.Box) { b.Slots = []string{"A", "B"} }, 1, 0},
		{"a probe changed over", func(b *steambox.Box) { b.Probes[0].ID, b.Probes[1].ID = door, steam }, 0, 0},
		{"a probe moved", func(b *steambox.Box) { b.Probes[1].XM = 1.4 }, 0, 0},
		{"the other probe moved", func(b *steambox.Box) { b.Probes[0].XM = -0.1 }, 0, 0},
		{"a third probe", func(b *steambox.Box) {
			b.Probes = append(b.Probes, steambox.BoxProbe{Name: "far", XM: 2})
		}, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := box()
			c.change(&b)
			load(t, data).Apply(&b)
			if len(b.Survey) != c.knots || len(b.SlotK) != c.slots {
				t.Errorf("%d knots, %d offsets; want %d, %d", len(b.Survey), len(b.SlotK), c.knots, c.slots)
			}
			if err := b.Check(); err != nil {
				t.Error(err)
			}
		})
	}
}

// Whatever lies in the folder, the box stays one that the program can run with.
func FuzzLoad(f *testing.F) {
	f.Add([]byte(`{"made":"2026-05-01T10:00:00Z","bath":{"place":"pot","true_c":99.97,"probes":[{"id":"28-00000000000a","read_c":98.8,"off_k":1.2}]}}`),
		[]byte(`{"made":"2026-05-01T11:00:00Z","bath":{"place":"ice","true_c":0,"probes":[{"id":"28-00000000000a","read_c":0.3,"off_k":-0.3}]}}`))
	f.Add([]byte(`{"made":"2026-05-01T12:00:00Z","steps":[{"id":"28-00000000000b","tau_s":9}]}`),
		[]byte(`{"made":"2026-05-01T13:00:00Z","survey":{"steam_id":"28-00000000000a","door_id":"28-00000000000b","ends_m":[0,1.5],"knots":[{"X":0.7,"Share":0.3}],"slots":["A","B","C","D"],"slot_offset_k":[0,0,0,1]}}`))
	f.Fuzz(func(t *testing.T, one, two []byte) {
		data := t.TempDir()
		folder := filepath.Join(data, "calibration")
		if err := os.Mkdir(folder, 0o755); err != nil {
			t.Fatal(err)
		}
		for name, text := range map[string][]byte{"1.json": one, "2.json": two} {
			if err := os.WriteFile(filepath.Join(folder, name), text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		k, _ := calibration.Load(data)
		b := box()
		k.Apply(&b)
		if err := b.Check(); err != nil {
			t.Error(err)
		}
	})
}
