package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/sensor"
	"withy/steambox"
)

// How the page is set upon while the water sinks.
const (
	floodConns = 1000 // that send a byte each second and never come to an end
	streams    = 200
	reloaders  = 10 // that load page, script, style and status over a new connection each time
	scrapeEach = 100 * time.Millisecond
)

// loaded says to the test's own program that it is the daemon to be set upon, and how
// often the water sinks.
const loaded = "WITHY_LOADED"

// figures are what the daemon that is set upon found of itself.
type figures struct {
	BellUS []int64 // from the sweep that ends the alarm's delay to the pin
	PeakKB int     // of memory, as the kernel has it
	HeapKB int
}

// sinking is a source whose sweeps are handed over one by one.
type sinking struct {
	next chan sensor.Sweep
	at   atomic.Int64
}

func (s *sinking) Read(ctx context.Context) (sensor.Sweep, error) {
	select {
	case sweep := <-s.next:
		return sweep, nil
	case <-ctx.Done():
		return sensor.Sweep{}, ctx.Err()
	}
}
func (s *sinking) Now() time.Duration { return time.Duration(s.at.Load()) }
func (s *sinking) Boot() string       { return "sinking" }

func (s *sinking) sweep(level sensor.Contact) time.Time {
	at := time.Duration(s.at.Add(int64(time.Second)))
	sent := time.Now()
	s.next <- sensor.Sweep{At: at, Level: level, Probes: []sensor.Reading{{Probe: "steam", Temp: 98}, {Probe: "door", Temp: 95}}}
	return sent
}

// rises notes when the sounder's pin goes up.
type rises chan time.Time

func (r rises) Set(on bool) error {
	if on {
		select {
		case r <- time.Now():
		default:
		}
	}
	return nil
}

// beLoaded is the daemon that is set upon: a whole one but for its sensors. The water
// sinks rounds times; then it prints its figures.
func beLoaded(rounds int) error {
	data, err := os.MkdirTemp("", "withy-load-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(data)
	log := slog.New(slog.DiscardHandler)
	e, _, err := openEntrance(pageConfig{Listen: "0.0.0.0:0", Hosts: strings.Split(os.Getenv(loaded+"_HOSTS"), ","), TLS: tlsOwn}, data, log)
	if err != nil {
		return err
	}
	rec, err := record.Open(data)
	if err != nil {
		return err
	}
	defer rec.Close()
	box := steambox.DefaultBox()
	box.Probes = []steambox.BoxProbe{{Name: "steam"}, {Name: "door", XM: 1.5}}
	src, pin := &sinking{next: make(chan sensor.Sweep)}, make(rises, 1)
	buzzer := alert.NewBuzzer(pin, nil)
	d, err := daemon.New(daemon.Options{Box: box, Source: src, Record: rec, Sounds: buzzer, Speed: 1})
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	served := make(chan error, 1)
	go func() { served <- serve(ctx, d, &settingPage{data: data}, e, boxes.Shop{}, log, buzzer.Run) }()
	for range 10 {
		src.sweep(sensor.Closed)
	}
	fmt.Println(e.listener.Addr().(*net.TCPAddr).Port)
	orders := bufio.NewReader(os.Stdin)
	if _, err := orders.ReadString('\n'); err != nil { // until the load is on
		return err
	}
	f := figures{}
	for n := range rounds {
		if err := d.Do(ctx, steambox.Event{ID: fmt.Sprint("fill", n), Kind: steambox.Level, Litres: 4}); err != nil {
			return err
		}
		for range 40 { // what was low is over
			src.sweep(sensor.Closed)
			time.Sleep(50 * time.Millisecond)
		}
		for len(pin) > 0 {
			<-pin
		}
		for range 10 { // the alarm's delay
			src.sweep(sensor.Open)
			time.Sleep(50 * time.Millisecond)
		}
		sent := src.sweep(sensor.Open)
		select {
		case rang := <-pin:
			f.BellUS = append(f.BellUS, rang.Sub(sent).Microseconds())
		case <-time.After(10 * time.Second):
			return fmt.Errorf("round %d: it never rang", n)
		}
	}
	f.PeakKB = kilobytes("VmHWM:")
	f.HeapKB = kilobytes("RssAnon:")
	told := json.NewEncoder(os.Stdout).Encode(f)
	_, _ = orders.ReadString('\n') // until the load is off
	stop()
	return errors.Join(<-served, told)
}

// kilobytes reads a line of /proc/self/status (proc(5)).
func kilobytes(name string) int {
	text, _ := os.ReadFile("/proc/self/status")
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, name); ok {
			n, _ := strconv.Atoi(strings.Fields(rest)[0])
			return n
		}
	}
	return 0
}

