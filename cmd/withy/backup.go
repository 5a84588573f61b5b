package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/record"
)

func newBackup() *cobra.Command {
	var data string
	cmd := &cobra.Command{
		Use:   "backup FOLDER",
		Short: "Copy the log, the calibrations and what was set into a new folder",
		Long: "Copies the data folder, also while the daemon runs: the log as it is at this moment, the\n" +
			"calibrations, what was set on the page, the page's key and who is paired, so keep it as you keep\n" +
			"the card. The copy is a data folder itself: to go back to it,\n" +
			"end the daemon, move the old folder away and put the copy in its place.",
		Example: "  withy backup /media/stick/withy-2026-05-01 --data /var/lib/withy",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := backUp(data, args[0]); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "The data folder is copied to", args[0])
			return nil
		},
	}
	cmd.Flags().StringVar(&data, "data", defaults().Data, "folder of the record")
	return cmd
}

// backUp copies a data folder to one that isn't there yet: whole or not at all.
func backUp(data, to string) error {
	if info, err := os.Stat(data); err != nil || !info.IsDir() {
		return fmt.Errorf("--data %s: there is no such folder", data)
	}
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: it is there already; name a new folder", to)
	}
	if within, err := inside(data, to); err != nil {
		return err
	} else if within {
		return fmt.Errorf("%s: it lies in the data folder %s; name one elsewhere", to, data)
	}
	half, err := os.MkdirTemp(filepath.Dir(to), filepath.Base(to)+".half-")
	if err != nil {
		return fmt.Errorf("%s: %w", to, err)
	}
	if err := errors.Join(record.Backup(data, half), copyBeside(data, half)); err != nil {
		return errors.Join(err, os.RemoveAll(half))
	}
	return os.Rename(half, to)
}

// inside reports whether a folder to be made would lie in another.
func inside(folder, to string) (bool, error) {
	folder, err := filepath.EvalSymlinks(folder)
	if err != nil {
		return false, err
	}
	parent, err := filepath.EvalSymlinks(filepath.Dir(to))
	if err != nil {
		return false, fmt.Errorf("%s: %w", to, err)
	}
	at, err := filepath.Rel(folder, parent)
	return err == nil && at != ".." && !strings.HasPrefix(at, ".."+string(filepath.Separator)), nil
}

// copyBeside copies all files of a data folder but the record's own.
func copyBeside(data, to string) error {
	return filepath.WalkDir(data, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(data, path)
		switch {
		case err != nil:
			return err
		case d.IsDir():
			return os.MkdirAll(filepath.Join(to, name), 0o700)
		case !d.Type().IsRegular() || strings.HasPrefix(name, "record.db"):
			return nil
		}
		return copyFile(filepath.Join(to, name), path)
	})
}

// copyFile copies a file, for its owner only, synced.
func copyFile(to, from string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}
