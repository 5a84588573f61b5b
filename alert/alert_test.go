package alert_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/boiler"
)

// Every alarm carries all that a builder must know of it.
func TestCatalogueIsComplete(t *testing.T) {
	seen := map[alert.ID]bool{}
	for _, r := range alert.Rules {
		if seen[r.ID] {
			t.Errorf("%s stands twice", r.ID)
		}
		seen[r.ID] = true
		for lacks, so := range map[string]bool{
			"title": r.Title == "", "group": r.Group == "", "priority": r.Priority == "", "sound": r.Sound == "",
			"cause": r.Cause == "", "consequence": r.Consequence == "", "steps": r.Do == nil, "condition": r.When == nil,
			"off-delay":         r.OffDelay == 0,
			"what hides it":     r.Unless == "",
			"time to respond":   r.Within <= 0,
			"deadband or why":   (r.Deadband.By > 0 && r.Deadband.Unit != "") == (r.Deadband.None != ""),
			"sense: off longer": r.MostOff > 30*time.Minute,
			// Five minutes for high and fifteen for medium: ISA-18.2 as quoted in public texts.
			"sense: too slow": r.Within > map[alert.Priority]time.Duration{alert.High: 5 * time.Minute, alert.Medium: 15 * time.Minute, alert.Low: time.Hour}[r.Priority],
			"sense: latching though hidden, or though it may be put off": r.Latching && (len(r.HiddenBy) > 0 || r.MostOff > 0),
		} {
			if so {
				t.Errorf("%s lacks %s: %+v", r.ID, lacks, r)
			}
		}
		if t.Failed() {
			continue
		}
		says := []func(boiler.Kind) []string{r.Do}
		for _, turn := range r.Turns {
			if turn.Title == "" || turn.Cause == "" || turn.Consequence == "" {
				t.Errorf("%s lacks words for a turn: %+v", r.ID, turn)
			}
			says = append(says, turn.Do)
		}
		for _, k := range boiler.Kinds {
			for _, do := range says {
				if steps := do(k); len(steps) < 1 || len(steps) > 3 {
					t.Errorf("%s, %s: %d steps", r.ID, k, len(steps))
				}
			}
		}
	}
	for _, r := range alert.Rules {
		for _, id := range r.HiddenBy {
			if !seen[id] || id == r.ID {
				t.Errorf("%s is hidden by %s", r.ID, id)
			}
		}
		danger := slices.Contains([]alert.ID{alert.Pressure, alert.BoilerDry, alert.SteamLost, alert.DryNow}, r.ID)
		if danger != (r.Sound == alert.Danger) {
			t.Errorf("%s sounds %q: danger is for pressure, dry and steam lost only", r.ID, r.Sound)
		}
	}
	high := 0
	for _, r := range alert.Rules {
		if r.Priority == alert.High {
			high++
		}
	}
	if high > 6 {
		t.Errorf("%d alarms of high priority", high)
	}
}

// A closed tank is never told to pour, nor a dry boiler to fill before it is cool.
func TestNeverPour(t *testing.T) {
	for _, r := range alert.Rules {
		steps := r.Do(boiler.ClosedTank)
		for i, s := range steps {
			if (s == "Kettle on now." || len(s) > 4 && s[:4] == "Pour") || i == 0 && len(s) > 4 && s[:4] == "Fill" {
				t.Errorf("%s tells a closed tank %q", r.ID, s)
			}
		}
	}
}

func ptr(x float64) *float64 { return &x }

// hot is the status of a box in use with nothing wrong.
func hot() steambox.Status {
	return steambox.Status{
		Phase: steambox.Running, BoilingC: 100, Quality: "good", QuietS: 100, ColdEndK: 8, PressureK: 1.2, OverK: -1,
		BoilerKind: boiler.OpenPot,
		Probes:     []steambox.ProbeAt{{Name: "steam", TempC: new(98.5)}, {Name: "door", TempC: ptr(96)}},
		Bent:       steambox.Counts{ToGo: 5},
		Water:      steambox.WaterNow{Switch: "closed", DryLoS: ptr(3000), DryHiS: ptr(5000), LeadS: 400, Boiling: true},
	}
}

