package sensortest

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"withy/sensor"
	"withy/steambox/unit"
)

// Source is what the daemon reads: a board, or something that plays one.
type Source interface {
	// Read waits for the next sweep. Its errors are ctx's, or one of the
	// source's own that means it has ended.
	Read(ctx context.Context) (sensor.Sweep, error)
	// Now is the time on the clock of the sweeps, which never goes back.
	Now() time.Duration
	// Boot names the span over which times of that clock can be compared.
	Boot() string
	// Close ends the source and any Read under way. It may be called again.
	Close() error
}

// promptly is the time within which a Read must give up.
const promptly = 2 * time.Second

// TestSource checks that sources made by newSource keep the contract. probes
// are the names of the probes that they were given, in order. Each check
// makes a source of its own and closes it; a source should give a
// sweep at least each second or so, or the test takes long.
func TestSource(t *testing.T, newSource func() Source, probes ...string) {
	check := func(name string, f func(*testing.T, Source)) {
		t.Run(name, func(t *testing.T) {
			s := newSource()
			defer s.Close()
			f(t, s)
		})
	}
	check("sweeps", func(t *testing.T, s Source) { testSweeps(t, s, probes) })
	check("sweeps are the reader's own", testOwn)
	check("boot", testBoot)
	check("cancelled before", testCancelledBefore)
	check("cancelled meanwhile", testCancelledMeanwhile)
	check("closed meanwhile", testClosedMeanwhile)
	check("closed twice", testClosedTwice)
}

// testSweeps reads some sweeps and compares each with the one before.
func testSweeps(t *testing.T, s Source, probes []string) {
	var before sensor.Sweep
	at := map[string]time.Duration{}
	for i := range 5 {
		sweep := read(t, s)
		if i > 0 && sweep.At <= before.At {
			t.Errorf("sweep at %v after one at %v", sweep.At, before.At)
		}
		if now := s.Now(); sweep.At > now {
			t.Errorf("sweep at %v, but it is only %v", sweep.At, now)
		}
		var names []string
		for _, r := range sweep.Probes {
			names = append(names, r.Probe)
			testReading(t, r, sweep.At, at)
		}
		if !slices.Equal(names, probes) {
			t.Errorf("sweep names probes %q, want %q", names, probes)
		}
		testSwitches(t, sweep)
		before = sweep
	}
}

// testReading checks one reading; at holds when each probe's last good one was.
func testReading(t *testing.T, r sensor.Reading, sweep time.Duration, at map[string]time.Duration) {
	t.Helper()
	if r.At > sweep {
		t.Errorf("%s was read at %v, after the sweep at %v", r.Probe, r.At, sweep)
	}
	if f := r.Fault; f != nil {
		if !slices.Contains(sensor.FaultKinds(), f.Kind) {
			t.Errorf("%s: fault of an unknown kind: %v", r.Probe, f)
		}
		return
	}
	if !unit.Finite(float64(r.Temp)) {
		t.Errorf("%s: reading without fault is %v", r.Probe, r.Temp)
	}
	if r.At < at[r.Probe] {
		t.Errorf("%s: reading of %v follows one of %v", r.Probe, r.At, at[r.Probe])
	}
	at[r.Probe] = r.At
}

func testSwitches(t *testing.T, s sensor.Sweep) {
	t.Helper()
	for _, c := range append([]sensor.Contact{s.Level, s.Door}, s.Floats...) {
		if c != sensor.Unknown && c != sensor.Open && c != sensor.Closed {
			t.Errorf("contact is %d", c)
		}
	}
	for _, p := range s.Presses {
		if p.Button == "" || p.Held < 0 || p.At+p.Held > s.At {
			t.Errorf("press %+v in a sweep at %v", p, s.At)
		}
	}
}

// testOwn checks that a sweep does not change after it was handed out, and
// that a change to it is not seen in the next.
func testOwn(t *testing.T, s Source) {
	first := read(t, s)
	kept := slices.Clone(first.Probes)
	for i := range first.Probes {
		first.Probes[i].Probe = "scribbled over"
	}
	second := read(t, s)
	for i, r := range second.Probes {
		if r.Probe != kept[i].Probe {
			t.Errorf("probe %d is %q after a scribble, was %q", i, r.Probe, kept[i].Probe)
		}
	}
	for _, r := range first.Probes {
		if r.Probe != "scribbled over" {
			t.Error("a sweep changed in the hands of its reader")
		}
	}
}

func testBoot(t *testing.T, s Source) {
	boot := s.Boot()
	if boot == "" {
		t.Error("no boot name")
	}
	read(t, s)
	if again := s.Boot(); again != boot {
		t.Errorf("boot name went from %q to %q", boot, again)
	}
}

func testCancelledBefore(t *testing.T, s Source) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := within(t, s, ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("Read with a cancelled context: %v", err)
	}
	read(t, s) // the source itself goes on
}

func testCancelledMeanwhile(t *testing.T, s Source) {
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(10*time.Millisecond, cancel)
	endsWith(t, s, ctx, func(err error) bool { return errors.Is(err, context.Canceled) })
	read(t, s)
}

func testClosedMeanwhile(t *testing.T, s Source) {
	time.AfterFunc(10*time.Millisecond, func() { _ = s.Close() })
	endsWith(t, s, t.Context(), func(err error) bool { return err != nil })
}

func testClosedTwice(t *testing.T, s Source) {
	for i := range 2 {
		if err := s.Close(); err != nil {
			t.Errorf("Close number %d: %v", i+1, err)
		}
	}
	if _, err := within(t, s, t.Context()); err == nil {
		t.Error("a closed source still reads")
	}
}

// endsWith reads until an error comes, and checks it. A source that runs faster
// than real time may give many sweeps before.
func endsWith(t *testing.T, s Source, ctx context.Context, ok func(error) bool) {
	t.Helper()
	start := time.Now()
	for time.Since(start) < promptly {
		if _, err := within(t, s, ctx); err != nil {
			if !ok(err) {
				t.Errorf("Read ended with %v", err)
			}
			return
		}
	}
	t.Errorf("Read went on for %v", promptly)
}

// read reads a sweep that must come.
func read(t *testing.T, s Source) sensor.Sweep {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	sweep, err := s.Read(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return sweep
}

// within reads, and fails the test when the read does not return promptly.
func within(t *testing.T, s Source, ctx context.Context) (sensor.Sweep, error) {
	t.Helper()
	type result struct {
		sweep sensor.Sweep
		err   error
	}
	done := make(chan result, 1)
	go func() {
		sweep, err := s.Read(ctx)
		done <- result{sweep, err}
	}()
	select {
	case r := <-done:
		return r.sweep, r.err
	case <-time.After(promptly):
		t.Fatalf("Read did not return within %v", promptly)
		return sensor.Sweep{}, nil
	}
}
