package main

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"time"

	"withy/cmd/withy/internal/record"
	"withy/sensor"
	"withy/steambox/words"
)

// openRecord opens the record; without one the watch goes on and people are told. Of a
// damaged one it keeps what can be read, and moves the file aside.
func openRecord(dir string, log *slog.Logger) (*record.Record, []string) {
	rec, err := record.Open(dir)
	if errors.Is(err, record.ErrDamaged) {
		log.Warn("record", "err", err)
		return openMended(dir, log)
	}
	if err != nil {
		log.Warn("no record is kept", "data", dir, "err", err)
		return nil, []string{words.NoLog(why(err))}
	}
	return rec, nil
}

// openMended makes a record of what can be read of a damaged one; where that can't be
// done, an empty one.
func openMended(dir string, log *slog.Logger) (*record.Record, []string) {
	mended, err := record.Mend(dir)
	said := words.MendedLog(filepath.Base(mended.Aside), mended.Sessions, mended.Missing > 0)
	if err != nil {
		log.Warn("record can't be mended", "err", err)
		aside, err := record.Quarantine(dir)
		if err != nil {
			log.Warn("no record is kept", "data", dir, "err", err)
			return nil, []string{words.NoLog(words.LogDamaged)}
		}
		said = words.MendedLog(filepath.Base(aside), 0, false)
	}
	log.Warn("record mended", "aside", mended.Aside, "sessions", mended.Sessions, "rows", mended.Entries, "missing", mended.Missing)
	rec, err := record.Open(dir)
	if err != nil {
		log.Warn("no record is kept", "data", dir, "err", err)
		return nil, []string{said, words.NoLog(why(err))}
	}
	return rec, []string{said}
}

// why says what is wrong with the record in words for people.
func why(err error) string {
	switch {
	case errors.Is(err, record.ErrNewer):
		return words.LogNewer
	case errors.Is(err, record.ErrDamaged):
		return words.LogDamaged
	case errors.Is(err, record.ErrHeld):
		return words.LogHeld
	case errors.Is(err, record.ErrUnwritable):
		return words.LogUnwritable
	}
	return words.LogUnusable
}

// pruneEvery is how often it is looked whether sessions are to be deleted.
const pruneEvery = 6 * time.Hour

// tend reads through the whole record in the background, once: a damaged one is mended
// at the next start. Then it keeps it as small as is wanted.
func tend(rec *record.Record, keep logConfig, log *slog.Logger) func(context.Context) {
	return func(ctx context.Context) {
		if rec == nil {
			return
		}
		if err := rec.LookThrough(ctx); err != nil && ctx.Err() == nil {
			log.Warn("record", "err", err)
		}
		every := time.NewTicker(pruneEvery)
		defer every.Stop()
		for ctx.Err() == nil {
			prune(rec, keep, log)
			select {
			case <-every.C:
			case <-ctx.Done():
			}
		}
	}
}

// prune deletes sessions that are too old or too many. By age only while the wall clock is
// known to be right: a board that wakes up in another year must not lose its past.
func prune(rec *record.Record, keep logConfig, log *slog.Logger) {
	var before time.Time
	if keep.Days > 0 && sensor.ClockKnown() {
		before = time.Now().AddDate(0, 0, -keep.Days)
	}
	deleted, err := rec.Prune(before, int64(keep.MB)*1e6)
	if len(deleted) > 0 {
		log.Info("sessions deleted", "sessions", deleted, "keep_days", keep.Days, "keep_mb", keep.MB)
	}
	if err != nil {
		log.Warn("record", "err", err)
	}
}
