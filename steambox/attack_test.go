package steambox_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// The sensors hang for half a minute while the door end is cold, and the crew goes on
// telling: the load comes after all that is remembered of the ends.
func TestLoadAfterTheLastSample(t *testing.T) {
	d := warmed(t)
	d.load("1", "A").run(300)
	d.door = 85
	d.run(300)
	d.now += 30
	d.load("2", "B")
	if s := d.Status(); s.Slots[1].Rib != "2" {
		t.Errorf("%+v", s.Slots[1])
	}
}

// A kettle call that would fall on a pull is raised when it was foretold, before the
// pull, and not only when it can wait no longer.
func TestKettleComesWhenForetold(t *testing.T) {
	d := newDay(t, testBox()).run(1700)
	d.do(steambox.Event{Kind: steambox.Filled, Litres: 1.74}).run(200).load("1", "A")
	var w alert.Watch
	due := -1.0
	for d.now < 6000 {
		d.run(1)
		s := d.Signals()
		w.Eval(time.Duration(d.now)*time.Second, &s)
		if in := s.Water.KettleInS; in != nil && *in > 20 && *in < 25 {
			due = s.ElapsedS + *in
		}
		for _, a := range w.Alarms(&s) {
			if a.ID == alert.DrySoon {
				if due < 0 || s.ElapsedS > due+10 || s.ElapsedS < due-30 {
					t.Errorf("raised at %.0f s, foretold for %.0f", s.ElapsedS, due)
				}
				return
			}
		}
	}
	t.Error("never raised")
}

// What is known of a stick does not hang on which of its ribs is asked about first:
// not after a restart, with ribs of several widths.
func TestRestartWithSeveralWidths(t *testing.T) {
	b := testBox()
	b.Learn = true
	b.Ribs[0].WidthM, b.Ribs[1].WidthM = 0.008, 0.05
	d := newDay(t, b).run(1900).load("1", "A").run(300).pull("A").run(5)
	d.do(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "stiff"}).load("3", "B").run(60)
	snap, err := d.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	again := session(t, b)
	if err := again.Restore(snap); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(d.Status(), again.Status()); diff != "" {
		t.Errorf("lived (-), restored (+):\n%s", diff)
	}
}

// Ribs of one plank are one stick, though callipers give each another thickness.
func TestCallipers(t *testing.T) {
	b := testBox()
	b.Learn = true
	for i, mm := range []float64{6.4, 6.45, 6.5, 6.55} {
		b.Ribs[i].ThicknessM = mm / 1000
	}
	b.Ribs = b.Ribs[:4]
	if k := session(t, b).Status().Sticks; len(k) != 1 || k[0].ThicknessM != 0.0065 {
		t.Errorf("%+v", k)
	}
}

// With probes as noisy as their chips the first rib's countdown runs evenly.
func TestCountdownIsCalm(t *testing.T) {
	b := testBox()
	b.Learn = true
	d := newDay(t, b).run(1900)
	r := rand.New(rand.NewPCG(1, 2))
	d.load("1", "A")
	var last *float64
	jumps := 0
	for range 180 {
		d.steam, d.door = 98.5+0.12*(r.Float64()-0.5), 96+0.12*(r.Float64()-0.5)
		d.run(1)
		now := d.Status().Slots[0].ReadyS
		if last != nil && now != nil && (*last-*now < 0 || *last-*now > 2) {
			jumps++
		}
		last = now
	}
	if jumps > 10 {
		t.Errorf("in three minutes it jumped %d times", jumps)
	}
}

// What is good is good all the way: after stiff ribs the chance may rise again far
// beyond a trough, and no rib is said to wait across that.
func TestGoodForIsGoodThroughout(t *testing.T) {
	d := learner(t, 12)
	for i, s := range []int{350, 370, 390} {
		d.bendFor(fmt.Sprint(i+1), s, "stiff")
	}
	d.load("4", "A").run(30)
	w := d.Status().Window
	if w.Over > 4*w.Target {
		t.Errorf("target %v, good until %v, though three were stiff between", w.Target, w.Over)
	}
}

