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
	lives map[string]*life
	first string // key of the alarm that began the present upset
}

// life is one alarm's state.
type life struct {
	ID      ID
	On      string
	State   State // "" is normal
	So      bool  // the condition, with its deadband
	Changed time.Duration
	Since   time.Duration
	HeardAt time.Duration
	Count   int
}

// realarm is how long a high alarm that was heard may stay so before it is raised
// again.
const realarm = 5 * time.Minute

// Eval looks at the status of elapsed time at.
func (w *Watch) Eval(at time.Duration, s *steambox.Status) {
	if w.lives == nil {
		w.lives = map[string]*life{}
	}
	for _, r := range Rules {
		on := []string{""}
		if r.Of != nil {
			on = r.Of(s)
		}
		for _, o := range on {
			w.look(at, s, r, o)
		}
		w.orphans(at, r, on)
	}
	if !slices.ContainsFunc(w.all(), func(l *life) bool { return l.State != "" }) {
		w.first = ""
	}
}

// look brings one alarm up to the status.
func (w *Watch) look(at time.Duration, s *steambox.Status, r Rule, on string) {
	l := w.lives[key(r.ID, on)]
	so := r.When(s, on, l != nil && l.So) && !w.hidden(r)
	if l == nil {
		if !so {
			return
		}
		l = &life{ID: r.ID, On: on}
		w.lives[key(r.ID, on)] = l
	}
	w.step(at, r, l, so)
}

// orphans clears the alarms of a rule on things that are gone, such as a rib that
// has been pulled.
func (w *Watch) orphans(at time.Duration, r Rule, on []string) {
	for _, l := range w.lives {
		if l.ID == r.ID && !slices.Contains(on, l.On) {
			w.step(at, r, l, false)
			if l.State == Cleared {
				l.State = ""
			}
		}
	}
}

// hidden reports whether a stronger alarm speaks for this one.
func (w *Watch) hidden(r Rule) bool {
	for _, l := range w.lives {
		if slices.Contains(r.HiddenBy, l.ID) && (l.State == Raised || l.State == HeardBy) {
			return true
		}
	}
	return false
}

// step enters whether an alarm's condition is so, and moves it on once that has
// been so for its delay.
func (w *Watch) step(at time.Duration, r Rule, l *life, so bool) {
	if so != l.So {
		l.So, l.Changed = so, at
	}
	lasted := at - l.Changed
	switch {
	case so && lasted >= r.OnDelay:
		w.raise(at, r, l)
	case !so && lasted >= r.OffDelay:
		l.clear(r)
	}
}

func (w *Watch) raise(at time.Duration, r Rule, l *life) {
	again := l.State == HeardBy && r.Priority == High && at-l.HeardAt >= realarm
	if l.State == Raised || l.State == HeardBy && !again {
		return
	}
	if l.State == "" {
		l.Since = at
	}
	l.State = Raised
	l.Count++
	if w.first == "" {
		w.first = key(l.ID, l.On)
	}
}

// clear moves an alarm whose condition has gone.
func (l *life) clear(r Rule) {
	switch l.State {
	case Raised:
		l.State = Cleared
	case HeardBy:
		l.State = ""
		if r.Latching {
			l.State = Latched
		}
	}
}

// ErrNoAlarm says that no such alarm is up.
var ErrNoAlarm = errors.New("no such alarm is up")

// ErrStillSo says that a latched alarm can't be reset while its cause is there.
var ErrStillSo = errors.New("its cause is still there")

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

// Heard enters that somebody heard an alarm, named by Alarm.Key. Heard twice is
// heard once.
func (w *Watch) Heard(at time.Duration, name string) error {
	l, r, err := w.find(name)
	if err != nil {
		return err
	}
	switch l.State {
	case Raised:
		l.State, l.HeardAt = HeardBy, at
	case Cleared:
		l.State = ""
		if r.Latching {
			l.State = Latched
		}
	}
	return nil
}

// Reset ends a latched alarm.
func (w *Watch) Reset(name string) error {
	if err := w.MayReset(name); err != nil {
		return err
	}
	if l := w.lives[name]; l.State == Latched {
		l.State = ""
	}
	return nil
}

func (w *Watch) find(name string) (*life, Rule, error) {
	l := w.lives[name]
	if l == nil || l.State == "" {
		return nil, Rule{}, fmt.Errorf("%s: %w", name, ErrNoAlarm)
	}
	return l, rule(l.ID), nil
}

// rule returns the rule of an alarm that is in the catalogue.
func rule(id ID) Rule {
	i := slices.IndexFunc(Rules, func(r Rule) bool { return r.ID == id })
	if i < 0 {
		panic("alert: no rule " + string(id))
	}
	return Rules[i]
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
		if l.State == "" {
			continue
		}
		r := rule(l.ID)
		out = append(out, Alarm{
			ID: l.ID, On: l.On, Title: r.Title, Priority: r.Priority, State: l.State, Sound: r.Sound,
			SinceS: l.Since.Seconds(), Consequence: r.Consequence, Do: r.Do(s.BoilerKind), Latching: r.Latching,
			FirstOut: key(l.ID, l.On) == w.first, Count: l.Count,
		})
	}
	return out
}

// Held reports that a latching alarm is not normal: somebody must still hear or
// reset it.
func (w *Watch) Held() bool {
	return slices.ContainsFunc(w.all(), func(l *life) bool { return l.State != "" && rule(l.ID).Latching })
}

// saved is a Watch's whole state.
type saved struct {
	Lives []life
	First string
}

// Snapshot returns the whole state, for Restore.
func (w *Watch) Snapshot() ([]byte, error) {
	s := saved{First: w.first}
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
	w.lives, w.first = map[string]*life{}, s.First
	for _, l := range s.Lives {
		if slices.ContainsFunc(Rules, func(r Rule) bool { return r.ID == l.ID }) {
			w.lives[key(l.ID, l.On)] = &l
		}
	}
	return nil
}
