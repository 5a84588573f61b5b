package record

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// ErrRemains says that all sessions are deleted, but some of their bytes may still be in the
// folder.
var ErrRemains = errors.New("all sessions are deleted, but not all of their bytes: erase once more")

// Erase deletes all sessions, that one too which is being recorded, and leaves nothing
// of them in the file, nor any other that was moved aside or was being mended. What the card
// itself still holds of it is the card's business. With many sessions it takes seconds.
//
// An error that wraps ErrRemains comes after that was done as far as it could be; after any
// other, which wraps ErrUnwritable or ErrDamaged, all is as it was.
func (r *Record) Erase() error {
	r.disk.Lock()
	defer r.disk.Unlock()
	err := r.transact(func(tx *sql.Tx) error {
		_, entries := tx.Exec(`DELETE FROM entry`)
		_, snapshots := tx.Exec(`DELETE FROM snapshot`)
		_, sessions := tx.Exec(`DELETE FROM session`)
		return errors.Join(entries, snapshots, sessions)
	})
	if err != nil {
		return err
	}
	r.place = place{}
	r.pending.forget()
	beside, err := filepath.Glob(r.path + ".*")
	errs := []error{err}
	for _, name := range beside {
		errs = append(errs, os.Remove(name))
	}
	_, vacuumed := r.db.Exec(`VACUUM`)
	if err := errors.Join(append(errs, failure(r.path, vacuumed), r.emptyLog())...); err != nil {
		return fmt.Errorf("%w: %w", ErrRemains, err)
	}
	return nil
}

// emptyLog moves all that is in the write-ahead file into the record and empties it, which
// has to wait for whoever reads there.
func (r *Record) emptyLog() error {
	var busy, frames, moved int
	if err := r.db.QueryRow(`PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &frames, &moved); err != nil {
		return failure(r.path, err)
	}
	if busy != 0 {
		return failure(r.path, ErrHeld)
	}
	return nil
}
