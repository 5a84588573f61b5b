package emulated

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"strings"
	"time"

	"withy/steambox"
	"withy/steambox/words"
)

// clocks is what the board's clocks show: see guest/clock.go.
type clocks struct {
	Wall, Boot, Raw time.Duration
}

func (b *board) clocks() (c clocks) {
	b.t.Helper()
	if err := json.Unmarshal([]byte(b.ask("GET", "/clock", nil, nil)), &c); err != nil {
		b.t.Fatal(err)
	}
	return c
}

// now is what the board's wall clock shows.
func (b *board) now() time.Time {
	b.t.Helper()
	return time.Unix(0, int64(b.clocks().Wall)).UTC()
}

// setClock sets the board's wall clock by hand, after which the kernel doesn't know whether
// it is right.
func (b *board) setClock(to time.Time) {
	b.t.Helper()
	b.ask("POST", "/clock", url.Values{"wall": {fmt.Sprint(to.UnixNano())}}, nil)
}

// serveTime has a time server set it.
func (b *board) serveTime(to time.Time) {
	b.t.Helper()
	b.ask("POST", "/clock", url.Values{"wall": {fmt.Sprint(to.UnixNano())}, "server": {"1"}}, nil)
}

// slew has the board's clocks run so many ppm fast from now on, all but the raw one.
func (b *board) slew(ppm int) {
	b.t.Helper()
	b.ask("POST", "/clock", url.Values{"slew_ppm": {fmt.Sprint(ppm)}}, nil)
}

// moment is what the page says of a sample that was taken in just now.
type moment struct {
	clocks
	steambox.Status
	heat [6]float64 // of slot A, in min: best guess and bounds of the steam end, then of the door end
}

func (b *board) moment() (m moment) {
	b.t.Helper()
	var was view
	var asked time.Time // when the one before was asked for
	for range 500 {
		now := time.Now()
		is, ok := b.look()
		if ok && is.Status.ElapsedS != was.Status.ElapsedS {
			m.clocks, m.Status = b.clocks(), is.Status
			if time.Since(asked) < sample/4 {
				break // else it is of some sample, but not of one just now
			}
		}
		was, asked = is, now
		time.Sleep(20 * time.Millisecond)
	}
	m.heated()
	return m
}

// heated takes out of the status what heat is wanted of it.
func (m *moment) heated() {
	for _, s := range m.Slots {
		if e := s.Ends; s.Slot == "A" && e != nil {
			m.heat = [6]float64{e[0].Min, e[0].LoMin, e[0].HiMin, e[1].Min, e[1].LoMin, e[1].HiMin}
		}
	}
}

// elapsed is the time of the session.
func (m *moment) elapsed() time.Duration { return time.Duration(m.ElapsedS * float64(time.Second)) }

// origin is what the clock that no one can set showed as the session began.
func (m *moment) origin() time.Duration { return m.Boot - m.elapsed() }

// sample is how far apart samples are.
const sample = time.Second

// onRecord is a session as the program lists it.
type onRecord struct {
	Session  string    `json:"session"`
	Began    time.Time `json:"began"`
	Finished bool      `json:"finished"`
}

func (b *board) sessions() (list []onRecord) {
	b.t.Helper()
	text := b.do("sessions", "--data", "/tmp/withy", "--json")
	if err := json.Unmarshal([]byte(text), &list); err != nil {
		b.t.Fatalf("%v in %s", err, text)
	}
	return list
}

// another ends the session and begins another one. Ribs in the box are out.
func (b *board) another() {
	b.t.Helper()
	answer, err := b.visit("POST", "/api/session", fmt.Appendf(nil, `{"id": "another %d", "out": true}`, time.Now().UnixNano()))
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	if text, _ := io.ReadAll(answer.Body); answer.StatusCode != http.StatusOK {
		b.t.Fatalf("%s %s", answer.Status, text)
	}
}

// undated fails unless the report of the session that goes on says that its date may be
// wrong, or does not.
func (b *board) undated(want bool) {
	b.t.Helper()
	answer, err := b.visit("GET", "/report", nil)
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if got := strings.Contains(string(text), words.Undated); err != nil || answer.StatusCode != http.StatusOK || got != want {
		b.t.Errorf("%s, %v: the report says that its date may be wrong: %t, want %t", answer.Status, err, got, want)
	}
}

// wakes is a board without a battery for its clock as it wakes up, in 1970, and one session
// after another is begun there. From here on its clocks are slewed, as fast as a kernel does.
func wakes(b *board) (origins []time.Duration) {
	if now := b.now(); now.Year() != 1970 {
		b.t.Errorf("the board woke up in %s", now)
	}
	b.slew(500)
	m := b.moment()
	b.tell(map[string]any{"kind": "loaded", "rib": "0", "slot": "D"})
	b.another()
	next := b.moment()
	list := b.sessions()
	if len(list) != 2 || list[0].Session != "1970-01-01-1" || list[1].Session != "1970-01-01-2" || !list[0].Finished {
		b.t.Fatalf("on record is %+v", list)
	}
	b.undated(true)
	return []time.Duration{m.origin(), next.origin()}
}

