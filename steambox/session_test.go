package steambox_test

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/unit"
)

// testBox is a box with six ribs and calibrated probes.
func testBox() steambox.Box {
	b := steambox.DefaultBox()
	b.Learn = false
	b.Probes = []steambox.BoxProbe{{Name: "steam", XM: 0, Calibrated: true}, {Name: "door", XM: 1.5, Calibrated: true}}
	for i := range 6 {
		b.Ribs = append(b.Ribs, steambox.Rib{
			Label: fmt.Sprint(i + 1), LengthM: 1.1, ThicknessM: 0.0065, WidthM: 0.028, StationM: float64(i) * 0.15,
		})
	}
	return b
}

func session(t testing.TB, b steambox.Box) *steambox.Session {
	t.Helper()
	s, err := steambox.NewSession(b)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// day drives a session by the second.
type day struct {
	t testing.TB
	*steambox.Session
	now   int
	steam float64
	door  float64
	level boiler.Contact
	n     int
}

func newDay(t testing.TB, b steambox.Box) *day {
	return &day{t: t, Session: session(t, b), steam: 98.5, door: 96, level: boiler.Closed}
}

// run lets n seconds go by with the ends as they are.
func (d *day) run(n int) *day {
	for range n {
		d.Sample(time.Duration(d.now)*time.Second, d.sample())
		d.now++
	}
	return d
}

func (d *day) sample() steambox.Sample {
	probe := func(c float64) steambox.ProbeSample {
		if math.IsNaN(c) {
			return steambox.ProbeSample{Fault: "absent"}
		}
		return steambox.ProbeSample{MilliC: int32(math.Round(c * 1000))}
	}
	return steambox.Sample{Probes: []steambox.ProbeSample{probe(d.steam), probe(d.door)}, Level: d.level}
}

func (d *day) do(e steambox.Event) *day {
	d.t.Helper()
	d.n++
	e.ID = fmt.Sprint("test-", d.n)
	if err := d.Do(time.Duration(d.now)*time.Second-time.Second/2, e); err != nil {
		d.t.Fatalf("%s: %v", e.Kind, err)
	}
	return d
}

func (d *day) load(rib, slot string) *day {
	d.t.Helper()
	return d.do(steambox.Event{Kind: steambox.Loaded, Rib: rib, Slot: slot})
}

func (d *day) pull(slot string) *day {
	d.t.Helper()
	return d.do(steambox.Event{Kind: steambox.Pulled, Slot: slot})
}

// warmed is a day whose box is ready.
func warmed(t testing.TB) *day { return newDay(t, testBox()).run(1900) }

func first(t testing.TB, s steambox.Status) steambox.Call {
	t.Helper()
	if len(s.Calls) == 0 {
		t.Fatal("no call")
	}
	return s.Calls[0]
}

// Ready is level near boiling for five minutes, and not before half an hour:
// common practice, no source.
func TestWarmUp(t *testing.T) {
	d := newDay(t, testBox())
	d.steam, d.door = 15, 15
	if p := d.run(10).Status().Phase; p != steambox.Cold {
		t.Errorf("phase %s when cold", p)
	}
	d.steam, d.door = 80, 30
	s := d.run(10).Status()
	if s.Phase != steambox.Warming || s.Warm.FirstSteamS == nil {
		t.Errorf("phase %s, first steam %v", s.Phase, s.Warm.FirstSteamS)
	}
	d.steam, d.door = 98.5, 96
	s = d.run(600).Status()
	if s.Warm.LevelS == nil || s.Warm.ReadyS != nil {
		t.Errorf("level %v, ready %v ten minutes in", s.Warm.LevelS, s.Warm.ReadyS)
	}
	if c := first(t, s); c.Do != steambox.WaitCall {
		t.Errorf("call %+v before half an hour", c)
	}
	s = d.run(1200).Status()
	if s.Phase != steambox.Ready || first(t, s).Do != steambox.LoadCall {
		t.Errorf("phase %s, call %+v after half an hour", s.Phase, first(t, s))
	}
	if s.WarmingS != 0 {
		t.Errorf("ready and warming for %g s", s.WarmingS)
	}
	slow := newDay(t, testBox()).run(10)
	slow.steam, slow.door = 98.5, 60
	if got := slow.run(3650).Signals(); got.WarmingS < 3600 || got.WarmingS > 3660 {
		t.Errorf("a door end at 60 °C for an hour: warming for %g s", got.WarmingS)
	}
	early := newDay(t, testBox()).run(400).do(steambox.Event{Kind: steambox.Start}).run(2).Status()
	if first(t, early).Do != steambox.LoadCall || !early.Warm.Forced {
		t.Errorf("started early: %+v", first(t, early))
	}
}

// One in and one out: loads come one interval apart, the first in is the first
// out, a rib nobody touched is still in the box.
func TestRun(t *testing.T) {
	d := warmed(t)
	s := d.Status()
	if s.Rhythm.Slots != 4 || s.Rhythm.SoakS == nil || math.Abs(*s.Rhythm.SoakS-4*s.Rhythm.IntervalS) > 1 {
		t.Fatalf("rhythm %+v", s.Rhythm)
	}
	c := first(t, s)
	if c.Rib != "1" || c.Slot != "A" || *c.InS != 0 {
		t.Fatalf("first call %+v", c)
	}
	d.load("1", "A").run(3)
	load := first(t, d.Status())
	if load.Do != steambox.LoadCall || load.Rib != "2" || math.Abs(*load.InS-s.Rhythm.IntervalS) > 5 {
		t.Errorf("second load %+v, interval %g", load, s.Rhythm.IntervalS)
	}
	step := int(s.Rhythm.IntervalS)
	d.run(step).load("2", "B").run(step).load("3", "C").run(step).load("4", "D").run(5)
	pull := first(t, d.Status())
	if pull.Do != steambox.PullCall || pull.Rib != "1" || pull.GoodS == nil || *pull.GoodS < 30 {
		t.Errorf("first pull %+v", pull)
	}
	d.run(step + 10)
	late := first(t, d.Status())
	if late.Rib != "1" || *late.InS != 0 || *late.GoodS >= *pull.GoodS {
		t.Errorf("untouched: %+v, before %+v", late, pull)
	}
	if st := d.Status().Stop; st.InBox != 4 || st.EmptyS == nil || st.WaitS == nil || *st.WaitS != *late.GoodS {
		t.Errorf("can I stop: %+v", st)
	}
	d.pull("A").run(30)
	if got := d.Status(); got.Ribs[0].Place != steambox.Out || got.Bent.Untold != 1 || got.Slots[0].Rib != "" {
		t.Errorf("after the pull: %+v", got.Ribs[0])
	}
	d.do(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "supple"}).do(steambox.Event{Kind: steambox.Break})
	for _, c := range d.Status().Calls {
		if c.Do == steambox.LoadCall {
			t.Errorf("asked to load on a break: %+v", c)
		}
	}
}