// A rib that is ready is called, though another has less time to spare but isn't.
func TestReadyBeforeHurried(t *testing.T) {
	b := testBox()
	b.Window = steambox.Window{Soft: 2, Target: 3, Over: 4}
	b.Ribs[0].ThicknessM = 0.02
	d := newDay(t, b)
	d.steam, d.door = 98.5, 88
	d.run(1900).load("1", "A").run(400).load("2", "B")
	for d.now < 9000 {
		d.run(5)
		s := d.Status()
		if r := s.Slots[1].ReadyS; r != nil && *r == 0 {
			if c := nextPull(t, d); c.Rib != "2" && *s.Slots[0].ReadyS > 0 {
				t.Errorf("called %+v", c)
			}
			return
		}
	}
	t.Error("rib 2 never ready")
}

// A pull told late, when the question stands already, answers it.
func TestLatePressAnswers(t *testing.T) {
	d := warmed(t).load("1", "A")
	for *d.Status().Slots[0].ReadyS > 5 {
		d.run(5)
	}
	d.dip().run(60)
	if d.Status().Proposal == nil {
		t.Fatal("nothing is asked")
	}
	if p := d.pull("A").run(5).Status().Proposal; p != nil {
		t.Errorf("told, and still asked: %q", words.Proposed(p))
	}
}

// What was amended can be struck; an amendment's earlier_s counts from when the event
// was told, however often it is amended.
func TestAmendedAgain(t *testing.T) {
	h := soaked()
	h.event(500, "a", steambox.Event{Kind: steambox.Amended, Of: "pull", EarlierS: 20})
	h.event(501, "b", steambox.Event{Kind: steambox.Amended, Of: "pull", EarlierS: 60})
	if got := ribOf(t, refold(t, h), "1").SoakS; got != 240 {
		t.Errorf("soak of %g s, told at 300 and then 60 s earlier", got)
	}
	h.event(502, "s", steambox.Event{Kind: steambox.Struck, Of: "pull"})
	if r := ribOf(t, refold(t, h), "1"); r.Place != steambox.InBox {
		t.Errorf("struck: %+v", r)
	}
}

// A sweep that waited while a correction was made has an earlier time than it; folded
// again it counts where it came.
func TestLateSweep(t *testing.T) {
	h := soaked()
	h.event(500, "a", steambox.Event{Kind: steambox.Amended, Of: "pull", EarlierS: 20})
	late := *h.entries[len(h.entries)-2].Sample
	h.entries = append(h.entries, steambox.Entry{At: 499200 * time.Millisecond, Sample: &late})
	h.samples(501, 520)
	h.event(521, "n", steambox.Event{Kind: steambox.Note, Text: "struck in the end"})
	lived := refold(t, h)
	h.event(522, "b", steambox.Event{Kind: steambox.Struck, Of: "n"})
	again := refold(t, h)
	for i, r := range lived.Status().Ribs {
		if d := cmp.Diff(r, again.Status().Ribs[i], cmp.Comparer(nearly)); d != "" {
			t.Errorf("%s: %s", r.Rib, d)
		}
	}
}

// A boiler that can hardly heat the box still gets one rib after the other called, and
// it is said what is wrong.
func TestWeakBoilerStillCalls(t *testing.T) {
	for _, w := range []float64{800, 984, 990, 1002, 1098, 1500} {
		b := testBox()
		b.Boiler.PowerW = w
		d := newDay(t, b).run(1900).load("1", "A").run(5)
		s := d.Status()
		if soak := *s.Rhythm.SoakS; s.Rhythm.IntervalS > soak+1 {
			t.Errorf("%g W: one in %g s, a soak is %g", w, s.Rhythm.IntervalS, soak)
		}
		if weak := s.Heat.ShortestS > *s.Rhythm.SoakS || s.Heat.MissingW > 0; weak && !strings.Contains(strings.Join(words.Advice(&s, measure.Metric), " "), "This boiler") {
			t.Errorf("%g W: %+v, and nothing is said", w, s.Heat)
		}
	}
}

