package emulated

import (
	"bufio"
	"bytes"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/alert"
	"withy/deploy/freeport"
	"withy/steambox"
)

// Lines of the board's GPIO controller, by their numbers; run gives them their names.
const (
	levelLine  = 0
	buzzerLine = 1
	palmLine   = 2
	pedalLine  = 4
	lampLine   = 6
)

// board is one emulated board with one program for boards on it.
type board struct {
	t       *testing.T
	program string
	guest   string        // where its first process listens
	page    string        // where Withy does
	host    string        // that it is asked for by, if not by that
	token   string        // that it gave us; empty before
	pair    func() string // has it give one, and returns what it says
	cut     func()        // takes its power away
	off     chan struct{} // closed once it is switched off
	chip    string        // its GPIO controller, in QEMU's tree of objects
	qtest   net.Conn
	qmp     *monitor

	mu    sync.Mutex
	edges []edge // of the lines that the program drives, as they came
	wire  wire
}

// edge is a change of a line as it was seen from outside.
type edge struct {
	line int
	up   bool
	at   time.Time
}

// wire is what the probes are told to do: see kernel/pretend_w1.c.
type wire struct {
	milliC, fault [8]int
}

// boot starts a board with nothing on it but the program and waits until it answers.
func boot(t *testing.T, dir, program string) *board {
	t.Helper()
	b := power(t, dir, "initramfs")
	b.program = program
	return b
}

// power gives a board power and waits until its first process answers. disk is what QEMU
// is told of its card, if it has one.
func power(t *testing.T, dir, initramfs string, disk ...string) *board {
	t.Helper()
	b := plug(t, dir, initramfs, disk...)
	b.until("the board answers", 8*time.Minute, func() bool {
		answer, err := http.Get(b.guest + "/clock")
		if err != nil {
			return false
		}
		answer.Body.Close()
		return answer.StatusCode == http.StatusOK
	})
	return b
}

// kernelLine is what the kernel is told at its start.
const kernelLine = "console=ttyAMA0 quiet panic=-1"

// plug gives a board power. It has no battery for its clock, so it wakes up in 1970.
func plug(t *testing.T, dir, initramfs string, disk ...string) *board {
	t.Helper()
	sockets, err := os.MkdirTemp("", "") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(sockets) })
	guest, page := freeport.Find(t), freeport.Find(t)
	kernels, _ := filepath.Glob(filepath.Join(dir, "kernel", "boot", "vmlinuz-*"))
	if len(kernels) != 1 {
		t.Fatalf("%d kernels in %s", len(kernels), dir)
	}
	console, err := os.OpenFile(filepath.Join(dir, strings.ReplaceAll(t.Name(), "/", "-")+".console"), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o644)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { console.Close() })
	qemu := exec.CommandContext(t.Context(), "qemu-system-aarch64", append([]string{
		"-M", "virt", "-cpu", "cortex-a53", "-smp", "2", "-m", "384", "-accel", "tcg", "-nodefaults", "-display", "none", "-no-reboot",
		"-dtb", filepath.Join(dir, "board.dtb"), "-kernel", kernels[0], "-initrd", filepath.Join(dir, initramfs),
		"-append", kernelLine, "-rtc", "base=1970-01-01", "-serial", "stdio",
		"-netdev", fmt.Sprintf("user,id=n,restrict=on,hostfwd=tcp:%s-:8018,hostfwd=tcp:%s-:8017", guest, page), "-device", "virtio-net-device,netdev=n",
		"-device", "qemu-xhci,id=usb",
		"-qtest", "unix:" + filepath.Join(sockets, "qtest") + ",server=on,wait=off", "-qtest-log", "/dev/null",
		"-qmp", "unix:" + filepath.Join(sockets, "qmp") + ",server=on,wait=off"}, disk...)...)
	qemu.Stdout, qemu.Stderr = console, console
	if err := qemu.Start(); err != nil {
		t.Fatal(err)
	}
	b := &board{t: t, guest: "http://" + guest, page: "http://" + page, off: make(chan struct{})}
	b.pair = func() string { return b.do("pair", "--token", "test", "--data", "/tmp/withy") }
	go func() { _ = qemu.Wait(); close(b.off) }()
	b.cut = func() { _ = qemu.Process.Kill(); <-b.off }
	t.Cleanup(b.cut)
	b.qtest = dial(t, filepath.Join(sockets, "qtest"))
	b.qmp = newMonitor(t, dial(t, filepath.Join(sockets, "qmp")))
	b.chip = b.qmp.find("pl061")
	go b.hear()
	fmt.Fprintf(b.qtest, "irq_intercept_out %s\n", b.chip)
	return b
}

