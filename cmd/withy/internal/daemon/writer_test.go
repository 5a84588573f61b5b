package daemon

import "testing"

// Who is told that the last write is done finds the writer idle: by that a session begun in
// mid-run has its name at once.
func TestWriterIsIdleWhenDone(t *testing.T) {
	var w writer
	for range 10_000 {
		j := w.hand(func() error { return nil })
		for !j.within(0) { // spinning is soonest to be told
		}
		if !w.idle() {
			t.Fatal("it is busy with nothing")
		}
	}
}
