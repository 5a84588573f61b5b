package record

import (
	"database/sql"
	"errors"
)

// Erase deletes all sessions, that one too which is being recorded, and leaves nothing
// of them in the file. What the card itself still holds of it is the card's business.
// Errors wrap ErrUnwritable or ErrDamaged.
func (r *Record) Erase() error {
	r.disk.Lock()
	defer r.disk.Unlock()
	if r.session != 0 {
		r.pending.record(false)
		r.pending.written(len(r.pending.take()), nil) // they would be deleted next
	}
	err := r.transact(func(tx *sql.Tx) error {
		_, entries := tx.Exec(`DELETE FROM entry`)
		_, snapshots := tx.Exec(`DELETE FROM snapshot`)
		_, sessions := tx.Exec(`DELETE FROM session`)
		return errors.Join(entries, snapshots, sessions)
	})
	if err != nil {
		r.pending.record(r.session != 0)
		return err
	}
	r.session = 0
	for _, step := range []string{`VACUUM`, `PRAGMA wal_checkpoint(TRUNCATE)`} {
		if _, err := r.db.Exec(step); err != nil {
			return failure(r.path, err)
		}
	}
	return nil
}
