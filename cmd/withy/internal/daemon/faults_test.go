package daemon_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/unit"
)

// faults is what has failed around the watch.
type faults struct{ network, disk, page, clock bool }

func (f faults) String() string {
	var all []string
	for _, x := range []struct {
		name string
		is   bool
	}{{"network", f.network}, {"disk", f.disk}, {"page", f.page}, {"clock", f.clock}} {
		if x.is {
			all = append(all, x.name)
		}
	}
	if len(all) == 0 {
		return "nothing"
	}
	return strings.Join(all, "+")
}

// wires is a listener whose connections hold nothing: who does not read stops whoever
// writes to them, at once.
type wires struct {
	ends chan net.Conn
	done chan struct{}
}

func (w *wires) Accept() (net.Conn, error) {
	select {
	case c := <-w.ends:
		return c, nil
	case <-w.done:
		return nil, net.ErrClosed
	}
}

func (w *wires) Close() error   { close(w.done); return nil }
func (w *wires) Addr() net.Addr { return &net.IPAddr{IP: net.IPv4(127, 0, 0, 1)} }

// ask sends the beginning of a request and returns the end that the answer comes out of.
func (w *wires) ask(text string) (net.Conn, error) {
	here, there := net.Pipe()
	select {
	case w.ends <- local{there}:
	case <-w.done:
		return nil, net.ErrClosed
	}
	_, err := here.Write([]byte(text))
	return here, err
}

// local is an end that comes from this machine itself, as far as anybody is told.
type local struct{ net.Conn }

func (local) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 1} }

const streamRequest = "GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n"

// rest is how long somebody who asks and does not listen stays; the page's patience with
// them is as long.
const rest = 5 * time.Second

// nuisance asks again and again and never reads an answer.
func (w *wires) nuisance(ctx context.Context, text string) {
	for ctx.Err() == nil {
		c, err := w.ask(text)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(rest):
		}
		c.Close()
	}
}

// reader is a page that is shown what comes.
func (w *wires) reader(ctx context.Context, events *atomic.Int64) {
	c, err := w.ask(streamRequest)
	if err != nil {
		return
	}
	defer context.AfterFunc(ctx, func() { c.Close() })()
	for lines := bufio.NewScanner(c); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "event: view") {
			events.Add(1)
		}
	}
}

// crowded waits until no page finds room any more.
func (w *wires) crowded(t *testing.T) {
	t.Helper()
	for deadline := time.Now().Add(rest); time.Now().Before(deadline); {
		c, err := w.ask(streamRequest)
		if err != nil {
			t.Fatal(err)
		}
		status, err := bufio.NewReader(c).ReadString('\n')
		c.Close()
		if err == nil && strings.Contains(status, "503") {
			return
		}
	}
	t.Fatal("there is room for one more page")
}

// fullDisk lets every write of this process to the files of a folder fail as on a disk
// that is full: what they are open by leads to /dev/full from now on.
func fullDisk(t *testing.T, dir string) {
	t.Helper()
	dir, err := filepath.EvalSymlinks(dir)
	if err != nil {
		t.Fatal(err)
	}
	full, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer full.Close()
	open, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, fd := range open {
		name, _ := os.Readlink(filepath.Join("/proc/self/fd", fd.Name()))
		if !strings.HasPrefix(name, dir+"/") {
			continue
		}
		var at int
		if _, err := fmt.Sscan(fd.Name(), &at); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Dup3(int(full.Fd()), at, syscall.O_CLOEXEC); err != nil {
			t.Fatal(err)
		}
		n++
	}
	if n == 0 {
		t.Fatalf("no file of %s is open", dir)
	}
}

// stepped is a wall clock that somebody sets each time it is looked at: years ahead, back
// behind the beginning, and as it was.
func stepped() func() time.Time {
	var n atomic.Int64
	steps := []time.Duration{0, 3 * 365 * 24 * time.Hour, -50 * 365 * 24 * time.Hour, -time.Hour}
	return func() time.Time { return time.Now().Add(steps[n.Add(1)%int64(len(steps))]) }
}

// edges is a pin that notes each time that it is switched.
type edges struct {
	mu   sync.Mutex
	at   []time.Time
	rose chan time.Time
}

