package daemon

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"errors"
	"time"

	"withy/steambox"
)

// otherwise is shown while a session goes on in a box that is no more what the
// configuration says.
const otherwise = "The configuration has other probes or slots than the box in which ribs were told of; they count once this session is over."

// reconfigure has a session that goes on take what the configuration says by now: people
// edit the file and start the program again, before the first rib or with ribs in the
// box. A session of which nothing was told yet is ended and another one begun, since
// nothing is lost with it; so other probes can be named. Later the session takes what it
// can, and goes on as it was, with a word about it, where it can't.
func (d *Daemon) reconfigure() error {
	now, want := d.fold.Session.Box(), d.Box
	want.Earlier = now.Earlier // what was learnt before is not configured
	if alike(now, want) {
		return nil
	}
	if len(d.fold.Session.Told) == 0 {
		_ = d.keep(func() error { return d.Record.Finish(d.elapsed(), time.Now()) })
		return d.fresh()
	}
	err := d.enter(steambox.Event{ID: rand.Text(), Kind: steambox.Set, Box: &want, By: "file"})
	var refused *steambox.RefusedError
	switch {
	case errors.As(err, &refused):
		d.trouble(otherwise, err)
	case err != nil && !errors.Is(err, ErrNotKept):
		return err
	}
	return nil
}

// alike reports whether two boxes are the same on record.
func alike(a, b steambox.Box) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}
