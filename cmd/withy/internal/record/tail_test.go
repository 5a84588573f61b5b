package record

import (
	"bytes"
	"os"
	"testing"
)

// The last page of the write-ahead file is hit by a bit, and SQLite reads nothing of what
// was written last: the rows in it that are sound are on record all the same.
func TestTailIsTakenIn(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	lived := live(t, r, 200)
	_, err := r.Flush()
	must(t, err)
	for k := 200; k < 204; k++ {
		at, wall, _ := secondOf(k)
		e := eventOf(k)
		must(t, r.Event(at, wall, e))
		lived = append(lived, Entry{Seq: int64(len(lived) + 1), At: at, Wall: wall, Event: &e})
	}
	record, err := os.ReadFile(filePath(dir))
	must(t, err)
	wal, err := os.ReadFile(filePath(dir) + "-wal")
	must(t, err)
	k := killed{lived: map[string][]Entry{id: lived}}
	last := len(wal) - (len(wal)-walHeaderSize)%frameSize - frameSize
	if missing, m := k.start(t, record, wal[:last]); missing != 1 || m != nil {
		t.Errorf("without the page %d missing, mended %+v", missing, m)
	}
	// A row that SQLite has already, from another page.
	bad := bytes.Clone(wal)
	bad[last+frameSize-10] ^= 4
	if missing, m := k.start(t, record, bad); missing != 0 || m != nil {
		t.Errorf("with a bit lost %d missing, mended %+v", missing, m)
	}
}
