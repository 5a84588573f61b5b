package record

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// killed is a record as a killed program leaves it: two sessions, the first one
// finished, the second one going on and partly in the write-ahead file only.
type killed struct {
	record, wal []byte
	lived       map[string][]Entry // by session, all that was acknowledged
}

// leave makes one.
func leave(t *testing.T) killed {
	t.Helper()
	dir := t.TempDir()
	r := open(t, dir)
	k := killed{lived: map[string][]Entry{}}
	first := begin(t, r)
	k.lived[first] = live(t, r, 300)
	at, wall, _ := secondOf(300)
	must(t, r.Finish(at, wall))
	_, err := r.db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	must(t, err)
	second := begin(t, r)
	k.lived[second] = live(t, r, 200)
	must(t, r.Snapshot(at, make([]byte, 5<<10)))
	_, err = r.Flush()
	must(t, err)
	k.record, err = os.ReadFile(filePath(dir))
	must(t, err)
	k.wal, err = os.ReadFile(filePath(dir) + "-wal")
	must(t, err)
	return k
}

// start starts with a record and a write-ahead file, mends them if need be, and checks
// that what is on record then was lived, in its order, and that the record can be
// written. It returns how many entries are missing, and what was mended.
func (k killed) start(t *testing.T, record, wal []byte) (missing int, m *Mended) {
	t.Helper()
	dir := t.TempDir()
	must(t, os.WriteFile(filePath(dir), record, 0o600))
	must(t, os.WriteFile(filePath(dir)+"-wal", wal, 0o600))
	r, m := openMended(t, dir)
	defer r.Close()
	if m != nil {
		if info, err := os.Stat(m.Aside); err != nil || info.Size() < int64(len(record)) {
			t.Fatalf("moved aside to %s: %v", m.Aside, err)
		}
	}
	for id, lived := range k.lived {
		if _, err := r.Session(id); errors.Is(err, ErrUnknown) {
			missing += len(lived)
			continue
		}
		all := collect(t, r.Entries(id, 0))
		next := 0
		for i, e := range all {
			if e.Seq != int64(i+1) {
				t.Fatalf("entry %d stands at %d", e.Seq, i+1)
			}
			for next < len(lived) && (lived[next].At != e.At || (lived[next].Event == nil) != (e.Event == nil) || (lived[next].Clock == nil) != (e.Clock == nil)) {
				next++
			}
			if next == len(lived) {
				t.Fatalf("%s, entry %d was never lived: %+v", id, e.Seq, e)
			}
			want := lived[next]
			want.Seq = e.Seq
			same(t, e, want)
			next++
		}
		missing += len(lived) - len(all)
	}
	if r.ID() == "" {
		begin(t, r)
	}
	must(t, r.Event(time.Hour, morning, eventOf(1000)))
	return missing, m
}

// Undamaged nothing is missing and nothing is mended.
func TestKilledIsWhole(t *testing.T) {
	k := leave(t)
	if missing, m := k.start(t, k.record, k.wal); missing != 0 || m != nil {
		t.Errorf("%d missing, mended %+v", missing, m)
	}
}

// Bits flip, one at a time, in every page of the write-ahead file and in every page of
// the record: at most what stands in the row that was hit is missing, a batch of samples
// or an event.
func TestFlippedBits(t *testing.T) {
	k := leave(t)
	flips, apart := 1, 3
	if os.Getenv("WITHY_FULL") != "" {
		flips, apart = 20, 1
	}
	random := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		file []byte
		page int
	}{{"write-ahead file", k.wal, frameSize}, {"record", k.record, pageSize}} {
		t.Run(c.name, func(t *testing.T) {
			tried, seen, most, all := 0, 0, 0, 0
			for at := 0; at < len(c.file); at += apart * c.page {
				for range flips {
					bad := bytes.Clone(c.file)
					bit := random.IntN(8 * min(c.page, len(bad)-at))
					bad[at+bit/8] ^= 1 << (bit % 8)
					record, wal := bad, k.wal
					if &c.file[0] == &k.wal[0] {
						record, wal = k.record, bad
					}
					missing, m := k.start(t, record, wal)
					tried++
					if m != nil {
						seen++
					}
					if missing > 0 {
						all++
						if m == nil && at+2*c.page <= len(c.file) { // the last may never have been whole
							t.Errorf("bit %d of byte %d: %d entries missing, and nothing is said", bit%8, at+bit/8, missing)
						}
					}
					if missing > batchSize {
						t.Errorf("bit %d of byte %d: %d entries missing, mended %+v", bit%8, at+bit/8, missing, m)
					}
					most = max(most, missing)
				}
			}
			t.Logf("%d flips, %d of them seen and mended at the start; in %d of them something is missing, at most %d entries", tried, seen, all, most)
			if seen == 0 {
				t.Error("none was seen")
			}
		})
	}
}

