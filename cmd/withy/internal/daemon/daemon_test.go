package daemon_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"withy/alert"
	"withy/cmd/withy/internal/crew"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/view"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/sensor/rehearsed"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/rehearsal"
	"withy/steambox/unit"
	"withy/steambox/words"
)

// script is a source whose sweeps the test hands over one by one.
type script struct {
	sweeps chan sensor.Sweep
	boot   string
	at     atomic.Int64 // its clock: the loop reads it while the test moves it on
}

func newScript(boot string, from time.Duration) *script {
	s := &script{sweeps: make(chan sensor.Sweep), boot: boot}
	s.pass(from)
	return s
}

// pass moves the clock on and returns what it shows.
func (s *script) pass(d time.Duration) time.Duration { return time.Duration(s.at.Add(int64(d))) }

func (s *script) Read(ctx context.Context) (sensor.Sweep, error) {
	select {
	case sweep := <-s.sweeps:
		return sweep, nil
	case <-ctx.Done():
		return sensor.Sweep{}, ctx.Err()
	}
}

func (s *script) Now() time.Duration { return s.pass(0) }
func (s *script) Boot() string       { return s.boot }

func testBox() steambox.Box {
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam", Calibrated: true}, {Name: "door", XM: 1.5, Calibrated: true}}
	for i := range 6 {
		b.Ribs = append(b.Ribs, steambox.Rib{Label: fmt.Sprint(i + 1), LengthM: 1.1, ThicknessM: 0.0065, WidthM: 0.028, StationM: float64(i)})
	}
	return b
}

// rig is a daemon that runs in a test, fed by a script.
type rig struct {
	t *testing.T
	*daemon.Daemon
	source *script
	stop   func()
	n      int
}

func start(t *testing.T, src *script, rec *record.Record, change func(*daemon.Options)) *rig {
	t.Helper()
	o := daemon.Options{Box: testBox(), Source: src, Record: rec, Speed: 1}
	if change != nil {
		change(&o)
	}
	d, err := daemon.New(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	r := &rig{t: t, Daemon: d, source: src}
	r.stop = func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	return r
}

// sweep hands over n sweeps, a second apart.
func (r *rig) sweep(n int, steam, door float64, level sensor.Contact, presses ...sensor.Press) {
	r.t.Helper()
	for range n {
		before := r.Changed()
		r.source.sweeps <- sensor.Sweep{
			At: r.source.pass(time.Second), Level: level, Presses: presses,
			Probes: []sensor.Reading{{Probe: "steam", Temp: unit.Celsius(steam)}, {Probe: "door", Temp: unit.Celsius(door)}},
		}
		<-before
	}
}

func (r *rig) tell(e steambox.Event) {
	r.t.Helper()
	r.n++
	e.ID = fmt.Sprintf("%s-%d", r.source.boot, r.n)
	if err := r.Do(r.t.Context(), e); err != nil {
		r.t.Fatalf("%s: %v", e.Kind, err)
	}
}

// pressedDoor counts who was let in.
type pressedDoor struct{ asks, pressed int }

func (d *pressedDoor) Asked() bool { return d.asks > 0 }
func (d *pressedDoor) Press() (string, error) {
	d.pressed++
	switch d.asks {
	case 0:
		return "", door.ErrNobody
	case 1:
		return "phone", nil
	}
	return "", door.ErrSeveral
}

func TestButtonLetsIn(t *testing.T) {
	way := &pressedDoor{}
	r := start(t, newScript("a", 0), nil, func(o *daemon.Options) {
		o.Door, o.Buttons = way, map[string]string{"palm": view.PressStop, "pair": view.PressPair}
	})
	defer r.stop()
	press := func(button string, held time.Duration) string {
		r.sweep(1, 20, 20, sensor.Closed, sensor.Press{Button: button, At: r.source.Now(), Held: held})
		return r.View().Answer.Says
	}
	r.sweep(3, 20, 20, sensor.Closed)
	for _, c := range []struct {
		asks   int
		button string
		held   time.Duration
		says   string
		let    int
	}{
		{0, "pair", time.Second, words.NobodyAsks, 1},
		{1, "pair", time.Second, words.LetIn("phone"), 2},
		{2, "pair", time.Second, words.SeveralAsk, 3},
		{1, "palm", 5 * time.Second, words.LetIn("phone"), 4},
		{1, "pair", 10 * time.Millisecond, words.LetIn("phone"), 4}, // a bump: nothing new is said
		{1, "palm", 4 * time.Second, "", 4},
		{0, "palm", 9 * time.Second, "", 4},
	} {
		way.asks = c.asks
		got := press(c.button, c.held)
		if way.pressed != c.let || c.says != "" && got != c.says {
			t.Errorf("%s for %v, %d ask: says %q, let in %d times; want %q, %d", c.button, c.held, c.asks, got, way.pressed, c.says, c.let)
		}
	}
	if !r.View().Status.Resting {
		t.Error("the shorter press of the palm button was not what it is for")
	}
}

func open(t *testing.T, dir string) *record.Record {
	t.Helper()
	r, err := record.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// folded is the session of a record's last session, folded from its beginning.
func folded(t *testing.T, r *record.Record, id string) steambox.Status {
	t.Helper()
	s, err := r.Session(id)
	if err != nil {
		t.Fatal(err)
	}
	f, err := daemon.FoldAll(s.Box, r.Entries(id, 0))
	if err != nil {
		t.Fatal(err)
	}
	return f.Session.Status()
}

// What was lived is what is folded from the record, bit for bit.
func TestReplayIsWhatWasLived(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 50*time.Second), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Filled, Litres: 4})
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(200, 98.4, 95.6, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "2", Slot: "B"})
	r.sweep(150, 98.1, 95.2, sensor.Open)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	r.tell(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "stiff"})
	r.sweep(20, 98.1, 95.2, sensor.Open)
	lived := r.View()
	r.stop()
	if d := cmp.Diff(lived.Status, folded(t, rec, lived.Session)); d != "" {
		t.Error(d)
	}
	if err := rec.Close(); err != nil {
		t.Error(err)
	}
}

