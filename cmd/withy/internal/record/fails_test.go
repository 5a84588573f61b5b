package record

import (
	"errors"
	"fmt"
	"os"
	"testing"
	"time"

	sqlite3 "modernc.org/sqlite/lib"

	"withy/steambox"
)

// lifetime hands a whole life in: two sessions, begun, told, snapped, moved and
// ended, whatever fails. It returns all that was handed in of each, and how many of
// its events and which of its sessions were acknowledged.
type lifetime struct {
	sessions     [2][]Entry
	acknowledged [2]map[string]bool // ids of events
	refusals     int
}

func (l *lifetime) live(t *testing.T, r *Record) {
	t.Helper()
	for n := range l.sessions {
		l.acknowledged[n] = map[string]bool{}
		clock := Clock{Boot: "boot-1", Origin: 90 * time.Second}
		_, err := r.Begin(testBox(), clock, morning)
		l.tell(t, err)
		l.enter(n, Entry{Wall: morning, Clock: &clock})
		for k := range 30 {
			l.second(t, r, n, k)
		}
		at, wall, _ := secondOf(30)
		l.tell(t, r.Finish(at, wall))
	}
}

// second is a sample, sometimes with an event or a snapshot after it.
func (l *lifetime) second(t *testing.T, r *Record, n, k int) {
	t.Helper()
	at, wall, s := secondOf(k)
	l.tell(t, r.Sample(at, wall, s))
	l.enter(n, Entry{At: at, Wall: wall, Sample: &s})
	if k%10 == 9 {
		l.tell(t, r.flush()) // as the writer in the background would
	}
	if k%7 == 3 {
		e := eventOf(k)
		err := r.Event(at, wall, e)
		l.acknowledged[n][e.ID] = err == nil
		l.tell(t, err)
		l.enter(n, Entry{At: at, Wall: wall, Event: &e})
	}
	if k%15 == 14 {
		l.tell(t, r.Snapshot(at, make([]byte, 5<<10)))
	}
	if k == 20 {
		clock := Clock{Boot: "boot-2", Origin: -time.Second, Undated: true}
		l.tell(t, r.Moved(clock, wall))
		l.enter(n, Entry{At: at, Wall: wall, Clock: &clock})
	}
}

func (l *lifetime) enter(n int, e Entry) {
	e.Seq = int64(len(l.sessions[n]) + 1)
	l.sessions[n] = append(l.sessions[n], e)
}

// tell looks whether a refusal is one that people can be told.
func (l *lifetime) tell(t *testing.T, err error) {
	t.Helper()
	if err == nil {
		return
	}
	l.refusals++
	if !errors.Is(err, ErrUnwritable) {
		t.Fatalf("after a %s that failed: %v", failing.last, err)
	}
}

// onRecord looks whether what is on record of a life is the beginning of what was
// handed in, with all that was acknowledged in it, and returns how many entries.
func (l *lifetime) onRecord(t *testing.T, dir string) (entries int) {
	t.Helper()
	r, _ := openMended(t, dir)
	defer r.Close()
	list, err := r.Sessions()
	must(t, err)
	for n, lived := range l.sessions {
		kept := map[string]bool{}
		if n < len(list) {
			all := collect(t, r.Entries(list[n].ID, 0))
			same(t, all, append([]Entry{}, lived[:len(all)]...))
			for _, e := range all {
				if e.Event != nil {
					kept[e.Event.ID] = true
				}
			}
			entries += len(all)
		}
		for id, told := range l.acknowledged[n] {
			if told && !kept[id] {
				t.Fatalf("session %d, %s: answered with success and not on record; the %d-th call, a %s, failed", n+1, id, failing.first, failing.last)
			}
		}
	}
	return entries
}

