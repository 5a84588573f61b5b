package record

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
)

// Erase deletes all sessions, that one too which is being recorded, and leaves nothing
// of them in the file, nor any damaged one that was moved aside. What the card itself still holds of it is the card's business.
// Errors wrap ErrUnwritable or ErrDamaged.
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
	aside, err := filepath.Glob(r.path + ".damaged-*")
	for _, name := range aside {
		err = errors.Join(err, os.Remove(name))
	}
	if err != nil {
		return unwritable(filepath.Dir(r.path), err)
	}
	for _, step := range []string{`VACUUM`, `PRAGMA wal_checkpoint(TRUNCATE)`} {
		if _, err := r.db.Exec(step); err != nil {
			return failure(r.path, err)
		}
	}
	return nil
}
