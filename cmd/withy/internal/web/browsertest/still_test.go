package browsertest

import (
	"context"
	"fmt"
	"log/slog"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/view"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/rehearsal"
	"withy/steambox/unit"
)

// script is a board whose sweeps and whose clock are the test's.
type script struct {
	sweeps chan sensor.Sweep
	now    atomic.Int64
}

func (s *script) Read(ctx context.Context) (sensor.Sweep, error) {
	select {
	case sweep := <-s.sweeps:
		return sweep, nil
	case <-ctx.Done():
		return sensor.Sweep{}, ctx.Err()
	}
}

func (s *script) Now() time.Duration { return time.Duration(s.now.Load()) }
func (s *script) Boot() string       { return "script" }

// still is a daemon that lived through a script, second by second, and stands still then:
// the same script gives the same view each time.
type still struct {
	t *testing.T
	*daemon.Daemon
	script       *script
	names        []string // of the probes
	steamC, door float64
	level        sensor.Contact
	fault        bool
}

func newStill(t *testing.T) *still {
	t.Helper()
	long(t)
	world, err := rehearsal.New("good", seed)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := record.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	s := &still{t: t, script: &script{sweeps: make(chan sensor.Sweep)}, steamC: 15, door: 15, level: sensor.Closed}
	box := stage.Settings(world)
	box.Rehearsal = false // the word across the page would hide what is behind it
	for _, p := range box.Probes {
		s.names = append(s.names, p.Name)
	}
	if s.Daemon, err = daemon.New(daemon.Options{Box: box, Source: s.script, Record: rec, Speed: 1}); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		rec.Close()
	})
	return s
}

// run lets so many seconds go by.
func (s *still) run(n int) *still {
	s.t.Helper()
	for range n {
		at := time.Duration(s.script.now.Add(int64(time.Second)))
		sweep := sensor.Sweep{At: at, Level: s.level}
		for i, name := range s.names {
			r := sensor.Reading{Probe: name, At: at, Temp: unit.Celsius([]float64{s.steamC, s.door}[i])}
			if s.fault {
				r.Fault = &sensor.Fault{Kind: sensor.Absent}
			}
			sweep.Probes = append(sweep.Probes, r)
		}
		s.script.sweeps <- sweep
	}
	for late := time.After(patience); s.View().Status.ElapsedS < s.script.Now().Seconds(); {
		select {
		case <-s.Changed():
		case <-late:
			s.t.Fatal("the script was not followed")
		}
	}
	return s
}

// heat brings both ends to where they are from then on, a kelvin in four seconds.
func (s *still) heat(steamC, doorC float64) *still {
	s.t.Helper()
	for s.steamC < steamC || s.door < doorC {
		s.steamC, s.door = min(steamC, s.steamC+0.25), min(doorC, s.door+0.25)
		s.run(1)
	}
	s.steamC, s.door = steamC, doorC
	return s
}

func (s *still) tell(e steambox.Event) *still {
	s.t.Helper()
	e.ID = fmt.Sprint(e.Kind, e.Rib, e.Slot, s.script.Now())
	if err := s.Do(s.t.Context(), e); err != nil {
		s.t.Fatalf("%s: %v", e.Kind, err)
	}
	return s
}

// warm is a box that is ready, its water known.
func (s *still) warm() *still {
	s.t.Helper()
	return s.tell(steambox.Event{Kind: steambox.Filled, Litres: 4}).heat(99, 96.5).run(2000)
}

// loaded has four ribs in, eighty seconds apart.
func (s *still) loaded() *still {
	s.t.Helper()
	s.warm().tell(steambox.Event{Kind: steambox.Level, Litres: 4})
	for i, slot := range []string{"A", "B", "C", "D"} {
		s.tell(steambox.Event{Kind: steambox.Loaded, Rib: s.View().Status.Ribs[i].Rib, Slot: slot}).run(80)
	}
	return s
}

// before lets time go by until the first call is due in so many seconds, or late by them
// where it is less than 0.
func (s *still) before(seconds float64) *still {
	s.t.Helper()
	for range 1200 {
		if calls := s.View().Status.Calls; len(calls) > 0 && calls[0].Do == steambox.PullCall && calls[0].InS != nil && *calls[0].InS <= seconds {
			return s
		}
		s.run(1)
	}
	s.t.Fatal("no call")
	return nil
}

// url serves the view that there is, for good.
func (s *still) url() string {
	s.t.Helper()
	v := *s.View()
	v.Wall, v.Session, v.Seq = time.Date(2026, 5, 1, 10, 0, 0, 0, time.UTC), "2026-05-01-1", 1
	v.Sound = view.Sounding{}
	server := httptest.NewServer(web.New(&stopped{s.Daemon, &v}, plain{}, metrics.Handler(s.Daemon), web.Entry{}, slog.New(slog.DiscardHandler)))
	s.t.Cleanup(func() {
		server.CloseClientConnections()
		server.Close()
	})
	return server.URL
}

// stopped is a box of which there is one view only.
type stopped struct {
	*daemon.Daemon
	view *view.View
}

func (s *stopped) View() *view.View                               { return s.view }
func (s *stopped) Watching() error                                { return nil }
func (s *stopped) Healthy() error                                 { return nil }
func (s *stopped) Changed() <-chan struct{}                       { return nil }
func (s *stopped) Do(context.Context, steambox.Event) error       { return nil }
func (s *stopped) Try(context.Context, alert.Sound, string) error { return nil }
func (s *stopped) Press(context.Context, string, string) (view.Answer, error) {
	return view.Answer{}, nil
}
