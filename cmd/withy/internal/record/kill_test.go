package record

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The environment of the child that TestKill starts, and how often it does.
const (
	killDir  = "WITHY_KILL_DIR"
	killMany = "WITHY_KILLS"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(killDir); dir != "" {
		if err := keepWriting(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// keepWriting is the child: it goes on with the unfinished session until it is
// killed, and says on standard output what it is about to write and what has been
// acknowledged. Numbers go on where the record ends.
func keepWriting(dir string) error {
	r, err := Open(dir)
	if err != nil {
		return err
	}
	u, err := r.Unfinished()
	if err != nil || u == nil {
		return fmt.Errorf("nothing to go on with: %w", err)
	}
	for k := int(u.At / time.Second); ; k++ {
		at, wall, s := secondOf(k)
		if err := r.Sample(at, wall, s); err != nil {
			return err
		}
		fmt.Printf("sample %d\n", k)
		if k%3 == 0 {
			fmt.Printf("writing %d\n", k)
			if err := r.Event(at+1, wall, eventOf(k)); err != nil {
				return err
			}
			fmt.Printf("written %d\n", k)
		}
		if k%50 == 49 {
			if err := r.Snapshot(at, make([]byte, 40<<10)); err != nil {
				return err
			}
		}
		time.Sleep(rand.N(time.Millisecond))
	}
}

// told is what a child said before it was killed.
type told struct {
	sample  int // the last that was handed in
	events  []int
	writing int // the event that was being written; -1: none
}

// runAndKill runs a child until it has said something and some more time has
// passed, and kills it.
func runAndKill(t *testing.T, dir string, after time.Duration) told {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), killDir+"="+dir)
	child.Stderr = os.Stderr
	out, err := child.StdoutPipe()
	must(t, err)
	must(t, child.Start())
	in := bufio.NewReader(out)
	first, err := in.ReadString('\n')
	must(t, err)
	timer := time.AfterFunc(after, func() { child.Process.Kill() })
	defer timer.Stop()
	rest, err := io.ReadAll(in)
	must(t, err)
	var exit *exec.ExitError
	if err := child.Wait(); !errors.As(err, &exit) || exit.Exited() {
		t.Fatal("the child ended by itself:", err)
	}
	said := told{writing: -1}
	for line := range strings.Lines(first + string(rest)) {
		what, number, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		n, err := strconv.Atoi(number)
		must(t, err)
		switch what {
		case "sample":
			said.sample = n
		case "writing":
			said.writing = n
		case "written":
			said.events, said.writing = append(said.events, n), -1
		}
	}
	return said
}

// TestKill kills a program that writes, again and again, and looks whether all
// that it had acknowledged is on record, in order, and no more than ten seconds'
// worth of samples is missing.
func TestKill(t *testing.T) {
	kills := 25
	if n, err := strconv.Atoi(os.Getenv(killMany)); err == nil {
		kills = n
	}
	dir := t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	must(t, r.Close())

	var between, kept, samples, events int
	acknowledged := map[int]bool{}
	for range kills {
		said := runAndKill(t, dir, rand.N(40*time.Millisecond))
		for _, k := range said.events {
			acknowledged[k] = true
		}
		events += len(said.events)
		onRecord, last := verify(t, dir, id)
		for k := range acknowledged {
			if !onRecord[k] {
				t.Fatalf("event %d was acknowledged and is not on record", k)
			}
		}
		if said.writing >= 0 {
			between++
			if onRecord[said.writing] && !acknowledged[said.writing] {
				kept++
			}
		}
		if behind := said.sample - last; behind > batchSize {
			t.Fatalf("the last %d samples are missing", behind)
		} else {
			samples = max(samples, behind)
		}
	}
	t.Logf("%d kills, %d of them between write and acknowledgement (%d of those events were kept); %d events acknowledged, none lost; at most %d samples lost",
		kills, between, kept, events, samples)
	if kills >= 500 && between < 100 {
		t.Errorf("only %d kills fell between write and acknowledgement", between)
	}
}

// verify reads the record after a kill: what it holds must be what was handed in,
// in order and without a gap in the sequence. It returns the events that are on
// record and the number of the last sample.
func verify(t *testing.T, dir, id string) (events map[int]bool, last int) {
	t.Helper()
	r, err := Open(dir)
	must(t, err)
	defer r.Close()
	events = map[int]bool{}
	seq := int64(0)
	for e, err := range r.Entries(id, 0) {
		must(t, err)
		if seq++; e.Seq != seq {
			t.Fatalf("entry %d after %d", e.Seq, seq-1)
		}
		switch {
		case e.Sample != nil:
			last = int(e.At / time.Second)
			at, wall, s := secondOf(last)
			same(t, e, Entry{Seq: seq, At: at, Wall: wall, Sample: &s})
		case e.Event != nil:
			k := int(e.At / time.Second)
			if k != last {
				t.Fatalf("event of second %d after the sample of second %d", k, last)
			}
			same(t, *e.Event, eventOf(k))
			events[k] = true
		}
	}
	return events, last
}
