package report_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// day is a session that a test makes up entry by entry.
type day struct {
	box     steambox.Box
	entries []record.Entry
	at      time.Duration
}

// newDay is a day with so many ribs for each of boats.
func newDay(ribs int, boats ...string) *day {
	d := &day{box: steambox.DefaultBox()}
	d.box.Boat = "Heron"
	d.box.Probes = []steambox.BoxProbe{{Name: "steam", Calibrated: true}, {Name: "door", XM: 1.5, Calibrated: true}}
	for i := range ribs {
		r := d.box.Common
		r.Label, r.StationM = fmt.Sprint(i+1), float64(i)*0.1
		if len(boats) > 0 {
			r.Boat = boats[i%len(boats)]
		}
		d.box.Ribs = append(d.box.Ribs, r)
	}
	return d
}

func (d *day) enter(e record.Entry) {
	e.Seq, e.At = int64(len(d.entries)+1), d.at
	d.entries = append(d.entries, e)
}

// air passes time with both ends as hot, in °C; NaN is an end that can't be read.
func (d *day) air(t time.Duration, steamC, doorC float64) {
	for range int(t.Seconds()) {
		d.at += time.Second
		s := steambox.Sample{Level: boiler.Closed}
		for _, c := range []float64{steamC, doorC} {
			p := steambox.ProbeSample{Fault: "absent"}
			if !math.IsNaN(c) {
				p = steambox.ProbeSample{MilliC: int32(c * 1000)}
			}
			s.Probes = append(s.Probes, p)
		}
		d.enter(record.Entry{Sample: &s})
	}
}

func (d *day) tell(e steambox.Event) {
	e.ID = fmt.Sprint("e", len(d.entries))
	d.enter(record.Entry{Event: &e})
}

// soak bends one rib, in slot A, with 5:30 in the steam; outcome "" is not told.
func (d *day) soak(rib, outcome string) {
	d.tell(steambox.Event{Kind: steambox.Loaded, Rib: rib, Slot: "A"})
	d.air(330*time.Second, 99, 96)
	d.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	if outcome != "" {
		d.tell(steambox.Event{Kind: steambox.Outcome, Rib: rib, Outcome: outcome})
	}
}

// warm fills the boiler and warms the box up.
func (d *day) warm() {
	d.tell(steambox.Event{Kind: steambox.Filled, Litres: 5})
	d.air(5*time.Minute, 20, 18)
	d.air(40*time.Minute, 99, 96)
}

// all are the entries, as they are read from a record.
func (d *day) all(yield func(record.Entry, error) bool) {
	for _, e := range d.entries {
		if !yield(e, nil) {
			return
		}
	}
}

var began = time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)

func (d *day) report(t *testing.T) (*report.Report, string) {
	t.Helper()
	r, err := daemon.ReportOf(record.Session{ID: "2026-05-01-1", Began: began, Box: d.box}, d.all)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
	return r, wellFormed(t, r, measure.Metric)
}

// loads finds what would be fetched from elsewhere.
var loads = regexp.MustCompile(`(?i)<(script|link|img|iframe)|\b(src|href)=|url\(|@import|https?:`)

// wellFormed returns the page, in which elements are closed and nothing is fetched.
func wellFormed(t *testing.T, r *report.Report, u measure.Units) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.WriteHTML(&b, time.UTC, u); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if found := loads.FindString(page); found != "" {
		t.Errorf("not self-contained: %q", found)
	}
	for _, odd := range []string{"NaN", "Inf", "%!", "ZgotmplZ", "<nil>"} {
		if strings.Contains(page, odd) {
			t.Errorf("%q on the page", odd)
		}
	}
	x := xml.NewDecoder(strings.NewReader(page))
	x.Strict, x.AutoClose, x.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		if _, err := x.Token(); errors.Is(err, io.EOF) {
			return page
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// says checks that a page has some words and has not others.
func says(t *testing.T, page string, want []string, not ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(page, w) {
			t.Errorf("without %q", w)
		}
	}
	for _, n := range not {
		if strings.Contains(page, n) {
			t.Errorf("says %q", n)
		}
	}
}

func TestNothingYet(t *testing.T) {
	r, page := newDay(6).report(t)
	if r.Finished || len(r.Ribs) != 6 || r.Ratio != nil {
		t.Errorf("%+v", r)
	}
	says(t, page, []string{"No rib was bent.", "Not finished", "Nothing was bent, so begin", "It did not boil."}, "<svg", `class="sheet"`)
	cold := newDay(0)
	cold.air(time.Minute, 20, 20)
	_, page = cold.report(t)
	says(t, page, []string{"No rib was bent.", "<svg"}, `class="sheet"`)
}

