package record

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"withy/steambox"
)

// fileName is the record's file in the data folder.
const fileName = "record.db"

// Record is the file of all sessions in one data folder. At most one of them is
// being recorded: the one begun last, until it is finished. All methods may be
// called from several goroutines; samples and events keep the order in which
// they are handed in only if one goroutine hands them in.
type Record struct {
	path    string
	db      *sql.DB // writes, on one connection
	reads   *sql.DB // reads, on one connection that is opened when first needed
	pending queue
	done    chan struct{} // closed when the background writer has ended
	private string        // folder of a copy, to be removed; "" for the record itself

	disk    sync.Mutex // held while writing; guards what follows
	place              // where the file is; what is pending comes after it
	flushes int        // how often samples alone were written
}

// place is where in the file the next entry goes.
type place struct {
	session int64  // number of the session being recorded; 0: none
	id      string // of that session
	next    int64  // sequence number of the next entry
}

// Session is what is settled when a session begins.
type Session struct {
	ID    string    // short, sortable within ten sessions a day, speakable: "2026-11-25-2"
	Began time.Time // wall time: a label
	Box   steambox.Box
}

// Clock says where elapsed time comes from: it is the source's own clock less
// Origin, as long as the board runs under the same boot.
type Clock struct {
	Boot    string        // which boot the source's clock belongs to
	Origin  time.Duration // what that clock showed at elapsed 0
	Undated bool          `json:",omitempty"` // the wall clock was not known to be right
}

// Open opens the record in the folder dir, and makes both if they are missing,
// the folder for its owner only. A session that was left unfinished is recorded
// on; see [Record.Unfinished].
//
// The errors wrap ErrUnwritable, ErrDamaged, ErrNewer or, while another program has
// it open, ErrHeld; in each case the file was left as it is.
func Open(dir string) (*Record, error) { return openDir(dir, busyMs, false) }

// openDir is Open with how many ms to wait for another program to let go, and whether
// it is a copy that Read made.
func openDir(dir string, waitMs int, copied bool) (*Record, error) {
	path, err := filepath.Abs(filepath.Join(dir, fileName))
	if err != nil {
		return nil, unwritable(dir, err)
	}
	if err := makeDir(filepath.Dir(path)); err != nil {
		return nil, unwritable(dir, err)
	}
	if err := takeMended(filepath.Dir(path)); err != nil {
		return nil, unwritable(dir, err)
	}
	if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() && info.Size() == 0 {
		return nil, failure(path, fmt.Errorf("%w: the file is empty", ErrDamaged))
	}
	if _, err := os.Stat(filepath.Join(filepath.Dir(path), wantedName)); err == nil && !copied && waitMs != 0 {
		return nil, failure(path, fmt.Errorf("%w: that was found while it was read", ErrDamaged))
	}
	r := &Record{path: path, done: make(chan struct{})}
	var tail []row
	if r.db, tail, err = openFile(path, waitMs, copied); err != nil {
		return nil, failure(path, err)
	}
	r.reads = openReader(path)
	r.pending.init()
	if err := r.pickUp(tail); err != nil {
		r.reads.Close()
		r.db.Close()
		return nil, failure(path, err)
	}
	go r.background()
	return r, nil
}

// makeDir makes the folder and puts its name on the card.
func makeDir(dir string) error {
	if _, err := os.Stat(dir); err == nil {
		return nil // what it is, opening the file in it will tell
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return syncDir(filepath.Dir(dir))
}

// pickUp makes the unfinished session, if there is one, the one being recorded. What the
// tail has of it behind its end is taken in.
func (r *Record) pickUp(tail []row) error {
	err := r.db.QueryRow(`SELECT n, id FROM session WHERE finished IS NULL ORDER BY n DESC LIMIT 1`).Scan(&r.session, &r.id)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return nonsense(err)
	}
	if _, _, err := header(r.db, r.session); err != nil {
		return err
	}
	first, err := looksFrom(r.db, r.session)
	if err != nil {
		return err
	}
	if r.next, err = lookThrough(context.Background(), r.db, r.session, first); err != nil {
		return err
	}
	if r.next == first {
		return fmt.Errorf("%w: session %d has no entries", ErrDamaged, r.session)
	}
	r.pending.record()
	return r.transact(func(tx *sql.Tx) error { return r.takeTail(tx, tail) })
}

// takeTail takes in the rows that follow on what there is.
func (r *Record) takeTail(tx *sql.Tx, tail []row) error {
	for i := 0; i < len(tail); i++ {
		w := tail[i]
		if w.position != position(r.session, r.next) {
			continue
		}
		many, err := w.many()
		if err != nil {
			return err
		}
		if err := insert(tx, w); err != nil {
			return err
		}
		r.next += many
		i = -1 // the one after it may stand before it
	}
	return nil
}

// rowsAtOpen is how many rows of the session that goes on are looked through when the record
// is opened: eleven hours of samples, so that a start is no slower in a session that is left
// on for weeks. A fold goes on from a snapshot minutes old; what lies before these rows is
// looked through in the background, like other sessions.
const rowsAtOpen = 4000

// looksFrom returns the sequence number that session n is looked through from.
func looksFrom(q querier, n int64) (first int64, err error) {
	err = q.QueryRow(`SELECT coalesce((SELECT position FROM entry WHERE position BETWEEN ?1 AND ?2 ORDER BY position DESC LIMIT 1 OFFSET ?3), ?1)`,
		position(n, 1), position(n, seqMask), rowsAtOpen-1).Scan(&first)
	return first & seqMask, err
}