func dial(t *testing.T, path string) net.Conn {
	t.Helper()
	for range 200 {
		if c, err := net.Dial("unix", path); err == nil {
			t.Cleanup(func() { c.Close() })
			return c
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("QEMU does not listen at %s", path)
	return nil
}

// hear keeps the edges of the lines that the program drives.
func (b *board) hear() {
	for s := bufio.NewScanner(b.qtest); s.Scan(); {
		var e edge
		var way string
		if n, _ := fmt.Sscanf(s.Text(), "IRQ %s %d", &way, &e.line); n != 2 {
			continue
		}
		e.up, e.at = way == "raise", time.Now()
		b.mu.Lock()
		b.edges = append(b.edges, e)
		b.mu.Unlock()
	}
}

// set moves a line that the program reads. A contact to ground is closed at low.
func (b *board) set(line int, high bool) {
	level := 0
	if high {
		level = 1
	}
	fmt.Fprintf(b.qtest, "set_irq_in %s unnamed-gpio-in %d %d\n", b.chip, line, level)
}

// press closes a button's contact for as long as a palm does.
func (b *board) press(line int) {
	b.set(line, false)
	time.Sleep(200 * time.Millisecond)
	b.set(line, true)
}

// pulses returns how long the line was up, and then down, since a moment.
func (b *board) pulses(line int, since time.Time) []alert.Pulse {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []alert.Pulse
	var up, down time.Time
	for _, e := range b.edges {
		switch {
		case e.line != line || e.at.Before(since):
		case e.up:
			if !down.IsZero() {
				out[len(out)-1].Off = e.at.Sub(down)
			}
			up = e.at
		case !up.IsZero():
			down = e.at
			out = append(out, alert.Pulse{On: down.Sub(up)})
		}
	}
	return out
}

// slack is what an emulated board on a busy machine may add to a pulse or take from it.
const slack = 80 * time.Millisecond

// played reports whether the pulses hold a sound: its pulses one after the other, and
// none close before or after.
func played(pulses []alert.Pulse, sound alert.Sound) bool {
	want := alert.Patterns[sound]
	near := func(a, b time.Duration) bool { return max(a-b, b-a) < slack }
	apart := func(d time.Duration) bool { return d == 0 || d > 250*time.Millisecond } // no part of a longer one
	for i := 0; i+len(want) <= len(pulses); i++ {
		same := i == 0 || apart(pulses[i-1].Off)
		for j, w := range want {
			got := pulses[i+j]
			last := j == len(want)-1
			same = same && near(got.On, w.On) && (last && apart(got.Off) || !last && near(got.Off, w.Off))
		}
		if same {
			return true
		}
	}
	return false
}

// sounds waits until the buzzer's line has played a sound.
func (b *board) sounds(sound alert.Sound, since time.Time, within time.Duration) {
	b.t.Helper()
	defer func() {
		if b.t.Failed() {
			b.t.Logf("since then the buzzer's line did %v", b.pulses(buzzerLine, since))
		}
	}()
	b.until(string(sound)+" is sounded", within, func() bool { return played(b.pulses(buzzerLine, since), sound) })
}

// until waits for something to become so and returns how long that took.
func (b *board) until(what string, within time.Duration, so func() bool) time.Duration {
	b.t.Helper()
	start := time.Now()
	for !so() {
		if time.Since(start) > within {
			b.t.Fatalf("not within %s: %s", within, what)
		}
		time.Sleep(100 * time.Millisecond)
	}
	took := time.Since(start)
	b.t.Logf("%6.1f s  %s", took.Seconds(), what)
	return took
}

// ask sends a request to the first process of the board and returns its answer.
func (b *board) ask(method, path string, query url.Values, body []byte) string {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), method, b.guest+path+"?"+query.Encode(), bytes.NewReader(body))
	if err != nil {
		b.t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		b.t.Fatalf("%s %s: %s %s %v", path, query.Get("path"), answer.Status, text, err)
	}
	return string(text)
}