// crush is the load on a page.
type crush struct {
	port   string
	victim string // the address that is flooded, from itself
	stop   <-chan struct{}

	held, closed                        atomic.Int64
	views, scrapes, missed, reloads     atomic.Int64
	failedReloads, refusedStreams, beat atomic.Int64
}

var anyCertificate = &tls.Config{InsecureSkipVerify: true} // the flood does not look, and the rest knows where it is

// flood opens a connection that never finishes its request, and again when it is closed.
func (c *crush) flood() {
	for {
		conn, err := net.DialTimeout("tcp", net.JoinHostPort(c.victim, c.port), time.Second)
		if err == nil {
			c.drip(tls.Client(conn, anyCertificate))
			c.closed.Add(1)
		}
		select {
		case <-c.stop:
			return
		case <-time.After(200 * time.Millisecond):
		}
	}
}

func (c *crush) drip(conn *tls.Conn) {
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(30 * time.Second))
	if _, err := io.WriteString(conn, "GET / HTTP/1.1\r\nHost: "+c.victim+"\r\n"); err != nil {
		return
	}
	c.held.Add(1)
	for {
		select {
		case <-c.stop:
			return
		case <-time.After(time.Second):
			if _, err := io.WriteString(conn, "X"); err != nil {
				return
			}
		}
	}
}

func (c *crush) client() *http.Client {
	return &http.Client{Transport: &http.Transport{TLSClientConfig: anyCertificate, DisableKeepAlives: true}, Timeout: 20 * time.Second}
}

func (c *crush) get(client *http.Client, path string) error {
	answer, err := client.Get("https://127.0.0.1:" + c.port + path)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if _, err := io.Copy(io.Discard, answer.Body); err != nil {
		return err
	}
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", path, answer.Status)
	}
	return nil
}

// hear listens to the stream of events.
func (c *crush) hear() {
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: anyCertificate}}
	ctx, end := context.WithCancel(context.Background())
	go func() { <-c.stop; end() }()
	r, _ := http.NewRequestWithContext(ctx, http.MethodGet, "https://127.0.0.1:"+c.port+"/api/events", nil)
	answer, err := client.Do(r)
	if err != nil || answer.StatusCode != http.StatusOK {
		c.refusedStreams.Add(1)
		return
	}
	defer answer.Body.Close()
	lines := bufio.NewReader(answer.Body)
	for {
		line, err := lines.ReadString('\n')
		switch {
		case err != nil:
			return
		case strings.HasPrefix(line, "event: view"):
			c.views.Add(1)
		case strings.HasPrefix(line, "event: beat"):
			c.beat.Add(1)
		}
	}
}

func (c *crush) scrape() {
	client := c.client()
	tick := time.NewTicker(scrapeEach)
	defer tick.Stop()
	for {
		select {
		case <-c.stop:
			return
		case <-tick.C:
			if c.get(client, "/metrics") == nil {
				c.scrapes.Add(1)
			} else {
				c.missed.Add(1)
			}
		}
	}
}

func (c *crush) reload() {
	client := c.client()
	for {
		select {
		case <-c.stop:
			return
		default:
		}
		var failed error
		for _, path := range []string{"/", "/api/pairing", "/api/status"} {
			failed = errors.Join(failed, c.get(client, path))
		}
		if failed != nil {
			c.failedReloads.Add(1)
			time.Sleep(100 * time.Millisecond)
		} else {
			c.reloads.Add(1)
		}
	}
}

