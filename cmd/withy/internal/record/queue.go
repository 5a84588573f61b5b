package record

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"withy/steambox"
)

const (
	batchSize = 10
	// batchAge is how old the first sample of a batch may grow: with the time
	// to write it, under ten seconds.
	batchAge = 9500 * time.Millisecond
	// maxPending is how much waits in memory while the disk can't be written,
	// in bytes: more than half a day of samples.
	maxPending = 1 << 20
)

// queue holds the samples that are not yet in the file. Nothing in it waits for
// the disk.
type queue struct {
	mu        sync.Mutex
	recording bool
	stopped   bool
	open      batch
	full      []batch
	size      int   // bytes in full
	trouble   error // of the last write; nil once one went well
	age       *time.Timer
	wake      chan struct{} // tells the background writer that there is something to write
}

func (q *queue) init() {
	q.wake = make(chan struct{}, 1)
	q.age = time.AfterFunc(time.Hour, q.aged)
	q.age.Stop()
}

// record says whether there is a session to take samples for.
func (q *queue) record(on bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.recording = on
}

// add takes a sample in and returns the trouble of the last write.
func (q *queue) add(at time.Duration, wall time.Time, s steambox.Sample) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.recording || q.stopped {
		return ErrIdle
	}
	if q.size > maxPending {
		return fmt.Errorf("sample lost, too many wait: %w", errors.Join(ErrUnwritable, q.trouble))
	}
	if err := q.open.add(at, nanos(wall), s); err != nil {
		return err
	}
	switch q.open.n {
	case 1:
		q.age.Reset(batchAge)
	case batchSize:
		q.seal()
		q.nudge()
	}
	return q.trouble
}

// aged is called when the open batch has grown old.
func (q *queue) aged() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.nudge()
}

// nudge wakes the background writer. Called with mu held.
func (q *queue) nudge() {
	if q.stopped {
		return
	}
	select {
	case q.wake <- struct{}{}:
	default: // it has been told
	}
}

// seal closes the open batch. Called with mu held.
func (q *queue) seal() {
	if q.open.n == 0 {
		return
	}
	q.age.Stop()
	q.full = append(q.full, q.open)
	q.size += len(q.open.body)
	q.open = batch{}
}

// take returns all that is pending, which stays so until written is called.
func (q *queue) take() []batch {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.seal()
	return slices.Clip(q.full)
}

// written tells how the write of the first n batches went.
func (q *queue) written(n int, err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.trouble = err
	if err != nil {
		return
	}
	for i := range q.full[:n] {
		q.size -= len(q.full[i].body)
	}
	q.full = q.full[n:]
	if len(q.full) == 0 {
		q.full = nil
	}
}

// stop ends the background writer; it reports false if that was done before.
func (q *queue) stop() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.stopped {
		return false
	}
	q.stopped = true
	q.age.Stop()
	close(q.wake)
	return true
}
