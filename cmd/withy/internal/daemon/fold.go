// Package daemon is the loop: sweep, record, fold, publish, sound. One goroutine
// owns the session; everybody else reads what it publishes.
package daemon

import (
	"bytes"
	"encoding/gob"
	"errors"
	"fmt"
	"time"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/words"
)

// Fold is a session with its alarms: what a record's samples and events come to,
// live, after a restart and in replay alike. It belongs to one goroutine.
type Fold struct {
	Session *steambox.Session
	Alarms  alert.Watch
	Signals steambox.Status // that the alarms went by last
}

// NewFold returns the fold of nothing yet.
func NewFold(b steambox.Box) (*Fold, error) {
	s, err := steambox.NewSession(b)
	if err != nil {
		return nil, err
	}
	return &Fold{Session: s}, nil
}

// Sample enters one sample.
func (f *Fold) Sample(at time.Duration, m steambox.Sample) {
	f.Session.Sample(at, m)
	f.Signals = f.Session.Signals()
	f.Alarms.Eval(at, &f.Signals)
}

// Do enters what the crew did; a refusal, a *steambox.RefusedError, changes
// nothing.
func (f *Fold) Do(at time.Duration, e steambox.Event) error {
	if err := f.Check(e); err != nil {
		return err
	}
	if f.Session.Knows(e.ID) {
		return nil
	}
	if err := f.Session.Do(at, e); err != nil {
		return err
	}
	switch e.Kind {
	case steambox.Heard:
		return f.Alarms.Heard(at, e.Alarm)
	case steambox.Reset:
		return f.Alarms.Reset(e.Alarm)
	case steambox.Remind:
		return f.Alarms.PutOff(at, e.Alarm, minutes(e))
	}
	return nil
}

// Check returns what Do would refuse an event for, without doing it.
func (f *Fold) Check(e steambox.Event) error {
	if err := f.Session.Check(e); err != nil {
		return err
	}
	var err error
	switch e.Kind {
	case steambox.Heard:
		err = f.Alarms.MayHear(e.Alarm)
	case steambox.Reset:
		err = f.Alarms.MayReset(e.Alarm)
	case steambox.Remind:
		err = f.Alarms.MayPutOff(e.Alarm, minutes(e))
	}
	var off *alert.OffError
	switch {
	case errors.Is(err, alert.ErrNoAlarm):
		return &steambox.RefusedError{Why: "That alarm is not up any more."}
	case errors.Is(err, alert.ErrStillSo):
		return &steambox.RefusedError{Why: "Its cause is still there."}
	case errors.As(err, &off):
		return &steambox.RefusedError{Why: words.NotOff(off.Most)}
	}
	return err
}

// minutes is for how long an event puts an alarm off.
func minutes(e steambox.Event) time.Duration {
	return time.Duration(e.Minutes * float64(time.Minute))
}

// snapshot is a fold's whole state.
type snapshot struct{ Session, Alarms []byte }

// Snapshot returns the whole state, for Restore.
func (f *Fold) Snapshot() ([]byte, error) {
	session, err1 := f.Session.Snapshot()
	alarms, err2 := f.Alarms.Snapshot()
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(snapshot{session, alarms}); err != nil {
		return nil, fmt.Errorf("snapshot: %w", err)
	}
	return b.Bytes(), nil
}

// Restore puts a fold of the same box back to where Snapshot was taken.
func (f *Fold) Restore(b []byte) error {
	var s snapshot
	if err := gob.NewDecoder(bytes.NewReader(b)).Decode(&s); err != nil {
		return fmt.Errorf("snapshot: %w", err)
	}
	return errors.Join(f.Session.Restore(s.Session), f.Alarms.Restore(s.Alarms))
}
