package record

import (
	"errors"
	"os"
	"path/filepath"
)

// Backup writes the record of the folder dir into the folder to, which must have none,
// as one file that is whole and synced; also while another program records into it:
// then it is the record as it was at this moment. A daemon that is given that folder
// goes on from there.
func Backup(dir, to string) error {
	r, err := Read(dir)
	if err != nil {
		return err
	}
	path := filepath.Join(to, fileName)
	_, err = r.db.Exec(`VACUUM INTO ?`, path)
	if err = errors.Join(failure(path, err), r.Close()); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return unwritable(to, err)
	}
	if err := errors.Join(f.Chmod(0o600), f.Sync(), f.Close(), syncDir(to)); err != nil {
		return unwritable(to, err)
	}
	return nil
}
