package alert

import (
	"bytes"
	"encoding/gob"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"withy/steambox"
)

// Watch is the life of every alarm of one session, on the session's own clock,
// which no one can set. Like the session it is a fold: the same statuses give the
// same alarms. The zero value is ready. It belongs to one goroutine.
type Watch struct {
	lives  map[string]*life
	recent []time.Duration // when alarms were raised, in the last floodOver
	flood  bool
}

// life is one alarm's state.
type life struct {
	ID      ID
	On      string
	State   State
	So      bool // the condition, with its deadband
	Changed time.Duration
	Up      bool // the condition with its delays
	Since   time.Duration
	HeardAt time.Duration
	OffTill time.Duration
	Count   int
	First   bool // of its group, in the present upset
}

// realarm is how long a high alarm that was heard may stay so before it is raised
// again.
const realarm = 5 * time.Minute

// A flood begins with more than floodFrom alarms raised within floodOver and ends with
// fewer than floodTo: ISA-18.2 as quoted in public texts.
const (
	floodOver = 10 * time.Minute
	floodFrom = 10
	floodTo   = 5
)

// Eval looks at the status of elapsed time at.
func (w *Watch) Eval(at time.Duration, s *steambox.Status) {
	if w.lives == nil {
		w.lives = map[string]*life{}
	}
	for i := range Rules {
		r := &Rules[i]
		on := []string{""}
		if r.Of != nil {
			on = r.Of(s)
		}
		for _, o := range on {
			w.look(at, s, r, o)
		}
		w.orphans(at, r, on)
	}
	w.settle(at)
}

// look brings one alarm up to the status.
func (w *Watch) look(at time.Duration, s *steambox.Status, r *Rule, on string) {
	l := w.lives[key(r.ID, on)]
	last := Subject{On: on}
	if l != nil && l.So {
		last.So, last.Band = true, r.Deadband.By
	}
	so := r.When(s, last)
	if l == nil {
		if !so {
			return
		}
		l = &life{ID: r.ID, On: on}
		w.lives[key(r.ID, on)] = l
	}
	l.delay(at, r, so)
	w.step(at, r, l)
}

// delay enters whether an alarm's condition is so; Up follows when that has lasted.
func (l *life) delay(at time.Duration, r *Rule, so bool) {
	if so != l.So {
		l.So, l.Changed = so, at
	}
	switch lasted := at - l.Changed; {
	case so && lasted >= r.OnDelay && !l.Up:
		l.Up, l.Since = true, at
	case !so && lasted >= r.OffDelay:
		l.Up = false
	}
}

// step moves an alarm on to where its condition and the clock lead.
func (w *Watch) step(at time.Duration, r *Rule, l *life) {
	if l.State == Off && at >= l.OffTill {
		w.move(at, r, l, timeUp)
	}
	if w.spokenFor(r) {
		w.move(at, r, l, hide)
		return
	}
	w.move(at, r, l, show)
	switch {
	case !l.Up:
		w.move(at, r, l, over)
	case l.So && l.State == HeardBy && r.Priority == High && at-l.HeardAt >= realarm:
		w.move(at, r, l, again)
	case l.So:
		w.move(at, r, l, raise)
	}
}

// move lets an input move an alarm, and notes what is raised by it.
func (w *Watch) move(at time.Duration, r *Rule, l *life, in input) {
	was := l.State
	l.State = next(was, in, r.Latching)
	if l.State != Raised || was == Raised {
		return
	}
	l.Count++
	w.recent = append(w.recent, at)
	l.First = !slices.ContainsFunc(Rules, func(o Rule) bool { return o.Group == r.Group && w.first(o.ID) })
}

// first reports whether one of a rule's alarms came first in the present upset.
func (w *Watch) first(id ID) bool {
	for _, l := range w.lives {
		if l.ID == id && l.First {
			return true
		}
	}
	return false
}

// orphans ends the alarms of a rule on things that are gone, such as a rib that has
// been pulled.
func (w *Watch) orphans(at time.Duration, r *Rule, on []string) {
	for _, l := range w.lives {
		if l.ID == r.ID && !slices.Contains(on, l.On) {
			l.So, l.Up, l.Changed = false, false, at
			w.move(at, r, l, gone)
		}
	}
}

// spokenFor reports whether a stronger alarm speaks for those of a rule.
func (w *Watch) spokenFor(r *Rule) bool {
	for _, l := range w.lives {
		if l.Up && slices.Contains(r.HiddenBy, l.ID) {
			return true
		}
	}
	return false
}

// settle forgets what came first in groups that are normal again, and sees whether
// there is a flood.
func (w *Watch) settle(at time.Duration) {
	for _, l := range w.lives {
		if l.First && !w.unsettled(rule(l.ID).Group) {
			l.First = false
		}
	}
	w.recent = slices.DeleteFunc(w.recent, func(raised time.Duration) bool { return at-raised > floodOver })
	switch {
	case len(w.recent) > floodFrom:
		w.flood = true
	case len(w.recent) < floodTo:
		w.flood = false
	}
}

// unsettled reports whether an alarm of a group is not normal.
func (w *Watch) unsettled(g Group) bool {
	for _, l := range w.lives {
		if (l.Up || l.State != normal && l.State != hidden) && rule(l.ID).Group == g {
			return true
		}
	}
	return false
}

// ErrNoAlarm says that no such alarm is up.
var ErrNoAlarm = errors.New("no such alarm is up")

// ErrStillSo says that a latched alarm can't be reset while its cause is there.
var ErrStillSo = errors.New("its cause is still there")

// OffError says that an alarm may not be put off for so long, or not at all.
type OffError struct{ Most time.Duration }

