package record

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"time"

	"modernc.org/sqlite"
)

// How the file is laid out and kept, chosen by measurement: see the package
// comment.
const (
	pageSize   = 1024
	checkpoint = 1000 // pages in the write-ahead file before they move to the record
	cacheKiB   = 256  // for each connection
	// busyMs is how long a write waits for another program that is writing,
	// such as one that deletes a session.
	busyMs = 5000
)

// applicationID marks the file as a record of this program: "WITH".
const applicationID = 0x57495448

// schemas are the steps from an empty file to the newest layout. A file's
// user_version is how many it has been through; steps are only ever added.
//
// An entry's position is its session's number and its sequence number in one, so
// that the order in the file is the order of folding and no index is needed: see
// position. A row of samples holds several entries and stands at the first.
var schemas = []string{`
	CREATE TABLE session (
		n        INTEGER PRIMARY KEY,
		id       TEXT NOT NULL UNIQUE,
		began    INTEGER NOT NULL, -- wall, ns of Unix time
		setup    TEXT NOT NULL,    -- the box, JSON
		boot     TEXT NOT NULL,    -- which boot origin belongs to, now
		origin   INTEGER NOT NULL, -- ns of the source's clock at elapsed 0
		finished INTEGER,          -- wall; NULL: not yet
		lasted   INTEGER           -- ns
	);
	CREATE TABLE entry (
		position INTEGER PRIMARY KEY,
		kind     INTEGER NOT NULL, -- 0 samples, 1 event, 2 clock
		at       INTEGER NOT NULL, -- elapsed, ns, of the first sample
		wall     INTEGER NOT NULL, -- ns of Unix time
		body     BLOB NOT NULL     -- samples: a batch; else JSON
	);
	CREATE TABLE snapshot (
		session INTEGER NOT NULL,
		seq     INTEGER NOT NULL, -- of the last entry in it
		at      INTEGER NOT NULL,
		state   BLOB NOT NULL,    -- sealed
		PRIMARY KEY (session, seq)
	) WITHOUT ROWID;
`, `
	-- SQLite has no checksums: a bit that a card lost would be read as another box,
	-- event or time. NULL: written before there were any.
	ALTER TABLE session ADD COLUMN sum INTEGER; -- of n, id, began and setup
	ALTER TABLE entry ADD COLUMN sum INTEGER; -- of all else; its samples are not sealed
`, `
	ALTER TABLE session ADD COLUMN undated INTEGER; -- 1: boot's wall clock was not known to be right, by now
`}

// position returns where an entry stands in the file.
func position(session, seq int64) int64 { return session<<seqBits | seq }

// seqBits leaves 4 billion entries to a session, a century at 1 Hz.
const (
	seqBits = 32
	seqMask = 1<<seqBits - 1
)

// openFile opens the file for writing and brings it to the newest layout; copied says
// that it is a copy of one that was being written.
func openFile(path string, waitMs int, copied bool) (db *sql.DB, tail []row, err error) {
	// Syncs the data and not the file's times: as safe, and less for the card
	// to write. Where there is no such call, nothing changes.
	_, _ = sqlite.Fdatasync(true)
	if db, err = sql.Open("sqlite", dsn(path, waitMs, "_txlock=immediate")); err != nil {
		return nil, nil, err
	}
	db.SetMaxOpenConns(1)
	if tail, err = prepare(db, path, copied); err != nil {
		db.Close()
		return nil, nil, err
	}
	return db, tail, nil
}

// openReader opens the file for reading as soon as somebody reads; it is closed
// again when nobody has for a minute.
func openReader(path string) *sql.DB {
	db, err := sql.Open("sqlite", dsn(path, busyMs, "_query_only=1"))
	if err != nil {
		panic("record: " + err.Error()) // only an unknown driver
	}
	db.SetMaxOpenConns(1)
	db.SetConnMaxIdleTime(time.Minute)
	return db
}