func TestBatchAndSingle(t *testing.T) {
	b := testBox()
	b.Way = pace.Batch
	d := newDay(t, b).run(1900).load("1", "A").run(80)
	if c := first(t, d.Status()); c.Do != steambox.LoadCall || c.Rib != "2" {
		t.Errorf("batch goes on with %+v", c)
	}
	d.load("2", "B").run(400).pull("A").run(5)
	if c := first(t, d.Status()); c.Do != steambox.PullCall || c.Rib != "2" {
		t.Errorf("a batch being pulled is given %+v", c)
	}
	if c := first(t, d.pull("B").run(5).Status()); c.Do != steambox.LoadCall {
		t.Errorf("an empty box waits for %+v", c)
	}
	b.Way = pace.Single
	d = newDay(t, b).run(1900).load("1", "A").run(5)
	if c := first(t, d.Status()); c.Do != steambox.PullCall {
		t.Errorf("one at a time: %+v", c)
	}
}

// One port, one starboard, by station: the order of the table doesn't matter.
func TestSidesAlternateByStation(t *testing.T) {
	b := testBox()
	b.Ribs[0], b.Ribs[5] = b.Ribs[5], b.Ribs[0]
	marks := map[string]string{}
	for _, r := range session(t, b).Status().Ribs {
		marks[r.Rib] = r.Mark
	}
	want := map[string]string{"1": "port", "2": "starboard", "3": "port", "4": "starboard", "5": "port", "6": "starboard"}
	if d := cmp.Diff(want, marks); d != "" {
		t.Error(d)
	}
}

