package daemon_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/hail"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/steambox"
)

// lateOutput is an output that is late while a test says so.
type lateOutput struct {
	mu   sync.Mutex
	late bool // and so is the watcher outside
	sent int
}

func (*lateOutput) Hand(*view.View) {}

func (o *lateOutput) Standing() []view.Output {
	o.mu.Lock()
	defer o.mu.Unlock()
	return []view.Output{{Name: "phone", Kind: "topic", Late: o.late}, {Name: "watcher", Kind: view.Heartbeat, Late: o.late}}
}

func (o *lateOutput) Try(context.Context, string) []view.Tried {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.sent++
	return []view.Tried{{Name: "phone", OK: true}}
}

func (o *lateOutput) set(late bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.late = late
}

// An output that is late becomes an alarm of its own with the next sweep, sounds, is on record,
// and is over once it can be reached: in replay too.
func TestUnreachedIsAnAlarm(t *testing.T) {
	rec, err := record.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close()
	src, out := newScript("b1", 0), &lateOutput{}
	d, err := daemon.New(daemon.Options{Box: testBox(), Source: src, Record: rec, Outputs: out, Speed: 1})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); _ = d.Run(ctx) }()
	sweep := func(n int) {
		for range n {
			seq := d.View().Seq
			src.sweeps <- sensor.Sweep{At: src.pass(time.Second), Level: sensor.Closed, Probes: []sensor.Reading{{Probe: "steam", Temp: 98}, {Probe: "door", Temp: 95}}}
			for d.View().Seq == seq {
				time.Sleep(time.Millisecond)
			}
		}
	}
	up := func() bool {
		return slices.ContainsFunc(d.View().Alarms, func(a alert.Alarm) bool {
			return a.ID == alert.Unreached && a.On == "phone" && a.State == alert.Raised
		})
	}
	unbeaten := func() bool {
		return slices.ContainsFunc(d.View().Alarms, func(a alert.Alarm) bool {
			return a.ID == alert.NoBeat && a.On == "watcher" && a.Priority == alert.Low && a.State == alert.Raised
		})
	}
	sweep(3)
	if up() {
		t.Fatal("raised with nothing late")
	}
	out.set(true)
	sweep(2) // one to see it, one by which it counts
	if !up() || !unbeaten() || d.View().Sound.Sound != alert.Look {
		t.Errorf("late: %+v, sound %+v", d.View().Alarms, d.View().Sound)
	}
	sweep(3)
	out.set(false)
	sweep(8)
	if up() || unbeaten() {
		t.Error("still raised")
	}
	if o := d.View().Outputs; len(o) != 2 || o[0].Name != "phone" {
		t.Errorf("in the view: %+v", o)
	}
	d.Message(t.Context(), "m1")
	d.Message(t.Context(), "m1")
	if d.Message(t.Context(), "m2"); out.sent != 2 {
		t.Errorf("%d test messages of two", out.sent)
	}
	alarms := d.View().Alarms
	cancel()
	<-done
	if _, err := rec.Flush(); err != nil {
		t.Fatal(err)
	}
	left, err := rec.Unfinished()
	if err != nil || left == nil {
		t.Fatal(left, err)
	}
	again, err := daemon.FoldAll(left.Box, rec.Entries(left.ID, 0))
	if err != nil {
		t.Fatal(err)
	}
	s := again.Session.Status()
	if got := again.Alarms.Alarms(&s); !slices.EqualFunc(got, alarms, func(a, b alert.Alarm) bool { return a.Key() == b.Key() && a.State == b.State && a.Count == b.Count }) {
		t.Errorf("replayed %+v, lived %+v", got, alarms)
	}
}

// An alarm of high priority that somebody at the box has heard, and that nobody away from it can
// be told of, sounds again within half a minute by this process's own clock.
func TestUndeliveredSounds(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	t.Parallel()
	rec, err := record.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close()
	p := pin{rose: make(chan time.Time, 1)}
	buzzer, src := alert.NewBuzzer(p, nil), newScript("b1", 0)
	d, err := daemon.New(daemon.Options{Box: testBox(), Source: src, Record: rec, Sounds: buzzer, Outputs: hungOutputs(t), Speed: 1})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var both sync.WaitGroup
	both.Go(func() { _ = d.Run(ctx) })
	both.Go(func() { buzzer.Run(ctx) })
	defer both.Wait()
	defer cancel()
	sweep := func(a alert.State, id alert.ID) bool {
		seq := d.View().Seq
		src.sweeps <- sensor.Sweep{At: src.pass(time.Second), Level: sensor.Open, Probes: []sensor.Reading{{Probe: "steam", Temp: 98}, {Probe: "door", Temp: 95}}}
		for d.View().Seq == seq {
			time.Sleep(time.Millisecond)
		}
		return slices.ContainsFunc(d.View().Alarms, func(x alert.Alarm) bool { return x.ID == id && x.State == a })
	}
	for !sweep(alert.Raised, alert.WaterLow) {
	}
	raised := <-p.rose
	if err := d.Do(ctx, steambox.Event{ID: "h", Kind: steambox.Heard, Alarm: string(alert.WaterLow)}); err != nil {
		t.Fatal(err)
	}
	time.Sleep(2 * time.Second) // its sound is over
	drain(p)
	for !sweep(alert.Raised, alert.Unreached) {
		if time.Since(raised) > time.Minute {
			t.Fatal("nobody was told, and that is no alarm")
		}
		time.Sleep(500 * time.Millisecond)
	}
	if again := (<-p.rose).Sub(raised); again > 30*time.Second || again < 20*time.Second {
		t.Errorf("it sounded again after %v", again)
	}
}

// hung is a way that never answers, and doesn't even stop when it is told to.
type hung struct{ until chan struct{} }

func (h hung) Send(context.Context, hail.Notice) error {
	<-h.until
	return errors.New("gave up")
}

// hungOutputs are eight outputs none of which ever answers. They end with the benchmark.
func hungOutputs(tb testing.TB) *hail.Hails {
	tb.Helper()
	until := make(chan struct{})
	var all []hail.Output
	for _, name := range []string{"1", "2", "3", "4", "5", "6", "7", "8"} {
		all = append(all, hail.Output{Name: name, Kind: "topic", Way: hung{until}, Least: alert.Low})
	}
	h := hail.New(all, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); h.Run(ctx) }()
	tb.Cleanup(func() { cancel(); close(until); <-done })
	return h
}
