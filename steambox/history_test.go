package steambox_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"withy/steambox"
)

// told is a history written down as it was entered.
type told struct {
	entries []steambox.Entry
}

func (h *told) samples(from, to int) {
	for k := from; k < to; k++ {
		s := steambox.Sample{Probes: []steambox.ProbeSample{{MilliC: 98500}, {MilliC: 96000}}}
		h.entries = append(h.entries, steambox.Entry{At: time.Duration(k) * time.Second, Sample: &s})
	}
}

func (h *told) event(at int, id string, e steambox.Event) {
	e.ID = id
	h.entries = append(h.entries, steambox.Entry{At: time.Duration(at)*time.Second - time.Second/2, Event: &e})
}

// soaked is a history in which rib 1 lay in A from 60 s to 360 s, as told.
func soaked() *told {
	h := &told{}
	h.samples(0, 60)
	h.event(60, "load", steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	h.samples(60, 360)
	h.event(360, "pull", steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	h.samples(360, 500)
	return h
}

// refolded folds a history as it is lived: up to each correction, and anew with it.
func refolded(b steambox.Box, h *told) (*steambox.Session, error) {
	s, err := steambox.NewSession(b)
	for i, e := range h.entries {
		if err == nil && e.Event != nil && e.Event.Corrects() {
			s, err = steambox.Refold(b, h.entries[:i], e.At, *e.Event)
		}
		if err == nil {
			err = s.Enter(e)
		}
	}
	return s, err
}

func refold(t testing.TB, h *told) *steambox.Session {
	t.Helper()
	s, err := refolded(testBox(), h)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func ribOf(t testing.TB, s *steambox.Session, label string) steambox.RibNow {
	t.Helper()
	ribs := s.Status().Ribs
	i := slices.IndexFunc(ribs, func(r steambox.RibNow) bool { return r.Rib == label })
	if i < 0 {
		t.Fatalf("no rib %s", label)
	}
	return ribs[i]
}

// Where a rib cracked is forgotten with the crack.
func TestNoCrackIsNowhere(t *testing.T) {
	h := soaked()
	h.event(500, "bent", steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "cracked", Where: "outside"})
	h.event(501, "fix", steambox.Event{Kind: steambox.Amended, Of: "bent", Outcome: "supple"})
	for _, r := range refold(t, h).Status().Ribs {
		if r.Rib == "1" && (r.Outcome != "supple" || r.Where != "") {
			t.Errorf("rib 1 is %s, where: %q", r.Outcome, r.Where)
		}
	}
}

// A history that is corrected comes to what it would have been had it been told
// rightly at the time.
func TestCorrectionIsAsIfToldRightly(t *testing.T) {
	for name, c := range map[string]struct {
		corrections []steambox.Event
		right       func(*told)
	}{
		"pulled earlier": {
			[]steambox.Event{{Kind: steambox.Amended, Of: "pull", EarlierS: 45}},
			func(h *told) {
				h.samples(0, 60)
				h.event(60, "load", steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
				h.samples(60, 315)
				h.event(315, "pull", steambox.Event{Kind: steambox.Pulled, Slot: "A"})
				h.samples(315, 500)
			},
		},
		"another rib": {
			[]steambox.Event{{Kind: steambox.Amended, Of: "load", Rib: "2"}},
			func(h *told) {
				h.samples(0, 60)
				h.event(60, "load", steambox.Event{Kind: steambox.Loaded, Rib: "2", Slot: "A"})
				h.samples(60, 360)
				h.event(360, "pull", steambox.Event{Kind: steambox.Pulled, Slot: "A"})
				h.samples(360, 500)
			},
		},
		"never pulled": {
			[]steambox.Event{{Kind: steambox.Struck, Of: "pull"}},
			func(h *told) {
				h.samples(0, 60)
				h.event(60, "load", steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
				h.samples(60, 500)
			},
		},
		"struck, and that struck": {
			[]steambox.Event{{Kind: steambox.Struck, Of: "pull"}, {Kind: steambox.Struck, Of: "fix-0"}},
			func(h *told) { *h = *soaked() },
		},
		"told late": {
			[]steambox.Event{{Kind: steambox.Loaded, Rib: "2", Slot: "B", EarlierS: 100}},
			func(h *told) {
				all := soaked()
				h.entries = slices.Clone(all.entries[:slices.IndexFunc(all.entries, func(e steambox.Entry) bool { return e.At >= 400*time.Second })])
				h.event(400, "late", steambox.Event{Kind: steambox.Loaded, Rib: "2", Slot: "B"})
				h.samples(400, 500)
			},
		},
	} {
		t.Run(name, func(t *testing.T) {
			h := soaked()
			for i, e := range c.corrections {
				h.event(500, fmt.Sprint("fix-", i), e)
			}
			var right told
			c.right(&right)
			if c.corrections[0].EarlierS == 0 || c.corrections[0].Of != "" {
				right.event(500, "remark", steambox.Event{Kind: steambox.Note, Text: "lets time pass as the correction does"})
			}
			if d := cmp.Diff(refold(t, &right).Status(), refold(t, h).Status(), cmp.Comparer(nearly)); d != "" {
				t.Errorf("rightly told (-), corrected (+):\n%s", d)
			}
		})
	}
}

// nearly compares what was summed up in other steps: an event cuts a second in two.
func nearly(a, b float64) bool { return math.Abs(a-b) <= 1e-6*(1+math.Abs(a)) }

func TestCorrectionsThatMakeNoSense(t *testing.T) {
	for name, c := range map[string]struct {
		e    steambox.Event
		says string
	}{
		"unknown id":          {steambox.Event{Kind: steambox.Struck, Of: "nothing"}, "Nothing was told before"},
		"itself":              {steambox.Event{Kind: steambox.Amended, Of: "fix", Rib: "2"}, "Nothing was told before"},
		"load of a pulled":    {steambox.Event{Kind: steambox.Struck, Of: "load"}, "Slot A is empty. Put that right first."},
		"pull before load":    {steambox.Event{Kind: steambox.Amended, Of: "pull", EarlierS: 350}, "Slot A is empty"},
		"no such slot":        {steambox.Event{Kind: steambox.Amended, Of: "load", Slot: "Q"}, "There is no slot Q"},
		"field of other kind": {steambox.Event{Kind: steambox.Amended, Of: "pull", Mark: "port"}, "mark: does not belong to pulled"},
		"alarm heard":         {steambox.Event{Kind: steambox.Struck, Of: "heard"}, "stays done"},
		"what ailed":          {steambox.Event{Kind: steambox.Struck, Of: "ails"}, "ailed it"},
	} {
		t.Run(name, func(t *testing.T) {
			h := soaked()
			h.event(499, "heard", steambox.Event{Kind: steambox.Heard, Alarm: "water-low"})
			h.event(499, "ails", steambox.Event{Kind: steambox.Board, Text: string(steambox.TooHot), On: true})
			h.event(500, "fix", c.e)
			_, err := refolded(testBox(), h)
			refused := (*steambox.RefusedError)(nil)
			if !errors.As(err, &refused) || !strings.Contains(refused.Why, c.says) {
				t.Errorf("%v, want %q", err, c.says)
			}
		})
	}
}

// An event that was struck is still known by its id: told again by a client that
// missed the answer, it stays struck.
func TestStruckIsNotTakenAgain(t *testing.T) {
	h := soaked()
	h.event(500, "fix", steambox.Event{Kind: steambox.Struck, Of: "pull"})
	s := refold(t, h)
	if !s.Knows("pull") || !s.Knows("fix") {
		t.Error("forgotten")
	}
}

// A remark that is struck has changed nothing: any history with one is, to the last
// bit, the history without it.
func TestRefoldIsTheFold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := &told{}
		now, in := 1, false
		h.samples(0, 1)
		h.event(1, "remark", steambox.Event{Kind: steambox.Note, Text: "struck in the end"})
		for i := range rapid.IntRange(1, 8).Draw(t, "events") {
			next := now + rapid.IntRange(1, 200).Draw(t, "seconds")
			h.samples(now, next)
			now = next
			e := steambox.Event{Kind: steambox.Loaded, Rib: fmt.Sprint(i), Slot: "A"}
			if in {
				e = steambox.Event{Kind: steambox.Pulled, Slot: "A"}
			}
			in = !in
			h.event(now, fmt.Sprint(i), e)
		}
		lived, err := refolded(testBox(), h)
		if err != nil {
			t.Fatal(err)
		}
		h.event(now+1, "fix", steambox.Event{Kind: steambox.Struck, Of: "remark"})
		again, err := steambox.Refold(testBox(), h.entries[:len(h.entries)-1], lived.Elapsed(), *h.entries[len(h.entries)-1].Event)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(lived.Status(), again.Status()); d != "" {
			t.Error(d)
		}
	})
}

// However late an event counts, it happened at the moment at which it was said to.
func TestToldKeepsTheMoment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Duration(rapid.Int64Range(0, int64(24*time.Hour)).Draw(t, "at"))
		counts := at + time.Duration(rapid.Int64Range(0, int64(time.Minute)).Draw(t, "later"))
		e := steambox.Event{Kind: steambox.Pulled, Slot: "A", EarlierS: rapid.Float64Range(0.001, 40000).Draw(t, "earlier")}
		kept := e.Told(at, counts)
		moment := func(at time.Duration, e steambox.Event) time.Duration {
			return at - time.Duration(math.Round(e.EarlierS*1e9))
		}
		if moment(at, e) != moment(counts, kept) {
			t.Fatalf("%v, kept as %v", moment(at, e), moment(counts, kept))
		}
	})
}