// Without a rib table the marks still alternate; a rib that the table lacks gets
// no side made up for it.
func TestSidesWithoutATable(t *testing.T) {
	b := testBox()
	b.Ribs = nil
	d := newDay(t, b).run(1900).load("x", "A").load("y", "B").load("z", "C").run(1)
	r := d.Status().Ribs
	if r[0].Mark != "port" || r[1].Mark != "starboard" || r[2].Mark != "port" {
		t.Errorf("marks %s, %s, %s", r[0].Mark, r[1].Mark, r[2].Mark)
	}
	d = warmed(t).load("spare", "A").run(1)
	if r := d.Status().Ribs; r[len(r)-1].Mark != "" {
		t.Errorf("a spare's mark made up: %s", r[len(r)-1].Mark)
	}
}

// Heat told off and then relit without telling: the box says so itself.
func TestRelitWithoutTelling(t *testing.T) {
	d := warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 4}).run(10)
	d.do(steambox.Event{Kind: steambox.Heat}).run(60)
	d.steam, d.door = 70, 65
	if s := d.run(600).Status(); !s.HeatOff {
		t.Error("a box that has cooled is taken to be lit")
	}
	d.steam, d.door = 99, 97
	s := d.run(2 * 3600).Status()
	if s.HeatOff || s.Water.DryLoS == nil || *s.Water.DryLoS > 0 {
		t.Errorf("two hours at 99 °C after heat off: off %v, water %+v", s.HeatOff, s.Water)
	}
	d = warmed(t).do(steambox.Event{Kind: steambox.Heat}).run(400)
	if d.Status().HeatOff {
		t.Error("near boiling for six minutes, and still taken to be off")
	}
}

// With the heat off nobody is asked to load, however ready the box was.
func TestNoLoadWithTheHeatOff(t *testing.T) {
	d := warmed(t).load("1", "A").run(200).do(steambox.Event{Kind: steambox.Heat})
	d.steam, d.door = 83, 82
	for _, c := range d.run(30).Status().Calls {
		if c.Do == steambox.LoadCall {
			t.Errorf("heat off, box at 83 °C: %+v", c)
		}
	}
	d.pull("A")
	if c := first(t, d.run(5).Status()); c.Do != steambox.WaitCall {
		t.Errorf("an empty box with the heat off: %+v", c)
	}
}

// Two hours away, and cold on return: it may have boiled all the while.
func TestUnwatchedWaterMayHaveBoiled(t *testing.T) {
	d := warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 4}).run(600)
	d.now += 7200
	d.steam, d.door = 55, 50
	if w := d.run(1).Status().Water; w.LeftLoL == nil || *w.LeftLoL > 0 {
		t.Errorf("at least %v L after two hours unwatched", *w.LeftLoL)
	}
}

