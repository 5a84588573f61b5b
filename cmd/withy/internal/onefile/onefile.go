// Package onefile writes a file whole onto the card, or not at all.
package onefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Write puts text into the place of the file of that name, at one stroke and synced,
// readable as mode says. It makes the folder, for its owner alone, where there is none.
func Write(name string, text []byte, mode fs.FileMode) error {
	dir := filepath.Dir(name)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, filepath.Base(name)+".")
	if err != nil {
		return err
	}
	_, wrote := f.Write(text)
	if err := errors.Join(wrote, f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	if err := os.Rename(f.Name(), name); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return syncFolder(dir)
}

// syncFolder sees the new name onto the card.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
