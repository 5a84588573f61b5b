package emulated

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"withy/steambox"
)

// TestPowerCuts takes the power from a board with the package on it at random moments of
// a session, WITHY_CUTS times (2 if that isn't set), and sees after each that all of which
// it had been told "done" is on record. A rib is in the box all the while: what it may have
// taken while nobody watched is between both bounds, whether the board knows the time when it
// is on again or learns it later.
func TestPowerCuts(t *testing.T) {
	t.Parallel()
	cuts := 2
	if n, err := strconv.Atoi(os.Getenv("WITHY_CUTS")); err == nil {
		cuts = n
	}
	c := newCard(t)
	b := c.boot()
	b.wants(b.root("dpkg -i /packages/withy_arm64.deb"), "Setting up withy")
	b.serveTime(time.Now())
	b.heat(99.8, 97.5)
	b.configure()
	b.tell(map[string]any{"kind": "loaded", "rib": "1", "slot": "A"})
	b.root("sync")
	b.until("the page answers", time.Minute, func() bool { _, ok := b.look(); return ok })
	token := b.token
	var kept []string
	lost, beyond := 0, 0
	for cut := range cuts {
		done := make(chan []string)
		go func() { done <- b.chatter(cut) }()
		after := time.Duration(rand.Int64N(int64(12 * time.Second)))
		time.Sleep(after)
		then := b.moment()
		b.cut()
		told := <-done
		kept = append(kept, told...)
		t.Logf("%6.1f s  until cut %d, with %d events told and answered", after.Seconds(), cut+1, len(told))

		served := cut%2 == 1
		if on := time.Unix(0, int64(then.Wall)).Add(offFor); served {
			b = c.bootServed(on)
		} else {
			b = c.boot()
		}
		b.token = token // who was paired stays so
		b.heat(99.8, 97.5)
		b.until("the page answers", time.Minute, func() bool { _, ok := b.look(); return ok })
		if v, _ := b.look(); len(v.Troubles) > 1 || len(v.Troubles) == 1 && !offUnknown(v) {
			t.Errorf("after cut %d the page says %q", cut+1, v.Troubles)
		}
		nobodyWatched(b, &then, served)
		found := map[string]bool{}
		for id := range strings.FieldsSeq(b.root("(" + exported + `) | grep -o '"cut-[0-9]*-[0-9]*"' | tr -d '"' | sort -u`)) {
			found[id] = true
		}
		for _, id := range kept {
			if !found[id] {
				lost++
				t.Errorf("after cut %d: %s was answered with done and is not on record", cut+1, id)
			}
		}
		beyond = len(found) - len(kept)
	}
	if len(kept) == 0 {
		t.Error("nothing was told and answered")
	}
	t.Logf("%d cuts, %d events answered, %d lost; %d are on record of which no answer came", cuts, len(kept), lost, beyond)
}

// chatter tells the board one event after the other until it answers no more, and returns
// the ids of those that it answered with done.
func (b *board) chatter(cut int) (done []string) {
	for i := 0; ; i++ {
		id := fmt.Sprintf("cut-%d-%d", cut, i)
		body, _ := json.Marshal(map[string]string{"id": id, "kind": "note", "text": strings.Repeat("x", 1+i%150)})
		answer, err := b.visit("POST", "/api/event", body)
		if err != nil {
			return done
		}
		answer.Body.Close()
		if answer.StatusCode == http.StatusOK {
			done = append(done, id)
		}
		time.Sleep(time.Duration(rand.IntN(60)) * time.Millisecond)
	}
}

// offFor is for how long a board was off by what its clock is set to when it is on again,
// longer than what a board takes it for that can't say.
const (
	offFor   = 40 * time.Minute
	takenFor = 10 * time.Minute
)

// offUnknown reports whether the page says that it isn't known how long the board was off.
func offUnknown(v view) bool {
	return slices.ContainsFunc(v.Troubles, func(s string) bool { return strings.HasPrefix(s, "How long the board was off is not known") })
}

