package daemon_test

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"withy/cmd/withy/internal/crew"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/view"
	"withy/cmd/withy/internal/web"
	"withy/sensor/rehearsed"
	"withy/steambox/rehearsal"
)

// holds is what a process holds on to.
type holds struct {
	heap              uint64 // bytes that something points to
	goroutines, files int
}

func held(t *testing.T) holds {
	t.Helper()
	http.DefaultClient.CloseIdleConnections()
	time.Sleep(100 * time.Millisecond) // the server's side of them ends too
	var m runtime.MemStats
	for range 3 { // what is finalised or pooled goes with the second and the third
		runtime.GC()
	}
	runtime.ReadMemStats(&m)
	files, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip("counted by Linux only")
	}
	return holds{m.HeapAlloc, runtime.NumGoroutine(), len(files)}
}

// TestLeaks lives session after session in one process, each with its crew, a page that
// listens, scrapes and reports: what is held on to at the end of each is what was at the
// end of the second. With WITHY_FULL it is 24 h of the box's time, else an hour and a half.
func TestLeaks(t *testing.T) {
	sessions, each := 3, 30*time.Minute
	if os.Getenv("WITHY_FULL") != "" {
		sessions, each = 12, 2*time.Hour
	}
	dir := t.TempDir()
	var second holds
	for n := 1; n <= sessions; n++ {
		now := oneSession(t, dir, uint64(n), each)
		t.Logf("session %d: %d KiB, %d goroutines, %d files", n, now.heap>>10, now.goroutines, now.files)
		switch {
		case n < 2:
		case n == 2:
			second = now
		case now.heap > second.heap+2<<20:
			t.Errorf("%d KiB after session %d, %d after the second", now.heap>>10, n, second.heap>>10)
		case now.goroutines > second.goroutines+2 || now.files > second.files+2:
			t.Errorf("%+v after session %d, %+v after the second", now, n, second)
		}
	}
}

// oneSession lives a session for so long of the box's time and returns what is held on to
// at its end, while the daemon still runs and nobody asks it for anything.
func oneSession(t *testing.T, dir string, seed uint64, long time.Duration) holds {
	t.Helper()
	const speed = 400
	rec, err := record.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close()
	world, err := rehearsal.New("good", seed)
	if err != nil {
		t.Fatal(err)
	}
	box, err := rehearsed.New(world, fmt.Sprint("leaks-", seed), speed)
	if err != nil {
		t.Fatal(err)
	}
	defer box.Close()
	log := slog.New(slog.DiscardHandler)
	behind := stage.New(box, filepath.Join(t.TempDir(), "box.json"), log)
	d, err := daemon.New(daemon.Options{Box: stage.Settings(world), Source: box, Record: rec, Speed: speed, Done: behind.Follow})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(web.New(d, nil, metrics.Handler(d), web.Entry{}, log))
	defer server.Close()
	running, stop := context.WithCancel(t.Context())
	var loop, all sync.WaitGroup
	defer loop.Wait()
	defer stop()
	loop.Go(func() { _ = d.Run(running) })
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	all.Go(func() { crew.New(http.DefaultClient, server.URL, box, log).Run(ctx, 5*time.Millisecond) })
	all.Go(func() { listenTo(ctx, server.URL) })
	all.Go(func() { lookAt(ctx, server.URL) })
	waitLonger(t, d, func(v *view.View) bool { return v.Status.ElapsedS > long.Seconds() })
	if v := d.View(); v.Status.Bent.Supple+v.Status.Bent.Stiff+v.Status.Bent.Cracked == 0 && long > time.Hour {
		t.Errorf("session %d: no rib was bent in %v", seed, long)
	}
	cancel()
	all.Wait()
	return held(t)
}

// listenTo is a page with its stream of events, opened anew every second.
func listenTo(ctx context.Context, url string) {
	for ctx.Err() == nil {
		once, cancel := context.WithTimeout(ctx, time.Second)
		if req, err := http.NewRequestWithContext(once, http.MethodGet, url+"/api/events", http.NoBody); err == nil {
			if answer, err := http.DefaultClient.Do(req); err == nil {
				for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
				}
				answer.Body.Close()
			}
		}
		cancel()
	}
}

// lookAt asks for all that can be asked for, again and again.
func lookAt(ctx context.Context, url string) {
	for ctx.Err() == nil {
		for _, path := range []string{"/", "/metrics", "/healthz", "/api/status", "/api/trace", "/report"} {
			if req, err := http.NewRequestWithContext(ctx, http.MethodGet, url+path, http.NoBody); err == nil {
				if answer, err := http.DefaultClient.Do(req); err == nil {
					answer.Body.Close()
				}
			}
		}
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
		}
	}
}

// waitLonger is waitFor as long as the daemon goes on.
func waitLonger(t *testing.T, d *daemon.Daemon, so func(*view.View) bool) {
	t.Helper()
	for {
		changed := d.Changed()
		if so(d.View()) {
			return
		}
		select {
		case <-changed:
		case <-time.After(time.Minute):
			t.Fatalf("it stands still; elapsed %g s", d.View().Status.ElapsedS)
		}
	}
}