// Cut at many lengths, the write-ahead file gives what comes before the cut, and the
// record what is left of it together with the write-ahead file.
func TestTruncated(t *testing.T) {
	k := leave(t)
	missing := -1
	for n := len(k.wal); n >= 0; n -= 1489 {
		now, m := k.start(t, k.record, k.wal[:n])
		if m != nil {
			t.Errorf("cut to %d bytes it was taken for damaged: %+v", n, m)
		}
		if now < missing {
			t.Errorf("cut to %d bytes: %d missing, and %d with a longer one", n, now, missing)
		}
		missing = now
	}
	mended := 0
	for n := 0; n < len(k.record); n += 2477 {
		if _, m := k.start(t, k.record[:n], k.wal); m != nil {
			mended++
		}
	}
	if mended == 0 {
		t.Error("a short record was never mended")
	}
	t.Logf("record cut short %d times, mended %d times", (len(k.record)+2476)/2477, mended)
}

// A torn write: the second half of a page is that of the page before.
func TestTorn(t *testing.T) {
	k := leave(t)
	for at := 0; at+pageSize <= len(k.record); at += pageSize {
		bad := bytes.Clone(k.record)
		copy(bad[at+pageSize/2:at+pageSize], bytes.Repeat([]byte{0}, pageSize/2))
		k.start(t, bad, k.wal)
	}
	frames := 0
	for at := walHeaderSize; at+frameSize <= len(k.wal); at += 2 * frameSize {
		bad := bytes.Clone(k.wal)
		clear(bad[at+frameHeader+pageSize/2 : at+frameSize])
		if bytes.Equal(bad, k.wal) {
			continue
		}
		frames++
		if _, m := k.start(t, k.record, bad); m == nil && at+2*frameSize <= len(k.wal) {
			t.Errorf("frame at %d is torn, and nothing is said", at)
		}
	}
	t.Logf("%d pages of the write-ahead file torn", frames)
}

// A program killed while it mended leaves the damaged record where it was, or the mended
// one where the next start finds it.
func TestKilledWhileMending(t *testing.T) {
	k := leave(t)
	dir := t.TempDir()
	must(t, os.WriteFile(filePath(dir), []byte("damaged"), 0o600))
	must(t, os.WriteFile(filepath.Join(dir, mendingName), k.record[:3000], 0o600))
	if _, err := Open(dir); !errors.Is(err, ErrDamaged) {
		t.Fatal(err)
	}
	_, err := Mend(dir)
	must(t, err)
	must(t, os.Rename(filePath(dir), filepath.Join(dir, mendedName))) // killed before the last step
	must(t, open(t, dir).Close())
	if _, err := os.Stat(filepath.Join(dir, mendedName)); !errors.Is(err, fs.ErrNotExist) {
		t.Error("it is still there:", err)
	}
}

// The record of an older layout, written by the program of its time, is read and written
// on; what it exported then is exported now.
func TestOlderLayout(t *testing.T) {
	for layout := 1; layout < len(schemas); layout++ {
		for _, mend := range []bool{false, true} {
			olderLayout(t, fmt.Sprint("testdata/layout", layout), mend)
		}
	}
}