// Test pieces are no ribs: breaking them costs no spare, sets no pace and needs no
// replacement, and none is told which side its mark goes to.
func TestTestPiecesAreNoRibs(t *testing.T) {
	b := testBox()
	b.Spares = 2
	d := newDay(t, b).run(1900)
	for i := range 3 {
		l := fmt.Sprint("T", i)
		d.do(steambox.Event{Kind: steambox.Loaded, Rib: l, Slot: "A", Test: true}).run(120)
		if s := words.Call(nextPull(t, d)); strings.Contains(s, "Mark") {
			t.Error(s)
		}
		d.pull("A").run(5).do(steambox.Event{Kind: steambox.Outcome, Rib: l, Outcome: "cracked"})
	}
	if s := d.Status(); len(s.Ledger.Replace) > 0 || s.Ledger.Beyond || s.Ledger.MakeMore > 0 || s.Pace.Verdict != "" || *s.Ledger.SparesLeft != 2 {
		t.Errorf("%+v, %+v", s.Ledger, s.Pace)
	}
}

// Without a table nobody knows how many ribs there will be: none is a spare, the day
// is not over when the box is empty, and a closed tank's break says how many may go in.
func TestWithoutATable(t *testing.T) {
	b := testBox()
	b.Ribs, b.Spares, b.Boiler.Kind = nil, 3, boiler.ClosedTank
	d := newDay(t, b).run(1900).do(steambox.Event{Kind: steambox.Filled, Litres: 4}).load("1", "A").run(200)
	if br := d.Status().Water.Break; br == nil || br.Loads == 0 {
		t.Errorf("%+v", br)
	}
	s := d.pull("A").run(5).Status()
	if *s.Ledger.SparesLeft != 3 || s.Calls[0].Do == steambox.DoneCall {
		t.Errorf("spares left %d, called %+v", *s.Ledger.SparesLeft, s.Calls[0])
	}
	if c := s.Calls[0]; c.Do != steambox.LoadCall || c.Rib != "2" {
		t.Errorf("called %+v, after rib 1", c)
	}
}

// A rib that came when it was called is on time, though the target rose after it.
func TestPaceByTheTargetOfItsDay(t *testing.T) {
	d := learner(t, 8)
	for i := range 3 {
		rib := fmt.Sprint(i + 1)
		d.load(rib, "A")
		for *nextPull(t, d).InS > 0 {
			d.run(1)
		}
		d.pull("A").run(5).do(steambox.Event{Kind: steambox.Outcome, Rib: rib, Outcome: "stiff"})
	}
	if p := d.Status().Pace; p.Verdict != "steady" {
		t.Errorf("%+v", p)
	}
}

// The seconds out of the box are those of the rib that comes out next.
func TestOutOfBoxOfTheNextPull(t *testing.T) {
	b := testBox()
	b.Ribs[0].ThicknessM = 0.012
	d := newDay(t, b).run(1900)
	thick := d.load("1", "A").run(10).Status().Out.BendS
	if thin := d.pull("A").run(1).Status().Out.BendS; thick < 1.3*thin {
		t.Errorf("%g s with the thick one in the box, %g s with a thin one next", thick, thin)
	}
}

// Stations that no boat has say nothing: marks go by turns in the order of the table.
func TestNoStations(t *testing.T) {
	for name, at := range map[string]func(i int) float64{"all at one place": func(int) float64 { return 0 }, "beyond any boat": func(i int) float64 { return 300 + float64(i) }} {
		b := testBox()
		for i := range b.Ribs {
			b.Ribs[i].StationM = at(i)
		}
		marks := ""
		for _, r := range session(t, b).Status().Ribs {
			marks += (r.Mark + "?")[:1]
		}
		if marks != "pspsps" {
			t.Errorf("%s: %s", name, marks)
		}
	}
}
