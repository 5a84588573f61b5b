package record

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io/fs"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"time"

	"withy/steambox"
)

// Mended is what came of a damaged record.
type Mended struct {
	Aside    string // where the damaged file is now
	Sessions int    // that could be read
	Entries  int    // rows of them
	Missing  int    // stretches that are missing in between
}

// The record that is being made of a damaged one, and when it is whole.
const (
	mendingName = fileName + ".mending"
	mendedName  = fileName + ".mended"
)

// Mend makes a new record of all that can be read of the damaged one in the folder
// dir, which it moves aside as Quarantine does. It goes by the checksum of each row
// and not by SQLite's own way to the rows, so that a damaged page costs the rows that
// are damaged and no others, also in the write-ahead file, of which SQLite reads
// nothing behind a damaged page. Snapshots are not carried over: a session folds from
// its beginning. No Record of the folder may be open.
func Mend(dir string) (m Mended, err error) {
	path := filepath.Join(dir, fileName)
	made := filepath.Join(dir, mendingName)
	for _, part := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(made + part); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return m, unwritable(dir, err)
		}
	}
	if err := m.mend(path, made); err != nil {
		return m, failure(path, err)
	}
	if err := os.Rename(made, filepath.Join(dir, mendedName)); err != nil {
		return m, unwritable(dir, err)
	}
	if m.Aside, err = Quarantine(dir); err != nil {
		return m, err
	}
	_ = os.Remove(filepath.Join(dir, wantedName)) // left there it is mended once more
	return m, takeMended(dir)
}

// wantedName says that a record is to be mended when it is opened next.
const wantedName = fileName + ".mend"

// LookThrough looks whether all that is on record is sound; it ends with ctx. It reads
// little at a time, so that others hardly wait. After an error that wraps ErrDamaged the
// next Open gives that error, so that the record is mended then.
func (r *Record) LookThrough(ctx context.Context) error {
	numbers, err := sessionNumbers(r.reads)
	for _, n := range numbers {
		if err == nil {
			_, _, err = header(r.reads, n)
		}
		if err == nil {
			_, err = lookThrough(ctx, r.reads, n, 1)
		}
	}
	if err = failure(r.path, err); errors.Is(err, ErrDamaged) {
		err = errors.Join(err, os.WriteFile(filepath.Join(filepath.Dir(r.path), wantedName), nil, 0o600))
	}
	return err
}

// takeMended puts a mended record where the record belongs, if there is one and the
// damaged one was moved away.
func takeMended(dir string) error {
	path := filepath.Join(dir, fileName)
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	err := os.Rename(filepath.Join(dir, mendedName), path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return errors.Join(err, syncDir(dir))
}

// mend fills a new file with what can be read of the one at path.
func (m *Mended) mend(path, made string) error {
	from, err := openSource(path)
	if err != nil {
		return err
	}
	defer from.close()
	db, _, err := openFile(made, busyMs, false)
	if err != nil {
		return err
	}
	defer db.Close()
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // after Commit it says so, and means nothing
	if err := m.fill(tx, from); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	if _, err := db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		return err
	}
	return db.Close()
}

// fill takes over all rows that are sound and belong to a session, numbered without a
// gap.
func (m *Mended) fill(tx *sql.Tx, from *source) error {
	// What the pages say of themselves first: elsewhere on them may be what a session was
	// before.
	for row, values := range from.rows(cells) {
		if err := takeRow(tx, row, values, "REPLACE"); err != nil {
			return err
		}
	}
	for row, values := range from.rows(func(_ uint32, page []byte, chain chain) iter.Seq2[int64, []byte] { return stray(page, chain) }) {
		if sumIn(values) == nil {
			continue // without a checksum it may be anything
		}
		if err := takeRow(tx, row, values, "IGNORE"); err != nil {
			return err
		}
	}
	if err := beginnings(tx); err != nil {
		return err
	}
	for _, clean := range []string{
		`DELETE FROM entry WHERE (position >> 32) NOT IN (SELECT n FROM session)`,
		`DELETE FROM session WHERE n NOT IN (SELECT position >> 32 FROM entry)`,
	} {
		if _, err := tx.Exec(clean); err != nil {
			return err
		}
	}
	numbers, err := sessionNumbers(tx)
	if err != nil {
		return err
	}
	m.Sessions = len(numbers)
	for _, n := range numbers {
		if err := m.renumber(tx, n); err != nil {
			return err
		}
	}
	return nil
}

