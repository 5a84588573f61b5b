package daemon_test

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/unit"
)

// What a sweep and a scrape cost by how much there is of something. deploy/beside makes its
// tables of these, with the limits of the settings lifted for what lies beyond them.
var sizes = []int{1, 2, 4, 8, 16, 32, 64}

// BenchmarkProbes has probes evenly along a box with a rib in each of four slots.
func BenchmarkProbes(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) { benchmarkSweep(b, boxOf(n, 4)) })
	}
}

// BenchmarkSlots has a rib in each slot of a box with two probes.
func BenchmarkSlots(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) { benchmarkSweep(b, boxOf(2, n)) })
	}
}

// boxOf is a box with so many probes and slots, and as many ribs as slots.
func boxOf(probes, slots int) steambox.Box {
	b := testBox()
	b.Probes, b.Slots, b.Ribs = nil, nil, nil
	for i := range probes {
		b.Probes = append(b.Probes, steambox.BoxProbe{Name: fmt.Sprint("probe ", i+1), XM: b.LengthM * float64(i) / float64(max(1, probes-1)), Calibrated: true})
	}
	for i := range slots {
		b.Slots = append(b.Slots, fmt.Sprint("slot ", i+1))
		b.Ribs = append(b.Ribs, steambox.Rib{Label: fmt.Sprint(i + 1), LengthM: 1.1, ThicknessM: 0.0065, WidthM: 0.028, StationM: float64(i) * 0.15})
	}
	return b
}

// benchmarkSweep fills all slots of a warm box and times what the loop does each second,
// from the sweep to the view; then a scrape of that view, and what a sample takes on record.
func benchmarkSweep(b *testing.B, box steambox.Box) {
	if err := box.Check(); err != nil {
		b.Skip(err)
	}
	src := newScript("b1", 0)
	d, err := daemon.New(daemon.Options{Box: box, Source: src, Speed: 1})
	if err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	defer func() { stop(); <-ended }()
	second := func() {
		before := d.Changed()
		sweep := sensor.Sweep{At: src.pass(time.Second), Level: sensor.Closed}
		for i := range box.Probes {
			sweep.Probes = append(sweep.Probes, sensor.Reading{Probe: box.Probes[i].Name, Temp: unit.Celsius(98 - 2*float64(i)/float64(len(box.Probes)))})
		}
		src.sweeps <- sweep
		<-before
	}
	second()
	for i, slot := range box.Slots {
		if err := d.Do(ctx, steambox.Event{ID: slot, Kind: steambox.Loaded, Rib: fmt.Sprint(i + 1), Slot: slot}); err != nil {
			b.Fatal(err)
		}
	}
	for range 60 {
		second()
	}
	began := cpuTime(b)
	for b.Loop() {
		second()
	}
	b.ReportMetric(float64(cpuTime(b)-began)/float64(b.N), "cpu-ns-sweep")
	page := metrics.Handler(d)
	began = cpuTime(b)
	for range b.N {
		page.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/metrics", nil))
	}
	b.ReportMetric(float64(cpuTime(b)-began)/float64(b.N), "cpu-ns-scrape")
	b.ReportMetric(bytesOnRecord(b, box), "B-sample")
}

// cpuTime is what this process has had of the processors, in ns, which other programs on the
// machine hardly change.
func cpuTime(tb testing.TB) int64 {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		tb.Fatal(err)
	}
	return syscall.TimevalToNsec(used.Utime) + syscall.TimevalToNsec(used.Stime)
}

// bytesOnRecord returns what one sample of a box takes on record, by a hundred of them.
func bytesOnRecord(b *testing.B, box steambox.Box) float64 {
	r, err := record.Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	if _, err := r.Begin(box, record.Clock{Boot: "b1"}, longAgo); err != nil {
		b.Fatal(err)
	}
	size := func() int64 {
		if _, err := r.Flush(); err != nil {
			b.Fatal(err)
		}
		all, err := r.Sessions()
		if err != nil {
			b.Fatal(err)
		}
		return all[0].Bytes
	}
	const samples = 100
	empty := size()
	for s := range samples {
		at := time.Duration(s) * time.Second
		if err := r.Sample(at, longAgo.Add(at), sampleAt(s, len(box.Probes))); err != nil {
			b.Fatal(err)
		}
	}
	return float64(size()-empty) / samples
}

var longAgo = time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)

