package record

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

// refused checks that an error wraps a sentinel, names the path and says more.
func refused(t *testing.T, err, want error, path string) {
	t.Helper()
	if !errors.Is(err, want) || !strings.Contains(err.Error(), path) {
		t.Fatalf("%v; want %v, naming %s", err, want, path)
	}
	t.Log(err)
}

func TestFolderMade(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "var", "withy 100%?#")
	begin(t, open(t, dir))
	for _, path := range []string{dir, filepath.Dir(dir)} {
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o700 {
			t.Error(path, info.Mode(), err)
		}
	}
	if _, err := os.Stat(filePath(dir)); err != nil {
		t.Error(err)
	}
}

func TestFileWhereTheFolderBelongs(t *testing.T) {
	path := filepath.Join(t.TempDir(), "data")
	must(t, os.WriteFile(path, nil, 0o600))
	_, err := Open(path)
	refused(t, err, ErrUnwritable, path)
	_, err = Open(filepath.Join(path, "below"))
	refused(t, err, ErrUnwritable, path)
}

func TestFolderWhereTheFileBelongs(t *testing.T) {
	dir := t.TempDir()
	must(t, os.Mkdir(filePath(dir), 0o700))
	_, err := Open(dir)
	refused(t, err, ErrUnwritable, filePath(dir))
}

// asNobody runs do with the rights of a user who owns nothing; for a user who
// isn't root that is the user as is.
func asNobody(t *testing.T, do func()) {
	t.Helper()
	if os.Geteuid() != 0 {
		do()
		return
	}
	done := make(chan error)
	go func() {
		runtime.LockOSThread() // for good: the thread ends with the goroutine
		err := syscall.Setfsuid(65534)
		if err == nil {
			do()
		}
		done <- err
	}()
	must(t, <-done)
}

func TestReadOnlyFolder(t *testing.T) {
	dir := t.TempDir()
	must(t, os.Chmod(filepath.Dir(dir), 0o755)) // let nobody get there
	must(t, os.Chmod(dir, 0o555))
	t.Cleanup(func() { os.Chmod(dir, 0o700) })
	asNobody(t, func() {
		_, err := Open(dir)
		refused(t, err, ErrUnwritable, filePath(dir))
	})
	asNobody(t, func() {
		_, err := Open(filepath.Join(dir, "new"))
		refused(t, err, ErrUnwritable, dir)
	})
}

func TestReadOnlyFile(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	begin(t, r)
	must(t, r.Close())
	must(t, os.Chmod(filepath.Dir(dir), 0o755))
	must(t, os.Chmod(dir, 0o555))
	must(t, os.Chmod(filePath(dir), 0o444))
	t.Cleanup(func() { os.Chmod(dir, 0o700) })
	asNobody(t, func() {
		_, err := Open(dir)
		refused(t, err, ErrUnwritable, filePath(dir))
	})
}

func TestNewerIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	begin(t, r)
	_, err := r.db.Exec(`PRAGMA user_version = 99`)
	must(t, err)
	must(t, r.Close())
	before, err := os.ReadFile(filePath(dir))
	must(t, err)
	_, err = Open(dir)
	refused(t, err, ErrNewer, filePath(dir))
	after, err := os.ReadFile(filePath(dir))
	must(t, err)
	if !bytes.Equal(before, after) {
		t.Error("it was changed")
	}
	if there, err := os.ReadDir(dir); err != nil || len(there) != 1 {
		t.Errorf("beside it: %v, %v", there, err)
	}
}

func TestDamagedAndQuarantine(t *testing.T) {
	dir := t.TempDir()
	for n, contents := range []string{"this is no database, and too long to be taken for an empty one", strings.Repeat("\x00", 4096), "SQLite format 3\x00" + strings.Repeat("\xff", 4080)} {
		must(t, os.WriteFile(filePath(dir), []byte(contents), 0o600))
		_, err := Open(dir)
		refused(t, err, ErrDamaged, filePath(dir))
		aside, err := Quarantine(dir)
		must(t, err)
		if want := filePath(dir) + ".damaged-" + string(rune('1'+n)); aside != want {
			t.Errorf("moved to %s, want %s", aside, want)
		}
		if got, err := os.ReadFile(aside); err != nil || string(got) != contents {
			t.Error("not as it was:", err)
		}
	}
	if _, err := Quarantine(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Error("with no record there:", err)
	}
	begin(t, open(t, dir))
}

func TestForeignDatabase(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	_, err := r.db.Exec(`PRAGMA application_id = 1`)
	must(t, err)
	must(t, r.Close())
	_, err = Open(dir)
	refused(t, err, ErrDamaged, filePath(dir))
}