// cases say how each alarm comes about.
var cases = map[alert.ID]func(*steambox.Status){
	alert.Pressure:    func(s *steambox.Status) { s.OverK = 2 },
	alert.BoilerDry:   func(s *steambox.Status) { s.Water.DryHiS = ptr(0) },
	alert.SteamLost:   func(s *steambox.Status) { s.FellK, s.FellFarK = [2]float64{6, 6}, [2]float64{6, 6} },
	alert.DryNow:      func(s *steambox.Status) { s.Water.DryLoS = ptr(300) },
	alert.WaterLow:    func(s *steambox.Status) { s.Water.Switch = "open" },
	alert.DrySoon:     func(s *steambox.Status) { s.Water.DryLoS = ptr(700) },
	alert.Blind:       func(s *steambox.Status) { s.Probes[0].TempC, s.Probes[1].TempC = nil, nil },
	alert.ProbeFailed: func(s *steambox.Status) { s.Probes[1].TempC = nil },
	alert.SwitchLost:  func(s *steambox.Status) { s.Water.SwitchL, s.Water.Switch = 1.2, "unknown" },
	alert.BothCold:    func(s *steambox.Status) { s.Probes[0].TempC, s.Probes[1].TempC = ptr(93), ptr(92) },
	alert.ColdEnd:     func(s *steambox.Status) { s.GradientK = 9 },
	alert.Unreached:   func(s *steambox.Status) { s.Unreached = []string{"phone"} },
	alert.NoBeat:      func(s *steambox.Status) { s.NoBeat = []string{"watcher"} },
	alert.Unwatched:   func(s *steambox.Status) { s.GapAgoS = ptr(2) },
	alert.SlowWarmUp:  func(s *steambox.Status) { s.WarmingS = 3700 },
	alert.NotKept:     func(s *steambox.Status) { s.Ails = []steambox.Ailment{steambox.Unkept} },
	alert.BoardHot:    func(s *steambox.Status) { s.Ails = []steambox.Ailment{steambox.TooHot} },
	alert.CardFull:    func(s *steambox.Status) { s.Ails = []steambox.Ailment{steambox.Full} },
	alert.RibOver: func(s *steambox.Status) {
		s.Slots = []steambox.Slot{{Slot: "A", Rib: "7", OverShare: 0.95}}
	},
}

// An alarm that is up says what is true by now, and stays the one that it is: whoever has
// heard it isn't asked again. What is to be done is common practice, no source.
func TestAlarmsTurn(t *testing.T) {
	done := func(s *steambox.Status) { s.Calls = []steambox.Call{{Do: steambox.DoneCall}} }
	for _, c := range []struct {
		id          alert.ID
		turn        func(*steambox.Status)
		was, is, do string
	}{
		{alert.RibOver, func(s *steambox.Status) { s.Slots[0].OverShare = 1 }, "Rib will not wait much longer", "Rib had too much heat", "Pull it and bend it gently: it may crack."},
		{alert.WaterLow, done, "Water low", "Water low", "Every rib is out: heat off."},
		{alert.DrySoon, done, "Time for the kettle", "The boiler still boils", "Every rib is out: heat off."},
		{alert.DryNow, done, "Dry now", "Dry now", "Every rib is out: heat off."},
	} {
		var w alert.Watch
		s := hot()
		s.Calls = []steambox.Call{{Do: steambox.PullCall}}
		cases[c.id](&s)
		before := up(&w, 0, 100, s)
		if len(before) != 1 || before[0].Title != c.was || before[0].Do[0] == c.do {
			t.Errorf("%s: %+v", c.id, before)
			continue
		}
		if err := w.Heard(100*time.Second, before[0].Key()); err != nil {
			t.Fatal(err)
		}
		c.turn(&s)
		after := up(&w, 100, 2, s)
		if len(after) != 1 || after[0].Title != c.is || after[0].Do[0] != c.do || after[0].State != alert.HeardBy || after[0].Count != 1 {
			t.Errorf("%s turned: %+v", c.id, after)
		}
	}
}

