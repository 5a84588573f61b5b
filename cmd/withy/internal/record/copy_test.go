package record

import (
	"bufio"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// While another program writes as fast as it can, the record can be read again and
// again: whole, in order, and with all that was acknowledged before. It can't be
// written, and nothing is left behind of the copies.
func TestReadBesideAWriter(t *testing.T) {
	dir, temp := t.TempDir(), t.TempDir()
	t.Setenv("TMPDIR", temp)
	r := open(t, dir)
	id := begin(t, r)
	must(t, r.Close())
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), killDir+"="+dir)
	out, err := child.StdoutPipe()
	must(t, err)
	must(t, child.Start())
	defer func() { _ = child.Wait() }()
	defer func() { _ = child.Process.Kill() }()
	in := bufio.NewReader(out)
	longest := 0
	for began := time.Now(); longest < 2500 && time.Since(began) < 30*time.Second; {
		if _, err := in.ReadString('\n'); err != nil {
			t.Fatal("the child ended by itself:", err)
		}
		in.Discard(in.Buffered())
		r, err := Read(dir)
		must(t, err)
		if r.private == "" {
			t.Fatal("read the record itself, which the child holds")
		}
		all := collect(t, r.Entries(id, 0))
		for i, e := range all {
			if e.Seq != int64(i+1) {
				t.Fatalf("entry %d stands at %d", e.Seq, i+1)
			}
		}
		if len(all) < longest {
			t.Fatalf("%d entries after %d", len(all), longest)
		}
		longest = len(all)
		must(t, r.Close())
	}
	if longest < 2500 {
		t.Errorf("only %d entries were ever read", longest)
	}
	if _, err := openDir(dir, 0, false); !errors.Is(err, ErrHeld) {
		t.Errorf("opened to write: %v", err)
	}
	if left, err := os.ReadDir(temp); err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// A copy that was begun before the write-ahead file was begun anew is no good: the
// header tells.
func TestWalHeaderTells(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	begin(t, r)
	before, err := walHeader(filePath(dir))
	must(t, err)
	for k := range 20 {
		at, wall, s := secondOf(k)
		must(t, r.Sample(at, wall, s))
	}
	must(t, r.flush())
	during, err := walHeader(filePath(dir))
	must(t, err)
	if len(before) != 32 || string(before) != string(during) {
		t.Errorf("%x, while it only grows %x", before, during)
	}
	_, err = r.db.Exec(`PRAGMA wal_checkpoint(RESTART)`)
	must(t, err)
	must(t, r.Event(time.Minute, morning, eventOf(1)))
	after, err := walHeader(filePath(dir))
	must(t, err)
	if string(after) == string(before) {
		t.Error("begun anew, and the header is the same")
	}
	if none, err := walHeader(filepath.Join(dir, "nothing")); err != nil || none != nil {
		t.Errorf("no file: %x, %v", none, err)
	}
}