// Error says for how long it may be.
func (e *OffError) Error() string {
	if e.Most == 0 {
		return "this alarm can't be put off"
	}
	return fmt.Sprintf("this alarm can be put off for %.0f minutes at most", e.Most.Minutes())
}

// MayHear returns what Heard would refuse.
func (w *Watch) MayHear(name string) error {
	_, _, err := w.find(name)
	return err
}

// MayReset returns what Reset would refuse.
func (w *Watch) MayReset(name string) error {
	l, _, err := w.find(name)
	if err == nil && l.So {
		return fmt.Errorf("%s: %w", name, ErrStillSo)
	}
	return err
}

// MayPutOff returns what PutOff would refuse.
func (w *Watch) MayPutOff(name string, by time.Duration) error {
	_, r, err := w.find(name)
	if err == nil && by > r.MostOff {
		return fmt.Errorf("%s: %w", name, &OffError{r.MostOff})
	}
	return err
}

// Heard enters that somebody heard an alarm, named by Alarm.Key. Heard twice is
// heard once.
func (w *Watch) Heard(at time.Duration, name string) error {
	l, r, err := w.find(name)
	if err != nil {
		return err
	}
	if l.State == Raised {
		l.HeardAt = at
	}
	w.move(at, r, l, heard)
	return nil
}

// Reset ends a latched alarm.
func (w *Watch) Reset(name string) error {
	if err := w.MayReset(name); err != nil {
		return err
	}
	l, r, _ := w.find(name)
	w.move(l.Changed, r, l, reset)
	return nil
}

// PutOff silences an alarm until so much later; if it is so then, it is raised anew.
func (w *Watch) PutOff(at time.Duration, name string, by time.Duration) error {
	if err := w.MayPutOff(name, by); err != nil {
		return err
	}
	l, r, _ := w.find(name)
	l.OffTill = at + by
	w.move(at, r, l, putOff)
	return nil
}

func (w *Watch) find(name string) (*life, *Rule, error) {
	l := w.lives[name]
	if l == nil || l.State == normal || l.State == hidden {
		return nil, nil, fmt.Errorf("%s: %w", name, ErrNoAlarm)
	}
	return l, rule(l.ID), nil
}

// rule returns the rule of an alarm that is in the catalogue.
func rule(id ID) *Rule {
	i := slices.IndexFunc(Rules, func(r Rule) bool { return r.ID == id })
	if i < 0 {
		panic("alert: no rule " + string(id))
	}
	return &Rules[i]
}

// all returns the lives in a fixed order: as the rules are, then by what they are on.
func (w *Watch) all() []*life {
	out := make([]*life, 0, len(w.lives))
	for _, r := range Rules {
		from := len(out)
		for _, l := range w.lives {
			if l.ID == r.ID {
				out = append(out, l)
			}
		}
		slices.SortFunc(out[from:], func(a, b *life) int { return strings.Compare(a.On, b.On) })
	}
	return out
}

// Alarms returns the alarms that are not normal, the most urgent first.
func (w *Watch) Alarms(s *steambox.Status) []Alarm {
	out := []Alarm{}
	for _, l := range w.all() {
		if l.State != normal && l.State != hidden {
			out = append(out, w.alarm(l, s))
		}
	}
	return out
}

// alarm returns an alarm with what its rule says of it now.
func (w *Watch) alarm(l *life, s *steambox.Status) Alarm {
	r := rule(l.ID)
	a := Alarm{
		ID: l.ID, On: l.On, Title: r.Title, Priority: r.Priority, State: l.State, Sound: r.Sound,
		SinceS: l.Since.Seconds(), Cause: r.Cause, Consequence: r.Consequence, Do: r.Do(s.BoilerKind), WithinS: r.Within.Seconds(),
		Latching: r.Latching, MostOffMin: r.MostOff.Minutes(), FirstOut: l.First, Count: l.Count,
		Hushed: w.flood && r.Priority != High,
	}
	if i := slices.IndexFunc(r.Turns, func(t Turn) bool { return t.When(s, l.On) }); i >= 0 {
		t := r.Turns[i]
		a.Title, a.Cause, a.Consequence, a.Do = t.Title, t.Cause, t.Consequence, t.Do(s.BoilerKind)
	}
	if l.State == Off {
		a.OffTillS = l.OffTill.Seconds()
	}
	return a
}

// Held reports that a latching alarm is not normal: somebody must still hear or
// reset it.
func (w *Watch) Held() bool {
	return slices.ContainsFunc(w.all(), func(l *life) bool { return l.State != normal && rule(l.ID).Latching })
}

// saved is a Watch's whole state.
type saved struct {
	Lives  []life
	Recent []time.Duration
	Flood  bool
}

// Snapshot returns the whole state, for Restore.
func (w *Watch) Snapshot() ([]byte, error) {
	s := saved{Recent: w.recent, Flood: w.flood}
	for _, l := range w.all() {
		s.Lives = append(s.Lives, *l)
	}
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(s); err != nil {
		return nil, fmt.Errorf("alarms: %w", err)
	}
	return b.Bytes(), nil
}

// Restore puts the alarms back to where Snapshot was taken.
func (w *Watch) Restore(b []byte) error {
	var s saved
	if err := gob.NewDecoder(bytes.NewReader(b)).Decode(&s); err != nil {
		return fmt.Errorf("alarms: %w", err)
	}
	w.lives, w.recent, w.flood = map[string]*life{}, s.Recent, s.Flood
	for _, l := range s.Lives {
		if slices.ContainsFunc(Rules, func(r Rule) bool { return r.ID == l.ID }) {
			w.lives[key(l.ID, l.On)] = &l
		}
	}
	return nil
}