// up returns the alarms after a watch has looked at a status for some seconds.
func up(w *alert.Watch, from, seconds int, s steambox.Status) []alert.Alarm {
	for i := range seconds {
		w.Eval(time.Duration(from+i)*time.Second, &s)
	}
	return w.Alarms(&s)
}

func TestEveryAlarmComesAndGoes(t *testing.T) {
	for _, r := range alert.Rules {
		var w alert.Watch
		s := hot()
		if a := up(&w, 0, 400, s); len(a) != 0 {
			t.Fatalf("a good box raises %+v", a)
		}
		cases[r.ID](&s)
		before := up(&w, 400, int(r.OnDelay/time.Second), s)
		if r.OnDelay > 0 && slices.ContainsFunc(before, func(a alert.Alarm) bool { return a.ID == r.ID }) {
			t.Errorf("%s raised before its delay", r.ID)
		}
		after := up(&w, 400+int(r.OnDelay/time.Second), 2, s)
		if len(after) != 1 || after[0].ID != r.ID || after[0].State != alert.Raised || !after[0].FirstOut {
			t.Errorf("%s: %+v", r.ID, after)
			continue
		}
		if err := w.Heard(1000*time.Second, after[0].Key()); err != nil {
			t.Error(err)
		}
		if a := up(&w, 1000, 2, s); a[0].State != alert.HeardBy {
			t.Errorf("%s heard: %+v", r.ID, a)
		}
		gone := up(&w, 1010, int(r.OffDelay/time.Second)+5, hot())
		switch {
		case r.Latching && (len(gone) != 1 || gone[0].State != alert.Latched):
			t.Errorf("%s does not latch: %+v", r.ID, gone)
		case !r.Latching && len(gone) != 0:
			t.Errorf("%s stays: %+v", r.ID, gone)
		}
	}
}

// A probe that somebody has taken out to calibrate it is no fault; one that fails beside it
// is.
func TestProbesOutToCalibrate(t *testing.T) {
	var w alert.Watch
	s := hot()
	for i := range s.Probes {
		s.Probes[i].TempC, s.Probes[i].Fault = nil, steambox.OutToCalibrate
	}
	if a := up(&w, 0, 400, s); len(a) != 0 {
		t.Errorf("out to be calibrated: %+v", a)
	}
	s.Probes[1].Fault = "absent"
	if a := up(&w, 400, 60, s); len(a) != 1 || a[0].ID != alert.ProbeFailed || a[0].On != "door" {
		t.Errorf("one of them unplugged: %+v", a)
	}
}

