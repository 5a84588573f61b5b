package daemon

import (
	"context"
	"slices"

	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// anew is what is begun with after all was erased.
type anew struct {
	box   steambox.Box
	units measure.Units
}

// Erase deletes every session on record, that one too which goes on, and begins anew
// with a box. While something is hot, or a rib in the box, the watch is worth more: then
// the error is a *steambox.RefusedError.
func (d *Daemon) Erase(ctx context.Context, box steambox.Box, units measure.Units) error {
	return d.ask(ctx, command{anew: &anew{box, units}})
}

// erase does so. A record that can't be erased is left whole, and so is the session.
func (d *Daemon) erase(a anew) error {
	s := d.fold.Session.Status()
	hot := slices.Contains([]steambox.Phase{steambox.Warming, steambox.Ready, steambox.Running, steambox.Cooling}, s.Phase)
	if hot || slices.ContainsFunc(s.Ribs, func(r steambox.RibNow) bool { return r.Place == steambox.InBox }) {
		return &steambox.RefusedError{Why: words.EraseLater}
	}
	if d.correcting != nil {
		return errBusy
	}
	if d.Record != nil {
		if err := d.Record.Erase(); err != nil {
			return err
		}
	}
	d.Box, d.Units = a.box, a.units
	d.pressed, d.floats = pressed{}, nil
	if err := d.fresh(); err != nil {
		return err
	}
	d.Log.Info("all sessions erased")
	d.publish()
	return nil
}