// The water sinks while the page is flooded, read by two hundred, scraped ten times a
// second and loaded without end: the bell rings in time, and memory is bounded.
// WITHY_LOAD=100 gives the bell's 99th percentile; else it rings three times.
func TestLoad(t *testing.T) {
	t.Run("from one address", func(t *testing.T) {
		c := load(t, ownAddress(t))
		if 50*c.missed.Load() > c.scrapes.Load() || 50*c.failedReloads.Load() > c.reloads.Load() {
			t.Error("the flood keeps the others out: more than one in fifty is not served")
		}
	})
	// This machine's own address is not bounded by itself, and so stands for many.
	t.Run("from all sides", func(t *testing.T) { load(t, "127.0.0.1") })
}

// load loads a daemon, flooded from an address, and judges its bell and its memory.
func load(t *testing.T, address string) *crush {
	t.Helper()
	rounds := 3
	if n, err := strconv.Atoi(os.Getenv("WITHY_LOAD")); err == nil {
		rounds = n
	}
	allowFiles(t)
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), loaded+"="+strconv.Itoa(rounds), loaded+"_HOSTS=127.0.0.1,"+address, "GOGC=", "GOMEMLIMIT=")
	var errs bytes.Buffer
	child.Stderr = &errs
	in, err := child.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewReader(out)
	port, err := said.ReadString('\n')
	if err != nil {
		t.Fatalf("%v %s", err, errs.String())
	}
	stop := make(chan struct{})
	c := &crush{port: strings.TrimSpace(port), victim: address, stop: stop}
	var all sync.WaitGroup
	for range streams {
		all.Go(c.hear)
	}
	for c.beat.Load() < streams && c.refusedStreams.Load() == 0 {
		time.Sleep(50 * time.Millisecond)
	}
	for range floodConns {
		all.Go(c.flood)
	}
	for range reloaders {
		all.Go(c.reload)
	}
	all.Go(c.scrape)
	time.Sleep(2 * time.Second)
	began := time.Now()
	fmt.Fprintln(in)
	var f figures
	err = json.NewDecoder(said).Decode(&f)
	took := time.Since(began)
	close(stop)
	all.Wait()
	in.Close()
	if ended := child.Wait(); err != nil || ended != nil {
		t.Fatalf("%v %v %s", err, ended, errs.String())
	}
	slices.Sort(f.BellUS)
	worst, middle := f.BellUS[(len(f.BellUS)*99-1)/100], f.BellUS[len(f.BellUS)/2]
	t.Logf("%d rings in %.0f s: median %.1f ms, 99th percentile %.1f ms; memory at most %.1f MiB (%.1f at the end, without the program's own file)",
		len(f.BellUS), took.Seconds(), float64(middle)/1000, float64(worst)/1000, float64(f.PeakKB)/1024, float64(f.HeapKB)/1024)
	t.Logf("flood: %d let in, %d closed; streams: %d refused, %d views; scrapes: %d, missed %d; reloads: %d, failed %d",
		c.held.Load(), c.closed.Load(), c.refusedStreams.Load(), c.views.Load(), c.scrapes.Load(), c.missed.Load(), c.reloads.Load(), c.failedReloads.Load())
	if limit := int64(500_000); worst > limit { // ten times what is aimed at, 50 ms: settled for machines that do other work too
		t.Errorf("the bell rang %d ms late", worst/1000)
	}
	if f.PeakKB > 80<<10 {
		t.Errorf("%d KiB of memory", f.PeakKB)
	}
	if c.refusedStreams.Load() > 0 || c.views.Load() < int64(rounds*streams) {
		t.Error("those who listen are told no more")
	}
	return c
}

// allowFiles lets this program have as many files open as the machine allows.
func allowFiles(t *testing.T) {
	t.Helper()
	var limit syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit); err != nil {
		t.Fatal(err)
	}
	limit.Cur = limit.Max
	if err := syscall.Setrlimit(syscall.RLIMIT_NOFILE, &limit); err != nil || limit.Cur < 4*floodConns {
		t.Fatalf("at most %d files may be open here, %v", limit.Cur, err)
	}
}
