package browsertest

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"net/http/httptest"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/view"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/sensor/rehearsed"
	"withy/steambox"
	"withy/steambox/rehearsal"
)

// shed is the daemon whole, on a rehearsal box with nobody at it but the test.
type shed struct {
	t *testing.T
	*daemon.Daemon
	box    *rehearsed.Box
	probes *probes
	record *record.Record
	url    string
	litres float64 // in the boiler when it began
}

// seed is one of the boxes, boilers and sticks; any would do.
const seed = 9

// probes reads a rehearsal box and makes of each reading what a test wants.
type probes struct {
	*rehearsed.Box
	become atomic.Pointer[func(*sensor.Reading)] // nil: as they are
}

func (p *probes) Read(ctx context.Context) (sensor.Sweep, error) {
	sweep, err := p.Box.Read(ctx)
	if become := p.become.Load(); become != nil {
		for i := range sweep.Probes {
			(*become)(&sweep.Probes[i])
		}
	}
	return sweep, err
}

func unplugged(r *sensor.Reading) { r.Fault = &sensor.Fault{Kind: sensor.Absent} }
func fiveOver(r *sensor.Reading)  { r.Temp = 105 } // as under a fifth of a bar

// moment is one in the life of a box that steams by itself since the fire was lit.
type moment func(*rehearsal.World) bool

func hot(w *rehearsal.World) bool { return w.Elapsed() >= 40*time.Minute }
func low(w *rehearsal.World) bool { return !w.LevelClosed() }
func dry(w *rehearsal.World) bool { return w.WaterL() < 0.1 }

// shop opens a shed at a moment of its box, so that nobody waits for the warm-up. It
// goes speed times as fast as life from then on. Changes make what the daemon is made of another.
func shop(t *testing.T, scenario string, so moment, speed float64, changes ...func(*daemon.Options)) *shed {
	t.Helper()
	long(t)
	world, err := rehearsal.New(scenario, seed)
	if err != nil {
		t.Fatal(err)
	}
	for !so(world) {
		world.Step(10 * time.Second)
	}
	litres := math.Round(world.WaterL()*10) / 10 // as one reads it
	box, err := rehearsed.New(world, t.Name(), speed)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := record.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.DiscardHandler)
	behind := stage.New(box, filepath.Join(t.TempDir(), "box.json"), log)
	read := &probes{Box: box}
	options := daemon.Options{Box: stage.Settings(world), Source: read, Record: rec, Speed: speed, Done: behind.Follow, Log: log}
	for _, change := range changes {
		change(&options)
	}
	d, err := daemon.New(options)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(web.New(d, plain{}, metrics.Handler(d), web.Entry{}, log))
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	t.Cleanup(func() {
		server.CloseClientConnections()
		server.Close()
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		rec.Close()
	})
	return &shed{t, d, box, read, rec, server.URL, litres}
}

// do enters what somebody did, not through the page.
func (s *shed) do(events ...steambox.Event) {
	s.t.Helper()
	for _, e := range events {
		if e.ID == "" {
			e.ID = fmt.Sprint(e.Kind, e.Rib, e.Slot)
		}
		if err := s.Do(s.t.Context(), e); err != nil {
			s.t.Fatalf("%s: %v", e.Kind, err)
		}
	}
}

// begin fills the box by hand: the water is known, four ribs are in.
func (s *shed) begin() {
	s.t.Helper()
	s.do(steambox.Event{Kind: steambox.Level, Litres: s.litres}, steambox.Event{Kind: steambox.Start})
	for i, slot := range []string{"A", "B", "C", "D"} {
		s.do(steambox.Event{Kind: steambox.Loaded, Rib: fmt.Sprint(i + 1), Slot: slot})
	}
}

// become has the probes read otherwise from here on.
func (s *shed) become(other func(*sensor.Reading)) { s.probes.become.Store(&other) }

// end takes every rib through the box, one after the other, and tells that they were
// supple but for the first, which cracked.
func (s *shed) end() {
	s.t.Helper()
	s.do(steambox.Event{Kind: steambox.Level, Litres: s.litres}, steambox.Event{Kind: steambox.Start})
	for i, r := range s.View().Status.Ribs {
		bent := string(rehearsal.Supple)
		if i == 0 {
			bent = string(rehearsal.Cracked)
		}
		s.do(steambox.Event{Kind: steambox.Loaded, Rib: r.Rib, Slot: "A"}, steambox.Event{Kind: steambox.Pulled, Slot: "A", ID: "out " + r.Rib},
			steambox.Event{Kind: steambox.Outcome, Rib: r.Rib, Outcome: bent})
	}
}

// long leaves a test out where short ones are asked for: it starts a browser.
func long(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a browser")
	}
}

// wait waits for a view that is so.
func (s *shed) wait(what string, so func(*view.View) bool) *view.View {
	s.t.Helper()
	late := time.After(patience)
	for {
		changed := s.Changed()
		if v := s.View(); so(v) {
			return v
		}
		select {
		case <-changed:
		case <-late:
			s.t.Fatalf("never so: %s; %+v", what, s.View().Status)
		}
	}
}

// told lists the events on record, without those that only answer an alarm.
func (s *shed) told() (out []steambox.Event) {
	s.t.Helper()
	for e, err := range s.record.Entries(s.View().Session, 0) {
		if err != nil {
			s.t.Fatal(err)
		}
		if e.Event != nil {
			out = append(out, *e.Event)
		}
	}
	return out
}