// Each write, sync, truncation and deletion of a whole life fails, one after the
// other: once, and for good, whole and torn in half. What was answered with success
// is on record, and nothing that wasn't handed in; what fails only once costs
// nothing at all.
func TestEveryWriteFails(t *testing.T) {
	useFailing(t)
	for _, c := range []struct {
		name          string
		forGood, torn bool
		code          int32
		step          int
	}{
		{"once", false, false, sqlite3.SQLITE_IOERR_WRITE, 1},
		{"once, torn", false, true, sqlite3.SQLITE_IOERR_WRITE, 7},
		{"for good", true, false, sqlite3.SQLITE_IOERR_WRITE, 3},
		{"for good, torn", true, true, sqlite3.SQLITE_IOERR_WRITE, 7},
		{"full", true, false, sqlite3.SQLITE_FULL, 7},
	} {
		t.Run(c.name, func(t *testing.T) {
			step := c.step
			switch {
			case os.Getenv("WITHY_FULL") != "":
				step = 1
			case testing.Short():
				step = 17
			}
			refused := 0
			first := 1
			for failsAt(t, first, c.forGood, c.torn, c.code, &refused) {
				first += step
			}
			t.Logf("calls 1 to %d failed, %d apart; the lives in which they did were refused %d times in all", first-step, step, refused)
			if refused == 0 {
				t.Error("nothing was ever refused")
			}
		})
	}
}

// failsAt lives a life in which a call fails; it returns false if there were fewer.
func failsAt(t *testing.T, first int, forGood, torn bool, code int32, refused *int) bool {
	t.Helper()
	dir := t.TempDir()
	failures(first, forGood, torn, code)
	r, err := Open(dir)
	if err != nil {
		// Then there is no record, and the next start begins one.
		if !errors.Is(err, ErrUnwritable) {
			t.Fatalf("call %d, %s: %v", first, failing.last, err)
		}
		failures(0, false, false, 0)
		r, _ := openMended(t, dir)
		must(t, r.Close())
		return true
	}
	var l lifetime
	l.live(t, r)
	*refused += l.refusals
	closed := r.Close()
	calls := failing.calls
	if !forGood && closed != nil && calls > first {
		t.Errorf("call %d, %s, failed once, and the record could not be closed: %v", first, failing.last, closed)
	}
	failures(0, false, false, 0)
	entries := l.onRecord(t, dir)
	if whole := len(l.sessions[0]) + len(l.sessions[1]); !forGood && entries != whole && calls > first {
		t.Errorf("call %d, %s, failed once: %d entries of %d", first, failing.last, entries, whole)
	}
	return calls >= first
}

// A session that could not be begun is recorded from its first sample once the disk
// is well again, under the name that it has then.
func TestBegunLate(t *testing.T) {
	useFailing(t)
	dir := t.TempDir()
	r := open(t, dir)
	failures(1, true, false, sqlite3.SQLITE_IOERR_WRITE)
	_, err := r.Begin(testBox(), Clock{Boot: "boot-1"}, morning)
	refused(t, err, ErrUnwritable, r.path)
	at, wall, s := secondOf(0)
	refused(t, r.Sample(at, wall, s), ErrUnwritable, r.path)
	e := eventOf(0)
	refused(t, r.Event(at, wall, e), ErrUnwritable, r.path)
	if id := r.ID(); id != "" {
		t.Errorf("it is called %q and isn't on record", id)
	}
	failures(0, false, false, 0)
	_, err = r.Flush()
	must(t, err)
	want := []Entry{{Seq: 1, Wall: morning, Clock: &Clock{Boot: "boot-1"}}, {Seq: 2, At: at, Wall: wall, Sample: &s}, {Seq: 3, At: at, Wall: wall, Event: &e}}
	same(t, collect(t, r.Entries(r.ID(), 0)), want)
}

// Events wait too: the record says when they are too many, and none that was handed in is
// lost.
func TestEventsWait(t *testing.T) {
	useFailing(t)
	r := open(t, t.TempDir())
	id := begin(t, r)
	failures(1, true, false, sqlite3.SQLITE_FULL)
	tell := func(k int) error {
		return r.Event(time.Duration(k), morning, steambox.Event{ID: fmt.Sprint(k), Kind: steambox.Note, Text: string(make([]byte, 60_000))})
	}
	k := 0
	for ; !r.Full(); k++ {
		refused(t, tell(k), ErrUnwritable, r.path)
		if r.pending.size > 3*maxPending {
			t.Fatal("more and more wait")
		}
	}
	failures(0, false, false, 0)
	must(t, tell(k))
	if r.Full() {
		t.Error("all was written, and still it is full")
	}
	if got := len(collect(t, r.Entries(id, 0))); got != k+2 {
		t.Errorf("%d entries of a beginning and %d events", got, k+1)
	}
}