func (e *edges) Set(on bool) error {
	e.mu.Lock()
	defer e.mu.Unlock()
	now := time.Now()
	if on == (len(e.at)%2 == 0) {
		e.at = append(e.at, now)
		if len(e.at) == 1 {
			e.rose <- now
		}
	}
	return nil
}

// sounds is a buzzer that can be taken away: each trial has a pin of its own, and need
// not wait for the sound before it to end.
type sounds struct{ now atomic.Pointer[alert.Buzzer] }

func (s *sounds) Play(sound alert.Sound) {
	if b := s.now.Load(); b != nil {
		b.Play(sound)
	}
}

// fresh gives the buzzer a new pin, until stop.
func (s *sounds) fresh() (pin *edges, stop func()) {
	pin = &edges{rose: make(chan time.Time, 1)}
	b := alert.NewBuzzer(pin, nil)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); b.Run(ctx) }()
	s.now.Store(b)
	return pin, func() { s.now.Store(nil); cancel(); <-done }
}

// beset is a daemon with its page, its record and its buzzer, and what has failed of them.
type beset struct {
	*rig
	faults
	sounds *sounds
	views  atomic.Int64 // that the page was shown
	told   atomic.Int64
}

// besetBy starts one.
func besetBy(t *testing.T, f faults) *beset {
	t.Helper()
	b := &beset{faults: f, sounds: &sounds{}}
	dir := t.TempDir()
	rec, err := record.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	b.rig = start(t, newScript("b1", 0), rec, func(o *daemon.Options) {
		o.Sounds = b.sounds
		if f.clock {
			o.Wall = stepped()
		}
		if f.network {
			o.Outputs = hungOutputs(t)
		}
	})
	log := slog.New(slog.DiscardHandler)
	w := &wires{ends: make(chan net.Conn), done: make(chan struct{})}
	server := web.Server(web.New(b.Daemon, nil, metrics.Handler(b.Daemon), web.Entry{Hosts: []string{"localhost"}}, log))
	var around sync.WaitGroup
	ctx, cancel := context.WithCancel(context.Background())
	around.Go(func() { _ = server.Serve(w) })
	if f.network {
		for range 30 { // who never ends a request, and who never reads an answer
			around.Go(func() { w.nuisance(ctx, "GET / HTTP/1.1\r\nHost: local") })
			around.Go(func() { w.nuisance(ctx, "GET /metrics HTTP/1.1\r\nHost: localhost\r\n\r\n") })
		}
	}
	if f.page {
		for range 200 {
			around.Go(func() { w.nuisance(ctx, streamRequest) })
		}
		w.crowded(t)
	} else {
		around.Go(func() { w.reader(ctx, &b.views) })
	}
	t.Cleanup(func() {
		b.stop()
		cancel()
		server.Close()
		around.Wait()
		rec.Close() // fails where the disk has
	})
	b.air(20, 98)
	b.tell(steambox.Event{Kind: steambox.Start})
	if f.disk {
		b.air(11, 98) // the record has been written to
		fullDisk(t, dir)
	}
	return b
}

// air hands over n sweeps with both ends at a temperature; the time is that at which the
// last was handed over.
func (b *beset) air(n int, c float64) (last time.Time) {
	for range n {
		before := b.Changed()
		last = time.Now()
		b.source.sweeps <- sensor.Sweep{
			At: b.source.pass(time.Second), Level: sensor.Closed,
			Probes: []sensor.Reading{{Probe: "steam", Temp: unit.Celsius(c)}, {Probe: "door", Temp: unit.Celsius(c)}},
		}
		<-before
	}
	return last
}

// tell tells something, and waits until it counts; that it can't be kept is no matter.
func (b *beset) tell(e steambox.Event) {
	e.ID = fmt.Sprintf("told-%d", b.told.Add(1))
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := b.Do(ctx, e); err != nil && !errors.Is(err, daemon.ErrNotKept) {
		b.t.Errorf("%s: %v", e.Kind, err)
	}
}

