package hail

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/view"
)

// mouth is a way that does what it is told to, and remembers what it took.
type mouth struct {
	mu    sync.Mutex
	fails error
	hangs bool
	tries []time.Duration
	took  []Notice
	began time.Time
}

func (m *mouth) Send(ctx context.Context, n Notice) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.tries = append(m.tries, time.Since(m.began))
	if m.hangs {
		<-ctx.Done()
		return &Failure{Says: "no answer in time"}
	}
	if m.fails == nil {
		m.took = append(m.took, n)
	}
	return m.fails
}

func (m *mouth) set(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fails = err
}

// told lists what was taken of one alarm: its key, and whether it was over.
func (m *mouth) told(id alert.ID) (out []string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, n := range m.took {
		for _, a := range n.Alarms {
			if a.ID == id && a.New {
				out = append(out, fmt.Sprint(a.Key, " ", a.Over))
			}
		}
	}
	return out
}

func raised(id alert.ID, p alert.Priority) alert.Alarm {
	return alert.Alarm{ID: id, Title: string(id), Priority: p, State: alert.Raised, Count: 1, Consequence: "It is bad.", Do: []string{"Go."}}
}

func seen(alarms ...alert.Alarm) *view.View {
	v := &view.View{Session: "s1", Alarms: alarms}
	v.Status.Box = "steam box"
	return v
}

// pass lets false time pass, until all is at rest.
func pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

// begin runs outputs in a bubble of false time.
func begin(t *testing.T, outputs ...Output) *Hails {
	t.Helper()
	h := New(outputs, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); h.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done })
	return h
}

func by(name string, m *mouth) Output {
	m.began = time.Now()
	return Output{Name: name, Kind: "topic", Way: m, Least: alert.Low}
}

func TestToldOnceAndWhenOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var m mouth
		h := begin(t, by("phone", &m))
		for range 30 {
			h.Hand(seen(raised(alert.DryNow, alert.High)))
			pass(time.Second)
		}
		heard := raised(alert.DryNow, alert.High)
		heard.State = alert.HeardBy
		h.Hand(seen(heard))
		pass(10 * time.Second)
		again := raised(alert.DryNow, alert.High)
		again.Count = 2
		h.Hand(seen(again))
		pass(10 * time.Second)
		h.Hand(seen())
		pass(10 * time.Second)
		want := []string{"s1/dry-now/1 false", "s1/dry-now/2 false", "s1/dry-now/2 true"}
		if got := m.told(alert.DryNow); !slices.Equal(got, want) {
			t.Errorf("told %v, want %v", got, want)
		}
		if len(m.took) != 3 {
			t.Errorf("%d notices", len(m.took))
		}
	})
}

// An hour without a network, and an alarm each three minutes that comes and goes: at most three
// notices afterwards, the first of which leads with what is so now.
func TestAnHourOfOutage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := mouth{fails: &Failure{Says: "no way"}}
		h := begin(t, by("phone", &m))
		last := raised("alarm-19", alert.Medium)
		for i := range 20 {
			a := raised(alert.ID(fmt.Sprintf("alarm-%02d", i)), []alert.Priority{alert.High, alert.Medium, alert.Low}[i%3])
			h.Hand(seen(a))
			pass(90 * time.Second)
			h.Hand(seen())
			pass(90 * time.Second)
		}
		if len(m.tries) > 150 {
			t.Errorf("%d attempts in an hour", len(m.tries))
		}
		h.Hand(seen(last))
		m.set(nil)
		pass(5 * time.Minute)
		if n := len(m.took); n < 1 || n > 3 {
			t.Fatalf("%d notices", n)
		}
		first := m.took[0]
		if a := first.Alarms[0]; a.ID != "alarm-19" || a.Over {
			t.Errorf("the first notice leads with %+v", a)
		}
		for i := range 20 {
			if len(m.told(alert.ID(fmt.Sprintf("alarm-%02d", i)))) == 0 {
				t.Errorf("alarm-%02d was never told", i)
			}
		}
		if s := h.Standing()[0]; s.Waiting != 0 || s.Late || s.Fails != "" || s.GoodS == nil || s.BadS == nil {
			t.Errorf("afterwards %+v", s)
		}
	})
}

// Retries come later and later, never more than a minute apart and never at the same moments.
func TestBackOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a, b := mouth{fails: &Failure{Says: "no"}}, mouth{fails: &Failure{Says: "no"}}
		h := begin(t, by("a", &a), by("b", &b))
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium)))
		pass(10 * time.Minute)
		for i := 1; i < len(a.tries); i++ {
			wait, most := a.tries[i]-a.tries[i-1], min(time.Second<<min(i-1, 10), time.Minute)
			if wait < most/2 || wait > most {
				t.Errorf("attempt %d after %v, want %v to %v", i, wait, most/2, most)
			}
		}
		if slices.Equal(a.tries, b.tries) {
			t.Error("two outputs try at the same moments")
		}
		if n := len(a.tries); n < 12 || n > 26 {
			t.Errorf("%d attempts in ten minutes", n)
		}
	})
}

