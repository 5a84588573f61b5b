package record

import (
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Delete deletes a finished session for good: its place in the file is overwritten and
// taken by later ones, the file doesn't get smaller. Errors wrap ErrUnknown, ErrRunning
// or ErrUnwritable.
func (r *Record) Delete(id string) error {
	r.disk.Lock()
	defer r.disk.Unlock()
	if err := r.pragma(`secure_delete = ON`); err != nil {
		return err
	}
	err := r.transact(func(tx *sql.Tx) error {
		n, err := number(tx, id)
		if err != nil {
			return err
		}
		var finished sql.NullInt64
		if err := tx.QueryRow(`SELECT finished FROM session WHERE n = ?`, n).Scan(&finished); err != nil {
			return err
		}
		if !finished.Valid {
			return fmt.Errorf("%w: %s", ErrRunning, id)
		}
		_, entries := tx.Exec(`DELETE FROM entry WHERE position BETWEEN ? AND ?`, position(n, 0), position(n, seqMask))
		_, snapshots := tx.Exec(`DELETE FROM snapshot WHERE session = ?`, n)
		_, session := tx.Exec(`DELETE FROM session WHERE n = ?`, n)
		return errors.Join(entries, snapshots, session)
	})
	// Snapshots come and go each few minutes: overwriting those would wear the card.
	return errors.Join(err, r.pragma(`secure_delete = OFF`), r.pragma(`wal_checkpoint(TRUNCATE)`))
}

func (r *Record) pragma(what string) error {
	if _, err := r.db.Exec("PRAGMA " + what); err != nil {
		return failure(r.path, err)
	}
	return nil
}

// Prune deletes finished sessions that began before a time, and then the oldest as long
// as all together take more than most bytes; 0 stands for no limit, and a zero time for
// none. The newest finished one stays, since the next session learns from it. It returns
// what it deleted.
func (r *Record) Prune(before time.Time, most int64) (deleted []string, err error) {
	list, _, err := summaries(r.reads)
	if err != nil {
		return nil, failure(r.path, err)
	}
	var finished []Summary
	for _, s := range list {
		if s.Finished {
			finished = append(finished, s)
		}
	}
	for i, s := range finished {
		if i == len(finished)-1 {
			break
		}
		size, err := r.size()
		if err != nil {
			return deleted, failure(r.path, err)
		}
		if !s.Began.Before(before) && (most == 0 || size <= most) {
			continue
		}
		if err := r.Delete(s.ID); err != nil {
			return deleted, err
		}
		deleted = append(deleted, s.ID)
	}
	return deleted, nil
}

// size is how many bytes of the file are in use.
func (r *Record) size() (bytes int64, err error) {
	var pages, free int64
	err = errors.Join(
		r.reads.QueryRow(`PRAGMA page_count`).Scan(&pages),
		r.reads.QueryRow(`PRAGMA freelist_count`).Scan(&free))
	return (pages - free) * pageSize, err
}
