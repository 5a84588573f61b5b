package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"withy/sensor"
)

// supervised is the program on a pretended 1-wire tree, supervised as systemd does it by
// its unit: with Type=notify, WatchdogSec=3 and RestartSec=100ms.
//
// Source: sd_notify(3) and systemd.service(5), WatchdogSec=.
type supervised struct {
	t      *testing.T
	config string
	data   string
	probes []string // the files that are read
	socket *net.UnixConn
	child  *exec.Cmd
}

const (
	watchdog = 3 * time.Second
	restart  = 100 * time.Millisecond
)

func newSupervised(t *testing.T) *supervised {
	t.Helper()
	dir := t.TempDir()
	var probes strings.Builder
	s := &supervised{t: t, config: filepath.Join(dir, "withy.yaml"), data: filepath.Join(dir, "data")}
	for i, name := range []string{"steam", "door"} {
		id := fmt.Sprintf("28-00000000000%d", i+1)
		if err := os.MkdirAll(filepath.Join(dir, "w1", id), 0o700); err != nil {
			t.Fatal(err)
		}
		s.probes = append(s.probes, filepath.Join(dir, "w1", id, "temperature"))
		fmt.Fprintf(&probes, "  - {name: %s, id: %s, at_mm: %d}\n", name, id, 1500*i)
	}
	s.heat()
	text := fmt.Sprintf("probes:\n%sboard: {w1_root: %s/w1}\npage: {listen: \"127.0.0.1:0\"}\n", probes.String(), dir)
	if err := os.WriteFile(s.config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(dir, "notify"), Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	s.socket = socket
	t.Cleanup(func() { s.kill(); socket.Close() })
	return s
}

// heat has the probes say 98 °C.
func (s *supervised) heat() {
	s.t.Helper()
	for _, name := range s.probes {
		_ = os.Remove(name) // it may be a pipe
		if err := os.WriteFile(name, []byte("98000\n"), 0o600); err != nil {
			s.t.Fatal(err)
		}
	}
}

// hang has each read of a probe wait for ever, as a driver does whose bus is stuck: what is
// opened is a pipe that nobody writes to.
func (s *supervised) hang() {
	s.t.Helper()
	for _, name := range s.probes {
		if err := errors.Join(os.Remove(name), syscall.Mkfifo(name, 0o600)); err != nil {
			s.t.Fatal(err)
		}
	}
}

func (s *supervised) start() {
	s.t.Helper()
	self, err := os.Executable()
	if err != nil {
		s.t.Fatal(err)
	}
	s.child = exec.Command(self)
	s.child.Args = []string{"withy", "run", "--config", s.config, "--data", s.data}
	s.child.Env = append(os.Environ(), "NOTIFY_SOCKET="+s.socket.LocalAddr().String(), fmt.Sprint("WATCHDOG_USEC=", watchdog.Microseconds()))
	if err := s.child.Start(); err != nil {
		s.t.Fatal(err)
	}
}

func (s *supervised) kill() {
	if s.child != nil {
		_ = s.child.Process.Kill()
		_ = s.child.Wait()
		s.child = nil
	}
}

// hear returns what the program says next, "" if it says nothing for so long.
func (s *supervised) hear(within time.Duration) string {
	s.t.Helper()
	if err := s.socket.SetReadDeadline(time.Now().Add(within)); err != nil {
		s.t.Fatal(err)
	}
	b := make([]byte, 4096)
	n, err := s.socket.Read(b)
	if err != nil {
		return ""
	}
	return string(b[:n])
}

// sensing waits until the program is ready and has read its sensors once more.
func (s *supervised) sensing() {
	s.t.Helper()
	for _, want := range []string{"READY=1", "WATCHDOG=1"} {
		if got := s.hear(30 * time.Second); got != want {
			s.t.Fatalf("heard %q, want %q", got, want)
		}
	}
}

// Killed, it senses again within 3 s; stopped dead, within the watchdog's time and 3 s.
// Where every read of a probe hangs it is started again once, and then left to watch what it
// can. Told to end it says so.
func TestSupervised(t *testing.T) {
	s := newSupervised(t)
	s.start()
	s.sensing()
	for range 3 {
		if got := s.hear(watchdog / 2); got != "WATCHDOG=1" {
			t.Errorf("heard %q while it runs", got)
		}
	}
	crashed := time.Now()
	s.kill()
	s.drain()
	time.Sleep(restart)
	s.start()
	if got := s.hear(30 * time.Second); got != "READY=1" {
		t.Fatalf("after a crash heard %q", got)
	}
	if took := time.Since(crashed); took > 3*time.Second {
		t.Errorf("%v from a crash to sensing again", took)
	} else {
		t.Logf("%v from a crash to sensing again", took)
	}
	if got := s.hear(watchdog); got != "WATCHDOG=1" {
		t.Errorf("heard %q after that", got)
	}

	// Each read hangs: that is seen once the last readings are too old, and the start after
	// that senses nothing, but watches the rest.
	s.hang()
	blind := time.Now()
	for s.hear(watchdog) != "" {
	}
	if took := time.Since(blind); took > sensor.DefaultMaxAge+2*watchdog {
		t.Errorf("%v until the reads that hang were noticed", took)
	} else {
		t.Logf("%v until the reads that hang were noticed, with a watchdog of %v", took, watchdog)
	}
	s.kill()
	s.start()
	s.sensing()
	for started := time.Now(); time.Since(started) < sensor.DefaultMaxAge+watchdog; {
		if got := s.hear(watchdog); got != "WATCHDOG=1" {
			t.Fatalf("heard %q from a program that a start doesn't help", got)
		}
	}

	s.kill()
	s.heat()
	s.start()
	s.sensing()
	hung := time.Now()
	if err := s.child.Process.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	for s.hear(watchdog) != "" { // as systemd waits: so long since it last heard
	}
	s.kill()
	time.Sleep(restart)
	s.start()
	if got := s.hear(30 * time.Second); got != "READY=1" {
		t.Fatalf("after it hung heard %q", got)
	}
	if took := time.Since(hung); took > watchdog+3*time.Second {
		t.Errorf("%v from a hang to sensing again", took)
	} else {
		t.Logf("%v from a hang to sensing again, with a watchdog of %v", took, watchdog)
	}
	if err := s.child.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	last := ""
	for heard := s.hear(5 * time.Second); heard != ""; heard = s.hear(5 * time.Second) {
		if last = heard; last == "STOPPING=1" {
			break
		}
	}
	if last != "STOPPING=1" {
		t.Errorf("told to end it said %q", last)
	}
	if err := s.child.Wait(); err != nil {
		t.Error(err)
	}
	s.child = nil
}

// drain throws away what was said before.
func (s *supervised) drain() {
	for s.hear(10*time.Millisecond) != "" {
	}
}
