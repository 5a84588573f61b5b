package daemon

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"withy/steambox"
)

// writer writes to the record in the order that it is asked, in a goroutine of its own
// that lives while there is something to write.
type writer struct {
	mu   sync.Mutex
	jobs []*job
	busy bool
}

// job is one write; err holds how it went once done is closed.
type job struct {
	write func() error
	done  chan struct{}
	err   error
}

// mostJobs is how much may wait for a card that hangs: samples of an hour. Of events there
// may be as many again.
const mostJobs = 3600

// The errors of a card that doesn't answer; people are told notWritten.
var (
	errHangs   = errors.New("it does not answer")
	errCrowded = errors.New("too much waits for it")
)

// errFull says that something was not taken, so that it is told again.
var errFull = errors.New("that was not taken: the log can't be written, and too much waits for it")

// hand asks for a write.
func (w *writer) hand(write func() error) *job {
	j := &job{write: write, done: make(chan struct{})}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.jobs = append(w.jobs, j)
	if !w.busy {
		w.busy = true
		go w.work()
	}
	return j
}

// waiting returns how many writes wait.
func (w *writer) waiting() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.jobs)
}

// idle reports whether nothing is being written and nothing waits.
func (w *writer) idle() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return !w.busy
}

// work does the jobs. Who is told that the last one is done finds the writer idle.
func (w *writer) work() {
	for more := true; more; {
		w.mu.Lock()
		j := w.jobs[0]
		w.jobs = w.jobs[1:]
		w.mu.Unlock()
		j.err = j.write()
		w.mu.Lock()
		more = len(w.jobs) > 0
		w.busy = more
		close(j.done)
		w.mu.Unlock()
	}
}

// within waits for a write, and reports whether it was done in time.
func (j *job) within(d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-j.done:
		return true
	case <-t.C:
	}
	select {
	case <-j.done: // at the same moment
		return true
	default:
		return false
	}
}

// late is a write that the loop did not wait for any longer.
type late struct {
	*job
	since time.Time
}

// notWritten is shown while the record can't be written.
const notWritten = "The log can't be written. What happens now waits in memory, and is lost if the power goes."

const (
	patience = 100 * time.Millisecond // of the loop with the record: the alarms wait with it
	hangs    = 3 * time.Second        // after so long a card that is slow is one that hangs
)

// errLate says that something counts and is still being written.
var errLate = fmt.Errorf("%w yet", ErrNotKept)

// keep writes to the record if there is one, however long that takes: for the beginning
// and the end of a session, when there is nothing to be late for. A failure is a trouble
// that people are shown until a write goes well, and ErrNotKept for who may want to know;
// the watch goes on.
func (d *Daemon) keep(write func() error) error {
	if d.Record == nil {
		return d.unkept()
	}
	j := d.writer.hand(write)
	<-j.done
	return d.wrote(j.err)
}

// keepSoon is keep for while the watch goes on: what is not written soon goes on being
// written beside the loop, and the error is errLate.
func (d *Daemon) keepSoon(write func() error) error {
	if d.Record == nil {
		return d.unkept()
	}
	d.settle()
	wait := patience
	if len(d.late) > 0 && time.Since(d.late[0].since) > patience {
		wait = 0 // others have been waited for
	}
	j := d.writer.hand(write)
	if j.within(wait) {
		return d.wrote(j.err)
	}
	d.late = append(d.late, late{j, time.Now()})
	return errLate
}

// unkept is what comes of keeping something where there is no record: an alarm where there
// ought to be one.
func (d *Daemon) unkept() error {
	if d.lost = d.Unkept; d.lost {
		return ErrNotKept
	}
	return nil
}

// keepWaiting writes what could not be written before, and waits for what is being written.
func (d *Daemon) keepWaiting() error {
	d.settle()
	if !d.lost && len(d.late) == 0 {
		return nil
	}
	return d.keepSoon(func() error {
		_, err := d.Record.Flush()
		return err
	})
}

// full reports whether no further event can wait for the record.
func (d *Daemon) full() bool {
	return d.Record != nil && (d.writer.waiting() >= 2*mostJobs || d.Record.Full())
}

// keepEvent puts an event on record.
func (d *Daemon) keepEvent(at time.Duration, e steambox.Event) error {
	wall := d.Wall()
	return d.keepSoon(func() error { return d.Record.Event(at, wall, e) })
}

// keepSample hands a sample to the record, which doesn't wait for the card; behind what
// is being written, so that replay meets all in the order in which it was lived.
func (d *Daemon) keepSample(at time.Duration, m steambox.Sample) {
	if d.Record == nil {
		_ = d.unkept()
		return
	}
	d.settle()
	if d.erasing {
		return
	}
	wall := d.Wall()
	write := func() error { return d.Record.Sample(at, wall, m) }
	switch {
	case d.writer.idle():
		_ = d.wrote(write())
	case d.writer.waiting() >= mostJobs: // events can still wait
		_ = d.wrote(errCrowded)
	default:
		d.late = append(d.late, late{job: d.writer.hand(write), since: time.Now()})
	}
}

// wrote notes how a write went.
func (d *Daemon) wrote(err error) error {
	if err != nil {
		d.trouble(notWritten, err)
		d.lost = true
		return ErrNotKept
	}
	if d.lost {
		d.Log.Info("record", "written", "again")
		d.Troubles = slices.DeleteFunc(d.Troubles, func(t string) bool { return t == notWritten })
		d.lost = false
	}
	if d.id == "" && d.writer.idle() { // it was begun while nothing could be written
		d.id = d.Record.ID()
	}
	return nil
}

// settle takes notice of what was written late after all, and of a card that hangs.
func (d *Daemon) settle() {
	for len(d.late) > 0 && d.late[0].within(0) {
		l := d.late[0]
		d.late = d.late[1:]
		_ = d.wrote(l.err)
	}
	if len(d.late) > 0 && time.Since(d.late[0].since) > hangs {
		d.trouble(notWritten, errHangs)
		d.lost = true
	}
}

// reply answers a command; what is still being written is answered once it is.
func (d *Daemon) reply(c command, err error) {
	if !errors.Is(err, errLate) {
		c.done <- err
		return
	}
	l := d.late[len(d.late)-1]
	go func() {
		if l.within(hangs) && l.err == nil {
			err = nil
		}
		c.done <- err
	}()
}

// keepLast puts the state on record in which the loop ends, if the card answers.
func (d *Daemon) keepLast() {
	if d.Record != nil {
		d.writer.hand(d.snapshot()).within(hangs)
	}
}

// snapshot returns the write that puts the whole state, as it is now, on record.
func (d *Daemon) snapshot() func() error {
	at := d.fold.Session.Elapsed()
	d.shot = cmp.Or(at, d.shot)
	state, err := d.fold.Snapshot()
	return func() error {
		if err != nil {
			return err
		}
		return d.Record.Snapshot(at, state)
	}
}
