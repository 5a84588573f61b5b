package record

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"withy/steambox"
)

// keptSnapshots is how many snapshots a session keeps.
const keptSnapshots = 2

// The kinds of row in the file.
const (
	rowSamples = iota
	rowEvent
	rowClock
)

// Sample enters what all sensors said at elapsed time at. It never waits for the
// disk: it costs a microsecond, and the batch of ten is written in the
// background. It doesn't keep s.
//
// An error that wraps ErrUnwritable is that of the last write, and comes back
// until one goes well; this sample waits with the others, unless so many wait
// that the error says it is lost. ErrIdle: there is no session to record.
func (r *Record) Sample(at time.Duration, wall time.Time, s steambox.Sample) error {
	return r.pending.add(at, wall, s)
}

// Event enters what the crew did or told at elapsed time at. When it returns
// without an error the event is synced to the card, and so are all samples before
// it; that takes some milliseconds, on a slow card some tens. After an error the
// event is not in the record.
func (r *Record) Event(at time.Duration, wall time.Time, e steambox.Event) error {
	body, err := marshal(e)
	if err != nil {
		return fmt.Errorf("event %s: %w", e.ID, err)
	}
	r.disk.Lock()
	defer r.disk.Unlock()
	return r.put(func(tx *sql.Tx) (bool, error) {
		return true, insert(tx, row{position(r.session, r.next), rowEvent, at, nanos(wall), body})
	})
}

// Moved enters that the board was started again: from here on elapsed time is the
// source's clock of that boot less origin. Synced like an event.
func (r *Record) Moved(boot string, origin time.Duration, wall time.Time) error {
	r.disk.Lock()
	defer r.disk.Unlock()
	return r.put(func(tx *sql.Tx) (bool, error) {
		_, err := tx.Exec(`UPDATE session SET boot = ?, origin = ? WHERE n = ?`, boot, int64(origin), r.session)
		if err != nil {
			return false, err
		}
		last, err := lastEntry(tx, r.session)
		if err != nil {
			return false, err
		}
		return true, insertClock(tx, position(r.session, r.next), last.At, wall, Clock{boot, origin})
	})
}

// Snapshot keeps the state of the session as it is after everything handed in so
// far, at elapsed time at, and drops all but the newest two. Pending samples go
// in before. It costs what an event costs.
func (r *Record) Snapshot(at time.Duration, state []byte) error {
	r.disk.Lock()
	defer r.disk.Unlock()
	return r.put(func(tx *sql.Tx) (bool, error) {
		_, err := tx.Exec(`DELETE FROM snapshot WHERE session = ?1 AND seq NOT IN
			(SELECT seq FROM snapshot WHERE session = ?1 ORDER BY seq DESC LIMIT ?2)`, r.session, keptSnapshots-1)
		if err != nil {
			return false, err
		}
		_, err = tx.Exec(`INSERT OR REPLACE INTO snapshot (session, seq, at, state) VALUES (?, ?, ?, ?)`,
			r.session, r.next-1, int64(at), seal(state))
		return false, err
	})
}

// background writes batches as they fill or grow old.
func (r *Record) background() {
	defer close(r.done)
	for range r.pending.wake {
		_ = r.flush() // Sample returns it
	}
}

// Flush writes the pending samples and returns the sequence number of the last
// entry: all up to it can be read.
func (r *Record) Flush() (seq int64, err error) {
	r.disk.Lock()
	defer r.disk.Unlock()
	err = r.put(nil)
	return r.next - 1, err
}

// unsynced is how many batches may wait for a sync: with three of them a power cut
// takes half a minute of samples, and a killed program none that were written.
const unsynced = 3

// flush writes the pending samples, if there are any. They are synced with the
// next event, and each third time: samples alone are not worth a card's wear.
func (r *Record) flush() error {
	r.disk.Lock()
	defer r.disk.Unlock()
	if r.session == 0 {
		return nil
	}
	r.flushes++
	if err := r.syncs(r.flushes%unsynced == 0); err != nil {
		return err
	}
	return errors.Join(r.put(nil), r.syncs(true))
}

// syncs says whether commits are synced from here on.
func (r *Record) syncs(on bool) error {
	mode := "NORMAL"
	if on {
		mode = "FULL"
	}
	if _, err := r.db.Exec("PRAGMA synchronous = " + mode); err != nil {
		return failure(r.path, err)
	}
	return nil
}

// put writes the pending samples, and after them what more writes, in one
// transaction. More finds in r.next the sequence number that is free, and says
// whether it has used it. Called with disk held; after an error nothing has
// changed but that pending tells it.
func (r *Record) put(more func(*sql.Tx) (used bool, err error)) error {
	if r.session == 0 {
		return ErrIdle
	}
	batches := r.pending.take()
	if len(batches) == 0 && more == nil {
		return nil
	}
	before := r.next
	err := r.transact(func(tx *sql.Tx) error {
		if err := r.putBatches(tx, batches); err != nil || more == nil {
			return err
		}
		used, err := more(tx)
		if used {
			r.next++
		}
		return err
	})
	if err != nil {
		r.next = before
	}
	r.pending.written(len(batches), err)
	return err
}

func (r *Record) putBatches(tx *sql.Tx, batches []batch) error {
	for i := range batches {
		b := &batches[i]
		if err := insert(tx, row{position(r.session, r.next), rowSamples, b.at, b.wall, seal(b.body)}); err != nil {
			return err
		}
		r.next += int64(b.n)
	}
	return nil
}

// transact runs do in one transaction. Errors name the file.
func (r *Record) transact(do func(*sql.Tx) error) error {
	tx, err := r.db.Begin()
	if err != nil {
		return failure(r.path, err)
	}
	if err := do(tx); err != nil {
		_ = tx.Rollback() // SQLite has done it already after most errors
		return failure(r.path, err)
	}
	if err := tx.Commit(); err != nil {
		_ = tx.Rollback()
		return failure(r.path, err)
	}
	return nil
}

func insert(tx *sql.Tx, w row) error {
	_, err := tx.Exec(`INSERT INTO entry (position, kind, at, wall, body) VALUES (?, ?, ?, ?, ?)`,
		w.position, w.kind, int64(w.at), w.wall, w.body)
	return err
}

func insertClock(tx *sql.Tx, position int64, at time.Duration, wall time.Time, c Clock) error {
	body, err := marshal(c)
	if err != nil {
		return err
	}
	return insert(tx, row{position, rowClock, at, nanos(wall), body})
}

// marshal is json.Marshal for people: it leaves <, > and & as they are.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}
