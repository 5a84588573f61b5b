package alert_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"withy/alert"
	"withy/steambox"
)

// naive is one alarm's life a second time, written down from what people are promised:
// it keeps all that it ever saw and decides by looking back.
type naive struct {
	rule    alert.Rule
	on      string
	seen    []bool
	up      bool
	state   alert.State
	heardAt int
	offTill int
}

// all reports whether the last seconds, and the one before them, were all so.
func (n *naive) all(seconds int, so bool) bool {
	from := len(n.seen) - seconds - 1
	return from >= 0 && !slices.Contains(n.seen[from:], !so)
}

func (n *naive) second(now int, so, spokenFor bool) {
	n.seen = append(n.seen, so)
	if n.all(int(n.rule.OnDelay.Seconds()), true) {
		n.up = true
	}
	if n.all(int(n.rule.OffDelay.Seconds()), false) {
		n.up = false
	}
	if n.state == alert.Off && now < n.offTill || n.state == alert.Latched && !(n.up && so) {
		return
	}
	wasHeard := n.state == alert.HeardBy
	loudAgain := wasHeard && n.rule.Priority == alert.High && now-n.heardAt >= 300
	switch {
	case spokenFor:
		n.state = ""
	case n.up && so && (!wasHeard || loudAgain):
		n.state = alert.Raised
	case n.up && n.state == alert.Off:
		n.state = ""
	case n.up:
	case wasHeard && n.rule.Latching:
		n.state = alert.Latched
	case n.state == alert.Raised:
		n.state = alert.Cleared
	case n.state != alert.Cleared:
		n.state = ""
	}
}

// told enters what somebody did; it reports whether that may be done.
func (n *naive) told(now int, do string, minutes int) bool {
	last := len(n.seen) > 0 && n.seen[len(n.seen)-1]
	longest := int(n.rule.MostOff.Minutes())
	switch {
	case n.state == "", do == "reset" && last, do == "put off" && minutes > longest:
		return false
	case do == "put off" && n.state != alert.Latched:
		n.state, n.offTill = alert.Off, now+60*minutes
	case do == "reset" && n.state == alert.Latched:
		n.state = ""
	case do == "heard" && n.state == alert.Raised:
		n.state, n.heardAt = alert.HeardBy, now
	case do == "heard" && n.state == alert.Cleared && n.rule.Latching:
		n.state = alert.Latched
	case do == "heard" && n.state == alert.Cleared:
		n.state = ""
	}
	return true
}

func (n *naive) key() string { return alert.Alarm{ID: n.rule.ID, On: n.on}.Key() }

// weather is what goes wrong for a while.
type weather struct {
	pressure, open bool
	dryS           float64
	probes         int // how many of the two can be read
}

func (x weather) status() steambox.Status {
	s := hot()
	if x.pressure {
		s.OverK = 3
	}
	if x.open {
		s.Water.Switch = "open"
	}
	s.Water.DryLoS = &x.dryS
	for i := x.probes; i < 2; i++ {
		s.Probes[1-i+x.probes].TempC = nil
	}
	return s
}

// so says which alarms that is, far from every deadband.
func (x weather) so() map[string]bool {
	return map[string]bool{
		"pressure": x.pressure, "water-low": x.open, "dry-now": x.dryS < 400, "dry-soon": x.dryS < 800,
		"blind": x.probes == 0, "probe-failed/steam": x.probes == 0, "probe-failed/door": x.probes < 2,
	}
}

func naives() (all []*naive) {
	for _, r := range alert.Rules {
		switch r.ID {
		case alert.Pressure, alert.WaterLow, alert.DryNow, alert.DrySoon, alert.Blind:
			all = append(all, &naive{rule: r})
		case alert.ProbeFailed:
			all = append(all, &naive{rule: r, on: "steam"}, &naive{rule: r, on: "door"})
		}
	}
	return all
}

