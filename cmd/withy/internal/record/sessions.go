package record

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"withy/steambox"
)

// Resume is what it takes to go on with a session.
type Resume struct {
	Session
	Clock     Clock         // where its elapsed time came from last
	Seq       int64         // of the last entry
	At        time.Duration // of the last entry
	Wall      time.Time     // of the last entry
	Snapshots []Snapshot    // sound ones, at most two, the newest first
}

// Snapshot is the state of a session as it was after one of its entries.
type Snapshot struct {
	Seq   int64         // of the last entry that is in it: go on with Entries(id, Seq)
	At    time.Duration // elapsed
	State []byte
}

// Unfinished returns the session that was begun last and not finished, nil if
// there is none. What is recorded from now on goes there.
//
// Errors wrap ErrDamaged. A damaged snapshot is none: it is left out.
func (r *Record) Unfinished() (*Resume, error) {
	r.disk.Lock()
	defer r.disk.Unlock()
	if r.session == 0 {
		return nil, nil
	}
	return r.resume(r.db, r.session)
}

// Left returns what there is of any session on record, as Unfinished does of the one that
// goes on. Errors wrap ErrUnknown or ErrDamaged.
func (r *Record) Left(id string) (*Resume, error) {
	n, err := number(r.reads, id)
	if err != nil {
		return nil, failure(r.path, err)
	}
	return r.resume(r.reads, n)
}

// resume reads what there is of session n.
func (r *Record) resume(q querier, n int64) (*Resume, error) {
	s, clock, err := header(q, n)
	if err != nil {
		return nil, failure(r.path, err)
	}
	last, err := lastEntry(q, n)
	if err != nil {
		return nil, failure(r.path, err)
	}
	shots, err := snapshots(q, n)
	if err != nil {
		return nil, failure(r.path, err)
	}
	return &Resume{Session: s, Clock: clock, Seq: last.Seq, At: last.At, Wall: last.Wall, Snapshots: shots}, nil
}

// Previous returns the newest session that has a snapshot, with what there is of it,
// to learn from; nil if there is none. The one being recorded counts too.
func (r *Record) Previous() (*Resume, error) {
	var n int64
	err := r.reads.QueryRow(`SELECT session FROM snapshot ORDER BY session DESC LIMIT 1`).Scan(&n)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, failure(r.path, nonsense(err))
	}
	return r.resume(r.reads, n)
}

// header returns what session n began with, and its clock of now.
func header(q querier, n int64) (s Session, c Clock, err error) {
	var began, sum int64
	var setup []byte
	err = q.QueryRow(`SELECT id, began, setup, boot, origin, coalesce(undated, 0) <> 0, coalesce(sum, -1) FROM session WHERE n = ?`, n).
		Scan(&s.ID, &began, &setup, &c.Boot, &c.Origin, &c.Undated, &sum)
	if err != nil {
		return s, c, nonsense(err)
	}
	if sum != noSum && sum != sumOf([]int64{n, began}, []byte(s.ID), setup) {
		return s, c, fmt.Errorf("%w: beginning of session %s: wrong checksum", ErrDamaged, s.ID)
	}
	s.Began = wallTime(began)
	if err := json.Unmarshal(setup, &s.Box); err != nil {
		return s, c, fmt.Errorf("%w: box of session %s: %w", ErrDamaged, s.ID, err)
	}
	return s, c, nil
}

func snapshots(q querier, n int64) ([]Snapshot, error) {
	rows, err := q.Query(`SELECT seq, at, state FROM snapshot WHERE session = ? ORDER BY seq DESC`, n)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var shots []Snapshot
	for rows.Next() {
		var s Snapshot
		if err := rows.Scan(&s.Seq, &s.At, &s.State); err != nil {
			return nil, nonsense(err)
		}
		if s.State, err = unseal(s.State); err == nil {
			shots = append(shots, s)
		}
	}
	return shots, rows.Err()
}

// Session returns what the session with that id began with. Errors wrap
// ErrUnknown or ErrDamaged.
func (r *Record) Session(id string) (Session, error) {
	n, err := number(r.reads, id)
	if err != nil {
		return Session{}, failure(r.path, err)
	}
	s, _, err := header(r.reads, n)
	if err != nil {
		return Session{}, failure(r.path, err)
	}
	return s, nil
}

// Summary is what a list of sessions says of one.
type Summary struct {
	ID        string
	Began     time.Time     // wall time, UTC
	Lasted    time.Duration // to the last entry, or to its end when finished
	Boat, Box string        // their names
	Rehearsal bool
	Supple    int // ribs by their last outcome
	Stiff     int
	Cracked   int
	Finished  bool
	Bytes     int64 // of samples and events
}

// Sessions lists all sessions, the oldest first. It reads through all of them:
// some milliseconds for a megabyte.
func (r *Record) Sessions() ([]Summary, error) {
	list, numbers, err := summaries(r.reads)
	for i := range list {
		if err == nil {
			err = list[i].count(r.reads, numbers[i])
		}
	}
	if err != nil {
		return nil, failure(r.path, err)
	}
	return list, nil
}

func summaries(q querier) (list []Summary, numbers []int64, err error) {
	rows, err := q.Query(`SELECT n, id, began, coalesce(lasted, 0), finished IS NOT NULL,
		coalesce(setup->>'boat', ''), coalesce(setup->>'name', ''), coalesce(setup->>'rehearsal', 0) FROM session ORDER BY n`)
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var s Summary
		var n, began int64
		err := rows.Scan(&n, &s.ID, &began, &s.Lasted, &s.Finished, &s.Boat, &s.Box, &s.Rehearsal)
		if err != nil {
			return nil, nil, nonsense(err)
		}
		s.Began = wallTime(began)
		list, numbers = append(list, s), append(numbers, n)
	}
	return list, numbers, rows.Err()
}

// count fills in what is found in the session's entries.
func (s *Summary) count(q querier, n int64) error {
	if !s.Finished {
		last, err := lastEntry(q, n)
		if err != nil {
			return err
		}
		s.Lasted = last.At
	}
	from, to := position(n, 1), position(n, seqMask)
	err := q.QueryRow(`SELECT coalesce(sum(length(body)), 0) FROM entry WHERE position BETWEEN ? AND ?`, from, to).Scan(&s.Bytes)
	if err != nil {
		return err
	}
	return s.countRibs(q, from, to)
}

// countRibs counts the ribs by the outcome that was told of each last.
func (s *Summary) countRibs(q querier, from, to int64) error {
	events, err := readRows(q, `SELECT `+rowColumns+` FROM entry WHERE position BETWEEN ? AND ? AND kind = ? ORDER BY position`,
		from, to, rowEvent)
	if err != nil {
		return err
	}
	outcomes := map[string]string{}
	for _, w := range events {
		for e, err := range w.unpack() {
			if err != nil {
				return err
			}
			if e.Event.Kind == steambox.Outcome {
				outcomes[e.Event.Rib] = e.Event.Outcome
			}
		}
	}
	for _, o := range outcomes {
		switch o {
		case "supple":
			s.Supple++
		case "stiff":
			s.Stiff++
		case "cracked":
			s.Cracked++
		}
	}
	return nil
}