// Pages of a long session are overwritten one after the other: reading gives
// what comes before them, or ErrDamaged, and never something else.
func TestDamagedPages(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	lived := live(t, r, 400)
	must(t, r.Close())
	whole, err := os.ReadFile(filePath(dir))
	must(t, err)
	damaged := 0
	for at := 0; at < len(whole); at += pageSize {
		bad := bytes.Clone(whole)
		copy(bad[at:at+pageSize], bytes.Repeat([]byte{0xa5}, pageSize))
		must(t, os.WriteFile(filePath(dir), bad, 0o600))
		if readDamaged(t, dir, id, lived) {
			damaged++
		}
	}
	t.Logf("%d of %d pages are missed when damaged", damaged, len(whole)/pageSize)
	if damaged < len(whole)/pageSize*3/4 {
		t.Error("too few")
	}
}

func readDamaged(t *testing.T, dir, id string, lived []Entry) bool {
	t.Helper()
	r, err := Open(dir)
	if err != nil {
		if !errors.Is(err, ErrDamaged) {
			t.Fatal(err)
		}
		return true
	}
	defer r.Close()
	n := 0
	for e, err := range r.Entries(id, 0) {
		if err != nil {
			if !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrUnknown) {
				t.Fatal(err)
			}
			return true
		}
		same(t, e, lived[n])
		n++
	}
	return n < len(lived)
}

// full checks what happens when the disk fills up and is cleared again.
func full(t *testing.T, r *Record, id string, clear func()) {
	t.Helper()
	var lived []Entry
	var err error
	for k := 0; err == nil; k++ {
		if k > 100_000 {
			t.Fatal("never full")
		}
		at, wall, s := secondOf(k)
		err = r.Sample(at, wall, s) // of the background writer, if it was quicker
		lived = append(lived, Entry{Seq: int64(k + 2), At: at, Wall: wall, Sample: &s})
		if err == nil && k%10 == 9 {
			err = r.flush()
		}
	}
	refused(t, err, ErrUnwritable, r.path)
	k := len(lived)
	at, wall, s := secondOf(k)
	refused(t, r.Sample(at, wall, s), ErrUnwritable, r.path) // it waits all the same
	lived = append(lived, Entry{Seq: int64(k + 2), At: at, Wall: wall, Sample: &s})
	e := eventOf(k)
	refused(t, r.Event(at, wall, e), ErrUnwritable, r.path) // and so does an event
	lived = append(lived, Entry{Seq: int64(k + 3), At: at, Wall: wall, Event: &e})
	refused(t, r.Snapshot(at, make([]byte, 40<<10)), ErrUnwritable, r.path)

	clear()
	e2 := eventOf(k + 1)
	must(t, r.Event(at, wall, e2))
	lived = append(lived, Entry{Seq: int64(k + 4), At: at, Wall: wall, Event: &e2})
	same(t, collect(t, r.Entries(id, 1)), lived)
	must(t, r.Sample(at, wall, s)) // the trouble is over
}

func TestFull(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	_, err := r.db.Exec(`PRAGMA max_page_count = 40`)
	must(t, err)
	full(t, r, id, func() {
		_, err := r.db.Exec(`PRAGMA max_page_count = 4294967294`)
		must(t, err)
	})
}

// The same on a disk that is really full, where one may be made.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("withy", dir, "tmpfs", 0, "size=512k"); err != nil {
		t.Skip("can't make a small disk, needs root:", err)
	}
	t.Cleanup(func() { must(t, syscall.Unmount(dir, syscall.MNT_DETACH)) })
	ballast := filepath.Join(dir, "ballast")
	must(t, os.WriteFile(ballast, make([]byte, 160<<10), 0o600))
	r := open(t, dir)
	id := begin(t, r)
	full(t, r, id, func() { must(t, os.Remove(ballast)) })
	must(t, r.Close())

	r = open(t, dir)
	if u, err := r.Unfinished(); err != nil || u.ID != id {
		t.Error(u, err)
	}
}

// With the disk gone for good, memory stays bounded and the loss is told.
func TestPendingIsBounded(t *testing.T) {
	r := open(t, t.TempDir())
	begin(t, r)
	r.disk.Lock() // a disk that never answers
	defer r.disk.Unlock()
	var err error
	began := time.Now()
	k := 0
	for ; err == nil; k++ {
		at, wall, s := secondOf(k)
		err = r.Sample(at, wall, s)
	}
	if !errors.Is(err, ErrUnwritable) || r.pending.size > maxPending+4096 {
		t.Error(err, r.pending.size)
	}
	t.Logf("%d samples, %.1f h at 1 Hz, %v each", k, float64(k)/3600, time.Since(began)/time.Duration(k))
}