// The life of an alarm: each state and input, by ISA-18.2 as quoted in public
// texts, in the words that people meet.
func TestLife(t *testing.T) {
	s, bad := hot(), hot()
	cases[alert.Pressure](&bad)
	raise := func(w *alert.Watch, at int) { up(w, at, 40, bad) }
	clear := func(w *alert.Watch, at int) { up(w, at, 70, s) }
	state := func(w *alert.Watch) alert.State {
		if a := w.Alarms(&s); len(a) == 1 {
			return a[0].State
		}
		return ""
	}
	var w alert.Watch
	if err := w.Heard(0, "pressure"); !errors.Is(err, alert.ErrNoAlarm) {
		t.Errorf("heard when normal: %v", err)
	}
	steps := []struct {
		what string
		do   func() error
		want alert.State
	}{
		{"raised", func() error { raise(&w, 0); return nil }, alert.Raised},
		{"over before heard", func() error { clear(&w, 100); return nil }, alert.Cleared},
		{"again", func() error { raise(&w, 200); return nil }, alert.Raised},
		{"heard", func() error { return w.Heard(241*time.Second, "pressure") }, alert.HeardBy},
		{"heard twice", func() error { return w.Heard(242*time.Second, "pressure") }, alert.HeardBy},
		{"reset while so", func() error {
			if err := w.Reset("pressure"); !errors.Is(err, alert.ErrStillSo) {
				return errors.New("reset was not refused")
			}
			return nil
		}, alert.HeardBy},
		{"five minutes on", func() error { up(&w, 300, 300, bad); return nil }, alert.Raised},
		{"heard once more", func() error { return w.Heard(601*time.Second, "pressure") }, alert.HeardBy},
		{"over", func() error { clear(&w, 610); return nil }, alert.Latched},
		{"again while latched", func() error { raise(&w, 700); return nil }, alert.Raised},
		{"over again, unheard", func() error { clear(&w, 800); return nil }, alert.Cleared},
		{"heard after it was over", func() error { return w.Heard(900*time.Second, "pressure") }, alert.Latched},
		{"reset", func() error { return w.Reset("pressure") }, ""},
	}
	for _, step := range steps {
		if err := step.do(); err != nil {
			t.Errorf("%s: %v", step.what, err)
		}
		if got := state(&w); got != step.want {
			t.Fatalf("%s: %q, want %q", step.what, got, step.want)
		}
	}
}

// After the last rib a box that cools has had its heat turned off, unless it may
// be dry.
func TestCoolingAtTheEndIsNoAlarm(t *testing.T) {
	s := hot()
	s.Bent.ToGo = 0
	cases[alert.SteamLost](&s)
	var w alert.Watch
	if a := up(&w, 0, 100, s); len(a) != 0 {
		t.Errorf("%+v", a)
	}
	s.Water.DryLoS = nil
	if a := up(&w, 100, 100, s); len(a) != 1 || a[0].ID != alert.SteamLost {
		t.Errorf("with the water unknown: %+v", a)
	}
}

// A door open for some seconds at low water is not a dry boiler.
func TestDoorAtLowWater(t *testing.T) {
	s := hot()
	s.Water.Switch, s.QuietS = "open", 5
	s.FellK = [2]float64{6, 6}
	var w alert.Watch
	for _, a := range up(&w, 0, 50, s) {
		if a.ID == alert.BoilerDry {
			t.Errorf("a door dip at low water: %+v", a)
		}
	}
	s.QuietS = 100
	up(&w, 50, 3, s)
	s.FellK = [2]float64{}
	for _, a := range up(&w, 53, 60, s) {
		if a.ID == alert.BoilerDry {
			t.Errorf("three seconds of it: %+v", a)
		}
	}
}

// A kettle that was told on counts, from when it was put on until it must be taken for
// forgotten: with 400 s from kettle to poured, for 580 s.
func TestKettleOnItsWay(t *testing.T) {
	for _, row := range []struct {
		onS, dryS float64 // the kettle, 0: it is not on; until dry
		dryNow    bool
	}{
		{0, 390, true}, {1, 390, true}, {100, 290, true}, {100, 310, false}, {395, 95, false}, {395, 85, true},
		{579, 200, false}, {581, 200, true},
	} {
		s := hot()
		s.Water.DryLoS = &row.dryS
		if row.onS > 0 {
			s.Water.KettleS = &row.onS
		}
		var w alert.Watch
		if a := up(&w, 0, 15, s); (a[0].ID == alert.DryNow) != row.dryNow {
			t.Errorf("kettle on for %g s, %g s until dry: %s", row.onS, row.dryS, a[0].ID)
		}
	}
}

// The strongest of the water's alarms speaks for the weaker.
func TestWaterSpeaksOnce(t *testing.T) {
	s := hot()
	s.Water.Switch, s.Water.DryLoS = "open", ptr(100)
	var w alert.Watch
	if a := up(&w, 0, 60, s); len(a) != 1 || a[0].ID != alert.DryNow {
		t.Errorf("%+v", a)
	}
}

