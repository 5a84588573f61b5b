package daemon

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"errors"
	"slices"
	"time"

	"withy/steambox"
)

// otherwise is shown while a session goes on in a box that is no more what the
// configuration says.
const otherwise = "The configuration has other probes or slots than the box in which ribs were told of; they count once this session is over."

// reconfigure has a session that goes on take what the configuration says by now: people
// edit the file and start the program again, before the first rib or with ribs in the
// box. Where the session can't take it, as with more probes, it goes on as it was, with a
// word about it; but before its first rib it is ended and another one begun.
func (d *Daemon) reconfigure() error {
	now, want := d.fold.Session.Box(), d.Box
	want.Earlier, want.After = now.Earlier, now.After // what was so before is not configured
	if alike(now, want) {
		return nil
	}
	if len(d.fold.Session.Told) == 0 {
		return d.afresh()
	}
	err := d.enter(steambox.Event{ID: rand.Text(), Kind: steambox.Set, Box: &want, By: "file"})
	var refused *steambox.RefusedError
	switch {
	case errors.As(err, &refused) && !slices.ContainsFunc(d.fold.Session.Ribs, steamed):
		return d.afresh()
	case errors.As(err, &refused):
		d.trouble(otherwise, err)
	case err != nil && !errors.Is(err, ErrNotKept):
		return err
	}
	return nil
}

// steamed reports whether a rib has been in the box.
func steamed(r steambox.RibState) bool { return r.Place != steambox.Waiting }

// afresh ends the session and begins another one.
func (d *Daemon) afresh() error {
	_ = d.keep(func() error { return d.Record.Finish(d.elapsed(), time.Now()) })
	return d.fresh()
}

// alike reports whether two boxes are the same on record.
func alike(a, b steambox.Box) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}
