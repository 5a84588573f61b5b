package daemon

import (
	"errors"
	"time"

	"withy/cmd/withy/internal/record"
	"withy/steambox"
)

// correction is one on its way: the session is folded again on a copy while the
// watch goes on with the one that there is.
type correction struct {
	command
	at      time.Duration
	session string
	since   []steambox.Entry // what came after the copy was begun
}

// corrected is a copy that has been folded.
type corrected struct {
	session *steambox.Session
	err     error
}

var errBusy = &steambox.RefusedError{Why: "Something else is being put right or erased just now: tell it again in a moment."}

// correct begins to fold the session again with a correction in it, and answers
// once it counts.
func (d *Daemon) correct(c command) {
	if err := d.fold.Check(c.event); err != nil || d.fold.Session.Knows(c.event.ID) {
		c.done <- err
		return
	}
	if d.busy() {
		c.done <- errBusy
		return
	}
	if d.full() {
		c.done <- errFull
		return
	}
	if d.Record == nil {
		c.done <- &steambox.RefusedError{Why: "No record is kept, so nothing can be put right afterwards."}
		return
	}
	through := int64(0)
	flushed := d.writer.hand(func() (err error) {
		through, err = d.Record.Flush()
		return err
	})
	at, id, box := d.elapsed(), d.id, d.fold.Session.Begun()
	d.correcting = &correction{command: c, at: at, session: id}
	go func() {
		if !flushed.within(hangs) || flushed.err != nil {
			d.copies <- corrected{err: &steambox.RefusedError{Why: "The record can't be written just now, so nothing can be put right."}}
			return
		}
		past, err := entriesUntil(d.Record, id, through)
		if err != nil {
			d.copies <- corrected{err: err}
			return
		}
		session, err := steambox.Refold(box, past, at, c.event)
		d.copies <- corrected{session, err}
	}()
}

// entriesUntil returns what is on record of a session up to the entry with sequence
// number through.
func entriesUntil(r *record.Record, id string, through int64) ([]steambox.Entry, error) {
	var past []steambox.Entry
	for e, err := range r.Entries(id, 0) {
		if err != nil {
			return nil, err
		}
		if e.Seq > through {
			break
		}
		past = append(past, entriesOf(e)...)
	}
	return past, nil
}

// entriesOf returns what is to be folded of an entry on record, which is nothing
// for a clock.
func entriesOf(e record.Entry) []steambox.Entry {
	if e.Sample == nil && e.Event == nil {
		return nil
	}
	return []steambox.Entry{{At: e.At, Sample: e.Sample, Event: e.Event}}
}

// note keeps what a copy that is being folded has yet to learn.
func (d *Daemon) note(e steambox.Entry) {
	if d.correcting != nil {
		d.correcting.since = append(d.correcting.since, e)
	}
}

// swap lets the session be the copy, once that has caught up and the correction is
// on record.
func (d *Daemon) swap(made corrected) {
	c := d.correcting
	d.correcting = nil
	err := d.take(c, made)
	if err == nil || errors.Is(err, ErrNotKept) {
		d.told(c.event)
		d.publish()
	}
	d.reply(c.command, err)
}

func (d *Daemon) take(c *correction, made corrected) error {
	if made.err != nil {
		return made.err
	}
	if c.session != d.id {
		return &steambox.RefusedError{Why: "That log is closed."}
	}
	for _, e := range c.since {
		if err := made.session.Enter(e); err != nil {
			return err
		}
	}
	at := d.elapsed()
	e := c.event.Told(c.at, at)
	if err := made.session.Do(at, e); err != nil {
		return err
	}
	kept := d.keepEvent(at, e)
	d.fold.Session = made.session
	return kept
}