// nobodyWatched sees that the time for which a board was off went by for the session and for
// the rib in slot A, unseen, by the page and by what is on record. A board that no time server
// has served takes it for ten minutes, and is served then.
func nobodyWatched(b *board, then *moment, served bool) {
	if v, _ := b.look(); offUnknown(v) == served {
		b.t.Errorf("served: %t; the page says %q", served, v.Troubles)
	}
	is := b.moment()
	if !served {
		b.bounds(then, &is, takenFor)
		was := is
		b.serveTime(time.Unix(0, int64(then.Wall)).Add(offFor))
		b.until("how long the board was off is known", 10*time.Second, func() bool { v, ok := b.look(); return ok && !offUnknown(v) })
		is = b.moment()
		more := (is.elapsed() - was.elapsed() - (is.Raw - was.Raw)).Seconds()
		// The sweep's own second in which that comes out goes by unseen too.
		if gap := is.GapS - was.GapS; math.Abs(gap-more) > 2*sample.Seconds() || gap < (offFor-takenFor-2*time.Minute).Seconds() {
			b.t.Errorf("%.1f s more unseen, and the session's time went on by %.1f s more than the clock", gap, more)
		}
	}
	off := is.elapsed() - then.elapsed() - (is.Wall - then.Wall)
	b.t.Logf("          by the wall clock %.1f s went by since before the cut, in the session %+.2f s more", (is.Wall - then.Wall).Seconds(), off.Seconds())
	if off.Abs() > 2*sample {
		b.t.Errorf("more than a sample at either end")
	}
	b.bounds(then, &is, offFor)
	b.recorded(&is)
}

const (
	lost    = 0.5  // min: of what was seen before a cut may not have been on the card yet
	watched = 0.25 // min: goes by at most from the first reading after a cut to the look at the heat
)

// bounds sees what a gap has made of slot A's heat: the rib may have taken none of it, and
// what boiling steam gives. At boiling point a minute counts as a minute.
func (b *board) bounds(then, is *moment, atLeast time.Duration) {
	b.t.Helper()
	gap, all := (is.GapS-then.GapS)/60, (is.ElapsedS-then.ElapsedS)/60
	var more [6]float64
	for i := range more {
		more[i] = is.heat[i] - then.heat[i]
	}
	b.t.Logf("          of %.2f min nobody watched %.2f; more heat, best guess and bounds of both ends: %.2f min", all, gap, more)
	ok := all >= atLeast.Minutes() && gap >= all-watched && gap <= all+lost
	for end := range 2 {
		lo, hi := more[3*end+1], more[3*end+2]
		ok = ok && lo >= -lost && lo <= 1.2*(all-gap+lost) && hi >= 0.8*gap && hi <= 1.2*(all+lost)
	}
	if !ok {
		b.t.Errorf("that is no gap of %s or more with both bounds", atLeast)
	}
}

// recorded sees that the session's record, reckoned again from its beginning, has the gap and
// the bounds that the page shows, but for what came after.
func (b *board) recorded(is *moment) {
	b.t.Helper()
	b.tell(map[string]any{"kind": "note", "text": "all before this is on record"})
	text := b.root(`withy replay --json "$(withy sessions --json | sed -n 's/.*"session": "\(.*\)",/\1/p' | tail -n 1)"`)
	var again steambox.Status
	if err := json.Unmarshal([]byte(text), &again); err != nil {
		b.t.Fatalf("%v in %s", err, text)
	}
	m := moment{Status: again}
	m.heated()
	for i := range m.heat {
		if off := m.heat[i] - is.heat[i]; math.Abs(off) > 1.2*math.Abs(again.ElapsedS-is.ElapsedS)/60+1e-9 {
			b.t.Errorf("reckoned again slot A has %.4f min, on the page %.4f", m.heat, is.heat)
			break
		}
	}
	if again.GapS != is.GapS || math.Abs(again.ElapsedS-is.ElapsedS) > 15 {
		b.t.Errorf("reckoned again %g s were unseen of %g, on the page %g of %g", again.GapS, again.ElapsedS, is.GapS, is.ElapsedS)
	}
}