// All sensors unplugged at once: no more than three alarms.
func TestAllUnplugged(t *testing.T) {
	s := hot()
	s.Probes[0] = steambox.ProbeAt{Name: "steam", Fault: "absent"}
	s.Probes[1] = steambox.ProbeAt{Name: "door", Fault: "absent"}
	s.Water.Switch, s.Phase = "open", steambox.NoProbes
	var w alert.Watch
	if a := up(&w, 0, 300, s); len(a) > 3 {
		t.Errorf("%d alarms: %+v", len(a), a)
	}
}

func TestRestoreGoesOn(t *testing.T) {
	s := hot()
	cases[alert.DryNow](&s)
	var w, again alert.Watch
	up(&w, 0, 30, s)
	if err := w.Heard(30*time.Second, "dry-now"); err != nil {
		t.Fatal(err)
	}
	b, err := w.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Restore(b); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(up(&w, 31, 400, s), up(&again, 31, 400, s)); d != "" {
		t.Error(d)
	}
	if err := again.Restore(b[:5]); err == nil {
		t.Error("a torn snapshot accepted")
	}
}

func pullIn(s float64) steambox.Status {
	st := hot()
	st.Calls = []steambox.Call{{Do: steambox.PullCall, Rib: "7", Slot: "C", InS: new(s), GoodS: ptr(90)}}
	return st
}

func TestSounder(t *testing.T) {
	var s alert.Sounder
	now := time.Duration(0)
	next := func(st steambox.Status, alarms ...alert.Alarm) alert.Sound {
		now += time.Second
		return s.Next(now, &st, alarms)
	}
	kettle := alert.Alarm{ID: alert.DrySoon, Sound: alert.Kettle, State: alert.Raised, Count: 1}
	danger := alert.Alarm{ID: alert.Pressure, Sound: alert.Danger, State: alert.Raised, Count: 1}
	for _, step := range []struct {
		what   string
		st     steambox.Status
		alarms []alert.Alarm
		want   alert.Sound
	}{
		{"a long way off", pullIn(60), nil, alert.Silent},
		{"soon", pullIn(14), nil, alert.ReadySoon},
		{"soon only once", pullIn(13), nil, alert.Silent},
		{"the kettle waits for a pull", pullIn(8), []alert.Alarm{kettle}, alert.Silent},
		{"pull", pullIn(0), nil, alert.Pull},
		{"pull only once: late is normal", pullIn(0), nil, alert.Silent},
		{"the kettle between two pulls", pullIn(60), []alert.Alarm{kettle}, alert.Kettle},
		{"the kettle not at once again", pullIn(58), []alert.Alarm{kettle}, alert.Silent},
		{"danger before all", pullIn(0), []alert.Alarm{kettle, danger}, alert.Danger},
		{"no call to the door under pressure", pullIn(0), []alert.Alarm{danger}, alert.Silent},
	} {
		if got := next(step.st, step.alarms...); got != step.want {
			t.Errorf("%s: %q, want %q", step.what, got, step.want)
		}
	}
	now += 5 * time.Second
	if got := next(pullIn(60), danger); got != alert.Danger {
		t.Errorf("danger is not repeated: %q", got)
	}
	danger.State = alert.HeardBy
	now += 10 * time.Second
	if got := next(pullIn(60), danger); got == alert.Danger {
		t.Error("danger goes on though it was heard")
	}
}

// What can wait is said once and not each minute.
func TestLowSoundsOnce(t *testing.T) {
	for priority, want := range map[alert.Priority]int{alert.Low: 1, alert.Medium: 3} {
		var s alert.Sounder
		st, sounds := hot(), 0
		up := []alert.Alarm{{ID: alert.SlowWarmUp, Priority: priority, Sound: alert.Look, State: alert.Raised, Count: 1}}
		for at := time.Duration(0); at < 150*time.Second; at += time.Second {
			if s.Next(at, &st, up) == alert.Look {
				sounds++
			}
		}
		if sounds != want {
			t.Errorf("%s: %d times in 150 s, want %d", priority, sounds, want)
		}
	}
}

