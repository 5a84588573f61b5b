package steambox_test

import (
	"fmt"
	"testing"

	"withy/steambox"
)

// About seven seconds to bend, seven to shape, some give to thirty, small changes to
// two minutes at 6 to 7 mm: common practice, no source. A thicker rib and a warmer
// shop give more time.
func TestOutOfBox(t *testing.T) {
	at := func(mm, shop float64) steambox.OutOfBox {
		b := testBox()
		b.ShopC = shop
		for i := range b.Ribs {
			b.Ribs[i].ThicknessM = mm / 1000
		}
		return session(t, b).Status().Out
	}
	for _, mm := range []float64{6, 6.5, 7} {
		o := at(mm, 15)
		for _, row := range []struct{ got, want float64 }{{o.BendS, 7}, {o.ShapeS, 14}, {o.GiveS, 30}, {o.AdjustS, 120}} {
			if row.got < 0.85*row.want || row.got > 1.15*row.want {
				t.Errorf("%g mm: %+v", mm, o)
			}
		}
	}
	usual := at(6.5, 15)
	if o := at(12, 15); o.BendS <= 1.3*usual.BendS {
		t.Errorf("12 mm: %+v", o)
	}
	if o := at(6.5, 0); o.BendS >= usual.BendS {
		t.Errorf("in frost: %+v", o)
	}
	if o := at(6.5, 35); o.BendS <= usual.BendS {
		t.Errorf("in summer: %+v", o)
	}
}

// Ribs that are pulled after half their soak go through too fast, those that lie for
// half as long again too slowly, those that come when called neither.
func TestPace(t *testing.T) {
	for _, row := range []struct {
		soakS   int
		verdict string
	}{{180, "too-fast"}, {330, "steady"}, {600, "too-slow"}} {
		d := warmed(t)
		for i := range 3 {
			d.load(fmt.Sprint(i+1), "A").run(row.soakS).pull("A").run(20)
			if i < 2 && d.Status().Pace.Verdict != "" {
				t.Error("a verdict on less than three ribs")
			}
		}
		if p := d.Status().Pace; p.Verdict != row.verdict || (p.ByS > 0) != (row.verdict != "steady") || (p.Do != "") != (row.verdict != "steady") {
			t.Errorf("soaks of %d s: %+v", row.soakS, p)
		}
	}
}

// A rib taken back soon needs less than a fresh one; one gone cold is not offered.
func TestResteam(t *testing.T) {
	d := warmed(t).load("1", "A").run(360).pull("A").run(20)
	r := d.Status().Ribs[0].ResteamS
	if r == nil || *r < 30 || *r > 150 {
		t.Errorf("re-steam in %v", r)
	}
	if r := d.run(1800).Status().Ribs[0].ResteamS; r != nil {
		t.Errorf("cold: re-steam in %g s", *r)
	}
}

// A split of a quarter both ways can be glued, beyond it not: common practice, no
// source.
func TestSplits(t *testing.T) {
	for _, row := range []struct {
		across, through float64
		glue            bool
	}{{25, 25, true}, {10, 20, true}, {26, 5, false}, {5, 26, false}} {
		d := warmed(t).load("1", "A").run(300).pull("A")
		d.do(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "cracked"})
		d.do(steambox.Event{Kind: steambox.Split, Rib: "1", AcrossPct: row.across, ThroughPct: row.through})
		if l := d.Status().Ledger; (len(l.Glue) == 1) != row.glue || (len(l.Replace) == 1) == row.glue {
			t.Errorf("%+v: %+v", row, l)
		}
	}
}

// One to four broken in two dozen is ordinary with good stock (common practice, no
// source); three of five is not, and asks for more blanks than there are spares. Ribs that had the right heat point
// to the stick.
func TestBreakage(t *testing.T) {
	b := testBox()
	b.Spares = 2
	d := newDay(t, b).run(1900)
	for i := range 5 {
		rib := fmt.Sprint(i + 1)
		d.load(rib, "A").run(330).pull("A").run(5)
		d.do(steambox.Event{Kind: steambox.Outcome, Rib: rib, Outcome: []string{"cracked", "supple"}[i%2]})
	}
	l := d.Status().Ledger
	if !l.Beyond || l.Favours != "stick" || *l.SparesLeft != 2 || l.MakeMore != 2 {
		t.Errorf("%+v, spares left %d", l, *l.SparesLeft)
	}
	if l.ExpectBroken < 0.1 || l.ExpectBroken > 0.6 {
		t.Errorf("%g of one more will break", l.ExpectBroken)
	}
}

// Half an inch settles again as ribs dry: common practice, no source.
func TestKeel(t *testing.T) {
	d := newDay(t, testBox()).run(2)
	if d.Status().Ledger.KeelLiftM != nil {
		t.Error("a lift before it was measured")
	}
	for mm, high := range map[float64]bool{12: false, 13: true} {
		d.do(steambox.Event{Kind: steambox.KeelLift, LiftMM: mm})
		if l := d.Status().Ledger; l.KeelTooHigh != high || *l.KeelLiftM != mm/1000 {
			t.Errorf("%g mm: %+v", mm, l)
		}
	}
}

// What was published of a rib stays so when it is steamed and pulled again.
func TestStatusStays(t *testing.T) {
	d := warmed(t).load("1", "A").run(60).pull("A").run(10)
	before := d.Status().Ribs[0]
	heat, wanted := *before.PullHeat, *before.Wanted
	d.load("1", "A").run(100).pull("A")
	if *before.PullHeat != heat || *before.Wanted != wanted {
		t.Errorf("heat %v and window %v became %v and %v", heat, wanted, *before.PullHeat, *before.Wanted)
	}
	if again := d.Status().Ribs[0]; *again.PullHeat == heat {
		t.Errorf("a second soak left the heat at %v", heat)
	}
}