// trial lets pressure build until the end of its alarm's delay, while somebody tells
// something just then, and returns how long after that the pin was on, and when it was
// switched; the whole sound's if that is wanted. Then all is well again. Where the disk
// fails it is full, and hangs besides if that is wanted.
func (b *beset) trial(hangs, whole bool) (wait time.Duration, switched []time.Time) {
	b.air(30, 104)
	time.Sleep(20 * time.Millisecond) // in life a second lies between two sweeps
	if slices.ContainsFunc(b.View().Alarms, func(a alert.Alarm) bool { return a.ID == alert.Pressure }) {
		b.t.Fatalf("raised before the end of its delay: %+v", b.View().Alarms)
	}
	pin, stop := b.sounds.fresh()
	answers := make(chan struct{})
	if b.disk && hangs {
		b.HangRecord(answers)
	}
	told := make(chan struct{})
	go func() {
		defer close(told)
		b.tell(steambox.Event{Kind: steambox.Note, Text: "something in between"})
	}()
	ended := b.air(1, 104)
	select {
	case rose := <-pin.rose:
		wait = rose.Sub(ended)
	case <-time.After(10 * time.Second):
		b.t.Fatal("no sound")
	}
	if whole {
		time.Sleep(3 * time.Second)
	}
	close(answers)
	<-told
	stop()
	b.tell(steambox.Event{Kind: steambox.Heard, Alarm: string(alert.Pressure)})
	b.air(62, 98)
	b.tell(steambox.Event{Kind: steambox.Reset, Alarm: string(alert.Pressure)})
	if failing := len(b.View().Troubles) > 0; failing != b.disk {
		b.t.Errorf("the disk fails: %v, troubles: %v", b.disk, b.View().Troubles)
	}
	return wait, pin.at
}

// offGolden returns by how much the danger sound on a pin is off at most. The golden
// timings are two fives of 150 ms on and 100 ms off, 400 ms between the fives.
func offGolden(t *testing.T, switched []time.Time) (off time.Duration) {
	golden := millis(0, 150, 250, 400, 500, 650, 750, 900, 1000, 1150, 1550, 1700, 1800, 1950, 2050, 2200, 2300, 2450, 2550, 2700)
	if len(switched) != len(golden) {
		t.Fatalf("switched %d times, a danger sound is %d", len(switched), len(golden))
	}
	for i, want := range golden {
		off = max(off, (switched[i].Sub(switched[0]) - want).Abs())
	}
	return off
}

func millis(ms ...int) []time.Duration {
	out := make([]time.Duration, len(ms))
	for i, m := range ms {
		out[i] = time.Duration(m) * time.Millisecond
	}
	return out
}

// Whatever fails around the watch, the buzzer sounds in time: from the sweep that ends an
// alarm's delay to the pin within 250 ms, 99th percentile, and never more than a second.
// WITHY_FULL=1 tries each combination 150 times instead of 12. A machine that is busy with
// other work lets everybody wait now and then: what was late is tried again, twice.
func TestFaultMatrix(t *testing.T) {
	trials := 12
	if os.Getenv("WITHY_FULL") != "" {
		trials = 150
	}
	var all []time.Duration
	for i := range 16 {
		f := faults{network: i&1 > 0, disk: i&2 > 0, page: i&4 > 0, clock: i&8 > 0}
		t.Run(f.String(), func(t *testing.T) {
			b := besetBy(t, f)
			for again := range 3 {
				waits := b.trials(trials)
				all = append(all, waits...)
				p99, worst := waits[len(waits)*99/100], waits[len(waits)-1]
				t.Logf("end of the delay to the pin: median %v, 99th percentile %v, worst %v; %d views shown",
					waits[len(waits)/2].Round(round), p99.Round(round), worst.Round(round), b.views.Load())
				if p99 <= 250*time.Millisecond && worst <= time.Second {
					break
				}
				if again == 2 {
					t.Error("too late, three times")
				}
			}
			// A whole sound takes its three seconds: with nothing and with all that fails.
			if i == 0 || i == 15 {
				_, sound := b.trial(true, true)
				t.Logf("the sound on the pin off by %v at most", offGolden(t, sound).Round(round))
			}
		})
	}
	if len(all) > 0 {
		slices.Sort(all)
		t.Logf("all %d: median %v, 99th percentile %v, worst %v", len(all),
			all[len(all)/2].Round(round), all[len(all)*99/100].Round(round), all[len(all)-1].Round(round))
	}
}

// round is how finely times are printed.
const round = 10 * time.Microsecond

// trials tries n times and returns how long each took, the shortest first.
func (b *beset) trials(n int) (waits []time.Duration) {
	for i := range n {
		wait, _ := b.trial(i%2 == 1, false)
		waits = append(waits, wait)
	}
	slices.Sort(waits)
	return waits
}