func TestRefusals(t *testing.T) {
	d := warmed(t).load("1", "A")
	before, _ := d.Snapshot()
	for _, e := range []steambox.Event{
		{Kind: steambox.Loaded, Rib: "2", Slot: "A"},
		{Kind: steambox.Loaded, Rib: "1", Slot: "B"},
		{Kind: steambox.Loaded, Rib: "2", Slot: "Q"},
		{Kind: steambox.Pulled, Slot: "B"},
		{Kind: steambox.Outcome, Rib: "1", Outcome: "supple"},
		{Kind: steambox.Fitted, Rib: "99", Mark: "port"},
		{Kind: steambox.Board, Text: "seasick", On: true},
	} {
		e.ID = "refused"
		var refused *steambox.RefusedError
		if err := d.Do(d.Elapsed()+time.Second, e); !errors.As(err, &refused) {
			t.Errorf("%+v: %v", e, err)
		}
	}
	for _, e := range []steambox.Event{
		{Kind: "loadd", ID: "x"}, {Kind: steambox.Loaded, ID: "x"}, {Kind: steambox.Loaded, Rib: "1", Slot: "A"},
		{Kind: steambox.Outcome, ID: "x", Rib: "1", Outcome: "bendy"}, {Kind: steambox.Filled, ID: "x", Litres: math.NaN()},
		{Kind: steambox.Note, ID: "x", Text: "t", Litres: 3},
	} {
		if err := d.Do(d.Elapsed()+time.Second, e); err == nil {
			t.Errorf("%+v accepted", e)
		}
	}
	if after, _ := d.Snapshot(); !cmp.Equal(before, after) {
		t.Error("a refused event changed something")
	}
}

func TestToldTwiceCountsOnce(t *testing.T) {
	d := warmed(t)
	e := steambox.Event{ID: "same", Kind: steambox.Filled, Litres: 3}
	add := steambox.Event{ID: "add", Kind: steambox.Refilled, Litres: 1}
	for _, e := range []steambox.Event{e, add, add} {
		if err := d.Do(d.Elapsed(), e); err != nil {
			t.Fatal(err)
		}
	}
	if l := *d.Status().Water.LeftL; math.Abs(l-4) > 1e-9 {
		t.Errorf("%g L after 3 and 1 told twice", l)
	}
}

// A snapshot goes on exactly as the session it was taken of.
func TestSnapshotGoesOn(t *testing.T) {
	d := warmed(t).load("1", "A").run(90).load("2", "B").run(200).pull("A").run(20)
	shot, err := d.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	e := &day{t: t, Session: session(t, testBox()), now: d.now, steam: d.steam, door: d.door, level: d.level, n: d.n}
	if err := e.Restore(shot); err != nil {
		t.Fatal(err)
	}
	for _, x := range []*day{d, e} {
		x.steam = 97.9
		x.run(30).load("1", "A").run(100).pull("B").run(10)
	}
	if diff := cmp.Diff(d.Status(), e.Status()); diff != "" {
		t.Error(diff)
	}
	t.Logf("snapshot of two ribs: %d bytes", len(shot))
	if err := e.Restore(shot[:100]); err == nil {
		t.Error("a torn snapshot accepted")
	}
}

// A gap opens the bounds and leaves the rib in its slot.
func TestGap(t *testing.T) {
	d := warmed(t).load("1", "A").run(120)
	before := *d.Status().Slots[0].Ends
	d.now += 180
	d.run(1)
	slot := d.Status().Slots[0]
	after := *slot.Ends
	if slot.Rib != "1" || slot.Sure {
		t.Errorf("slot %+v", slot)
	}
	if after[0].LoMin != before[0].LoMin || after[0].HiMin-before[0].HiMin < 2.5 {
		t.Errorf("before %+v, after %+v", before[0], after[0])
	}
	if d.Status().GapS < 170 {
		t.Errorf("gap %g s", d.Status().GapS)
	}
	if ago := d.run(60).Signals().GapAgoS; ago == nil || *ago != 60 || warmed(t).Signals().GapAgoS != nil {
		t.Errorf("over %v s ago, was 60", ago)
	}
}

