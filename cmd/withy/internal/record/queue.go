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
	// in bytes: more than half a day of samples. Events may be as much again: see Full.
	maxPending = 1 << 20
)

// piece is something that is to be written: a row of entries or a step in a
// session's life, in the order in which they were handed in.
type piece struct {
	kind pieceKind
	n    int // samples in it
	at   time.Duration
	wall int64 // ns
	body []byte
	boot Clock  // of a begin and a move
	day  string // of a begin
}

// pieceKind says what a piece is.
type pieceKind int

const (
	pieceSamples pieceKind = iota // body: a batch
	pieceEvent                    // body: JSON
	pieceMove                     // elapsed time comes from another clock
	pieceBegin                    // body: the box, JSON; ends the session before it
	pieceFinish
	pieceRetime // boot: of which boot, and the wall clock at its 0, ns
)

// queue holds what is not yet in the file. Nothing in it waits for the disk.
type queue struct {
	mu        sync.Mutex
	recording bool
	stopped   bool
	open      batch
	full      []piece
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

// record says that there is a session to take samples for.
func (q *queue) record() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.recording = true
}

// forget drops all that is pending, and the session that it is of.
func (q *queue) forget() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.age.Stop()
	q.open, q.full, q.size, q.recording = batch{}, nil, 0, false
}

// idle reports whether there is none.
func (q *queue) idle() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return !q.recording || q.stopped
}

// enter puts a piece behind all that is pending.
func (q *queue) enter(p piece) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.stopped || !q.recording && p.kind != pieceBegin && p.kind != pieceRetime {
		return ErrIdle
	}
	q.seal()
	q.full = append(q.full, p)
	q.size += len(p.body)
	q.recording = q.recording && p.kind != pieceFinish || p.kind == pieceBegin
	return nil
}

// crowded reports whether what is pending leaves no room for events.
func (q *queue) crowded() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.size > 2*maxPending
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
	q.full = append(q.full, piece{kind: pieceSamples, n: q.open.n, at: q.open.at, wall: q.open.wall, body: q.open.body})
	q.size += len(q.open.body)
	q.open = batch{}
}

// take returns all that is pending, which stays so until written is called.
func (q *queue) take() []piece {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.seal()
	return slices.Clip(q.full)
}

// written tells how the write of the first n pieces went.
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
