package daemon_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
	"withy/steambox"
)

// wallClock is a wall clock that tests set.
type wallClock struct {
	source *script
	epoch  time.Time // what it showed when the source's clock stood at 0
	known  bool
}

func (w *wallClock) now() time.Time { return w.epoch.Add(w.source.Now()) }

// startBy starts a daemon that labels by a wall clock.
func startBy(t *testing.T, w *wallClock, dir string) (*rig, func()) {
	t.Helper()
	rec := open(t, dir)
	r := start(t, w.source, rec, func(o *daemon.Options) {
		o.Wall, o.Timed = w.now, func() bool { return w.known }
	})
	return r, func() {
		t.Helper()
		r.stop()
		if err := rec.Close(); err != nil {
			t.Error(err)
		}
	}
}

var noon = time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)

// soak is a rib in the box for six minutes, with something that happens after each of
// them.
func soakOne(r *rig, each func(minute int)) {
	r.t.Helper()
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	for minute := range 6 {
		r.sweep(60, 98.4, 95.6, sensor.Closed)
		each(minute)
	}
}

// The wall clock is set while a rib is in the box, ten years on and back, from 1970 to
// now, two seconds back: nothing that is reckoned changes by a bit, nor when it is
// reckoned again from the record.
func TestClockIsSet(t *testing.T) {
	lived := func(first time.Time, steps ...time.Time) steambox.Status {
		w := &wallClock{source: newScript("b1", 100*time.Second), epoch: first, known: true}
		dir := t.TempDir()
		r, end := startBy(t, w, dir)
		soakOne(r, func(minute int) {
			if minute < len(steps) {
				w.epoch = steps[minute]
			}
		})
		v := r.View()
		end()
		rec := open(t, dir)
		defer rec.Close()
		left, err := rec.Unfinished()
		if err != nil || left == nil {
			t.Fatal(left, err)
		}
		if d := cmp.Diff(v.Status, folded(t, rec, left.ID)); d != "" {
			t.Errorf("replayed: %s", d)
		}
		return v.Status
	}
	want := lived(noon)
	for name, got := range map[string]steambox.Status{
		"ten years on and back": lived(noon, noon.AddDate(10, 0, 0), noon, noon.AddDate(-10, 0, 0), noon),
		"1970 to now":           lived(time.Unix(0, 0), noon),
		"two seconds back":      lived(noon, noon.Add(-2*time.Second), noon.Add(-4*time.Second)),
	} {
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

// The kernel slews its clocks by 500 ppm at most, the boot clock too (adjtimex(2)): the
// heat that a rib has taken is off by less than one sample's worth.
func TestClockIsSlewed(t *testing.T) {
	lived := func(second time.Duration) steambox.EndHeat {
		src := newScript("b1", 0)
		r := start(t, src, nil, nil)
		defer r.stop()
		soakOne(r, func(int) { src.pass(60 * (second - time.Second)) })
		return r.View().Status.Slots[0].Ends[0]
	}
	want := lived(time.Second)
	worth := want.Min / 330 // a minute goes by before the first of it counts
	for _, ppm := range []time.Duration{-500, 500} {
		got := lived(time.Second + ppm*time.Microsecond)
		if off := math.Abs(got.Min - want.Min); off > worth || off == 0 {
			t.Errorf("%d ppm: %.4f min of heat instead of %.4f; a sample is worth %.4f", ppm, got.Min, want.Min, worth)
		}
	}
}

// A board wakes up in 1970, and in the middle of its second session the time arrives: both
// sessions began when they did, the finished one is called by its day at once, the other
// one when it is over. Seconds later the clock is put right once more, and the names stay.
func TestTimeArrives(t *testing.T) {
	dir := t.TempDir()
	w := &wallClock{source: newScript("b1", 20*time.Second), epoch: time.Unix(0, 0).UTC()}
	r, end := startBy(t, w, dir)
	r.sweep(5, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Note, Text: "in 1970"})
	if id := r.View().Session; id != "1970-01-01-1" {
		t.Fatalf("begun as %s", id)
	}
	end()
	rec := open(t, dir)
	if err := rec.Finish(6*time.Second, w.now()); err != nil {
		t.Fatal(err)
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	w.source.pass(time.Hour)
	second := w.source.Now()
	r, end = startBy(t, w, dir)
	r.sweep(5, 98, 95, sensor.Closed)
	w.epoch, w.known = noon.Add(2*time.Second), true
	r.sweep(5, 98, 95, sensor.Closed)
	w.epoch = noon
	r.sweep(5, 98, 95, sensor.Closed)
	end()

	rec = open(t, dir)
	defer rec.Close()
	list, err := rec.Sessions()
	if err != nil || len(list) != 2 {
		t.Fatal(list, err)
	}
	if list[0].ID != "2026-05-01-1" || !list[0].Began.Equal(noon.Add(20*time.Second)) || !list[1].Began.Equal(noon.Add(second)) {
		t.Errorf("%+v", list)
	}
	if err := rec.Finish(time.Minute, w.now()); err != nil {
		t.Fatal(err)
	}
	if list, err = rec.Sessions(); err != nil || list[1].ID != "2026-05-01-2" {
		t.Errorf("%+v, %v", list, err)
	}
	if err := rec.LookThrough(t.Context()); err != nil {
		t.Error(err)
	}
}

// The power fails with a rib in the box, and the board comes up by a clock that was kept
// in a file and knows nothing of how long that was. People are told; when the time
// arrives the gap is what it was, the heat that may have been taken in it is the upper
// bound, and the lower one stands.
func TestOffForAnUnknownTime(t *testing.T) {
	for _, c := range []struct {
		name    string
		wall    time.Time // that the board comes up by, of the source's 0
		off     time.Duration
		arrives bool // the time does
		gapS    float64
		knows   bool
	}{
		{"time from a file", noon.Add(100 * time.Second), 40 * time.Minute, true, 2400, true},
		{"1970", time.Unix(0, 0), 40 * time.Minute, true, 2400, true},
		{"off for less than it was taken for", noon.Add(100 * time.Second), 2 * time.Minute, true, 600, true},
		{"1970, and the time never arrives", time.Unix(0, 0), 40 * time.Minute, false, 600, false},
		{"left by a clock of another year", noon.Add(100 * time.Second), 9000 * time.Hour, true, 600, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			w := &wallClock{source: newScript("b1", 0), epoch: noon, known: true}
			r, end := startBy(t, w, dir)
			r.sweep(30, 98.3, 95.7, sensor.Closed)
			r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
			r.sweep(60, 98.4, 95.6, sensor.Closed)
			was, gone := r.View(), w.now()
			end()

			w = &wallClock{source: newScript("b2", 8*time.Second), epoch: c.wall}
			r, end = startBy(t, w, dir)
			defer func() { end() }()
			r.sweep(20, 98.4, 95.6, sensor.Closed)
			v := r.View()
			told := func() bool {
				return slices.ContainsFunc(r.View().Troubles, func(s string) bool {
					return s == "How long the board was off is not known: pull what is in the box and try it, and look at the water."
				})
			}
			if v.Session != was.Session || v.Status.Slots[0].Rib != "1" || !told() {
				t.Fatalf("session %s after %s, slot %+v, troubles %q", v.Session, was.Session, v.Status.Slots[0], v.Troubles)
			}
			if c.arrives {
				w.epoch, w.known = gone.Add(c.off-8*time.Second), true
			}
			r.sweep(20, 98.4, 95.6, sensor.Closed)
			v = r.View()
			if told() == c.knows {
				t.Errorf("troubles %q", v.Troubles)
			}
			if g := v.Status.GapS; math.Abs(g-c.gapS) > 2 {
				t.Errorf("a gap of %g s, want %g", g, c.gapS)
			}
			before, after := was.Status.Slots[0].Ends[0], v.Status.Slots[0].Ends[0]
			// 40 s were seen since: at 98 °C less than a minute's worth.
			if after.LoMin < before.LoMin || after.LoMin > before.LoMin+1 || after.HiMin < before.HiMin+c.gapS/60*0.8 {
				t.Errorf("bounds %.2f to %.2f, before %.2f to %.2f", after.LoMin, after.HiMin, before.LoMin, before.HiMin)
			}
			if err := r.Flush(); err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(v.Status, folded(t, r.Record, v.Session)); d != "" {
				t.Errorf("replayed: %s", d)
			}
		})
	}
}

// The power fails on a board whose clock nobody knew to be right, and the board comes up by one
// that is: how long it was off can't be told by what the other showed. A session that seems to
// have been left long ago is gone on with where ribs were in the box, and only there.
func TestLeftByAnUnknownClock(t *testing.T) {
	for _, c := range []struct {
		name                   string
		known, arrives, loaded bool
		off                    time.Duration // as the clocks have it
		goesOn                 bool
		gapS                   float64
	}{
		{"a week, nobody knew, with a rib", false, false, true, 168 * time.Hour, true, 600},
		{"a week, nobody knew, empty", false, false, false, 168 * time.Hour, false, 0},
		{"a week, known, with a rib", true, true, true, 168 * time.Hour, false, 0},
		{"a while, nobody knew", false, false, true, 40 * time.Minute, true, 600},
		{"a while, and it had come to be known", false, true, true, 40 * time.Minute, true, 2400},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			w := &wallClock{source: newScript("b1", 0), epoch: noon, known: c.known}
			r, end := startBy(t, w, dir)
			r.sweep(30, 98.3, 95.7, sensor.Closed)
			w.known = c.arrives
			r.sweep(30, 98.3, 95.7, sensor.Closed)
			if c.loaded {
				r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
			}
			r.sweep(30, 98.3, 95.7, sensor.Closed)
			was, gone := r.View(), w.now()
			end()

			w = &wallClock{source: newScript("b2", 8*time.Second), epoch: gone.Add(c.off - 8*time.Second), known: true}
			r, end = startBy(t, w, dir)
			defer func() { end() }()
			r.sweep(20, 98.4, 95.6, sensor.Closed)
			v := r.View()
			if goesOn := v.Session == was.Session; goesOn != c.goesOn {
				t.Fatalf("session %s after %s", v.Session, was.Session)
			}
			if g := v.Status.GapS; math.Abs(g-c.gapS) > 2 {
				t.Errorf("a gap of %g s, want %g", g, c.gapS)
			}
			told := slices.ContainsFunc(v.Troubles, func(s string) bool { return strings.HasPrefix(s, "How long the board was off is not known") })
			if told != (c.gapS == 600) {
				t.Errorf("troubles %q", v.Troubles)
			}
		})
	}
}

// A board that started with a date which may be right or not, and nobody has told it since:
// what it labelled by that it calls undated, until the time arrives.
func TestUndated(t *testing.T) {
	w := &wallClock{source: newScript("b1", 100*time.Second), epoch: noon}
	r, end := startBy(t, w, t.TempDir())
	defer end()
	undated := func() bool {
		t.Helper()
		told, err := r.Report(t.Context(), "")
		if err != nil {
			t.Fatal(err)
		}
		return told.Undated
	}
	r.sweep(5, 20, 18, sensor.Closed)
	if !undated() {
		t.Error("dated, by a clock that nobody knows to be right")
	}
	w.known = true
	r.sweep(1, 20, 18, sensor.Closed)
	if undated() {
		t.Error("undated, by a clock that is known to be right")
	}
}