// sampleAt is second s of a box that warms up for half an hour and then keeps its steam, in
// the steps of a DS18B20.
func sampleAt(s, probes int) steambox.Sample {
	m := steambox.Sample{Level: boiler.Closed}
	for i := range probes {
		c := min(15+float64(s)/20, 98.5-float64(i)/float64(probes)) + 0.0625*float64((s*7+i*3)%3)
		m.Probes = append(m.Probes, steambox.ProbeSample{MilliC: int32(c*16) * 125 / 2})
	}
	return m
}

// BenchmarkSession starts in the middle of a session that is so many hours long, killed just
// before its next snapshot was due: four ribs were bent in its first hour, and the water is
// told each hour. Then it makes the session's report, which folds all of it again.
// WITHY_HOURS is the longest; a thousand take minutes to make.
func BenchmarkSession(b *testing.B) {
	longest, err := strconv.Atoi(os.Getenv("WITHY_HOURS"))
	if err != nil {
		longest = 10
	}
	for _, hours := range []int{1, 3, 10, 30, 100, 300, 1000} {
		if hours <= longest {
			b.Run(fmt.Sprint(hours), func(b *testing.B) { benchmarkSession(b, hours) })
		}
	}
}

func benchmarkSession(b *testing.B, hours int) {
	dir := b.TempDir()
	length := time.Duration(hours) * time.Hour
	id := makeSession(b, dir, length)
	src := newScript("b1", length)
	before := heap()
	var held uint64
	for b.Loop() {
		r, err := record.Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		d, err := daemon.New(daemon.Options{Box: boxOf(2, 4), Source: src, Record: r, Speed: 1, Wall: func() time.Time { return longAgo.Add(length) }})
		if err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		held = heap() - before
		if v := d.View(); v.Session != id || v.Status.Bent.Supple != 4 || len(v.Troubles) > 0 {
			b.Fatalf("goes on with %q, %+v, %q", v.Session, v.Status.Bent, v.Troubles)
		}
		if err := r.Close(); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
	}
	b.ReportMetric(float64(held), "B-held")
	info, err := os.Stat(filepath.Join(dir, "record.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(info.Size()), "B-file")
	took, size := reportOf(b, dir, id)
	b.ReportMetric(float64(took), "cpu-ns-report")
	b.ReportMetric(float64(size), "B-report")
}

// heap is what is held on to.
func heap() uint64 {
	var m runtime.MemStats
	for range 2 { // what is pooled goes with the second
		runtime.GC()
	}
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// makeSession puts a session on record as the daemon does, and returns its id.
func makeSession(b *testing.B, dir string, length time.Duration) string {
	r, err := record.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	must := func(err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	box := boxOf(2, 4)
	f, err := daemon.NewFold(box)
	must(err)
	id, err := r.Begin(box, record.Clock{Boot: "b1"}, longAgo)
	must(err)
	n := 0
	tell := func(at time.Duration, e steambox.Event) {
		n++
		e.ID = fmt.Sprint("e", n)
		must(f.Do(at, e))
		must(r.Event(at, longAgo.Add(at), e))
	}
	shot := time.Duration(0)
	for s := range int(length.Seconds()) {
		at := time.Duration(s) * time.Second
		m := sampleAt(s, len(box.Probes))
		f.Sample(at, m)
		must(r.Sample(at, longAgo.Add(at), m))
		switch {
		case s%3600 == 0:
			tell(at, steambox.Event{Kind: steambox.Filled, Litres: 5})
		case s == 2700:
			for i, slot := range box.Slots {
				tell(at, steambox.Event{Kind: steambox.Loaded, Rib: fmt.Sprint(i + 1), Slot: slot})
			}
		case s == 3030:
			for i, slot := range box.Slots {
				tell(at, steambox.Event{Kind: steambox.Pulled, Slot: slot})
				tell(at, steambox.Event{Kind: steambox.Outcome, Rib: fmt.Sprint(i + 1), Outcome: "supple"})
			}
		case at-shot >= 5*time.Minute && length-at > 4*time.Minute:
			state, err := f.Snapshot()
			must(err)
			must(r.Snapshot(at, state))
			shot = at
		case s%1000 == 0: // so many at once would wait for the disk
			_, err := r.Flush()
			must(err)
		}
	}
	return id
}

// reportOf makes the report of a session on record and returns what that takes of a
// processor, in ns, and how large it is.
func reportOf(b *testing.B, dir, id string) (took int64, size int) {
	r, err := record.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	began := cpuTime(b)
	out, err := daemon.Report(b.Context(), r, id)
	if err != nil {
		b.Fatal(err)
	}
	var page strings.Builder
	if err := out.WriteHTML(&page, time.UTC, measure.Metric); err != nil {
		b.Fatal(err)
	}
	return cpuTime(b) - began, page.Len()
}
