package daemon

import (
	"context"

	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/record"
	"withy/steambox/words"
)

// History returns what the sessions on record come to, rehearsals or the others. One
// that can't be read is there by its name, with why. It goes on from each session's newest
// snapshot, and ends with ctx, whose error it returns then.
func History(ctx context.Context, r *record.Record, rehearsals bool) (*history.History, error) {
	all, err := r.Sessions()
	if err != nil {
		return nil, err
	}
	var days []history.Day
	for _, s := range all {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if s.Rehearsal != rehearsals {
			continue
		}
		d, err := dayOf(r, s)
		if err != nil {
			d = history.Day{Session: s.ID, Began: s.Began, LastedS: s.Lasted.Seconds(), Box: s.Box, Boat: s.Boat, Rehearsal: s.Rehearsal, Finished: s.Finished,
				Ribs: []history.Rib{}, Why: words.NotRead}
		}
		days = append(days, d)
	}
	return history.New(days), nil
}

// History is History for the sessions that are like the one that goes on. The loop has no
// part in it. It wraps ErrNotKept where nothing is kept.
func (d *Daemon) History(ctx context.Context) (*history.History, error) {
	if d.Record == nil {
		return nil, ErrNotKept
	}
	return History(ctx, d.Record, d.View().Box.Rehearsal)
}

func dayOf(r *record.Record, s record.Summary) (history.Day, error) {
	left, err := r.Left(s.ID)
	if err != nil {
		return history.Day{}, err
	}
	fold, err := FoldRecord(r, left)
	if err != nil {
		return history.Day{}, err
	}
	return history.NewDay(s, fold.Session), nil
}
