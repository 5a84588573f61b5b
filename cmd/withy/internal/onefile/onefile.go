// Package onefile writes a file whole onto the card, or not at all, and removes it with all
// that was ever begun of it.
package onefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
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

// Remove removes the file of that name, if there is one, and what writes of it left behind
// that a power cut ended. No Write of that name may be under way.
func Remove(name string) error {
	begun, err := filepath.Glob(escaped.Replace(name) + ".[0-9]*") // as os.CreateTemp names them
	errs := []error{err}
	for _, name := range append(begun, name) {
		if err := os.Remove(name); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// escaped has a folder's name mean itself in a pattern.
var escaped = strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`)

// syncFolder sees the new name onto the card.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
