package history_test

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/window"
)

// shop is a record that a test writes session by session.
type shop struct {
	t   *testing.T
	rec *record.Record
	at  time.Duration
	ids int
}

func newShop(t *testing.T) *shop {
	t.Helper()
	rec, err := record.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = rec.Close() })
	return &shop{t: t, rec: rec}
}

var firstOfMay = time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)

func (s *shop) must(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

// soak is a rib of a stick that was so long in the box, and how it bent; "" is not told.
type soak struct {
	rib, stick string
	lasts      time.Duration
	outcome    string
}

// session steams ribs one after the other, in slot A, in a box at 99 and 96 °C, on a day of
// May.
func (s *shop) session(day int, boat string, soaks ...soak) string {
	s.t.Helper()
	b := steambox.DefaultBox()
	b.Name, b.Boat = "north box", boat
	b.Probes = []steambox.BoxProbe{{Name: "steam", Calibrated: true}, {Name: "door", XM: 1.5, Calibrated: true}}
	for _, o := range soaks {
		r := b.Common
		r.Label, r.Stick = o.rib, o.stick
		b.Ribs = append(b.Ribs, r)
	}
	id, err := s.rec.Begin(b, record.Clock{Boot: "boot"}, firstOfMay.AddDate(0, 0, day-1))
	s.must(err)
	s.at = 0
	s.tell(steambox.Event{Kind: steambox.Filled, Litres: 5})
	s.air(5*time.Minute, 20, 18)
	s.air(40*time.Minute, 99, 96)
	for _, o := range soaks {
		s.tell(steambox.Event{Kind: steambox.Loaded, Rib: o.rib, Slot: "A"})
		s.air(o.lasts, 99, 96)
		s.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
		if o.outcome != "" {
			s.tell(steambox.Event{Kind: steambox.Outcome, Rib: o.rib, Outcome: o.outcome})
		}
	}
	s.air(30*time.Minute, 20, 18)
	s.must(s.rec.Finish(s.at, firstOfMay.AddDate(0, 0, day-1).Add(s.at)))
	return id
}

func (s *shop) tell(e steambox.Event) {
	s.t.Helper()
	s.ids++
	e.ID = fmt.Sprint("e", s.ids)
	s.must(s.rec.Event(s.at, firstOfMay.Add(s.at), e))
}

func (s *shop) air(lasts time.Duration, steamC, doorC float64) {
	s.t.Helper()
	for end := s.at + lasts; s.at < end; {
		s.at += time.Second
		s.must(s.rec.Sample(s.at, firstOfMay.Add(s.at), steambox.Sample{
			Level: boiler.Closed, Probes: []steambox.ProbeSample{{MilliC: int32(steamC * 1000)}, {MilliC: int32(doorC * 1000)}},
		}))
	}
}

func (s *shop) history() *history.History {
	s.t.Helper()
	h, err := daemon.History(s.t.Context(), s.rec, false)
	s.must(err)
	return h
}

// threeDays are three sessions with two sticks.
func threeDays(t *testing.T) (s *shop, ids []string) {
	t.Helper()
	s = newShop(t)
	return s, []string{
		s.session(1, "Heron", soak{"1", "oak", 330 * time.Second, "supple"}, soak{"2", "oak", 420 * time.Second, "cracked"}),
		s.session(8, "Heron", soak{"3", "oak", 300 * time.Second, "supple"}, soak{"4", "ash", 200 * time.Second, "stiff"}),
		s.session(15, "Dipper", soak{"1", "ash", 240 * time.Second, ""}),
	}
}

// Counts and soaks are those that were told, by hand.
func TestHistory(t *testing.T) {
	s, ids := threeDays(t)
	h := s.history()
	if len(h.Days) != 3 || len(h.Sticks) != 2 {
		t.Fatalf("%d sessions, %d sticks", len(h.Days), len(h.Sticks))
	}
	ash, oak := h.Sticks[0], h.Sticks[1]
	if ash.Stick != "ash" || ash.Bent != (steambox.Counts{Stiff: 1, Untold: 1}) || *ash.Broke != 0 || ash.Worked != nil || !reflect.DeepEqual(ash.Sessions, ids[1:]) {
		t.Errorf("ash: %+v", ash)
	}
	if oak.Bent != (steambox.Counts{Supple: 2, Cracked: 1}) || *oak.Broke != 1./3 || oak.Worked.SoakS != [3]float64{315, 300, 330} || !reflect.DeepEqual(oak.Sessions, ids[:2]) {
		t.Errorf("oak: %+v, worked %+v", oak, oak.Worked)
	}
	for i, d := range h.Days {
		if d.Session != ids[i] || !d.Finished || d.Box != "north box" || d.Why != "" {
			t.Errorf("session %d: %+v", i, d)
		}
		// The door end was the colder one, so it took less, and the boiler boiled.
		if d.Ratio == nil || *d.Ratio <= 0 || *d.Ratio >= 1 || d.RateLH == nil || !(d.RateLH[1] <= d.RateLH[0] && d.RateLH[0] <= d.RateLH[2]) || d.WarmS == nil {
			t.Errorf("session %d: ratio %v, boiled off %v, warm after %v", i, d.Ratio, d.RateLH, d.WarmS)
		}
		for _, r := range d.Ribs {
			if !(r.DoorMin > 0 && r.DoorMin < r.SteamMin) {
				t.Errorf("rib %s: heat %g and %g", r.Rib, r.SteamMin, r.DoorMin)
			}
		}
	}
}

// Another boat in a box that is hot has no warm-up, not one of no time, though it is
// warmed up again after a break in which it went cold.
func TestAnotherBoat(t *testing.T) {
	s := newShop(t)
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam", Calibrated: true}, {Name: "door", XM: 1.5, Calibrated: true}}
	first, err := s.rec.Begin(b, record.Clock{Boot: "boot"}, firstOfMay)
	s.must(err)
	s.air(40*time.Minute, 99, 96)
	s.must(s.rec.Finish(s.at, firstOfMay.Add(s.at)))
	fold, err := daemon.FoldAll(b, s.rec.Entries(first, 0))
	s.must(err)
	if b.After = fold.Session.After(); !b.After.Ready {
		t.Fatal("the box is not ready for another boat")
	}
	_, err = s.rec.Begin(b, record.Clock{Boot: "boot", Origin: s.at}, firstOfMay.Add(s.at))
	s.must(err)
	s.at = 0
	s.tell(steambox.Event{Kind: steambox.Filled, Litres: 5})
	s.air(10*time.Minute, 99, 96)
	s.air(30*time.Minute, 20, 18)
	s.air(40*time.Minute, 99, 96)
	s.must(s.rec.Finish(s.at, firstOfMay.Add(s.at)))
	if d := s.history().Days[1]; d.Why != "" || d.WarmS != nil || d.RateLH == nil {
		t.Errorf("%+v: warm after %v, boiled off %v", d, d.WarmS, d.RateLH)
	}
}

// A session is the same, whether it is reckoned from its first entry or from a snapshot.
func TestFromASnapshot(t *testing.T) {
	s, _ := threeDays(t)
	want := s.history()
	session, err := s.rec.Session(want.Days[2].Session)
	s.must(err)
	fold, err := daemon.FoldAll(session.Box, s.rec.Entries(session.ID, 0))
	s.must(err)
	state, err := fold.Snapshot()
	s.must(err)
	again := newShop(t)
	again.session(1, "Heron", soak{"1", "oak", 330 * time.Second, "supple"}, soak{"2", "oak", 420 * time.Second, "cracked"})
	again.session(8, "Heron", soak{"3", "oak", 300 * time.Second, "supple"}, soak{"4", "ash", 200 * time.Second, "stiff"})
	_, err = again.rec.Begin(session.Box, record.Clock{Boot: "boot"}, session.Began)
	s.must(err)
	for e, err := range s.rec.Entries(session.ID, 0) {
		s.must(err)
		switch {
		case e.Sample != nil:
			s.must(again.rec.Sample(e.At, e.Wall, *e.Sample))
		case e.Event != nil:
			s.must(again.rec.Event(e.At, e.Wall, *e.Event))
		}
		again.at = e.At
	}
	s.must(again.rec.Snapshot(again.at, state))
	s.must(again.rec.Finish(again.at, session.Began.Add(again.at)))
	if got := again.history(); !reflect.DeepEqual(got, want) {
		t.Errorf("from a snapshot:\n%+v\nfrom the first entry:\n%+v", got, want)
	}
}

func TestFind(t *testing.T) {
	s, ids := threeDays(t)
	all := s.history()
	for text, want := range map[string]string{
		"": "0:1,2 1:3,4 2:1", "  ": "0:1,2 1:3,4 2:1", "heron": "0:1,2 1:3,4", "HERON oak": "0:1,2 1:3", "ash": "1:4 2:1", "2026-05-08": "1:3,4",
		"1": "0:1 2:1", "1 oak": "0:1", "1 May 2026": "0:1,2", "oak 1 May": "0:1,2", "dipper ash": "2:1", "dipper oak": "", "north": "0:1,2 1:3,4 2:1", "elm": "",
	} {
		var got []string
		for _, d := range all.Find(text, time.UTC).Days {
			var ribs []string
			for _, r := range d.Ribs {
				ribs = append(ribs, r.Rib)
			}
			for i, id := range ids {
				if id == d.Session {
					got = append(got, fmt.Sprintf("%d:%s", i, strings.Join(ribs, ",")))
				}
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%q: %v, want %s", text, got, want)
		}
	}
}

// A day is found by its date where the reader is, written either way.
func TestFindDate(t *testing.T) {
	west := time.FixedZone("west", -5*3600)
	h := history.New([]history.Day{{Session: "a", Boat: "Heron", Began: time.Date(2026, 5, 2, 1, 0, 0, 0, time.UTC)}, {Session: "b", Began: time.Date(2026, 5, 2, 17, 0, 0, 0, time.UTC)}})
	for text, want := range map[string]string{"2026-05-01": "a", "1 May 2026": "a", "2 may 2026": "b", "2026-05": "ab", "3 May 2026": "",
		"1 May 2026, 20:00": "a", "heron 1 May 2026": "a", "2 May": "b", "may": "ab", "1 Jun 2026": "", "wren 1 May 2026": "",
	} {
		got := ""
		for _, d := range h.Find(text, west).Days {
			got += d.Session
		}
		if got != want {
			t.Errorf("%s: found %q, want %q", text, got, want)
		}
	}
}

// Ribs as thick and bent as hard count together; test pieces, bent to break, are no breakage;
// and of ribs of no named stick, which are many, no soak is told. Days stay in the order in
// which they were begun, whatever the clock said.
func TestSticks(t *testing.T) {
	rib := func(stick string, mm, soakS float64, outcome window.Outcome, test bool) history.Rib {
		return history.Rib{Stick: stick, Bend: "middling", ThicknessMM: mm, SoakS: soakS, SteamMin: 5, DoorMin: 4, Outcome: outcome, Test: test}
	}
	h := history.New([]history.Day{
		{Session: "first", Began: firstOfMay, Ribs: []history.Rib{rib("oak", 6.5, 300, window.Supple, false), rib("oak", 6.4, 320, window.Supple, true), rib("oak", 6.5, 500, window.Cracked, true)}},
		{Session: "second", Began: firstOfMay.AddDate(-50, 0, 0), Ribs: []history.Rib{rib("oak", 10, 700, window.Supple, false), rib("", 6.5, 400, window.Supple, false)}},
	})
	if h.Days[0].Session != "first" || len(h.Sticks) != 3 {
		t.Fatalf("%+v", h)
	}
	unnamed, thin, thick := h.Sticks[0], h.Sticks[1], h.Sticks[2]
	if unnamed.Stick != "" || unnamed.Worked != nil || unnamed.Bent.Supple != 1 {
		t.Errorf("no stick named: %+v", unnamed)
	}
	if thin.ThicknessMM != 6.5 || *thin.Broke != 0 || thin.Worked.SoakS != [3]float64{310, 300, 320} || thin.Tests != (steambox.Counts{Supple: 1, Cracked: 1}) {
		t.Errorf("thin: %+v, worked %+v", thin, thin.Worked)
	}
	if thick.ThicknessMM != 10 || thick.Worked.SoakS[0] != 700 {
		t.Errorf("thick: %+v", thick)
	}
}

// What somebody typed is no formula in a spreadsheet (OWASP, CSV Injection: cells beginning
// with = + - @, tab or return).
func TestCSVTyped(t *testing.T) {
	var b bytes.Buffer
	for _, stick := range []string{"=1+1", "+1", "-3", "@x", "\tx", "\rx", "oak"} {
		b.Reset()
		h := history.New([]history.Day{{Session: "s", Box: stick, Ribs: []history.Rib{{Boat: stick, Rib: stick, Stick: stick, Where: stick}}}})
		if err := h.WriteCSV(&b); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		want := "'" + stick
		if stick == "oak" {
			want = stick
		}
		for i, c := range history.Columns {
			if slices.Contains([]string{"box", "boat", "rib", "stick", "where"}, c.Name) && rows[1][i] != want {
				t.Errorf("%s: %q is %q", c.Name, stick, rows[1][i])
			}
		}
	}
}

func TestCSV(t *testing.T) {
	s, ids := threeDays(t)
	var b bytes.Buffer
	s.must(s.history().WriteCSV(&b))
	rows, err := csv.NewReader(&b).ReadAll()
	s.must(err)
	if len(rows) != 6 || len(rows[0]) != len(history.Columns) {
		t.Fatalf("%d rows of %d", len(rows), len(rows[0]))
	}
	cells := map[string]string{}
	for i, c := range rows[0] {
		cells[c] = rows[2][i]
		described := history.Columns[i]
		if described.Name != c || described.Means == "" {
			t.Errorf("column %q is described as %q: %q", c, described.Name, described.Means)
		}
		for ends, unit := range map[string]string{"_mm": "in millimetres", "_s": "in seconds", "_min": "in minutes at 100 °C"} {
			if strings.HasSuffix(c, ends) && !strings.Contains(described.Means, unit) {
				t.Errorf("column %q: no unit in %q", c, described.Means)
			}
		}
	}
	for column, want := range map[string]string{
		"session": ids[0], "began": "2026-05-01T09:00:00Z", "box": "north box", "rib": "2", "stick": "oak", "bend": "middling", "soak_s": "420",
		"outcome": "cracked", "test": "", "rehearsal": "", "thickness_mm": "6.50",
	} {
		if cells[column] != want {
			t.Errorf("%s: %q, want %q", column, cells[column], want)
		}
	}
}

// The pages are well formed, and take no markup from the log.
func TestPages(t *testing.T) {
	s, ids := threeDays(t)
	s.session(22, "<b>Wren", soak{"1", "<i>elm", 330 * time.Second, "supple"})
	var page bytes.Buffer
	s.must(s.history().WriteHTML(&page, time.UTC, measure.US, `"<script>`))
	var two [2]*report.Report
	for i, id := range ids[:2] {
		var err error
		two[i], err = daemon.Report(t.Context(), s.rec, id)
		s.must(err)
	}
	var beside bytes.Buffer
	s.must(report.WriteBeside(&beside, two[0], two[1], time.UTC, measure.Metric))
	for name, p := range map[string]*bytes.Buffer{"history": &page, "beside": &beside} {
		if dir := os.Getenv("WITHY_PAGES"); dir != "" {
			s.must(os.WriteFile(filepath.Join(dir, name+".html"), p.Bytes(), 0o600))
		}
		text := p.String()
		for _, bad := range []string{"<b>", "<i>", "<script", "NaN", "%!"} {
			if strings.Contains(text, bad) {
				t.Errorf("%s has %s in it", name, bad)
			}
		}
		for _, part := range strings.SplitAfter(text, "</svg>") {
			if i := strings.Index(part, "<svg"); i >= 0 {
				wellFormed(t, part[i:])
			}
		}
	}
	for _, want := range []string{"&lt;b&gt;Wren", "1 May 2026, 09:00", "2 supple, 1 cracked", "33 %", "5:00 to 5:30", "qt/h", "/report?session="} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the history lacks %q", want)
		}
	}
	for _, want := range []string{"1: 1 May 2026, 09:00, Heron", "2: 8 May 2026", "1 supple, 1 cracked", "1 supple, 1 stiff", `stroke-width="1.3"`} {
		if !strings.Contains(beside.String(), want) {
			t.Errorf("the comparison lacks %q", want)
		}
	}
}

func wellFormed(t *testing.T, text string) {
	t.Helper()
	for d := xml.NewDecoder(strings.NewReader(text)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Errorf("%v in %.80s", err, text)
			return
		}
	}
}

// Nothing on record is a history too.
func TestEmpty(t *testing.T) {
	h := newShop(t).history()
	var b bytes.Buffer
	if err := h.WriteHTML(&b, time.UTC, measure.Metric, ""); err != nil || !strings.Contains(b.String(), "None yet.") {
		t.Errorf("%v: %s", err, b.String())
	}
}
