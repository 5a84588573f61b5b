package daemon

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"time"

	"withy/cmd/withy/internal/record"
	"withy/steambox"
)

// resumeWithin is how long ago a session may have been left to be gone on with.
const resumeWithin = 12 * time.Hour

// begin goes on with the unfinished session, or begins one.
func (d *Daemon) begin() error {
	var left *record.Resume
	if d.Record != nil {
		var err error
		if left, err = d.Record.Unfinished(); err != nil {
			d.trouble("The last session can't be read; a new one was begun.", err)
		}
	}
	if left != nil {
		err := d.resume(left)
		if err == nil {
			return d.reconfigure()
		}
		d.trouble("The last session can't be gone on with; a new one was begun.", err)
	}
	return d.fresh()
}

// fresh begins a session now. It waits for the record: the watch has not begun.
func (d *Daemon) fresh() error { return d.freshBy(d.keep, d.earlier(), nil) }

// freshBy does so, with the way to keep its beginning, what was learnt before, and what it
// takes over from the session before.
func (d *Daemon) freshBy(keep func(write func() error) error, earlier []steambox.Earlier, after *steambox.After) error {
	d.Box.Earlier, d.Box.After = earlier, after
	fold, err := NewFold(d.Box)
	if err != nil {
		return err
	}
	d.fold, d.origin, d.shot, d.id = fold, d.Source.Now(), 0, ""
	box, clock, wall := d.Box, d.clock(), d.Wall()
	_ = keep(func() error {
		_, err := d.Record.Begin(box, clock, wall)
		return err
	})
	return nil
}

// earlier is what the last session on record learnt of its sticks.
func (d *Daemon) earlier() []steambox.Earlier {
	if d.Record == nil || !d.Box.Learn {
		return nil
	}
	last, err := d.Record.Previous()
	if err != nil || last == nil || len(last.Snapshots) == 0 {
		return nil
	}
	fold, err := NewFold(last.Box)
	if err != nil || fold.Restore(last.Snapshots[0].State) != nil {
		return nil // written by another version: nothing depends on it
	}
	return d.learnt(fold.Session)
}

// learnt is what a session in this box learnt of its sticks, if it was of the same kind of
// wood, and no rehearsal unless this is one.
func (d *Daemon) learnt(last *steambox.Session) []steambox.Earlier {
	was := last.Begun()
	if !d.Box.Learn || was.Rehearsal != d.Box.Rehearsal || was.Wood.Material != d.Box.Wood.Material || was.Dryness != d.Box.Dryness {
		return nil
	}
	learnt := last.EarlierOf()
	for _, e := range was.Earlier { // of kinds that nothing was learnt of since
		if !slices.ContainsFunc(learnt, func(l steambox.Earlier) bool { return l.ThicknessM == e.ThicknessM && l.Bend == e.Bend }) {
			learnt = append(learnt, e)
		}
	}
	return learnt
}

// resume folds what is on record of a session and takes up its clock: the same
// boot's goes on by itself, after another one the wall clock says how long nobody
// watched, if it is known to be right and was then. One that was left long ago is not gone
// on with, unless it may not have been and ribs were in the box.
func (d *Daemon) resume(left *record.Resume) error {
	fold, err := FoldRecord(d.Record, left)
	if err != nil {
		return err
	}
	away := d.Wall().Sub(left.Wall)
	same := left.Clock.Boot == d.Source.Boot()
	told := away >= 0 && d.Timed() && !left.Wall.Before(noClock)
	known := told && !left.Clock.Undated
	if !same && told && away > resumeWithin && (known || fold.Session.Empty()) {
		return fmt.Errorf("it was left %v ago by the clock", away.Round(time.Second))
	}
	d.fold, d.id, d.shot = fold, left.ID, fold.Session.Elapsed()
	d.origin = left.Clock.Origin
	if same {
		d.undated = left.Clock.Undated
	} else {
		if !known {
			away = unknownAway
			if !left.Clock.Undated {
				d.off = off{since: left.Wall, taken: away, at: d.Source.Now()}
			}
			d.trouble(offUnknown, errors.New("the wall clock is not known to be right"))
		}
		d.origin = d.Source.Now() - fold.Session.Elapsed() - away
		d.moved(d.keep)
	}
	d.Log.Info("session goes on", "session", left.ID, "elapsed_s", fold.Session.Elapsed().Seconds(), "away_s", away.Seconds(), "known", known || same)
	return nil
}