func (b *board) write(path, text string) {
	b.t.Helper()
	b.ask("PUT", "/file", url.Values{"path": {path}}, []byte(text))
}

func (b *board) read(path string) string {
	b.t.Helper()
	return b.ask("GET", "/file", url.Values{"path": {path}}, nil)
}

// grant gives Withy's group the files that match.
func (b *board) grant(patterns ...string) {
	b.t.Helper()
	for _, pattern := range patterns {
		b.ask("PUT", "/file", url.Values{"path": {pattern}, "group": {"1"}}, nil)
	}
}

// command is what the guest takes: see guest/main.go.
type command struct {
	Name string   `json:"name"`
	Args []string `json:"args"`
	Env  []string `json:"env"`
	Root bool     `json:"root"`
}

func (b *board) send(path string, c command) string {
	b.t.Helper()
	body, err := json.Marshal(c)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.ask("POST", path, nil, body)
}

// do runs the program with arguments, to its end.
func (b *board) do(args ...string) string {
	b.t.Helper()
	return b.send("/do", command{Args: append([]string{"/" + b.program}, args...)})
}

func (b *board) startDaemon() {
	b.t.Helper()
	b.send("/start", command{Name: "withy", Args: []string{"/" + b.program, "run", "--config", "/etc/withy.yaml"}})
}

func (b *board) killDaemon() {
	b.t.Helper()
	b.ask("POST", "/kill", url.Values{"name": {"withy"}}, nil)
}

// heat makes the probes as warm as a box whose ends are so, in °C.
func (b *board) heat(steamC, doorC float64) {
	b.t.Helper()
	for i := range b.wire.milliC {
		b.wire.milliC[i] = int(1000 * (steamC + (doorC-steamC)*float64(i)/float64(len(b.wire.milliC)-1)))
	}
	b.write("/sys/module/pretend_w1/parameters/milli_c", numbers(b.wire.milliC))
}

// fault gives a probe a fault of pretend_w1, or takes it away.
func (b *board) fault(probe, fault int) {
	b.t.Helper()
	b.wire.fault[probe] = fault
	b.write("/sys/module/pretend_w1/parameters/fault", numbers(b.wire.fault))
}

func numbers(all [8]int) string {
	var text []string
	for _, n := range all {
		text = append(text, strconv.Itoa(n))
	}
	return strings.Join(text, ",")
}

// view is what is looked at of the program's own.
type view struct {
	Status   steambox.Status `json:"status"`
	Alarms   []alert.Alarm   `json:"alarms"`
	Troubles []string        `json:"troubles"`
}

// trusting takes the board's own certificate as somebody does who has compared it.
var trusting = &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} //nolint:gosec // a board that this test has made