// Who asks to be left alone is left alone, even with an alarm that is urgent.
func TestRetryAfterIsHonoured(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := mouth{fails: &Failure{Says: "busy", After: 2 * time.Minute}}
		h := begin(t, by("phone", &m))
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium)))
		pass(time.Minute)
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium), raised(alert.DryNow, alert.High)))
		pass(59 * time.Second)
		if len(m.tries) != 1 {
			t.Errorf("%d attempts within the two minutes", len(m.tries))
		}
		m.set(nil)
		pass(2 * time.Second)
		if len(m.took) != 1 || m.took[0].Alarms[0].ID != alert.DryNow {
			t.Errorf("afterwards %+v", m.took)
		}
	})
}

// An urgent alarm does not wait for the back-off of lesser ones.
func TestUrgentGoesAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := mouth{fails: &Failure{Says: "no"}}
		h := begin(t, by("phone", &m))
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium)))
		pass(5 * time.Minute)
		m.set(nil)
		n := len(m.tries)
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium), raised(alert.DryNow, alert.High)))
		pass(time.Millisecond)
		if len(m.tries) != n+1 || len(m.took) != 1 {
			t.Errorf("%d attempts before, %d after; took %d", n, len(m.tries), len(m.took))
		}
	})
}

// Half a minute after an alarm of high priority that nobody took, its output is late; one
// that hangs holds up no other.
func TestLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stuck, good := mouth{hangs: true}, mouth{}
		h := begin(t, by("stuck", &stuck), by("good", &good))
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium)))
		pass(5 * time.Minute)
		if s := h.Standing(); s[0].Late || s[1].Late {
			t.Errorf("late with a medium alarm: %+v", s)
		}
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium), raised(alert.DryNow, alert.High)))
		pass(27 * time.Second)
		if s := h.Standing(); s[0].Late || s[0].Waiting != 2 {
			t.Errorf("after 27 s %+v", s[0])
		}
		pass(2 * time.Second)
		s := h.Standing()
		if !s[0].Late || s[0].Fails == "" || s[1].Late || s[1].Waiting != 0 {
			t.Errorf("after 29 s %+v", s)
		}
		// It isn't told that it can't be reached itself; the other one is.
		own := raised(alert.Unreached, alert.Medium)
		own.On = "stuck"
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium), raised(alert.DryNow, alert.High), own))
		pass(20 * time.Second)
		if w := h.Standing()[0].Waiting; w != 2 {
			t.Errorf("%d wait", w)
		}
		if len(good.told(alert.Unreached)) != 1 {
			t.Errorf("the other was told %v", good.told(alert.Unreached))
		}
	})
}

// What is told again while it is so, and what is below the least.
func TestAgainAndLeast(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var m, high mouth
		manager, only := by("manager", &m), by("high", &high)
		manager.Again, only.Least = time.Minute, alert.High
		h := begin(t, manager, only)
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium)))
		pass(10*time.Minute + time.Second)
		if n := len(m.took); n != 11 {
			t.Errorf("told %d times in ten minutes", n)
		}
		h.Hand(seen())
		pass(10 * time.Minute)
		if n := len(m.took); n != 12 {
			t.Errorf("told %d times, the last of them that it is over", n)
		}
		if len(high.took) != 0 {
			t.Errorf("told below the least: %+v", high.took)
		}
	})
}

// The queue has an end: what is over is dropped and counted, and what is so never.
func TestQueueIsBounded(t *testing.T) {
	b := book{least: alert.Low}
	for i := range 500 {
		b.take(seen(raised("stays", alert.High), raised(alert.ID(fmt.Sprint("rib-", i)), alert.Medium)), time.Duration(i)*time.Second)
	}
	n := b.notice()
	if len(n.Alarms) > mostWaiting+1 || n.LeftOut < 400 || n.Alarms[0].ID != "stays" {
		t.Fatalf("%d alarms, %d left out, first %+v", len(n.Alarms), n.LeftOut, n.Alarms[0])
	}
	b.taken(n, time.Hour)
	if b.waiting() != 0 || b.leftOut != 0 {
		t.Errorf("%d wait, %d left out", b.waiting(), b.leftOut)
	}
}

// An alarm that ends while its notice is on the way is told to be over afterwards.
func TestEndsOnTheWay(t *testing.T) {
	b := book{least: alert.Low}
	b.take(seen(raised(alert.DryNow, alert.High)), 0)
	n := b.notice()
	b.take(seen(), time.Second)
	b.taken(n, 2*time.Second)
	if n = b.notice(); len(n.Alarms) != 1 || !n.Alarms[0].Over || !n.Alarms[0].New {
		t.Errorf("%+v", n)
	}
	if _, waits := b.highSince(); waits {
		t.Error("late for what was told")
	}
}