func olderLayout(t *testing.T, there string, mend bool) {
	t.Helper()
	dir := t.TempDir()
	old, err := os.ReadFile(filepath.Join(there, fileName))
	must(t, err)
	must(t, os.WriteFile(filePath(dir), old, 0o600))
	if mend {
		_, err := Mend(dir)
		must(t, err)
	}
	r := open(t, dir)
	for _, id := range []string{"2026-11-25-1", "2026-11-25-2"} {
		want, err := os.ReadFile(filepath.Join(there, id+".jsonl"))
		must(t, err)
		var got bytes.Buffer
		must(t, r.Export(&got, id))
		_, wanted, _ := bytes.Cut(want, []byte("\n")) // a box may know more by now
		_, gotten, _ := bytes.Cut(got.Bytes(), []byte("\n"))
		if !bytes.Equal(wanted, gotten) {
			t.Errorf("%s isn't what it was", id)
		}
		then, _, err := Import(bytes.NewReader(want))
		must(t, err)
		now, err := r.Session(id)
		must(t, err)
		same(t, now, then)
	}
	u, err := r.Unfinished()
	must(t, err)
	if !mend && (len(u.Snapshots) != 1 || string(u.Snapshots[0].State) != "of the second") {
		t.Errorf("snapshots %+v", u.Snapshots)
	}
	if u.Clock != (Clock{Boot: "boot-2", Origin: -time.Second}) {
		t.Errorf("clock %+v", u.Clock)
	}
	must(t, r.Event(u.At, u.Wall, eventOf(7)))
	var layout int
	must(t, r.db.QueryRow(`PRAGMA user_version`).Scan(&layout))
	if layout != len(schemas) {
		t.Errorf("layout %d", layout)
	}
	moved := Clock{Boot: "boot-3", Origin: time.Minute, Undated: true}
	must(t, r.Moved(moved, u.Wall))
	must(t, r.Close())
	_, err = Mend(dir)
	must(t, err)
	r = open(t, dir)
	u, err = r.Unfinished()
	must(t, err)
	same(t, u.Clock, moved)
	must(t, r.Close())
}

// A session that went on for long is opened without a look at its oldest rows: what ails
// those is found in the background, and mended at the next start.
func TestOldRowsAreLookedThroughLater(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	begin(t, r)
	for k := range (rowsAtOpen + 20) * batchSize {
		at, wall, s := secondOf(k)
		must(t, r.Sample(at, wall, s))
		if k%1000 == 999 { // so many at once would wait for the disk
			must(t, r.flush())
		}
	}
	must(t, r.flush())
	var rows int
	must(t, r.db.QueryRow(`SELECT count(*) FROM entry`).Scan(&rows))
	must(t, r.Close())
	whole, err := os.ReadFile(filePath(dir))
	must(t, err)
	for _, c := range []struct {
		name, does string
		row        int // from the first
		atOpen     bool
	}{
		{"old, and its sum is wrong", `UPDATE entry SET sum = sum + 1`, rows - rowsAtOpen - 1, false},
		{"old, and missing", `DELETE FROM entry`, rows - rowsAtOpen - 1, false},
		{"new, and its sum is wrong", `UPDATE entry SET sum = sum + 1`, rows - rowsAtOpen, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			must(t, os.WriteFile(filePath(dir), whole, 0o600))
			r := open(t, dir)
			must(t, r.LookThrough(t.Context()))
			_, err := r.db.Exec(c.does+` WHERE position = (SELECT position FROM entry ORDER BY position LIMIT 1 OFFSET ?)`, c.row)
			must(t, err)
			must(t, r.Close())
			if r, err = Open(dir); errors.Is(err, ErrDamaged) != c.atOpen {
				t.Fatal("opened:", err)
			}
			if !c.atOpen {
				if err := r.LookThrough(t.Context()); !errors.Is(err, ErrDamaged) {
					t.Error("looked through:", err)
				}
				must(t, r.Close())
				if _, err = Open(dir); !errors.Is(err, ErrDamaged) {
					t.Error("opened again:", err)
				}
			}
			m, err := Mend(dir)
			must(t, err)
			if m.Sessions != 1 || m.Entries < rows-1 || m.Missing > 1 {
				t.Errorf("%+v of %d rows", m, rows)
			}
			must(t, open(t, dir).Close())
		})
	}
}
