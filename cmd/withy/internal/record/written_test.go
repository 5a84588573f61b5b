package record

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"testing"
	"time"
)

// written returns the bytes that this process has had written: to the card, in
// the kernel's account, and to files.
func written(t testing.TB) (card, files int64) {
	t.Helper()
	if runtime.GOOS != "linux" {
		t.Skip("counted by Linux only")
	}
	b, err := os.ReadFile("/proc/self/io")
	must(t, err)
	for line := range bytes.Lines(b) {
		fmt.Sscanf(string(line), "write_bytes: %d", &card)
		fmt.Sscanf(string(line), "wchar: %d", &files)
	}
	return card, files
}

// TestWritten counts what ten minutes at 1 Hz with four probes cost the card. The
// batches are written when they would be, only sooner after each other; with
// WITHY_REALTIME set, it takes the ten minutes, side by side with the kernel's
// own writing back.
func TestWritten(t *testing.T) {
	const mib = 1 << 20
	var pace time.Duration
	if os.Getenv("WITHY_REALTIME") != "" {
		pace = time.Second
	}
	for _, c := range []struct {
		name              string
		events, snapshots int // one every so many seconds; 0: none
		most              int64
	}{
		{"samples", 0, 0, mib / 2},
		{"samples and 20 events", 30, 0, mib},
		{"samples, 20 events, a snapshot of 40 KiB each 5 min", 30, 300, mib},
		{"samples, 20 events, a snapshot of 40 KiB each minute", 30, 60, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := open(t, t.TempDir())
			begin(t, r)
			card, files := written(t)
			tenMinutes(t, r, c.events, c.snapshots, pace)
			must(t, r.Close())
			card2, files2 := written(t)
			card, files = card2-card, files2-files
			t.Logf("%s: %d KiB to the card, %d KiB to files", c.name, card>>10, files>>10)
			if c.most != 0 && max(card, files) > c.most {
				t.Errorf("more than %d KiB", c.most>>10)
			}
		})
	}
}

func tenMinutes(t *testing.T, r *Record, events, snapshots int, pace time.Duration) {
	t.Helper()
	tick := time.Now()
	state := make([]byte, 40<<10)
	random := rand.NewChaCha8([32]byte{})
	for k := range 600 {
		at, wall, s := secondOf(k)
		must(t, r.Sample(at, wall, s))
		if pace != 0 {
			tick = tick.Add(pace)
			time.Sleep(time.Until(tick))
		} else if k%batchSize == batchSize-1 {
			must(t, r.flush())
		}
		if events != 0 && k%events == 7 {
			must(t, r.Event(at, wall, eventOf(k)))
		}
		if snapshots != 0 && k%snapshots == 11 {
			random.Read(state)
			must(t, r.Snapshot(at, state))
		}
	}
}

func BenchmarkSample(b *testing.B) {
	r := open(b, b.TempDir())
	begin(b, r)
	b.ReportAllocs()
	var longest time.Duration
	for k := 0; b.Loop(); k++ {
		at, wall, s := secondOf(k)
		began := time.Now()
		if err := r.Sample(at, wall, s); err != nil {
			b.Fatal(err)
		}
		longest = max(longest, time.Since(began))
		if k%1000 == 999 {
			b.StopTimer()
			must(b, r.flush()) // so many at once would wait for the disk
			b.StartTimer()
		}
	}
	b.ReportMetric(float64(longest.Nanoseconds()), "ns-longest")
}

func BenchmarkEvent(b *testing.B) {
	r := open(b, b.TempDir())
	begin(b, r)
	for k := 0; b.Loop(); k++ {
		if err := r.Event(time.Duration(k), morning, eventOf(k)); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTrace draws the page's trace of a session of four hours.
func BenchmarkTrace(b *testing.B) {
	r := open(b, b.TempDir())
	id := begin(b, r)
	for k := range 4 * 3600 {
		at, wall, s := secondOf(k)
		must(b, r.Sample(at, wall, s))
	}
	must(b, r.flush())
	for b.Loop() {
		if _, err := r.Trace(id, 0, 1e9, 800); err != nil {
			b.Fatal(err)
		}
	}
}