// vfs is how SQLite holds files: for this process alone. Tests put one in its place
// whose writes fail.
var vfs = "unix-excl"

// dsn names the file to the driver. It is held for this process alone, so that the
// index of the write-ahead file stays in memory: in a file of its own it would be
// written to the card again and again.
func dsn(path string, waitMs int, more string) string {
	u := url.URL{Scheme: "file", Path: path}
	return fmt.Sprintf("%s?vfs=%s&_busy_timeout=%d&_pragma=page_size(%d)&_pragma=cache_size(-%d)&_pragma=wal_autocheckpoint(%d)&_synchronous=FULL&%s",
		u.String(), vfs, waitMs, pageSize, cacheKiB, checkpoint, more)
}

// prepare refuses a file that isn't ours to write, before anything is changed,
// and brings an older one to the newest layout.
func prepare(db *sql.DB, path string, copied bool) (tail []row, err error) {
	had, err := layout(db)
	if err != nil {
		return nil, err
	}
	if !copied { // a copy ends in the middle of a write
		if tail, err = checkWAL(db, path); err != nil {
			return nil, err
		}
	}
	var mode string
	if err := db.QueryRow(`PRAGMA journal_mode = WAL`).Scan(&mode); err != nil {
		return nil, err
	}
	if mode != "wal" {
		return nil, fmt.Errorf("%w: it can't be kept in write-ahead mode on this kind of disk, only in mode %s", ErrUnwritable, mode)
	}
	tx, err := db.Begin() // takes the lock to write: fails where writing would
	if err != nil {
		return nil, err
	}
	defer func() { _ = tx.Rollback() }() // after Commit it says so, and means nothing
	for _, step := range schemas[had:] {
		if _, err := tx.Exec(step); err != nil {
			return nil, err
		}
	}
	if had < len(schemas) {
		_, err = tx.Exec(fmt.Sprintf(`PRAGMA application_id = %d; PRAGMA user_version = %d`, applicationID, len(schemas)))
		if err != nil {
			return nil, err
		}
	}
	return tail, tx.Commit()
}

// checkWAL refuses a file whose write-ahead file is damaged, and leaves that as it is:
// SQLite would take what stands before the damage for all there is. Called while the
// file is held, so that nobody writes to it.
func checkWAL(db *sql.DB, path string) (tail []row, err error) {
	if err := keepWAL(db, 1); err != nil {
		return nil, err
	}
	w, err := openWAL(path + "-wal")
	if err != nil {
		return nil, err
	}
	defer w.close()
	if w.damaged != "" {
		return nil, fmt.Errorf("%w: %s", ErrDamaged, w.damaged)
	}
	return w.tail, keepWAL(db, 0)
}

// keepWAL says whether the write-ahead file stays where it is when the record is
// closed.
func keepWAL(db *sql.DB, keep int) error {
	conn, err := db.Conn(context.Background())
	if err != nil {
		return err
	}
	defer conn.Close()
	return conn.Raw(func(c any) error {
		_, err := c.(sqlite.FileControl).FileControlPersistWAL("main", keep)
		return err
	})
}

// layout returns through how many of the schemas the file has been.
func layout(db *sql.DB) (int, error) {
	var application, version, tables int
	for _, q := range []struct {
		sql string
		to  *int
	}{
		{`PRAGMA application_id`, &application},
		{`PRAGMA user_version`, &version},
		{`SELECT count(*) FROM sqlite_schema`, &tables},
	} {
		if err := db.QueryRow(q.sql).Scan(q.to); err != nil {
			return 0, err
		}
	}
	switch {
	case application == applicationID && version > len(schemas):
		return 0, fmt.Errorf("%w: layout %d, this one knows %d", ErrNewer, version, len(schemas))
	case application != applicationID && (tables > 0 || version != 0):
		return 0, fmt.Errorf("%w: it is another program's file", ErrDamaged)
	case version < 0:
		return 0, fmt.Errorf("%w: layout %d", ErrDamaged, version)
	}
	return version, nil
}