// pin records when it was switched.
type pin struct {
	start time.Time
	edges []time.Duration
	on    bool
}

func (p *pin) Set(on bool) error {
	if on != p.on {
		p.edges = append(p.edges, time.Since(p.start))
		p.on = on
	}
	return nil
}

func record(t *testing.T, play func(b *alert.Buzzer)) []time.Duration {
	var p *pin
	synctest.Test(t, func(t *testing.T) {
		p = &pin{start: time.Now()}
		ctx, cancel := context.WithCancel(context.Background())
		b := alert.NewBuzzer(p, nil)
		done := make(chan struct{})
		go func() { b.Run(ctx); close(done) }()
		play(b)
		time.Sleep(20 * time.Second)
		cancel()
		<-done
		if p.on {
			t.Error("left on")
		}
	})
	return p.edges
}

func millis(ms ...int) []time.Duration {
	out := make([]time.Duration, len(ms))
	for i, m := range ms {
		out[i] = time.Duration(m) * time.Millisecond
	}
	return out
}

// The four sounds on a recorded pin, to the millisecond.
func TestSoundsOnThePin(t *testing.T) {
	for sound, want := range map[alert.Sound][]time.Duration{
		alert.ReadySoon: millis(0, 120),
		alert.Pull:      millis(0, 200, 320, 520),
		alert.Kettle:    millis(0, 300, 600, 900, 1200, 1500),
		alert.Danger: millis(0, 150, 250, 400, 500, 650, 750, 900, 1000, 1150,
			1550, 1700, 1800, 1950, 2050, 2200, 2300, 2450, 2550, 2700),
	} {
		got := record(t, func(b *alert.Buzzer) { b.Play(sound) })
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s: %s", sound, d)
		}
	}
}

func TestDangerBreaksOff(t *testing.T) {
	got := record(t, func(b *alert.Buzzer) {
		b.Play(alert.Kettle)
		time.Sleep(100 * time.Millisecond)
		b.Play(alert.Danger)
	})
	if len(got) != 22 || got[1] != 100*time.Millisecond || got[2] != got[1] {
		t.Errorf("%v", got)
	}
}

// Sounds that come too fast are merged: the last one plays, danger never goes lost.
func TestLateSoundsMerge(t *testing.T) {
	got := record(t, func(b *alert.Buzzer) {
		b.Play(alert.Danger)
		time.Sleep(10 * time.Millisecond)
		for range 5 {
			b.Play(alert.Pull)
		}
	})
	if len(got) != 24 {
		t.Errorf("%d edges: one danger and one pull make 24", len(got))
	}
}

// Each round of a dry run is called once, and a dry run that is begun again anew.
func TestSounderCallsTheRounds(t *testing.T) {
	var s alert.Sounder
	at := time.Duration(0)
	for _, row := range []struct {
		dry  *steambox.DryNow
		want alert.Sound
	}{
		{nil, alert.Silent},
		{&steambox.DryNow{On: true, SinceS: -3}, alert.Silent},
		{&steambox.DryNow{On: true, SinceS: 0}, alert.Pull},
		{&steambox.DryNow{On: true, SinceS: 40}, alert.Silent},
		{&steambox.DryNow{On: true, SinceS: -5, Rounds: 1}, alert.Silent},
		{&steambox.DryNow{On: true, SinceS: 1, Rounds: 1}, alert.Pull},
		{&steambox.DryNow{Rounds: 1}, alert.Silent},
		{&steambox.DryNow{On: true, SinceS: 1, Rounds: 1}, alert.Pull},
	} {
		st := steambox.Status{Dry: row.dry}
		if row.dry != nil && row.dry.On {
			st.Calls = []steambox.Call{{Do: steambox.DryCall}}
		}
		at += time.Second
		if got := s.Next(at, &st, nil); got != row.want {
			t.Errorf("%+v: %q, want %q", row.dry, got, row.want)
		}
	}
}
