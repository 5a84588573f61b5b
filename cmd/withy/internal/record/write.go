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
// it; that takes some milliseconds, on a slow card some tens. After an error that
// wraps ErrUnwritable it waits with the samples, and is written when that can be: none
// that was handed in is dropped. Whoever asks Full before keeps memory bounded.
func (r *Record) Event(at time.Duration, wall time.Time, e steambox.Event) error {
	body, err := marshal(e)
	if err != nil {
		return fmt.Errorf("event %s: %w", e.ID, err)
	}
	return r.enter(piece{kind: pieceEvent, at: at, wall: nanos(wall), body: body})
}

// Full reports whether so much waits for the disk that no further event should be handed
// in. It does not wait for the disk.
func (r *Record) Full() bool { return r.pending.crowded() }

// Moved enters the clock that elapsed time comes from, from here on: the board was started
// again, or more is known of its wall clock. Synced like an event, and waits like one.
func (r *Record) Moved(clock Clock, wall time.Time) error {
	return r.enter(piece{kind: pieceMove, wall: nanos(wall), boot: clock})
}

// enter hands in a piece and writes all that is pending.
func (r *Record) enter(p piece) error {
	r.disk.Lock()
	defer r.disk.Unlock()
	if err := r.pending.enter(p); err != nil {
		return err
	}
	return r.put(nil)
}

// Snapshot keeps the state of the session as it is after everything handed in so
// far, at elapsed time at, and drops all but the newest two. Pending samples go
// in before. It costs what an event costs.
func (r *Record) Snapshot(at time.Duration, state []byte) error {
	r.disk.Lock()
	defer r.disk.Unlock()
	if r.pending.idle() {
		return ErrIdle
	}
	return r.put(func(tx *sql.Tx) error {
		_, err := tx.Exec(`DELETE FROM snapshot WHERE session = ?1 AND seq NOT IN
			(SELECT seq FROM snapshot WHERE session = ?1 ORDER BY seq DESC LIMIT ?2)`, r.session, keptSnapshots-1)
		if err != nil {
			return err
		}
		_, err = tx.Exec(`INSERT OR REPLACE INTO snapshot (session, seq, at, state) VALUES (?, ?, ?, ?)`,
			r.session, r.next-1, int64(at), seal(state))
		return err
	})
}

// background writes batches as they fill or grow old.
func (r *Record) background() {
	defer close(r.done)
	for range r.pending.wake {
		_ = r.flush() // Sample returns it
	}
}

// Flush writes all that is pending, synced, and returns the sequence number of the
// last entry: all up to it can be read.
func (r *Record) Flush() (seq int64, err error) {
	r.disk.Lock()
	defer r.disk.Unlock()
	if r.pending.idle() {
		return 0, ErrIdle
	}
	err = r.put(nil)
	return r.next - 1, err
}

// unsynced is how many batches may wait for a sync: with three of them a power cut
// takes half a minute of samples, and a killed program none that were written.
const unsynced = 3

// flush writes what is pending, if there is anything. Samples are synced with the
// next event, and each third time: alone they are not worth a card's wear.
func (r *Record) flush() error {
	r.disk.Lock()
	defer r.disk.Unlock()
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

// put writes what is pending, and after it what more writes, in one transaction.
// Called with disk held; after an error nothing has changed but that pending tells
// it.
func (r *Record) put(more func(*sql.Tx) error) error {
	pieces := r.pending.take()
	if len(pieces) == 0 && more == nil {
		return nil
	}
	before := r.place
	err := r.transact(func(tx *sql.Tx) error {
		for i := range pieces {
			if err := r.write(tx, &pieces[i]); err != nil {
				return err
			}
		}
		if more == nil {
			return nil
		}
		return more(tx)
	})
	if err != nil {
		r.place = before
	}
	r.pending.written(len(pieces), err)
	return err
}

// write writes a piece at the place where the record is, and moves that on.
func (r *Record) write(tx *sql.Tx, p *piece) error {
	switch p.kind {
	case pieceSamples:
		return r.insert(tx, p.n, rowSamples, p.at, p.wall, p.body)
	case pieceEvent:
		return r.insert(tx, 1, rowEvent, p.at, p.wall, p.body)
	case pieceMove:
		return r.move(tx, p)
	case pieceBegin:
		return r.begin(tx, p)
	case pieceFinish:
		return r.finish(tx, p.at, p.wall)
	case pieceRetime:
		return retime(tx, p.boot)
	}
	panic("record: no such piece")
}

// insert inserts a row that takes n sequence numbers.
func (r *Record) insert(tx *sql.Tx, n, kind int, at time.Duration, wall int64, body []byte) error {
	err := insert(tx, row{position: position(r.session, r.next), kind: kind, at: at, wall: wall, body: body}.summed())
	if err == nil {
		r.next += int64(n)
	}
	return err
}

// move lets the session's clock be another from here on.
func (r *Record) move(tx *sql.Tx, p *piece) error {
	_, err := tx.Exec(`UPDATE session SET boot = ?, origin = ?, undated = ? WHERE n = ?`, p.boot.Boot, int64(p.boot.Origin), p.boot.Undated, r.session)
	if err != nil {
		return err
	}
	last, err := lastEntry(tx, r.session)
	if err != nil {
		return err
	}
	return r.insertClock(tx, last.At, p)
}

func (r *Record) insertClock(tx *sql.Tx, at time.Duration, p *piece) error {
	body, err := marshal(p.boot)
	if err != nil {
		return err
	}
	return r.insert(tx, 1, rowClock, at, p.wall, body)
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
	_, err := tx.Exec(`INSERT INTO entry (position, kind, at, wall, body, sum) VALUES (?, ?, ?, ?, ?, ?)`,
		w.position, w.kind, int64(w.at), w.wall, w.body, w.sum)
	return err
}

// marshal is json.Marshal for people: it leaves <, > and & as they are.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}
