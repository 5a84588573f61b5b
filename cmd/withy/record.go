package main

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"

	"withy/cmd/withy/internal/record"
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

// lookThrough reads through the whole record in the background, once: a damaged one is
// mended at the next start.
func lookThrough(rec *record.Record, log *slog.Logger) func(context.Context) {
	return func(ctx context.Context) {
		if rec == nil {
			return
		}
		if err := rec.LookThrough(ctx); err != nil && ctx.Err() == nil {
			log.Warn("record", "err", err)
		}
	}
}