// Stopped and started again in mid-soak: the same session, the rib in its slot,
// and the heat it may or may not have taken meanwhile within its bounds.
func TestGoesOnInMidSoak(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(120, 98.4, 95.6, sensor.Closed)
	before := r.View()
	r.stop()
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}

	rec = open(t, dir)
	defer rec.Close()
	r = start(t, newScript("b1", 240*time.Second), rec, nil) // 90 s later by the same clock
	defer func() { r.stop() }()
	r.sweep(1, 98.4, 95.6, sensor.Closed)
	after := r.View()
	if after.Session != before.Session || after.Status.Slots[0].Rib != "1" || after.Status.Slots[0].Sure {
		t.Fatalf("session %s, slot %+v; was %s", after.Session, after.Status.Slots[0], before.Session)
	}
	was, is := before.Status.Slots[0].Ends[0], after.Status.Slots[0].Ends[0]
	if is.LoMin != was.LoMin || is.HiMin < was.HiMin+1 {
		t.Errorf("bounds %.3f to %.3f, before the gap %.3f to %.3f", is.LoMin, is.HiMin, was.LoMin, was.HiMin)
	}
	if g := after.Status.GapS; g < 90 || g > 92 {
		t.Errorf("gap of %g s, want 91", g)
	}
}

// After another boot the wall clock says how long it was away.
func TestGoesOnAfterABoot(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 1000*time.Second), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(60, 98.4, 95.6, sensor.Closed)
	was := r.View()
	r.stop()
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	rec = open(t, dir)
	defer rec.Close()
	r = start(t, newScript("b2", 7*time.Second), rec, nil)
	r.sweep(5, 98.4, 95.6, sensor.Closed)
	is := r.View()
	r.stop()
	if is.Session != was.Session || is.Status.Slots[0].Rib != "1" {
		t.Errorf("session %s, slot %+v", is.Session, is.Status.Slots[0])
	}
	if d := is.Status.ElapsedS - was.Status.ElapsedS; d < 4 || d > 30 {
		t.Errorf("%g s went by, a few were", d)
	}
	if d := cmp.Diff(is.Status, folded(t, rec, is.Session)); d != "" {
		t.Errorf("replay over the boot differs: %s", d)
	}
}

