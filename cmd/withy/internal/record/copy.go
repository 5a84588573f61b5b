package record

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Read opens the record in the folder dir to read it, also while another program
// records into it: then it reads a copy of its own, as the record was at this
// moment, which Close removes. Errors are those of Open.
func Read(dir string) (*Record, error) {
	r, err := openDir(dir, 0, false)
	if !errors.Is(err, ErrHeld) {
		return r, err
	}
	private, err := copyOut(filepath.Join(dir, fileName))
	if err != nil {
		return nil, unwritable(os.TempDir(), err)
	}
	if r, err = openDir(private, busyMs, true); err != nil {
		return nil, errors.Join(err, os.RemoveAll(private))
	}
	r.private = private
	return r, nil
}

// tries is how often a copy is begun again because the write-ahead file was.
const tries = 5

// copyOut copies a record to a folder of its own while it is being written.
//
// The file first and the write-ahead file after it: whatever a checkpoint was
// moving meanwhile is in both. Only if the write-ahead file was begun anew in
// between, which its header tells, is the copy no good.
func copyOut(path string) (dir string, err error) {
	if dir, err = os.MkdirTemp("", "withy-"); err != nil {
		return "", err
	}
	for range tries {
		var before, after []byte
		if before, err = walHeader(path); err == nil {
			err = errors.Join(
				copyFile(filepath.Join(dir, fileName), path),
				copyFile(filepath.Join(dir, fileName+"-wal"), path+"-wal"))
		}
		if err == nil {
			after, err = walHeader(path)
		}
		if err != nil {
			return "", errors.Join(err, os.RemoveAll(dir))
		}
		if bytes.Equal(before, after) {
			return dir, nil
		}
	}
	return "", errors.Join(errors.New("it is being written all the time"), os.RemoveAll(dir))
}

// walHeader returns the header of a record's write-ahead file, which has two new
// numbers in it each time the file is begun anew; nothing if there is none.
//
// Source: SQLite documentation, "WAL-mode File Format", section 1.1.
func walHeader(path string) ([]byte, error) {
	const size = 32
	f, err := os.Open(path + "-wal")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, size))
}

// copyFile copies a file; one that isn't there is copied as nothing.
func copyFile(to, from string) error {
	in, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) {
		return os.RemoveAll(to)
	}
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}
