package browsertest

import (
	"bufio"
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/steambox"
)

// streams is how many event streams are open at once: as many as are let in.
const streams = 200

// calm is how long after a sweep nobody is busy with it any more; in life there is a
// second between two.
const calm = 50 * time.Millisecond

// sweeps is a source whose sweeps are handed over one by one, a second apart.
type sweeps struct {
	next chan sensor.Sweep
	at   atomic.Int64
}

func (s *sweeps) Read(ctx context.Context) (sensor.Sweep, error) {
	select {
	case sweep := <-s.next:
		return sweep, nil
	case <-ctx.Done():
		return sensor.Sweep{}, ctx.Err()
	}
}

func (s *sweeps) Now() time.Duration { return time.Duration(s.at.Load()) }
func (s *sweeps) Boot() string       { return "bell" }

// sweep hands over what the sensors say a second later, and returns when that was.
func (s *sweeps) sweep(level sensor.Contact) time.Time {
	at := time.Duration(s.at.Add(int64(time.Second)))
	sent := time.Now()
	s.next <- sensor.Sweep{At: at, Level: level, Probes: []sensor.Reading{{Probe: "steam", Temp: 98}, {Probe: "door", Temp: 95}}}
	return sent
}

// pin notes when it is first switched on.
type pin chan time.Time

func (p pin) Set(on bool) error {
	if on {
		select {
		case p <- time.Now():
		default:
		}
	}
	return nil
}

// ring returns how long it takes from the sweep that ends an alarm's delay to the
// sounder's pin, while so many listen to the stream of events.
func ring(t testing.TB, listeners int) time.Duration {
	t.Helper()
	rec, err := record.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close()
	box := steambox.DefaultBox()
	box.Probes = []steambox.BoxProbe{{Name: "steam"}, {Name: "door", XM: 1.5}}
	p, src := make(pin, 1), &sweeps{next: make(chan sensor.Sweep)}
	buzzer := alert.NewBuzzer(p, nil)
	d, err := daemon.New(daemon.Options{Box: box, Source: src, Record: rec, Sounds: buzzer, Speed: 1})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	go buzzer.Run(ctx)
	defer func() { cancel(); <-done }()
	defer listen(t, d, listeners)()
	for range 5 {
		src.sweep(sensor.Closed)
	}
	for range 10 { // the alarm's delay
		src.sweep(sensor.Open)
	}
	time.Sleep(calm)
	sent := src.sweep(sensor.Open)
	select {
	case rang := <-p:
		return rang.Sub(sent)
	case <-time.After(patience):
		t.Fatal("it never rang")
		return 0
	}
}

// listen opens event streams, each read by a client of its own, and returns what ends
// them. It returns once each has had a view.
func listen(t testing.TB, d *daemon.Daemon, n int) func() {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	server := httptest.NewServer(web.New(d, plain{}, metrics.Handler(d), web.Entry{}, slog.New(slog.DiscardHandler)))
	heard := make(chan error, n)
	for range n {
		go func() { heard <- hear(ctx, server.URL) }()
	}
	for range n {
		if err := <-heard; err != nil {
			t.Fatal(err)
		}
	}
	return func() {
		cancel()
		server.CloseClientConnections()
		server.Close()
	}
}

// hear returns once a stream has sent a view, and reads on in another goroutine.
func hear(ctx context.Context, url string) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, url+"/api/events", nil)
	if err != nil {
		return err
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	lines := bufio.NewReader(answer.Body)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			answer.Body.Close()
			return err
		}
		if strings.HasPrefix(line, "event: view") {
			break
		}
	}
	go func() {
		defer answer.Body.Close()
		for err := error(nil); err == nil; {
			_, err = lines.ReadString('\n')
		}
	}()
	return nil
}

// An alarm sounds as soon as ever while 200 listen. The figure aimed at is 5 ms for 99
// in 100 on a quiet machine; ten times that, or ten times what it takes alone on a
// machine that is busy, is no matter of the machine any more.
func TestBellAmongStreams(t *testing.T) {
	long(t)
	const most = 50 * time.Millisecond
	var alone, among []time.Duration
	for range 5 {
		alone = append(alone, ring(t, 0))
		among = append(among, ring(t, streams))
	}
	t.Logf("alone %v, among %d streams %v", alone, streams, among)
	if took, may := middle(among), max(most, 10*middle(alone)); took > may {
		t.Errorf("rang after %v, at most %v", took, may)
	}
}

func middle(waits []time.Duration) time.Duration {
	slices.Sort(waits)
	return waits[len(waits)/2]
}

func BenchmarkBell(b *testing.B) {
	for _, c := range []struct {
		name      string
		listeners int
	}{{"alone", 0}, {"streams", streams}} {
		b.Run(c.name, func(b *testing.B) {
			var waits []time.Duration
			for b.Loop() {
				waits = append(waits, ring(b, c.listeners))
			}
			b.ReportMetric(float64(middle(waits).Microseconds()), "µs-p50")
			b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds()), "µs-p99")
		})
	}
}
