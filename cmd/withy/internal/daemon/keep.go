package daemon

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"withy/steambox"
)

// notWritten is shown while the record can't be written.
const notWritten = "The log can't be written. What happens now waits in memory, and is lost if the power goes."

// keep writes to the record if there is one. A failure is a trouble that people
// are shown until a write goes well, and ErrNotKept for who may want to know; the
// watch goes on.
func (d *Daemon) keep(write func() error) error {
	if d.Record == nil {
		if d.lost = d.Unkept; d.lost {
			return ErrNotKept
		}
		return nil
	}
	if err := write(); err != nil {
		d.trouble(notWritten, err)
		d.lost = true
		return ErrNotKept
	}
	if d.lost {
		d.Log.Info("record", "written", "again")
		d.Troubles = slices.DeleteFunc(d.Troubles, func(t string) bool { return t == notWritten })
		d.lost = false
	}
	if d.id == "" { // it was begun while nothing could be written
		d.id = d.Record.ID()
	}
	return nil
}

// keepWaiting writes what could not be written before.
func (d *Daemon) keepWaiting() error {
	if !d.lost {
		return nil
	}
	return d.keep(func() error {
		_, err := d.Record.Flush()
		return err
	})
}

// keeping enters, at a time on the source's clock, that the record can't be written any
// more or can again: as an event, so that the alarm that comes of it is the same in
// replay.
func (d *Daemon) keeping(at time.Duration) {
	if d.lost == d.fold.Session.Unkept {
		return
	}
	e := steambox.Event{ID: fmt.Sprintf("keep-%s-%d", d.Source.Boot(), at), Kind: steambox.Keep, On: !d.lost, By: "log"}
	if err := d.enter(e); err != nil && !errors.Is(err, ErrNotKept) {
		d.Log.Warn("log", "event", "not taken", "err", err)
	}
}

// keepSnapshot puts the whole state on record.
func (d *Daemon) keepSnapshot() {
	d.shot = cmp.Or(d.fold.Session.Elapsed(), d.shot)
	_ = d.keep(func() error {
		b, err := d.fold.Snapshot()
		if err != nil {
			return err
		}
		return d.Record.Snapshot(d.fold.Session.Elapsed(), b)
	})
}