// FoldRecord folds a session from its newest snapshot that can be read, or from
// its beginning.
func FoldRecord(r *record.Record, left *record.Resume) (*Fold, error) {
	fold, err := NewFold(left.Box)
	if err != nil {
		return nil, err
	}
	after := int64(0)
	for _, shot := range left.Snapshots {
		if err := fold.Restore(shot.State); err == nil {
			after = shot.Seq
			break
		}
		if fold, err = NewFold(left.Box); err != nil {
			return nil, err
		}
	}
	for e, err := range r.Entries(left.ID, after) {
		if err != nil {
			return nil, err
		}
		past := func() ([]steambox.Entry, error) { return entriesUntil(r, left.ID, e.Seq-1) }
		if err := fold.enter(e, past); err != nil {
			return nil, err
		}
	}
	return fold, nil
}

// FoldAll folds a session from its first entry, whatever snapshots there are.
func FoldAll(b steambox.Box, entries iter.Seq2[record.Entry, error]) (*Fold, error) {
	return Follow(b, entries, func(*Fold, record.Entry) {})
}

// Follow is FoldAll with a look at the fold after each entry, which must not change it.
func Follow(b steambox.Box, entries iter.Seq2[record.Entry, error], look func(*Fold, record.Entry)) (*Fold, error) {
	var past []steambox.Entry
	all := func(int64) ([]steambox.Entry, error) { return past, nil }
	return follow(b, entries, all, func(f *Fold, e record.Entry) {
		past = append(past, entriesOf(e)...)
		look(f, e)
	})
}

// FollowRecord is Follow for a session on record. It keeps no sample, and reads the
// session again for each correction in it. It ends with ctx, and then that is the error.
func FollowRecord(ctx context.Context, r *record.Record, s record.Session, look func(*Fold, record.Entry)) (*Fold, error) {
	past := func(before int64) ([]steambox.Entry, error) { return entriesUntil(r, s.ID, before-1) }
	return follow(s.Box, until(ctx, r.Entries(s.ID, 0)), past, look)
}

// until is entries for as long as ctx lasts.
func until(ctx context.Context, entries iter.Seq2[record.Entry, error]) iter.Seq2[record.Entry, error] {
	return func(yield func(record.Entry, error) bool) {
		for e, err := range entries {
			if err == nil {
				err = ctx.Err()
			}
			if !yield(e, err) || err != nil {
				return
			}
		}
	}
}

// follow folds entries; past returns what came before the one with a sequence number.
func follow(b steambox.Box, entries iter.Seq2[record.Entry, error], past func(before int64) ([]steambox.Entry, error),
	look func(*Fold, record.Entry),
) (*Fold, error) {
	fold, err := NewFold(b)
	if err != nil {
		return nil, err
	}
	for e, err := range entries {
		if err != nil {
			return nil, err
		}
		if err := fold.enter(e, func() ([]steambox.Entry, error) { return past(e.Seq) }); err != nil {
			return nil, err
		}
		look(fold, e)
	}
	return fold, nil
}

// enter folds one entry of a record; past gives all of the session before it, and is
// asked only for a correction. An event that is refused now was refused then; it
// can't be on record, and if it is it changes nothing.
func (f *Fold) enter(e record.Entry, past func() ([]steambox.Entry, error)) error {
	switch {
	case e.Sample != nil:
		f.Sample(e.At, *e.Sample)
	case e.Event != nil && e.Event.Corrects():
		all, err := past()
		if err != nil {
			return err
		}
		if s, err := steambox.Refold(f.Session.Begun(), all, e.At, *e.Event); err == nil && s.Do(e.At, *e.Event) == nil {
			f.Session = s
		}
	case e.Event != nil:
		_ = f.Do(e.At, *e.Event)
	}
	return nil
}

// finish ends a session whose box has gone cold and begins the next: the watch goes on, and
// waits for no card.
func (d *Daemon) finish(at time.Duration) {
	_ = d.keepSoon(d.snapshot()) // what its bends taught is read from there when it is the last
	wall := d.Wall()
	_ = d.keepSoon(func() error { return d.Record.Finish(at, wall) })
	if err := d.freshBy(d.keepSoon, d.learnt(d.fold.Session), nil); err != nil {
		panic("daemon: a box that was good is not any more: " + err.Error())
	}
}