func TestOneRib(t *testing.T) {
	d := newDay(1)
	d.warm()
	d.soak("1", "supple")
	r, page := d.report(t)
	rib := r.Ribs[0]
	if rib.SoakS != 330 || rib.Outcome != "supple" || !rib.Sure || rib.Heat == nil || rib.Wanted == nil {
		t.Fatalf("%+v", rib)
	}
	for _, e := range rib.Heat {
		if !(e.LoMin > 0 && e.LoMin <= e.Min && e.Min <= e.HiMin) {
			t.Errorf("heat %+v", e)
		}
	}
	// 1.1 m of the 1.5 m over which the air falls by 3 K are exp(-2.2/14.75) = 0.861 of
	// the heat (the severity factor, Overend and Chornet 1987); airier steam heats less
	// well, by less than the whole 3 K would.
	if rib.Ratio < math.Exp(-3/14.75) || rib.Ratio > math.Exp(-2.2/14.75) {
		t.Errorf("ratio %.3f", rib.Ratio)
	}
	says(t, page, []string{"1 rib bent: 1 supple.", "5:30", "09:50", "Too few ribs were pulled to know your pace", "Both ends were seen all the time.",
		"Filled to 5.0 L at 09:00.", "Which way round 1 rib went in was not told", "Heron"}, "<h2>Notes")
	if len(r.Alarms) > 0 || !strings.Contains(page, "<h2>Alarms</h2><p>None.</p>") {
		t.Errorf("alarms %+v", r.Alarms)
	}
}

func TestUntold(t *testing.T) {
	d := newDay(4)
	d.warm()
	for _, rib := range []string{"1", "2", "3", "4"} {
		d.soak(rib, "")
	}
	r, page := d.report(t)
	if r.Bent.Untold != 4 {
		t.Errorf("%+v", r.Bent)
	}
	says(t, page, []string{"4 ribs bent: 4 not told.", "How 4 ribs bent was not told", "Tell how each rib bent", "(as called)"})
}

// A correction told later is what the report goes by.
func TestCorrected(t *testing.T) {
	d := newDay(2)
	d.warm()
	d.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	d.air(330*time.Second, 99, 96)
	d.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	pulled := d.entries[len(d.entries)-1].Event.ID
	d.air(time.Minute, 99, 96)
	d.tell(steambox.Event{Kind: steambox.Amended, Of: pulled, EarlierS: 30})
	r, _ := d.report(t)
	if r.Ribs[0].SoakS != 300 {
		t.Errorf("in the steam for %g s", r.Ribs[0].SoakS)
	}
}

func TestBlind(t *testing.T) {
	d := newDay(3)
	d.warm()
	d.soak("1", "supple")
	d.tell(steambox.Event{Kind: steambox.Loaded, Rib: "2", Slot: "B"})
	d.air(2*time.Minute, 99, 96)
	d.air(time.Minute, 99, math.NaN())
	d.air(time.Minute, math.NaN(), math.NaN())
	d.at += 5 * time.Minute // nobody watched
	d.air(time.Minute, 99, 96)
	d.tell(steambox.Event{Kind: steambox.Pulled, Slot: "B"})
	r, page := d.report(t)
	if len(r.Unseen) != 2 || !r.Ribs[0].Sure || r.Ribs[1].Sure {
		t.Errorf("%+v, sure %v %v", r.Unseen, r.Ribs[0].Sure, r.Ribs[1].Sure)
	}
	if len(r.Alarms) == 0 || r.Alarms[len(r.Alarms)-1].HeardS != nil {
		t.Errorf("alarms %+v", r.Alarms)
	}
	says(t, page, []string{"probe door could not be read", "nothing was seen of the box", "not seen</text>", "heard by nobody"}, "Both ends were seen")
}