// visit asks Withy's page, from elsewhere by what it knows: with the token that the
// program gives on the board.
func (b *board) visit(method, path string, body []byte) (*http.Response, error) {
	for {
		r, err := http.NewRequestWithContext(b.t.Context(), method, b.page+path, bytes.NewReader(body))
		if err != nil {
			return nil, err
		}
		r.Host = b.host
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Authorization", "Bearer "+b.token)
		answer, err := trusting.Do(r)
		if err != nil || answer.StatusCode != http.StatusUnauthorized || b.token != "" || b.pair == nil {
			return answer, err
		}
		answer.Body.Close()
		said := b.pair()
		if b.token = regexp.MustCompile(`[A-Z2-7]{26}`).FindString(said); b.token == "" {
			return nil, fmt.Errorf("no token in %q", said)
		}
	}
}

// look asks the program how the box is. ok is false while it does not answer.
func (b *board) look() (v view, ok bool) {
	answer, err := b.visit("GET", "/api/status", nil)
	if err != nil {
		return v, false
	}
	defer answer.Body.Close()
	err = json.NewDecoder(answer.Body).Decode(&v)
	return v, err == nil && answer.StatusCode == http.StatusOK
}

// tell sends an event as the page does.
func (b *board) tell(event map[string]any) {
	b.t.Helper()
	event["id"] = strconv.FormatInt(time.Now().UnixNano(), 36)
	body, err := json.Marshal(event)
	if err != nil {
		b.t.Fatal(err)
	}
	answer, err := b.visit("POST", "/api/event", body)
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	if text, _ := io.ReadAll(answer.Body); answer.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %s %s", body, answer.Status, text)
	}
}

// heard tells that every alarm that is raised was heard.
func (b *board) heard() {
	b.t.Helper()
	v, _ := b.look()
	for _, a := range v.Alarms {
		if a.State == alert.Raised {
			b.t.Logf("          heard: %s", a.Key())
			b.tell(map[string]any{"kind": "heard", "alarm": a.Key()})
		}
	}
}

// alarmed reports whether an alarm is raised or was heard.
func (v view) alarmed(id alert.ID, on string) bool {
	for _, a := range v.Alarms {
		if a.ID == id && a.On == on && (a.State == alert.Raised || a.State == alert.HeardBy) {
			return true
		}
	}
	return false
}

// monitor is QEMU's own socket for orders, QMP.
type monitor struct {
	t    *testing.T
	conn net.Conn
	in   *bufio.Scanner
}

func newMonitor(t *testing.T, conn net.Conn) *monitor {
	t.Helper()
	m := &monitor{t: t, conn: conn, in: bufio.NewScanner(conn)}
	m.in.Buffer(nil, 1<<20)
	m.order("qmp_capabilities", nil)
	return m
}

// order has QEMU do something and returns what it answers, past what it tells
// unasked.
func (m *monitor) order(name string, arguments map[string]string) json.RawMessage {
	m.t.Helper()
	if arguments == nil {
		arguments = map[string]string{}
	}
	body, err := json.Marshal(map[string]any{"execute": name, "arguments": arguments})
	if err == nil {
		_, err = fmt.Fprintf(m.conn, "%s\n", body)
	}
	if err != nil {
		m.t.Fatal(err)
	}
	for m.in.Scan() {
		var answer struct {
			Return json.RawMessage `json:"return"`
			Error  json.RawMessage `json:"error"`
		}
		switch err := json.Unmarshal(m.in.Bytes(), &answer); {
		case err != nil || answer.Error != nil:
			m.t.Fatalf("%s: %s %v", name, m.in.Bytes(), err)
		case answer.Return != nil:
			return answer.Return
		}
	}
	m.t.Fatalf("%s: QEMU is gone: %v", name, m.in.Err())
	return nil
}

// find returns the path of the one device of a kind.
func (m *monitor) find(kind string) string {
	m.t.Helper()
	const devices = "/machine/unattached"
	var all []struct{ Name, Type string }
	if err := json.Unmarshal(m.order("qom-list", map[string]string{"path": devices}), &all); err != nil {
		m.t.Fatal(err)
	}
	for _, d := range all {
		if d.Type == "child<"+kind+">" {
			return devices + "/" + d.Name
		}
	}
	m.t.Fatalf("the board has no %s", kind)
	return ""
}
