package record

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// The errors that a caller may want to tell apart.
var (
	// ErrUnwritable: the record can't be written: no right to, a full disk, a
	// folder where the file belongs, another program that holds it. Samples
	// wait in memory and are written when it can be again.
	ErrUnwritable = errors.New("the record can't be written")
	// ErrHeld: another program has the record open. It is an ErrUnwritable too.
	ErrHeld = fmt.Errorf("%w: another program has it open", ErrUnwritable)
	// ErrDamaged: what is in the file makes no sense. See Mend and Quarantine.
	ErrDamaged = errors.New("the record is damaged")
	// ErrNewer: the file was written by a newer version of this program.
	ErrNewer = errors.New("the record is of a newer version of this program")
	// ErrUnknown: no session has that id.
	ErrUnknown = errors.New("no such session on record")
	// ErrIdle: no session is being recorded.
	ErrIdle = errors.New("no session is being recorded")
	// ErrRunning: the session isn't finished.
	ErrRunning = errors.New("the session is still being recorded")
)

// failure names the file, what is wrong with it and what to do.
func failure(path string, err error) error {
	code := 0
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		code = e.Code()
	}
	switch {
	case err == nil || strings.HasPrefix(err.Error(), path+": "):
		return err
	case errors.Is(err, ErrUnwritable):
		return fmt.Errorf("%s: %w", path, err)
	case errors.Is(err, ErrNewer):
		return fmt.Errorf("%s: %w: install that version, or give another data folder", path, err)
	case errors.Is(err, ErrDamaged):
		return fmt.Errorf("%s: %w: start the daemon, which keeps what can be read and moves it aside", path, err)
	case isDamage(code):
		return fmt.Errorf("%s: %w: %w: start the daemon, which keeps what can be read and moves it aside", path, ErrDamaged, err)
	case code&0xff == sqlite3.SQLITE_BUSY || code&0xff == sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("%s: %w: end that one first", path, ErrHeld)
	case advice[code&0xff] != "":
		return fmt.Errorf("%s: %w: %w: %s", path, ErrUnwritable, err, advice[code&0xff])
	}
	return fmt.Errorf("%s: %w", path, err)
}

// isDamage reports whether a result of SQLite is about what is in the file.
func isDamage(code int) bool {
	switch code {
	case sqlite3.SQLITE_IOERR_READ, sqlite3.SQLITE_IOERR_SHORT_READ, sqlite3.SQLITE_IOERR_CORRUPTFS,
		sqlite3.SQLITE_ERROR: // our statements are right: the file's own tables are others
		return true
	}
	return code&0xff == sqlite3.SQLITE_CORRUPT || code&0xff == sqlite3.SQLITE_NOTADB
}

// nonsense returns the error of reading a row: one that isn't SQLite's says that a value
// is of another type than was ever written.
func nonsense(err error) error {
	if _, ok := errors.AsType[*sqlite.Error](err); ok || errors.Is(err, sql.ErrNoRows) {
		return err
	}
	return fmt.Errorf("%w: %w", ErrDamaged, err)
}

// advice is what to do about a result of SQLite, of those that say that the file
// can't be written.
var advice = map[int]string{
	sqlite3.SQLITE_FULL:     "make room on the disk: delete old sessions or other files",
	sqlite3.SQLITE_IOERR:    "see whether the disk is full or the card is failing",
	sqlite3.SQLITE_READONLY: "let the user that runs this program write to the folder and the file",
	sqlite3.SQLITE_PERM:     "let the user that runs this program write to the folder and the file",
	sqlite3.SQLITE_CANTOPEN: "it must be a file, and the user that runs this program must be let write to it and its folder",
}

// unwritable is failure for the folder itself.
func unwritable(dir string, err error) error {
	return fmt.Errorf("%s: %w: %w: give a data folder that the user that runs this program may write to", dir, ErrUnwritable, err)
}

// Quarantine moves a damaged record aside, to record.db.damaged-1 or the next
// number that is free, so that Open begins a new one; nothing is lost. It
// returns where the record now is. No Record of the folder may be open.
func Quarantine(dir string) (string, error) {
	path := filepath.Join(dir, fileName)
	if _, err := os.Lstat(path); err != nil {
		return "", fmt.Errorf("move the record aside: %w", err)
	}
	aside, err := freeName(path + ".damaged-")
	if err != nil {
		return "", fmt.Errorf("move the record aside: %w", err)
	}
	// The write-ahead file first: alone it would be taken for a new record's.
	for _, part := range []string{"-wal", "-shm", ""} {
		err := os.Rename(path+part, aside+part)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("move the record aside: %w", err)
		}
	}
	return aside, syncDir(dir)
}

// freeName returns the first of stem1, stem2 … that neither a record nor its
// write-ahead file has.
func freeName(stem string) (string, error) {
	for n := 1; ; n++ {
		name := fmt.Sprint(stem, n)
		_, file := os.Lstat(name)
		_, wal := os.Lstat(name + "-wal")
		if errors.Is(file, fs.ErrNotExist) && errors.Is(wal, fs.ErrNotExist) {
			return name, nil
		}
		if err := cmp.Or(file, wal); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
	}
}

// syncDir puts the names in a folder on the card.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