// takeRow takes a row over if it is sound; known says what becomes of a session that is
// there already.
func takeRow(tx *sql.Tx, row int64, values []any, known string) error {
	if w, ok := entryOf(row, values); ok {
		_, err := tx.Exec(`INSERT OR IGNORE INTO entry (position, kind, at, wall, body, sum) VALUES (?, ?, ?, ?, ?, nullif(?, -1))`,
			w.position, w.kind, int64(w.at), w.wall, w.body, w.sum)
		return err
	}
	if soundSession(row, values) {
		_, err := tx.Exec(`INSERT OR `+known+` INTO session (n, id, began, setup, boot, origin, finished, lasted, sum, undated) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			row, string(values[1].([]byte)), values[2], string(values[3].([]byte)), string(values[4].([]byte)), values[5], values[6], values[7], values[8], values[9])
		return err
	}
	return nil
}

// beginnings makes the sessions whose own row is lost again from their first entries:
// ended at their last one, but for the newest.
func beginnings(tx *sql.Tx) error {
	firsts, err := readRows(tx, `SELECT `+rowColumns+` FROM entry WHERE (position & ?) = 1 AND kind = ? AND (position >> 32) NOT IN (SELECT n FROM session) ORDER BY position`,
		int64(seqMask), rowClock)
	if err != nil {
		return err
	}
	for _, w := range firsts {
		var b beginning
		n := w.position >> seqBits
		if json.Unmarshal(w.body, &b) != nil || json.Unmarshal(b.Box, new(steambox.Box)) != nil {
			continue
		}
		_, err := tx.Exec(`INSERT OR IGNORE INTO session (n, id, began, setup, boot, origin, sum, undated) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
			n, b.ID, w.wall, string(b.Box), b.Boot, int64(b.Origin), sumOf([]int64{n, w.wall}, []byte(b.ID), b.Box), b.Undated)
		if err != nil {
			return err
		}
	}
	_, err = tx.Exec(`UPDATE session SET finished = began, lasted = (SELECT max(at) FROM entry WHERE position >> 32 = n)
		WHERE finished IS NULL AND n < (SELECT max(position) >> 32 FROM entry)`)
	return err
}

