package record

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"time"

	"withy/steambox"
)

// Entry is one thing on record. One of Sample, Event and Clock is set.
type Entry struct {
	Seq  int64         // counts from 1 within the session, without a gap
	At   time.Duration // elapsed since the session began
	Wall time.Time     // UTC; a label

	Sample *steambox.Sample
	Event  *steambox.Event
	Clock  *Clock // elapsed time comes from here from now on; not to be folded
}

// Entries returns what is on record of a session after the entry with sequence
// number after (0: everything), in the order in which it was handed in, but for
// samples that are still pending. What is written while it is read is given too.
//
// An error ends it. Errors wrap ErrUnknown or ErrDamaged.
func (r *Record) Entries(id string, after int64) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		n, err := number(r.reads, id)
		if err != nil {
			yield(Entry{}, failure(r.path, err))
			return
		}
		for e, err := range r.entries(n, after) {
			if err != nil {
				yield(Entry{}, failure(r.path, err))
				return
			}
			if !yield(e, nil) {
				return
			}
		}
	}
}

// entries is Entries by a session's number.
func (r *Record) entries(n, after int64) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		// A row of samples stands at its first: begin with the row that holds
		// the entry after the one that is known.
		first := position(n, max(0, after)+1)
		err := r.reads.QueryRow(`SELECT coalesce(max(position), ?2) FROM entry WHERE position BETWEEN ?1 AND ?2`,
			position(n, 1), first).Scan(&first)
		if err != nil {
			yield(Entry{}, err)
			return
		}
		for e, err := range unpackAll(rowsFrom(r.reads, n, first)) {
			if err == nil && e.Seq <= after {
				continue
			}
			if !yield(e, err) {
				return
			}
		}
	}
}

// number returns the number of the session with an id.
func number(q querier, id string) (int64, error) {
	var n int64
	err := q.QueryRow(`SELECT n FROM session WHERE id = ?`, id).Scan(&n)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, fmt.Errorf("%w: %q", ErrUnknown, id)
	}
	if err != nil {
		err = nonsense(err)
	}
	return n, err
}

// querier is a database or a transaction.
type querier interface {
	Query(query string, args ...any) (*sql.Rows, error)
	QueryRow(query string, args ...any) *sql.Row
}

// row is a row of the table of entries.
type row struct {
	position int64
	kind     int
	at       time.Duration
	wall     int64
	body     []byte
	sum      int64 // noSum: written before there were any
}

const rowColumns = `position, kind, at, wall, body, coalesce(sum, -1)`

// pageRows is how many rows are read at once: between two pages no statement is
// open, so a slow reader holds up neither the writer nor another reader.
const pageRows = 64

// rowsFrom returns the rows of session n from a position on.
func rowsFrom(q querier, n, first int64) iter.Seq2[row, error] {
	return func(yield func(row, error) bool) {
		for {
			page, err := readRows(q, `SELECT `+rowColumns+` FROM entry WHERE position BETWEEN ? AND ? ORDER BY position LIMIT ?`,
				first, position(n, seqMask), pageRows)
			for _, w := range page {
				first = w.position + 1
				if !yield(w, nil) {
					return
				}
			}
			if err != nil {
				yield(row{}, err)
			}
			if err != nil || len(page) < pageRows {
				return
			}
		}
	}
}

// readRows returns the rows of a query, those before an error too.
func readRows(q querier, query string, args ...any) ([]row, error) {
	rows, err := q.Query(query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var page []row
	for rows.Next() {
		var w row
		if err := rows.Scan(&w.position, &w.kind, &w.at, &w.wall, &w.body, &w.sum); err != nil {
			return page, nonsense(err)
		}
		page = append(page, w)
	}
	return page, rows.Err()
}

// unpackAll returns the entries of all rows.
func unpackAll(rows iter.Seq2[row, error]) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		for w, err := range rows {
			if err != nil {
				yield(Entry{}, err)
				return
			}
			for e, err := range w.unpack() {
				if !yield(e, err) || err != nil {
					return
				}
			}
		}
	}
}

// unpack returns the entries in a row. Errors wrap ErrDamaged and name the entry.
func (w row) unpack() iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		e := Entry{Seq: w.position & seqMask, At: w.at, Wall: wallTime(w.wall)}
		if err := w.check(); err != nil {
			yield(Entry{}, w.damaged(e.Seq, err))
			return
		}
		var err error
		switch w.kind {
		case rowSamples:
			w.samples(yield)
			return
		case rowEvent:
			e.Event = new(steambox.Event)
			err = json.Unmarshal(w.body, e.Event)
		case rowClock:
			e.Clock = new(Clock)
			err = json.Unmarshal(w.body, e.Clock)
		default:
			err = fmt.Errorf("kind %d", w.kind)
		}
		if err != nil {
			yield(Entry{}, w.damaged(e.Seq, err))
			return
		}
		yield(e, nil)
	}
}

// samples returns the samples in a row.
func (w row) samples(yield func(Entry, error) bool) {
	seq := w.position & seqMask
	body := w.body
	if w.sum == noSum {
		var err error
		if body, err = unseal(w.body); err != nil {
			yield(Entry{}, w.damaged(seq, err))
			return
		}
	}
	u := unbatch{body: body, last: newState(w.at, w.wall)}
	for ; u.more(); seq++ {
		at, wall, s, err := u.next()
		if err != nil {
			yield(Entry{}, w.damaged(seq, err))
			return
		}
		if !yield(Entry{Seq: seq, At: at, Wall: wallTime(wall), Sample: &s}, nil) {
			return
		}
	}
}

func (w row) damaged(seq int64, err error) error {
	return fmt.Errorf("%w: session %d, entry %d: %w", ErrDamaged, w.position>>seqBits, seq, err)
}

// lastEntry returns the last entry of session n.
func lastEntry(q querier, n int64) (Entry, error) {
	var last Entry
	page, err := readRows(q, `SELECT `+rowColumns+` FROM entry WHERE position BETWEEN ? AND ? ORDER BY position DESC LIMIT 1`,
		position(n, 1), position(n, seqMask))
	if err != nil {
		return last, err
	}
	if len(page) == 0 {
		return last, fmt.Errorf("%w: session %d has no entries", ErrDamaged, n)
	}
	for e, err := range page[0].unpack() {
		if err != nil {
			return last, err
		}
		last = e
	}
	return last, nil
}