func TestProbeLost(t *testing.T) {
	d := warmed(t).load("1", "A").run(100)
	d.door = math.NaN()
	s := d.run(60).Status()
	if s.Quality != "uncertain" || s.Probes[1].TempC != nil || s.Probes[1].Fault != "absent" || s.Slots[0].Sure {
		t.Errorf("door end lost: %s %+v", s.Quality, s.Probes[1])
	}
	d.steam = math.NaN()
	s = d.run(60).Status()
	if s.Quality != "bad" || s.Phase != steambox.NoProbes {
		t.Errorf("both lost: %s, %s", s.Quality, s.Phase)
	}
	d.steam, d.door = 98.5, 96
	if s = d.run(5).Status(); s.Quality != "good" || s.Slots[0].Sure {
		t.Errorf("both back: %s, sure %v", s.Quality, s.Slots[0].Sure)
	}
}

// A rib taken back goes on from the heat it has.
func TestPutBack(t *testing.T) {
	d := warmed(t).load("1", "A").run(240)
	took := d.Status().Slots[0].Ends[0].Min
	d.pull("A").run(20).load("1", "B").run(60)
	if got := d.Status().Slots[1].Ends[0].Min; got <= took {
		t.Errorf("%g after going back, %g before", got, took)
	}
}

func TestUncalibratedCannotTell(t *testing.T) {
	b := testBox()
	b.Probes[0].Calibrated = false
	if s := newDay(t, b).run(100).Status(); s.Hotter != "" {
		t.Errorf("hotter end %q by probes that may be off by 2 K each", s.Hotter)
	}
	if s := warmed(t).Status(); s.Hotter != "steam" {
		t.Errorf("hotter end %q", s.Hotter)
	}
}

func TestCheckSaysAll(t *testing.T) {
	b := testBox()
	b.Slots, b.Boiler.Kind, b.Points, b.Window.Over = nil, "cauldron", 1, 0.1
	b.Probes[1].XM = 0
	err := b.Check()
	if err == nil {
		t.Fatal("accepted")
	}
	if joined, ok := err.(interface{ Unwrap() []error }); !ok || len(joined.Unwrap()) < 5 {
		t.Errorf("not all at once: %v", err)
	}
}

// Mirror image: the hotter end on the other side gives the ends exchanged.
func TestEndsMirror(t *testing.T) {
	b := testBox()
	for i := range b.Ribs {
		b.Ribs[i].LengthM = b.LengthM
	}
	a := newDay(t, b).run(1900).load("1", "A").run(200)
	c := newDay(t, b)
	c.steam, c.door = a.door, a.steam
	c.run(1900).load("1", "A").run(200)
	p, q := a.Status().Slots[0].Ends, c.Status().Slots[0].Ends
	if math.Abs(p[unit.SteamEnd].Min-q[unit.DoorEnd].Min) > 1e-9 {
		t.Errorf("%+v, %+v", p, q)
	}
}

// An 8 h session at one sample a second with eight ribs always in the box, folded
// as replay folds it; reports how many times faster than life.
func BenchmarkReplay(b *testing.B) {
	box := testBox()
	box.Slots = []string{"A", "B", "C", "D", "E", "F", "G", "H"}
	for i := 6; i < 8; i++ {
		box.Ribs = append(box.Ribs, steambox.Rib{Label: fmt.Sprint(i + 1), LengthM: 1.1, ThicknessM: 0.0065, WidthM: 0.028})
	}
	const seconds = 8 * 3600
	b.ReportAllocs()
	for b.Loop() {
		d := newDay(b, box).run(1)
		for i, slot := range box.Slots {
			d.load(fmt.Sprint(i+1), slot)
		}
		smp := d.sample()
		for s := 1; s < seconds; s++ {
			d.Sample(time.Duration(s)*time.Second, smp)
		}
	}
	b.ReportMetric(seconds/(b.Elapsed().Seconds()/float64(b.N)), "×life")
}

func BenchmarkStatus(b *testing.B) {
	d := warmed(b).load("1", "A").run(90).load("2", "B").run(90).load("3", "C").run(90).load("4", "D").run(10)
	b.ReportAllocs()
	for b.Loop() {
		d.Status()
	}
}