// clockIsSet sets the board's clock while ribs soak: the time arrives, and then it is ten
// years on and back, two seconds back. The session's time goes on as the raw clock does, to a
// sample each way, and the heat with it, nothing counts as unseen, and the sessions began when
// they did by the clock as it is then.
func clockIsSet(b *board, origins []time.Duration) {
	was := b.moment()
	for _, step := range []struct {
		what  string
		set   func()
		knows bool
	}{
		{"the time arrives", func() { b.serveTime(time.Now()) }, true},
		{"ten years on", func() { b.setClock(b.now().AddDate(10, 0, 0)) }, false},
		{"twenty years back", func() { b.setClock(b.now().AddDate(-20, 0, 0)) }, false},
		{"ten years on again", func() { b.setClock(b.now().AddDate(10, 0, 0)) }, false},
		{"two seconds back", func() { b.setClock(b.now().Add(-2 * time.Second)) }, false},
	} {
		step.set()
		time.Sleep(2 * sample)
		is := b.moment()
		took := is.Raw - was.Raw
		off := is.elapsed() - was.elapsed() - took
		b.t.Logf("          %s: in %.2f s the session's time is off by %+.2f s", step.what, took.Seconds(), off.Seconds())
		if off.Abs() > sample {
			b.t.Errorf("%s: that is more than a sample", step.what)
		}
		if is.GapS != was.GapS {
			b.t.Errorf("%s: %g s unseen, before %g", step.what, is.GapS, was.GapS)
		}
		b.undated(!step.knows)
		was = is
	}
	b.replayed(&was)
	c, list := b.clocks(), b.sessions()
	if len(list) != len(origins) || list[0].Session != list[0].Began.Format(time.DateOnly)+"-1" || list[1].Session != "1970-01-01-2" {
		b.t.Fatalf("on record is %+v", list)
	}
	b.began(list, origins, c)
}

// replayed has the program reckon again what is on record of the session up to a moment, and
// fails unless the page said just that of the heat: each second of the session counted once.
func (b *board) replayed(m *moment) {
	b.t.Helper()
	b.tell(map[string]any{"kind": "note", "text": "all before this is on record"})
	list := b.sessions()
	var upTo strings.Builder
	for line := range strings.Lines(b.do("sessions", "export", list[len(list)-1].Session, "--data", "/tmp/withy")) {
		var entry struct {
			ElapsedS float64 `json:"elapsed_s"`
		}
		if err := json.Unmarshal([]byte(line), &entry); err != nil {
			b.t.Fatalf("%v in %s", err, line)
		}
		if entry.ElapsedS < m.ElapsedS+1e-6 {
			upTo.WriteString(line)
		}
	}
	b.write("/tmp/upto.jsonl", upTo.String())
	var again moment
	if text := b.do("replay", "/tmp/upto.jsonl", "--json"); json.Unmarshal([]byte(text), &again.Status) != nil {
		b.t.Fatal(text)
	}
	again.heated()
	b.t.Logf("          heat of slot A, best guess and bounds of both ends: %.4f min, reckoned again %.4f", m.heat, again.heat)
	if again.heat != m.heat || m.heat[0] == 0 || math.Abs(again.ElapsedS-m.ElapsedS) > 1e-6 {
		b.t.Errorf("reckoned again to %g s of %g", again.ElapsedS, m.ElapsedS)
	}
}

// began fails unless each session on record began when it did.
func (b *board) began(list []onRecord, origins []time.Duration, c clocks) {
	b.t.Helper()
	for i, origin := range origins {
		want := time.Unix(0, int64(c.Wall-c.Boot+origin)).UTC()
		if off := list[i].Began.Sub(want); off.Abs() > 2*time.Second {
			b.t.Errorf("%s began at %s, want %s", list[i].Session, list[i].Began, want)
		}
	}
}

// clockWasSlewed sees after a session that its time went by as if the clocks hadn't been
// slewed, to a sample, and that they were. Then that session is over, and called by its day.
func clockWasSlewed(b *board, origins []time.Duration, first moment) {
	last := b.moment()
	took := last.Raw - first.Raw
	ppm := 1e6 * ((last.Boot - first.Boot) - took).Seconds() / took.Seconds()
	off := last.elapsed() - first.elapsed() - took
	b.t.Logf("          slewed by %.1f ppm for %.0f s, the session's time is off by %+.2f s", ppm, took.Seconds(), off.Seconds())
	if math.Abs(ppm-500) > 5 || off.Abs() > sample {
		b.t.Errorf("want 500 ppm and a sample at most")
	}
	b.another()
	c, list := b.clocks(), b.sessions()
	if len(list) != 3 || list[1].Session != list[1].Began.Format(time.DateOnly)+"-2" || !list[1].Finished {
		b.t.Errorf("on record is %+v", list)
	}
	b.began(list, origins, c)
}
