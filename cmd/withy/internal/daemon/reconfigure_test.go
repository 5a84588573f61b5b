package daemon_test

import (
	"strings"
	"testing"

	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
	"withy/steambox"
)

// A program that is started again takes what the configuration says by now: all of it
// before the first rib, later what the session can take.
func TestReconfigured(t *testing.T) {
	kettle := func(o *daemon.Options) { o.Box.Kettle.Litres = 1 }
	probe := func(o *daemon.Options) { o.Box.Probes[1].ID, o.Box.Probes[1].Name = "door", "other" }
	fewer := func(o *daemon.Options) { o.Box.Probes = o.Box.Probes[:1] }
	for _, c := range []struct {
		name     string
		told     steambox.Kind
		change   func(*daemon.Options)
		goesOn   bool
		litres   float64
		second   string // the name of the second probe
		troubles int
	}{
		{"nothing told, nothing changed", "", nil, true, 0, "door", 0},
		{"nothing told, another probe", "", probe, false, 0, "other", 0},
		{"nothing told, a probe less", "", fewer, false, 0, "", 0},
		{"filled, another kettle", steambox.Filled, kettle, true, 1, "door", 0},
		{"filled, a probe less", steambox.Filled, fewer, false, 0, "", 0},
		{"rib in, nothing changed", steambox.Loaded, nil, true, 0, "door", 0},
		{"rib in, another kettle", steambox.Loaded, kettle, true, 1, "door", 0},
		{"rib in, another probe", steambox.Loaded, probe, true, 0, "other", 0},
		{"rib in, a probe less", steambox.Loaded, fewer, true, 0, "door", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec := open(t, t.TempDir())
			defer rec.Close()
			r := start(t, newScript("b1", 0), rec, nil)
			r.sweep(5, 98.3, 95.7, sensor.Closed)
			switch c.told {
			case steambox.Filled:
				r.tell(steambox.Event{Kind: steambox.Filled, Litres: 4})
			case steambox.Loaded:
				r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
			}
			r.sweep(5, 98.4, 95.6, sensor.Closed)
			was := r.View()
			r.stop()
			r = start(t, newScript("b1", r.source.Now()), rec, c.change)
			defer r.stop()
			r.sweep(2, 98.4, 95.6, sensor.Closed)
			v := r.View()
			litres, second := was.Box.Kettle.Litres, ""
			if c.litres != 0 {
				litres = c.litres
			}
			if len(v.Status.Probes) > 1 {
				second = v.Status.Probes[1].Name
			}
			if (v.Session == was.Session) != c.goesOn || v.Box.Kettle.Litres != litres || second != c.second || len(v.Troubles) != c.troubles {
				t.Errorf("session %s after %s, %g litres, probe %q, troubles %q", v.Session, was.Session, v.Box.Kettle.Litres, second, v.Troubles)
			}
			if c.told == steambox.Loaded && v.Status.Slots[0].Rib != "1" {
				t.Errorf("the rib is gone: %+v", v.Status.Slots[0])
			}
			var lines strings.Builder
			if err := rec.Export(&lines, v.Session); err != nil {
				t.Fatal(err)
			}
			if c.change == nil && strings.Contains(lines.String(), `"kind":"set"`) {
				t.Error("the box was set anew where nothing changed")
			}
		})
	}
}