// A board without a clock of its own comes up before the record's last entry: the
// session goes on, unsure, and people are told.
func TestGoesOnWithoutAClock(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(60, 98.4, 95.6, sensor.Closed)
	was := r.View()
	r.stop()
	// The record's last entry, as if the clock had been ahead of what it is now.
	if err := rec.Sample(time.Duration(was.Status.ElapsedS+1)*time.Second, time.Now().Add(24*time.Hour), steambox.Sample{
		Probes: []steambox.ProbeSample{{MilliC: 98400}, {MilliC: 95600}}, Level: boiler.Closed,
	}); err != nil {
		t.Fatal(err)
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	rec = open(t, dir)
	defer rec.Close()
	r = start(t, newScript("b2", 0), rec, nil)
	defer r.stop()
	r.sweep(2, 98.4, 95.6, sensor.Closed)
	v := r.View()
	if v.Session != was.Session || v.Status.Slots[0].Rib != "1" || v.Status.Slots[0].Sure || len(v.Troubles) == 0 {
		t.Errorf("session %s, slot %+v, troubles %v", v.Session, v.Status.Slots[0], v.Troubles)
	}
}

// A button at the box: the next call, or that an alarm was heard.
func TestButton(t *testing.T) {
	r := start(t, newScript("b1", 0), nil, func(o *daemon.Options) {
		o.Buttons = map[string]string{"palm": view.PressNext}
	})
	defer r.stop()
	r.sweep(10, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	press := func(at time.Duration) sensor.Press {
		return sensor.Press{Button: "palm", At: at, Held: 200 * time.Millisecond}
	}
	r.sweep(1, 98.3, 95.7, sensor.Closed, press(r.source.Now()), press(r.source.Now()+time.Second))
	if v := r.View(); v.Status.Slots[0].Rib != "" || v.Status.Bent.Untold != 1 {
		t.Errorf("pressed: %+v", v.Status.Slots[0])
	}
	r.sweep(20, 98.3, 95.7, sensor.Open)
	if v := r.View(); len(v.Alarms) != 1 || v.Alarms[0].ID != alert.WaterLow || v.Alarms[0].State != alert.Raised {
		t.Fatalf("alarms %+v", v.Alarms)
	}
	r.sweep(1, 98.3, 95.7, sensor.Open, press(r.source.Now()))
	if v := r.View(); v.Alarms[0].State != alert.HeardBy {
		t.Errorf("pressed: %+v", v.Alarms)
	}
}

// Without a record the watch goes on, and people are told.
func TestNoRecord(t *testing.T) {
	r := start(t, newScript("b1", 0), nil, func(o *daemon.Options) { o.Troubles = []string{"No record is kept."} })
	defer r.stop()
	r.sweep(5, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	if v := r.View(); len(v.Troubles) != 1 || v.Status.Slots[0].Rib != "1" {
		t.Errorf("%+v", v)
	}
	if _, err := r.Trace(t.Context(), 0, 100, 10); err == nil {
		t.Error("a trace without a record")
	}
}

// A record that fails under way: the event counts, whoever told it learns that it
// was not kept, the watch goes on.
func TestRecordFails(t *testing.T) {
	rec := open(t, t.TempDir())
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(5, 98, 95, sensor.Closed)
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	err := r.Do(t.Context(), steambox.Event{ID: "x", Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	if err == nil {
		t.Error("told done though nothing was kept")
	}
	r.sweep(5, 98, 95, sensor.Closed)
	if v := r.View(); v.Status.Slots[0].Rib != "1" || len(v.Troubles) == 0 {
		t.Errorf("slot %+v, troubles %v", v.Status.Slots[0], v.Troubles)
	}
}

// The session that goes on is reported as far as it is on record.
func TestReport(t *testing.T) {
	src := newScript("a", 0)
	rec := open(t, t.TempDir())
	r := start(t, src, rec, nil)
	defer r.stop()
	r.sweep(60, 99, 96, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(120, 99, 96, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	for _, session := range []string{"", r.View().Session} {
		out, err := r.Report(t.Context(), session)
		if err != nil || out.Session != r.View().Session || out.Finished || out.Ribs[0].Rib != "1" || out.Ribs[0].SoakS != 120 {
			t.Errorf("%q: %v, %+v", session, err, out)
		}
	}
	if _, err := r.Report(t.Context(), "gone"); !errors.Is(err, record.ErrUnknown) {
		t.Errorf("unknown: %v", err)
	}
	gone, leave := context.WithCancel(t.Context())
	leave()
	if _, err := r.Report(gone, ""); !errors.Is(err, context.Canceled) {
		t.Errorf("goes on for nobody: %v", err)
	}
}

// A box that has gone cold ends its session; the watch begins the next.
func TestNextSession(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(5, 98, 95, sensor.Closed)
	first := r.View().Session
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(5, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	r.sweep(5, 30, 30, sensor.Closed)
	r.source.pass(time.Hour) // lunch
	r.sweep(5, 25, 25, sensor.Closed)
	if v := r.View(); v.Session != first || v.Status.Ribs[0].Place != steambox.Out {
		t.Fatalf("lunch ended session %s: %s, %+v", first, v.Session, v.Status.Ribs[0])
	}
	r.tell(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "supple"})
	r.source.pass(6 * time.Hour)
	r.sweep(5, 20, 20, sensor.Closed)
	if v := r.View(); v.Session == first || v.Status.Ribs[0].Place != steambox.Waiting {
		t.Errorf("session %s goes on cold: %+v", v.Session, v.Status.Ribs[0])
	}
}

// pin records when it was switched on.
type pin struct {
	rose chan time.Time
	line *sensor.Output // moved too; nil: there is none
}

// newPin returns a pin, with the line of a board that WITHY_BUZZER_LINE names, if it does.
func newPin(t testing.TB) pin {
	t.Helper()
	p := pin{rose: make(chan time.Time, 1)}
	if line := os.Getenv("WITHY_BUZZER_LINE"); line != "" {
		var err error
		if p.line, err = sensor.OpenOutput(sensor.OutputConfig{Line: line}, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { p.line.Close() })
	}
	return p
}

func (p pin) Set(on bool) error {
	if p.line != nil {
		if err := p.line.Set(on); err != nil {
			return err
		}
	}
	if on {
		select {
		case p.rose <- time.Now():
		default:
		}
	}
	return nil
}

// From the end of an alarm's delay, that is the sweep that ends it, to the pin,
// through the real loop and the record.
func BenchmarkSweepToBuzzer(b *testing.B) {
	sweepToBuzzer(b, daemon.Options{})
}

// The same while none of eight outputs ever answers.
func BenchmarkBuzzerWhileOutputsHang(b *testing.B) {
	sweepToBuzzer(b, daemon.Options{Outputs: hungOutputs(b)})
}

// With every output hanging, the time from the end of an alarm's delay to the pin is what is asked
// of it in any trouble: 250 ms in 99 of 100, and a second at worst.
func TestBuzzerWhileOutputsHang(t *testing.T) {
	o, p := daemon.Options{Outputs: hungOutputs(t)}, newPin(t)
	var waits []time.Duration
	for range 30 {
		waits = append(waits, toBuzzer(t, o, p, func() {}, func() {}))
	}
	slices.Sort(waits)
	if worst, second := waits[len(waits)-1], waits[len(waits)-2]; worst > time.Second || second > 250*time.Millisecond {
		t.Errorf("%v", waits)
	}
}

// sweepToBuzzer measures a daemon with these options.
func sweepToBuzzer(b *testing.B, o daemon.Options) {
	var waits []time.Duration
	p := newPin(b)
	for b.Loop() {
		b.StopTimer()
		waits = append(waits, toBuzzer(b, o, p, b.StartTimer, b.StopTimer))
		b.StartTimer()
	}
	slices.Sort(waits)
	b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds()), "µs-p99")
	b.ReportMetric(float64(waits[len(waits)/2].Microseconds()), "µs-p50")
}

// toBuzzer returns how long it takes from the sweep that ends an alarm's delay to the pin, and
// says when that begins and ends.
func toBuzzer(tb testing.TB, o daemon.Options, p pin, begin, end func()) time.Duration {
	rec, err := record.Open(tb.TempDir())
	if err != nil {
		tb.Fatal(err)
	}
	defer rec.Close()
	buzzer := alert.NewBuzzer(p, nil)
	src := newScript("b1", 0)
	o.Box, o.Source, o.Record, o.Sounds, o.Speed = testBox(), src, rec, buzzer, 1
	d, err := daemon.New(o)
	if err != nil {
		tb.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var both sync.WaitGroup
	both.Go(func() { _ = d.Run(ctx) })
	both.Go(func() { buzzer.Run(ctx) })
	defer drain(p)
	defer both.Wait()
	defer cancel()
	feed := func(level sensor.Contact) time.Time {
		at := src.pass(time.Second)
		sent := time.Now()
		src.sweeps <- sensor.Sweep{At: at, Level: level, Probes: []sensor.Reading{{Probe: "steam", Temp: 98}, {Probe: "door", Temp: 95}}}
		return sent
	}
	for range 5 {
		feed(sensor.Closed)
	}
	for range 10 {
		feed(sensor.Open)
	}
	for d.View().Seq < 16 { // one at first, and one a sweep: in life a second lies between two
		time.Sleep(time.Millisecond)
	}
	begin()
	sent := feed(sensor.Open)
	wait := (<-p.rose).Sub(sent)
	end()
	return wait
}

// drain takes away what a sound that was broken off has left.
func drain(p pin) {
	select {
	case <-p.rose:
	default:
	}
}

// The whole path: a rehearsal box, its crew over HTTP, the record, the page's view.
func TestWholeRun(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	world, err := rehearsal.New("good", 1)
	if err != nil {
		t.Fatal(err)
	}
	box, err := rehearsed.New(world, "whole", 400)
	if err != nil {
		t.Fatal(err)
	}
	defer box.Close()
	log := slog.New(slog.DiscardHandler)
	behind := stage.New(box, filepath.Join(t.TempDir(), "box.json"), log)
	d, err := daemon.New(daemon.Options{Box: stage.Settings(world), Source: box, Record: rec, Speed: 400, Done: behind.Follow})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(web.New(d, nil, metrics.Handler(d), web.Entry{}, log))
	defer server.Close()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); _ = d.Run(ctx) }()
	go crew.New(server.Client(), server.URL, box, log).Run(ctx, 5*time.Millisecond)
	var kettle bool
	v := waitFor(t, d, func(v *view.View) bool {
		for _, a := range v.Alarms {
			kettle = kettle || a.ID == alert.DrySoon || a.ID == alert.WaterLow
		}
		return v.Status.ElapsedS > 4200
	})
	cancel()
	<-done
	bent := v.Status.Bent
	if n := bent.Supple + bent.Stiff + bent.Cracked; n < 8 {
		t.Errorf("%d ribs bent in 70 min: %+v", n, bent)
	}
	if !kettle {
		t.Error("the kettle was never called for")
	}
	if d := cmp.Diff(d.View().Status, folded(t, rec, v.Session)); d != "" {
		t.Errorf("replay differs: %s", d)
	}
	keepToSchema(t, rec, v.Session)
}

// keepToSchema checks that the lines of an exported session are as they are described, by
// a validator that is not ours.
func keepToSchema(t *testing.T, rec *record.Record, session string) {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(record.LineSchema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("line.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("line.json")
	if err != nil {
		t.Fatal(err)
	}
	var lines bytes.Buffer
	if err := rec.Export(&lines, session); err != nil {
		t.Fatal(err)
	}
	n := 0
	for line := range bytes.Lines(lines.Bytes()) {
		n++
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(line))
		if err == nil {
			err = s.Validate(v)
		}
		if err != nil {
			t.Fatalf("line %d, %.200s: %v", n, line, err)
		}
	}
	if n < 4000 {
		t.Errorf("%d lines of 70 minutes", n)
	}
}

// waitFor waits for a view that is so.
func waitFor(t *testing.T, d *daemon.Daemon, so func(*view.View) bool) *view.View {
	t.Helper()
	deadline := time.After(2 * time.Minute)
	for {
		changed := d.Changed()
		if v := d.View(); so(v) {
			return v
		}
		select {
		case <-changed:
		case <-deadline:
			t.Fatalf("waited in vain; elapsed %g s", d.View().Status.ElapsedS)
		}
	}
}

// The data folder made read-only: the daemon says so and watches on.
func TestReadOnlyFolder(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Log("root may write anywhere; a file where the folder belongs stands for it")
	}
	dir := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(dir, nil, 0o400); err != nil {
		t.Fatal(err)
	}
	if _, err := record.Open(dir); err == nil || !strings.Contains(err.Error(), dir) {
		t.Errorf("error %v", err)
	}
}

// A press is answered with the rib it took; the same button within five seconds says
// no to it, a trembling fist doesn't, and later it means the next thing.
func TestPressAgainForNo(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, func(o *daemon.Options) {
		o.Buttons = map[string]string{"palm": view.PressNext, "pedal": view.PressCracked}
	})
	defer func() { r.stop() }()
	r.sweep(10, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(300, 98.3, 95.7, sensor.Closed)
	press := func(button string, after time.Duration) *view.View {
		r.sweep(1, 98.3, 95.7, sensor.Closed, sensor.Press{Button: button, At: r.source.Now() + after, Held: 200 * time.Millisecond})
		return r.View()
	}
	if v := press("pedal", 0); v.Answer.Says != words.NothingToSay {
		t.Errorf("cracked before any was pulled: %q", v.Answer.Says)
	}
	if v := press("palm", 0); v.Answer.Says != "Rib 1 is out of A. Press again for no." || v.Answer.UndoS != 5 {
		t.Errorf("%+v", v.Answer)
	}
	if v := press("palm", 0); v.Status.Ribs[0].Place != steambox.Out { // a second later
		t.Errorf("trembling has put it back: %+v", v.Status.Ribs[0])
	}
	r.sweep(1, 98.3, 95.7, sensor.Closed)
	if v := press("palm", 0); v.Answer.Says != words.TakenBack {
		t.Errorf("%+v", v.Answer)
	}
	for r.View().Status.Ribs[0].Place != steambox.InBox {
		r.sweep(1, 98.3, 95.7, sensor.Closed)
	}
	r.sweep(10, 98.3, 95.7, sensor.Closed)
	press("palm", 0)
	r.sweep(10, 98.3, 95.7, sensor.Closed)
	press("pedal", 0)
	if v := r.caughtUp(); v.Status.Ribs[0].Outcome != "cracked" || v.Answer.Says != "Rib 1, cracked. Press again for no." {
		t.Errorf("%+v, %+v", v.Status.Ribs[0], v.Answer)
	}
	a, err := r.Press(t.Context(), view.PressStop, "key-1")
	if err != nil || a.Says != "A break. Load no more. Press again for no." || !r.View().Status.Resting {
		t.Errorf("%+v, %v", a, err)
	}
}

// In a dry run the big button ends a round, and the sounder calls the next; somebody
// who wants to hear a sound hears it once.
func TestDryRunByButton(t *testing.T) {
	r := start(t, newScript("b1", 0), nil, func(o *daemon.Options) { o.Buttons = map[string]string{"palm": view.PressNext} })
	defer func() { r.stop() }()
	r.sweep(2, 15, 15, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Dry, On: true})
	for round := range 3 {
		before := r.View().Sound.N
		r.sweep(65, 15, 15, sensor.Closed)
		if v := r.View(); v.Sound.N != before+1 || v.Sound.Sound != alert.Pull {
			t.Errorf("round %d: sounds %d to %d, %q", round+1, before, v.Sound.N, v.Sound.Sound)
		}
		r.sweep(1, 15, 15, sensor.Closed, sensor.Press{Button: "palm", At: r.source.Now(), Held: 200 * time.Millisecond})
		if v := r.View(); !strings.HasPrefix(v.Answer.Says, "Back after 1:0") || v.Status.Dry.Rounds != round+1 {
			t.Errorf("%q, %+v", v.Answer.Says, v.Status.Dry)
		}
	}
	before := r.View().Sound.N
	for range 2 {
		if err := r.Try(t.Context(), alert.Danger, "s1"); err != nil {
			t.Error(err)
		}
	}
	if v := r.View(); v.Sound.N != before+1 || v.Sound.Sound != alert.Danger {
		t.Errorf("%+v", v.Sound)
	}
}

// A further float that sinks is a level that was seen, once; one that rises, or is down from
// the start, tells nothing.
func TestFloats(t *testing.T) {
	src := newScript("one", 0)
	var told []string
	r := start(t, src, nil, func(o *daemon.Options) {
		o.Floats = []float64{3.5, 2.5}
		o.Done = func(e steambox.Event) { told = append(told, fmt.Sprintf("%s %g L by %s", e.Kind, e.Litres, e.By)) }
	})
	const unknown, open, closed = sensor.Unknown, sensor.Open, sensor.Closed
	for _, floats := range [][]sensor.Contact{
		{unknown, open}, {closed, open}, // full, and the lower one hangs
		{open, open}, {open, open}, // the upper sinks
		{open, closed}, {open, unknown}, // the lower comes free; its line fails for a moment
		{open, open},           // and it sinks
		{closed, closed, open}, // both rise; there is one more than is known of
		{open, closed},         // the upper had stuck: there can't be so much any more
	} {
		before := r.Changed()
		src.sweeps <- sensor.Sweep{At: src.pass(time.Second), Floats: floats}
		<-before
	}
	if w := r.View().Status.Water; w.LeftL == nil || *w.LeftL < 2.5 || *w.LeftHiL >= 3.5 {
		t.Errorf("%v to %v L left", w.LeftL, w.LeftHiL)
	}
	r.stop()
	if want := []string{"level 3.5 L by float 1", "level 2.5 L by float 2"}; !slices.Equal(told, want) {
		t.Errorf("told %q, want %q", told, want)
	}
}

// lamp keeps the lights that it is shown.
type lamp struct{ shown []alert.Light }

func (l *lamp) Show(light alert.Light) { l.shown = append(l.shown, light) }

// The lamp is shown a light with each view; a probe that is gone is no danger.
func TestLamp(t *testing.T) {
	src, l := newScript("one", 0), &lamp{}
	r := start(t, src, nil, func(o *daemon.Options) { o.Lamp = l })
	r.sweep(3, 20, 20, sensor.Unknown)
	for range 60 {
		before := r.Changed()
		src.sweeps <- sensor.Sweep{At: src.pass(time.Second)}
		<-before
	}
	r.stop()
	want := alert.LightOf(r.View().Alarms)
	if l.shown[0] != alert.Dark || want == alert.Dark || want == alert.Fast || l.shown[len(l.shown)-1] != want {
		t.Errorf("shown %v, for alarms %+v", l.shown, r.View().Alarms)
	}
}