// A probe that is out before and after a time in which nobody watched was out twice: in
// between nothing was seen, and that is told once.
func TestGapWithAProbeOut(t *testing.T) {
	for _, row := range []struct {
		name                        string
		beforeSteam, after, doorEnd float64
		want                        []string
	}{
		{"one probe", 99, 99, math.NaN(), []string{"door 59", " 301", "door 59"}},
		{"none to be read", math.NaN(), math.NaN(), math.NaN(), []string{" 419"}},
		{"none before", math.NaN(), 99, math.NaN(), []string{" 360", "door 59"}},
		{"none after", 99, math.NaN(), math.NaN(), []string{"door 59", " 360"}},
		{"all well", 99, 99, 96, []string{" 301"}},
	} {
		d := newDay(0)
		d.air(time.Minute, 99, 96)
		d.air(time.Minute, row.beforeSteam, row.doorEnd)
		d.at += 5 * time.Minute
		d.air(time.Minute, row.after, row.doorEnd)
		r, _ := d.report(t)
		var got []string
		for _, u := range r.Unseen {
			got = append(got, fmt.Sprintf("%s %g", u.Probe, u.ToS-u.FromS))
		}
		if !slices.Equal(got, row.want) {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}

func TestManyRibsOfTwoBoats(t *testing.T) {
	d := newDay(60, "Heron", "<b>Wren")
	d.warm()
	for i, r := range d.box.Ribs {
		outcome := "supple"
		if i == 10 {
			outcome = "cracked"
		}
		d.soak(r.Label, outcome)
	}
	d.tell(steambox.Event{Kind: steambox.Note, Text: "windy <i>"})
	d.air(10*time.Minute, 60, 50)
	d.air(7*time.Hour, 18, 18)
	r, page := d.report(t)
	if !r.Finished || r.Bent.Supple != 59 || r.Bent.Cracked != 1 || len(r.Hulls) != 2 || r.WarmUp.ReadyS == nil {
		t.Errorf("finished %v, %+v, %d hulls, %+v", r.Finished, r.Bent, len(r.Hulls), r.WarmUp)
	}
	if n := strings.Count(page, `class="sheet"`); n != 2 {
		t.Errorf("%d sheets", n)
	}
	says(t, page, []string{"<h2>Heron", "<h2>&lt;b&gt;Wren", "windy &lt;i&gt;", "Heron: ", "until the box was ready", "Saturday 2 May 2026"}, "<b>Wren", "Not finished")
	us := wellFormed(t, r, measure.US)
	says(t, us, []string{"212 °F", "qt"}, "°C", " mm", " L ")
}

// What broke, how it is mended and how the keel lifts, for the page and to take home; a
// rehearsal says so on both.
func TestMended(t *testing.T) {
	d := newDay(4)
	d.box.Rehearsal = true
	d.warm()
	for _, rib := range []string{"1", "2", "3"} {
		d.soak(rib, "cracked")
	}
	d.soak("4", "supple")
	d.tell(steambox.Event{Kind: steambox.Split, Rib: "1", AcrossPct: 20, ThroughPct: 10})
	d.tell(steambox.Event{Kind: steambox.Replaced, Rib: "3", With: "4"})
	d.tell(steambox.Event{Kind: steambox.KeelLift, LiftMM: 3})
	_, page := d.report(t)
	says(t, page, []string{"To pin, glue and clamp: rib 1.", "left in place until then: rib 2", "Rib 4 took the place of rib 3.", "The keel lifts 3 mm"}, "It was measured as")
	d.air(10*time.Minute, 60, 50)
	d.tell(steambox.Event{Kind: steambox.KeelLift, LiftMM: 5})
	r, page := d.report(t)
	says(t, page, []string{"The keel lifts 5 mm", "It was measured as 3 mm at 10:07 and 5 mm at 10:17."})
	if len(r.Keel) != 2 || r.Keel[1].LiftM != .005 {
		t.Errorf("%+v", r.Keel)
	}
	sheet := page[strings.Index(page, `class="sheet"`):]
	says(t, sheet, []string{"A rehearsal", "Rib 1: pin, glue and clamp.", "Rib 2: replace", "<td>rib 4 took its place</td>"}, "Rib 3: rib 4")
}

// Where the board never knew which day it was, no day is named to go by.
func TestUndated(t *testing.T) {
	d := newDay(1)
	d.warm()
	d.soak("1", "supple")
	dated := []string{"Ribs bent on Friday 1 May 2026", "until Saturday 2 May 2026, better until Sunday 3 May 2026"}
	undated := []string{words.Undated, "Ribs bent on a day that the board did not know.", "until a day after the last rib, better two."}
	r, page := d.report(t)
	says(t, page, dated, undated...)
	r.Undated = true
	says(t, wellFormed(t, r, measure.Metric), undated, dated...)

	r, err := daemon.ReportOf(record.Session{ID: "1970-01-01-1", Began: time.Unix(70, 0), Box: d.box}, d.all)
	if err != nil || !r.Undated {
		t.Errorf("in 1970: %v, undated %v", err, r.Undated)
	}
}

// What is said for next time is three sentences, whatever happened.
func TestNextTime(t *testing.T) {
	d := newDay(3)
	d.warm()
	for _, rib := range []string{"1", "2", "3"} {
		d.soak(rib, "supple")
	}
	r, page := d.report(t)
	for _, s := range r.Next {
		if !strings.HasSuffix(s, ".") || strings.Contains(strings.TrimSuffix(s, "."), ". ") {
			t.Errorf("not one sentence: %q", s)
		}
	}
	if n := strings.Count(regexp.MustCompile(`(?s)<section class="next">.*?</section>`).FindString(page), "<li>"); n != 3 {
		t.Errorf("%d of them on the page", n)
	}
	says(t, page, []string{"here about 5:30 in the steam", "You took a rib every 5:30: with 5:30 in the steam that fills 1 slot"})
}

// An eight-hour day, read whole: how long its report takes.
func BenchmarkEightHours(b *testing.B) {
	d := newDay(60)
	d.warm()
	for _, r := range d.box.Ribs {
		d.soak(r.Label, "supple")
	}
	d.air(8*time.Hour-d.at, 99, 96)
	for b.Loop() {
		r, err := daemon.ReportOf(record.Session{Box: d.box}, d.all)
		if err != nil {
			b.Fatal(err)
		}
		if err := r.WriteHTML(io.Discard, time.UTC, measure.Metric); err != nil {
			b.Fatal(err)
		}
	}
}

// A second boat of the same day, in a box that is hot from the first: its report says what
// was taken over, tells of no warm-up that was none, and lets nobody start a cold day by
// what the second half took.
func TestSecondBoat(t *testing.T) {
	first := newDay(2)
	first.warm()
	first.soak("1", "supple")
	fold, err := daemon.FoldAll(first.box, first.all)
	if err != nil {
		t.Fatal(err)
	}
	left := fold.Session.Status().Water

	d := newDay(2)
	d.box.After = fold.Session.After()
	d.air(time.Minute, 99, 96)
	d.soak("1", "supple")
	d.soak("2", "supple")
	r, page := d.report(t)
	over := r.Water.OverL
	if over == nil || *over != [3]float64{*left.LeftL, *left.LeftLoL, *left.LeftHiL} {
		t.Fatalf("took over %v, the first left %+v", over, left)
	}
	if !r.Hot || r.WarmUp.ReadyS != nil {
		t.Errorf("hot %v, warm-up %+v", r.Hot, r.WarmUp)
	}
	says(t, page, []string{
		"Taken over from the log before: about " + measure.Metric.Volume(*left.LeftL) + " (", "Left at the end: ", "The box was hot already",
		"Plan the water for the warm-up and for the boats before by the logs before this one, and have ",
	}, "was not told, so what was left", "0 min from", "for a day like this", "tell how much you fill")

	d.tell(steambox.Event{Kind: steambox.Filled, Litres: 5})
	set := d.box
	set.After = nil // what is set later in the day takes nothing over
	d.tell(steambox.Event{Kind: steambox.Set, Box: &set})
	if r, page = d.report(t); r.Water.OverL == nil || !r.Hot {
		t.Errorf("took over %v, hot %v", r.Water.OverL, r.Hot)
	}
	says(t, page, []string{"Taken over from the log before", "Filled to 5.0 L"})
}

// A second boat begun while the box was still warming up, with no fill told on either.
func TestSecondBoatOfWhichNothingIsKnown(t *testing.T) {
	d := newDay(1)
	cold, err := steambox.NewSession(d.box)
	if err != nil {
		t.Fatal(err)
	}
	d.box.After = cold.After()
	d.air(5*time.Minute, 20, 18)
	d.air(40*time.Minute, 99, 96)
	d.soak("1", "supple")
	r, page := d.report(t)
	if r.Hot || r.Water.OverL != nil || r.WarmUp.ReadyS == nil {
		t.Errorf("hot %v, took over %v, warm-up %+v", r.Hot, r.Water.OverL, r.WarmUp)
	}
	says(t, page, []string{"was not told, so what was left", "until the box was ready", "by the logs before this one", "tell how much you fill"}, "Taken over", "hot already")
}