// lookThrough looks whether all of session n from the entry first on is there and sound,
// and returns the sequence number after its last. It ends with ctx.
func lookThrough(ctx context.Context, q querier, n, first int64) (next int64, err error) {
	next = first
	for w, err := range rowsFrom(q, n, position(n, first)) {
		if err = cmp.Or(err, ctx.Err()); err != nil {
			return next, err
		}
		if seq := w.position & seqMask; seq != next {
			return next, fmt.Errorf("%w: session %d has entry %d after %d", ErrDamaged, n, seq, next-1)
		}
		many, err := w.many()
		if err != nil {
			return next, err
		}
		next += many
	}
	return next, nil
}

// Close writes what is pending and closes the record. A session that isn't
// finished stays so. After an error the samples still pending are lost.
func (r *Record) Close() error {
	if !r.pending.stop() {
		return nil
	}
	<-r.done
	err := r.flush()
	r.disk.Lock()
	defer r.disk.Unlock()
	r.place = place{}
	r.reads.Close()
	if e := r.db.Close(); err == nil && e != nil {
		err = failure(r.path, e)
	}
	if r.private != "" {
		err = errors.Join(err, os.RemoveAll(r.private))
	}
	return err
}

// Begin begins a session of a box at the wall time and returns its id: the day
// and the count within it. It returns when the session is synced.
//
// A session that was left unfinished ends at its last entry. After an error that
// wraps ErrUnwritable the session waits, with all that is handed in from now on, to
// be written when that can be, and then ID says what it is called.
func (r *Record) Begin(b steambox.Box, clock Clock, wall time.Time) (id string, err error) {
	setup, err := marshal(b)
	if err != nil {
		return "", fmt.Errorf("box %s: %w", b.Name, err)
	}
	err = r.enter(piece{kind: pieceBegin, wall: nanos(wall), body: setup, boot: clock, day: wall.Format(time.DateOnly)})
	if err != nil {
		return "", err
	}
	return r.ID(), nil
}

// ID is what the session that is on record and not finished is called, "" if there
// is none.
func (r *Record) ID() string {
	r.disk.Lock()
	defer r.disk.Unlock()
	return r.id
}

// beginning is a session's first entry: its clock, and once more what its own row holds,
// so that it isn't lost with that.
type beginning struct {
	Clock
	ID  string          `json:"id"`
	Box json.RawMessage `json:"box"`
}

// begin writes a session's beginning, and the end of one that was left unfinished.
func (r *Record) begin(tx *sql.Tx, p *piece) error {
	if r.session != 0 {
		if err := r.abandon(tx); err != nil {
			return err
		}
	}
	id, err := freeID(tx, p.day)
	if err != nil {
		return err
	}
	r.place = place{id: id, next: 1}
	err = tx.QueryRow(`INSERT INTO session (id, began, setup, boot, origin, undated) VALUES (?, ?, ?, ?, ?, ?) RETURNING n`,
		id, p.wall, string(p.body), p.boot.Boot, int64(p.boot.Origin), p.boot.Undated).Scan(&r.session)
	if err == nil {
		_, err = tx.Exec(`UPDATE session SET sum = ? WHERE n = ?`, sumOf([]int64{r.session, p.wall}, []byte(id), p.body), r.session)
	}
	if err != nil {
		return err
	}
	body, err := marshal(beginning{p.boot, id, p.body})
	if err != nil {
		return err
	}
	return r.insert(tx, 1, rowClock, 0, p.wall, body)
}

// freeID returns the first id of a day after those in the record.
func freeID(tx *sql.Tx, day string) (string, error) {
	rows, err := tx.Query(`SELECT id FROM session WHERE id LIKE ? || '-%'`, day)
	if err != nil {
		return "", err
	}
	defer rows.Close()
	last := 0
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return "", nonsense(err)
		}
		if k, err := strconv.Atoi(strings.TrimPrefix(id, day+"-")); err == nil {
			last = max(last, k)
		}
	}
	return fmt.Sprintf("%s-%d", day, last+1), rows.Err()
}

// abandon ends the session being recorded at its last entry.
func (r *Record) abandon(tx *sql.Tx) error {
	last, err := lastEntry(tx, r.session)
	if err != nil {
		return err
	}
	return r.finish(tx, last.At, nanos(last.Wall))
}

// Finish ends the session being recorded. Pending samples go in before, and its
// snapshots go out but for the newest, which the next session learns from. Synced
// like an event, and waits like one.
func (r *Record) Finish(at time.Duration, wall time.Time) error {
	return r.enter(piece{kind: pieceFinish, at: at, wall: nanos(wall)})
}

func (r *Record) finish(tx *sql.Tx, at time.Duration, wall int64) error {
	_, err := tx.Exec(`UPDATE session SET finished = ?, lasted = ? WHERE n = ?`, wall, int64(at), r.session)
	if err != nil {
		return err
	}
	_, err = tx.Exec(`DELETE FROM snapshot WHERE session = ?1 AND seq < (SELECT max(seq) FROM snapshot WHERE session = ?1)`, r.session)
	if err == nil {
		err = rename(tx, r.session)
	}
	r.place = place{}
	return err
}

// nanos returns a wall time as it is kept: nanoseconds of Unix time. A time that
// doesn't fit, before 1678 or after 2261, counts as 1970: it is only a label.
func nanos(wall time.Time) int64 {
	if y := wall.Year(); y <= 1677 || y >= 2262 {
		return 0
	}
	return wall.UnixNano()
}

// wallTime is the inverse of nanos.
func wallTime(n int64) time.Time { return time.Unix(0, n).UTC() }
