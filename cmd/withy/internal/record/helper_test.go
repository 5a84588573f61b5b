package record

import (
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"withy/steambox"
	"withy/steambox/boiler"
)

// morning is the wall time at which tests begin their sessions.
var morning = time.Date(2026, 11, 25, 8, 30, 0, 123456789, time.UTC)

func testBox() steambox.Box {
	b := steambox.DefaultBox()
	b.Name, b.Boat = "long box", "<Teal> & Wren"
	for i, name := range []string{"steam", "low", "high", "door"} {
		b.Probes = append(b.Probes, steambox.BoxProbe{Name: name, XM: 0.5 * float64(i)})
	}
	for i := range 24 {
		b.Ribs = append(b.Ribs, steambox.Rib{Label: fmt.Sprint(i + 1), LengthM: 0.9, ThicknessM: 0.0065, WidthM: 0.025})
	}
	return b
}

func open(t testing.TB, dir string) *Record {
	t.Helper()
	r, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

// openMended is open for a file that may have to be mended first; it says whether it
// had to.
func openMended(t testing.TB, dir string) (*Record, *Mended) {
	t.Helper()
	r, err := Open(dir)
	if err == nil {
		if err = r.LookThrough(t.Context()); err == nil {
			t.Cleanup(func() { r.Close() })
			return r, nil
		}
		must(t, r.Close())
		if _, again := Open(dir); !errors.Is(again, ErrDamaged) {
			t.Fatal("found damaged, and opened all the same")
		}
	}
	if !errors.Is(err, ErrDamaged) {
		t.Fatal(err)
	}
	m, err := Mend(dir)
	must(t, err)
	return open(t, dir), &m
}

func begin(t testing.TB, r *Record) string {
	t.Helper()
	id, err := r.Begin(testBox(), Clock{Boot: "boot-1", Origin: 90 * time.Second}, morning)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// secondOf returns the k-th sample of a made-up warm-up at 1 Hz, with its times:
// four probes in steps of a sixteenth of a degree, as their chips give them.
func secondOf(k int) (at time.Duration, wall time.Time, s steambox.Sample) {
	at = time.Duration(k)*time.Second + time.Duration(k*7919%1_500_000)
	wall = morning.Add(at + time.Duration(k*104729%40_000))
	s = steambox.Sample{Level: boiler.Closed}
	for i := range 4 {
		sixteenths := 16*15 + (k*(9-i))/8 + (k*7+i*3)%3
		c := min(sixteenths, 16*99+(k+i)%3)
		s.Probes = append(s.Probes, steambox.ProbeSample{MilliC: int32(c * 125 / 2)})
	}
	if k%100 == 60 {
		s.Probes[2] = steambox.ProbeSample{MilliC: 85000, Fault: "power_on"}
	}
	return at, wall, s
}

func eventOf(k int) steambox.Event {
	return steambox.Event{ID: fmt.Sprint("event-", k), Kind: steambox.Loaded, Rib: fmt.Sprint(k), Slot: "A", By: "page"}
}

// collect returns all entries, and fails the test on an error.
func collect(t testing.TB, entries iter.Seq2[Entry, error]) []Entry {
	t.Helper()
	var all []Entry
	for e, err := range entries {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, e)
	}
	return all
}

// live records a short session, samples with events between, and returns what it
// handed in.
func live(t testing.TB, r *Record, seconds int) []Entry {
	t.Helper()
	lived := []Entry{{Seq: 1, Wall: morning, Clock: &Clock{Boot: "boot-1", Origin: 90 * time.Second}}}
	for k := range seconds {
		at, wall, s := secondOf(k)
		must(t, r.Sample(at, wall, s))
		lived = append(lived, Entry{Seq: int64(len(lived) + 1), At: at, Wall: wall, Sample: &s})
		if k%17 == 5 {
			e := eventOf(k)
			at, wall = at+123, wall.Add(123)
			must(t, r.Event(at, wall, e))
			lived = append(lived, Entry{Seq: int64(len(lived) + 1), At: at, Wall: wall, Event: &e})
		}
	}
	return lived
}

func same(t testing.TB, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Fatalf("not what was handed in (- handed in, + read):\n%s", d)
	}
}

// alike is same for a test or one try of a property; nil and empty are the same.
func alike(t interface {
	Helper()
	Fatalf(string, ...any)
}, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got, cmpopts.EquateEmpty()); d != "" {
		t.Fatalf("not what was handed in (- handed in, + read):\n%s", d)
	}
}

func filePath(dir string) string { return filepath.Join(dir, fileName) }