// Whatever happens and whatever the crew does about it, the watch says what the naive
// model says, also after a restart at any moment.
func TestLifeAgainstNaiveModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, model, now := &alert.Watch{}, naives(), 0
		for range rapid.IntRange(1, 25).Draw(t, "stretches") {
			x := weather{
				rapid.Bool().Draw(t, "pressure"), rapid.Bool().Draw(t, "open"),
				rapid.SampledFrom([]float64{3000, 700, 100}).Draw(t, "dry"), rapid.IntRange(0, 2).Draw(t, "probes"),
			}
			for range rapid.SampledFrom([]int{1, 4, 9, 10, 11, 30, 59, 61, 130, 310}).Draw(t, "seconds") {
				s := x.status()
				w.Eval(time.Duration(now)*time.Second, &s)
				secondOf(model, now, x.so())
				compare(t, w, &s, model, now)
				now++
			}
			s := x.status()
			act(t, w, model[rapid.IntRange(0, len(model)-1).Draw(t, "on")], now)
			compare(t, w, &s, model, now)
			w = restarted(t, w)
		}
	})
}

// secondOf lets the model see a second, the stronger alarms first as they stand in the
// catalogue.
func secondOf(model []*naive, now int, so map[string]bool) {
	for _, n := range model {
		stronger := slices.ContainsFunc(model, func(o *naive) bool { return o.up && slices.Contains(n.rule.HiddenBy, o.rule.ID) })
		n.second(now, so[n.key()], stronger)
	}
}

func compare(t *rapid.T, w *alert.Watch, s *steambox.Status, model []*naive, now int) {
	got := map[string]alert.State{}
	for _, a := range w.Alarms(s) {
		got[a.Key()] = a.State
	}
	for _, n := range model {
		if got[n.key()] != n.state {
			t.Fatalf("second %d, %s: %q, the model says %q", now, n.key(), got[n.key()], n.state)
		}
	}
}

func act(t *rapid.T, w *alert.Watch, n *naive, now int) {
	at, minutes := time.Duration(now)*time.Second, rapid.SampledFrom([]int{1, 2, 5, 6, 30}).Draw(t, "minutes")
	do := rapid.SampledFrom([]string{"heard", "heard", "put off", "reset"}).Draw(t, "do")
	err := map[string]func() error{
		"heard":   func() error { return w.Heard(at, n.key()) },
		"put off": func() error { return w.PutOff(at, n.key(), time.Duration(minutes)*time.Minute) },
		"reset":   func() error { return w.Reset(n.key()) },
	}[do]()
	if may := n.told(now, do, minutes); may != (err == nil) {
		t.Fatalf("second %d, %s %s for %d: %v, by the model %v", now, do, n.key(), minutes, err, may)
	}
}

func restarted(t *rapid.T, w *alert.Watch) *alert.Watch {
	b, err := w.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	var again alert.Watch
	if err := again.Restore(b); err != nil {
		t.Fatal(err)
	}
	return &again
}

// Put off means said again: at the very second, if it is still so, and counted as a
// new alarm so that it sounds; not before.
func TestPutOff(t *testing.T) {
	s := hot()
	cases[alert.ColdEnd](&s)
	var w alert.Watch
	up(&w, 0, 130, s)
	if err := w.PutOff(130*time.Second, "cold-end", 10*time.Minute); err != nil {
		t.Fatal(err)
	}
	if a := up(&w, 130, 600, s); len(a) != 1 || a[0].State != alert.Off || a[0].OffTillS != 730 {
		t.Errorf("put off: %+v", a)
	}
	if a := up(&w, 730, 1, s); len(a) != 1 || a[0].State != alert.Raised || a[0].Count != 2 {
		t.Errorf("ten minutes on: %+v", a)
	}
	if err := w.PutOff(731*time.Second, "cold-end", time.Minute); err != nil {
		t.Fatal(err)
	}
	if a := up(&w, 731, 300, hot()); len(a) != 0 {
		t.Errorf("over while it was off: %+v", a)
	}
	if err := w.PutOff(1100*time.Second, "cold-end", time.Minute); !errors.Is(err, alert.ErrNoAlarm) {
		t.Errorf("what is not up was put off: %v", err)
	}
}