func sessionNumbers(q querier) ([]int64, error) {
	rows, err := q.Query(`SELECT n FROM session ORDER BY n`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var numbers []int64
	for rows.Next() {
		var n int64
		if err := rows.Scan(&n); err != nil {
			return nil, nonsense(err)
		}
		numbers = append(numbers, n)
	}
	return numbers, rows.Err()
}

// renumber closes the gaps in the sequence of session n and counts its entries.
func (m *Mended) renumber(tx *sql.Tx, n int64) error {
	next, old := int64(1), int64(1)
	for w, err := range rowsFrom(tx, n, position(n, 1)) {
		if err != nil {
			return err
		}
		many, err := w.many()
		if err != nil {
			return err // it was sound when it was taken over
		}
		seq := w.position & seqMask
		if seq != old {
			m.Missing++
		}
		if seq != next {
			if _, err := tx.Exec(`DELETE FROM entry WHERE position = ?`, w.position); err != nil {
				return err
			}
			w.position = position(n, next)
			if w.kind == rowSamples && w.sum == noSum {
				w.body = w.body[:len(w.body)-sumSize]
			}
			if err := insert(tx, w.summed()); err != nil {
				return err
			}
		}
		old, next = seq+many, next+many
		m.Entries++
	}
	return nil
}

// many returns how many entries are in a row, after a look at each.
func (w row) many() (n int64, err error) {
	for _, err := range w.unpack() {
		if err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// How many values a row of the newest layout has.
const (
	entryColumns   = 6
	sessionColumns = 10
)

// sumIn returns the checksum among a row's values, nil if there is none.
func sumIn(values []any) any {
	switch len(values) {
	case entryColumns:
		return values[5]
	case sessionColumns:
		return values[8]
	}
	return nil
}

// entryOf makes a row of entries of a record's values, if that is what they are and
// they are sound.
func entryOf(position int64, values []any) (w row, ok bool) {
	if len(values) != entryColumns || values[0] != nil {
		return w, false
	}
	numbers := [3]int64{}
	for i := range numbers {
		if numbers[i], ok = values[i+1].(int64); !ok {
			return w, false
		}
	}
	w = row{position: position, kind: int(numbers[0]), at: time.Duration(numbers[1]), wall: numbers[2], sum: noSum}
	if w.body, ok = values[4].([]byte); !ok {
		return w, false
	}
	if values[5] != nil {
		if w.sum, ok = values[5].(int64); !ok {
			return w, false
		}
	}
	_, err := w.many()
	return w, err == nil && position > 0
}

// soundSession reports whether a record's values are a session's that is sound.
func soundSession(n int64, values []any) bool {
	if len(values) != sessionColumns || values[0] != nil || n <= 0 {
		return false
	}
	id, ok1 := values[1].([]byte)
	began, ok2 := values[2].(int64)
	setup, ok3 := values[3].([]byte)
	_, ok4 := values[4].([]byte)
	_, ok5 := values[5].(int64)
	if !ok1 || !ok2 || !ok3 || !ok4 || !ok5 || json.Unmarshal(setup, new(steambox.Box)) != nil {
		return false
	}
	sum := int64(noSum)
	if values[8] != nil {
		if sum, ok5 = values[8].(int64); !ok5 {
			return false
		}
	}
	return sum == noSum || sum == sumOf([]int64{n, began}, id, setup)
}

// source is a damaged record, read without SQLite.
type source struct {
	file   *os.File
	wal    *wal
	newest map[uint32]image // of the pages in the write-ahead file
	pages  uint32           // in the file
}

func openSource(path string) (*source, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	w, err := openWAL(path + "-wal")
	if err != nil {
		f.Close()
		return nil, err
	}
	return &source{file: f, wal: w, newest: maps.Collect(w.pages()), pages: uint32(info.Size() / pageSize)}, nil
}

func (s *source) close() {
	s.file.Close()
	s.wal.close()
}

// rows returns the values of every row that find finds on a page, the newer ones later.
func (s *source) rows(find func(uint32, []byte, chain) iter.Seq2[int64, []byte]) iter.Seq2[int64, []any] {
	return func(yield func(int64, []any) bool) {
		for number, i := range s.images() {
			page, err := i.read()
			if err != nil {
				continue
			}
			for row, record := range find(number, page, s.chain) {
				values := columns(record)
				switch len(values) { // an older layout's rows end sooner
				case entryColumns - 1, sessionColumns - 1:
					values = append(values, nil)
				case sessionColumns - 2:
					values = append(values, nil, nil)
				}
				if !yield(row, values) {
					return
				}
			}
		}
	}
}

// images returns all pages, those of the write-ahead file after the others.
func (s *source) images() iter.Seq2[uint32, image] {
	return func(yield func(uint32, image) bool) {
		for number := uint32(1); number <= s.pages; number++ {
			if !yield(number, image{s.file, int64(number-1) * pageSize}) {
				return
			}
		}
		for number, i := range s.wal.pages() {
			if !yield(number, i) {
				return
			}
		}
	}
}

// chain finds a page that a row goes on in: the newest.
func (s *source) chain(number uint32) ([]byte, bool) {
	i, ok := s.newest[number]
	if !ok {
		if number == 0 || number > s.pages {
			return nil, false
		}
		i = image{s.file, int64(number-1) * pageSize}
	}
	page, err := i.read()
	return page, err == nil
}
