package daemon

import (
	"context"
	"errors"
	"slices"

	"withy/cmd/withy/internal/record"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// anew is what is begun with after all was erased.
type anew struct {
	box   steambox.Box
	units measure.Units
}

// erased is how the record was erased, for who asked for it.
type erased struct {
	command
	err error
}

// Erase deletes every session on record, that one too which goes on, and begins anew
// with a box. While something is hot, or a rib in the box, the watch is worth more: then
// the error is a *steambox.RefusedError. After one that wraps record.ErrRemains it has been
// begun anew too.
func (d *Daemon) Erase(ctx context.Context, box steambox.Box, units measure.Units) error {
	return d.ask(ctx, command{anew: &anew{box, units}})
}

// erase begins to do so, beside the watch: with many sessions it takes long. Until that is
// done nothing is kept, and nothing can be told.
func (d *Daemon) erase(c command) {
	s := d.fold.Session.Status()
	hot := slices.Contains([]steambox.Phase{steambox.Warming, steambox.Ready, steambox.Running, steambox.Cooling}, s.Phase)
	switch {
	case hot || slices.ContainsFunc(s.Ribs, func(r steambox.RibNow) bool { return r.Place == steambox.InBox }):
		c.done <- &steambox.RefusedError{Why: words.EraseLater}
	case d.busy():
		c.done <- errBusy
	case d.Record == nil:
		d.beginAnew(erased{command: c})
	default:
		d.erasing = true
		j := d.writer.hand(d.Record.Erase)
		go func() {
			<-j.done
			d.erasures <- erased{c, j.err}
		}()
	}
}

// busy reports whether something is under way that the session must be the same for.
func (d *Daemon) busy() bool { return d.correcting != nil || d.erasing }

// beginAnew begins the session after all was erased. A record that can't be erased is left
// whole, and so is the session.
func (d *Daemon) beginAnew(e erased) {
	d.erasing = false
	if e.err != nil && !errors.Is(e.err, record.ErrRemains) {
		e.done <- e.err
		return
	}
	d.Box, d.Units = e.anew.box, e.anew.units
	d.pressed, d.floats = pressed{}, nil
	if err := d.freshBy(d.keepSoon, nil, nil); err != nil {
		e.done <- errors.Join(e.err, err)
		return
	}
	d.Log.Info("all sessions erased", "err", e.err)
	d.publish()
	e.done <- e.err
}