// What may hurt somebody can't be put off, and nothing for longer than its rule says.
func TestNotPutOff(t *testing.T) {
	for _, r := range alert.Rules {
		s := hot()
		cases[r.ID](&s)
		var w alert.Watch
		a := up(&w, 0, 200, s)
		err := w.PutOff(200*time.Second, a[0].Key(), r.MostOff+time.Second)
		var off *alert.OffError
		if !errors.As(err, &off) || off.Most != r.MostOff {
			t.Errorf("%s put off for longer than it may be: %v", r.ID, err)
		}
		if r.Sound == alert.Danger && r.MostOff != 0 {
			t.Errorf("%s is a danger and can be put off", r.ID)
		}
	}
}

// With more than ten alarms in ten minutes only the high ones sound, until there are
// fewer than five.
func TestFlood(t *testing.T) {
	var w alert.Watch
	s := hot()
	for i := range 11 {
		s.Slots = append(s.Slots, steambox.Slot{Slot: fmt.Sprint(i), Rib: fmt.Sprint(i), OverShare: 0.5})
	}
	at := 0
	for i := range s.Slots {
		s.Slots[i].OverShare = 0.95
		a := up(&w, at, 20, s)
		at += 20
		if hushed := slices.ContainsFunc(a, func(a alert.Alarm) bool { return a.Hushed }); hushed != (i >= 10) {
			t.Errorf("%d alarms: hushed %v", i+1, hushed)
		}
	}
	cases[alert.WaterLow](&s)
	a := up(&w, at, 15, s)
	if a[0].ID != alert.WaterLow || a[0].Hushed || !a[1].Hushed {
		t.Errorf("in a flood: %+v, %+v", a[0], a[1])
	}
	var sounder alert.Sounder
	st := hot()
	if got := sounder.Next(0, &st, a[1:]); got != alert.Silent {
		t.Errorf("a flood sounds %q", got)
	}
	if got := sounder.Next(0, &st, a); got != alert.Kettle {
		t.Errorf("a high alarm in a flood sounds %q", got)
	}
	if a := up(&w, at+15, 600, s); a[1].Hushed {
		t.Error("the flood does not end")
	}
}

// The first of a group keeps its mark while the others come and go; another group has
// a first of its own.
func TestFirstOut(t *testing.T) {
	var w alert.Watch
	first := func(a []alert.Alarm) (ids []alert.ID) {
		for _, x := range a {
			if x.FirstOut {
				ids = append(ids, x.ID)
			}
		}
		return ids
	}
	s := hot()
	cases[alert.WaterLow](&s)
	up(&w, 0, 20, s)
	cases[alert.ProbeFailed](&s)
	if got := first(up(&w, 20, 20, s)); !slices.Equal(got, []alert.ID{alert.WaterLow, alert.ProbeFailed}) {
		t.Errorf("two upsets: %v came first", got)
	}
	s = hot()
	cases[alert.BothCold](&s)
	s.Water.Switch = "open"
	if got := first(up(&w, 40, 200, s)); !slices.Contains(got, alert.WaterLow) || slices.Contains(got, alert.BothCold) {
		t.Errorf("water first, then cold: %v came first", got)
	}
	up(&w, 300, 200, hot())
	for _, a := range w.Alarms(&s) {
		if err := w.Heard(500*time.Second, a.Key()); err != nil {
			t.Fatal(err)
		}
	}
	up(&w, 500, 2, hot())
	s.Water.Switch = "closed"
	if got := first(up(&w, 502, 200, s)); !slices.Equal(got, []alert.ID{alert.BothCold}) {
		t.Errorf("a new upset: %v came first", got)
	}
}

// A weaker alarm that a stronger one speaks for is not said to be over.
func TestHiddenIsNotOver(t *testing.T) {
	var w alert.Watch
	s := hot()
	cases[alert.DrySoon](&s)
	up(&w, 0, 20, s)
	cases[alert.DryNow](&s)
	if a := up(&w, 20, 200, s); len(a) != 1 || a[0].ID != alert.DryNow {
		t.Errorf("dry now, and dry soon with it: %+v", a)
	}
	s.Water.DryLoS = ptr(700)
	a := up(&w, 220, 100, s)
	if len(a) != 2 || a[0].State != alert.Cleared || a[1].ID != alert.DrySoon || a[1].State != alert.Raised {
		t.Errorf("some water poured in: %+v", a)
	}
}
