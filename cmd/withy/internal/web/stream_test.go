package web

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/view"
)

// hear listens for as long as it takes f to run, in a bubble of its own time, and
// returns the names of the events that came, views with their ids.
func hear(t *testing.T, s *shelf, lastID string, f func()) (heard []string) {
	t.Helper()
	synctest.Test(t, func(*testing.T) {
		s.changed = make(chan struct{}) // one of the bubble's own
		ctx, stop := context.WithCancel(context.Background())
		r := httptest.NewRequestWithContext(ctx, "GET", "http://localhost/api/events", nil)
		r.RemoteAddr = "127.0.0.1:40000"
		if lastID != "" {
			r.Header.Set("Last-Event-ID", lastID)
		}
		w := httptest.NewRecorder()
		go serve(s).ServeHTTP(w, r)
		f()
		stop()
		synctest.Wait()
		heard = events(w.Body.String())
	})
	return heard
}

// events lists what a stream said: "beat", or "view 3".
func events(stream string) (out []string) {
	for block := range strings.SplitSeq(strings.TrimSpace(stream), "\n\n") {
		name := strings.TrimPrefix(strings.Split(block, "\n")[0], "event: ")
		if _, id, ok := strings.Cut(block, "\nid: "); ok {
			name += " " + strings.Split(id, "\n")[0]
		}
		out = append(out, name)
	}
	return out
}

func views(heard []string) []string {
	return slices.DeleteFunc(heard, func(s string) bool { return s == "beat" })
}

func TestStreamBeginsWithTheView(t *testing.T) {
	got := hear(t, newShelf(), "", func() { time.Sleep(3500 * time.Millisecond) })
	if want := []string{"beat", "view 1", "beat", "beat", "beat"}; !slices.Equal(got, want) {
		t.Errorf("heard %q, want %q", got, want)
	}
}

// Ten changes a second give one view a second, and the last is always the newest.
func TestStreamIsNoFasterThanOneASecond(t *testing.T) {
	s := newShelf()
	got := views(hear(t, s, "", func() {
		for seq := uint64(2); seq <= 26; seq++ {
			time.Sleep(100 * time.Millisecond)
			s.put(&view.View{Seq: seq})
		}
		time.Sleep(2 * time.Second)
	}))
	if want := []string{"view 1", "view 10", "view 20", "view 26"}; len(got) != len(want) || got[3] != "view 26" {
		t.Errorf("heard %q, want about %q", got, want)
	}
}

func TestStreamIsUrgent(t *testing.T) {
	raised := []alert.Alarm{{ID: "dry", State: alert.Raised}}
	heard := []alert.Alarm{{ID: "dry", State: alert.HeardBy}}
	s := newShelf()
	got := views(hear(t, s, "", func() {
		for i, v := range []view.View{
			{}, // not urgent: skipped for the next, which is
			{Sound: view.Sounding{N: 1, Sound: alert.Pull}},
			{Sound: view.Sounding{N: 1}, Alarms: raised},
			{Sound: view.Sounding{N: 1}, Alarms: heard},
			{Sound: view.Sounding{N: 1}},
			{Sound: view.Sounding{N: 1}, Answer: view.Answer{N: 1}},
		} {
			v.Seq = uint64(i + 2)
			time.Sleep(50 * time.Millisecond)
			s.put(&v)
		}
		time.Sleep(50 * time.Millisecond)
	}))
	if want := []string{"view 1", "view 3", "view 4", "view 5", "view 6", "view 7"}; !slices.Equal(got, want) {
		t.Errorf("heard %q, want %q", got, want)
	}
}

func TestLastEventID(t *testing.T) {
	for id, want := range map[string][]string{
		"1":       nil,        // the client has it
		"0":       {"view 1"}, // it has an older one
		"99":      {"view 1"}, // from before the program began anew
		"nothing": {"view 1"},
	} {
		if got := views(hear(t, newShelf(), id, func() { time.Sleep(time.Second / 2) })); !slices.Equal(got, want) {
			t.Errorf("after %s: heard %q, want %q", id, got, want)
		}
	}
	s := newShelf()
	got := views(hear(t, s, "1", func() { time.Sleep(time.Second / 2); s.put(&view.View{Seq: 2}); time.Sleep(time.Second) }))
	if !slices.Equal(got, []string{"view 2"}) {
		t.Errorf("the next after the last: heard %q", got)
	}
}

// A beat says when the loop behind it has stopped. Probes that are silent are an alarm in
// the view, which isn't old by that.
func TestBeatTellsOfAStoppedLoop(t *testing.T) {
	s := newShelf()
	s.sick = errors.New("no temperature from any probe for 12 s")
	_, r := connect(t, Server(serve(s)))
	if got := readEventOf(t, r, "beat"); got != `data: {"seq":1,"well":true}` {
		t.Errorf("with dead probes the beat is %s", got)
	}
	s = newShelf()
	s.still = errors.New("the loop has not run for 8 seconds")
	_, r = connect(t, Server(serve(s)))
	if got := readEventOf(t, r, "beat"); got != `data: {"seq":1,"well":false,"why":"the loop has not run for 8 seconds"}` {
		t.Errorf("beat is %s", got)
	}
}

// The limits on ordinary requests don't end a stream, and Shutdown does.
func TestStreamOutlivesLimits(t *testing.T) {
	s := newShelf()
	server := Server(serve(s))
	server.ReadTimeout, server.WriteTimeout = 200*time.Millisecond, 200*time.Millisecond
	_, r := connect(t, server)
	for range 3 { // takes two seconds
		readEventOf(t, r, "beat")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	if err := server.Shutdown(ctx); err != nil {
		t.Errorf("shutdown waits for a stream: %v", err)
	}
}

// A client that reads nothing is let go, and its place becomes free.
func TestSlowClient(t *testing.T) {
	s := newShelf()
	st := newStream(s, quiet)
	st.patience = 100 * time.Millisecond
	gone := make(chan struct{})
	connect(t, Server(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { st.ServeHTTP(w, r); close(gone) })))
	much := []string{strings.Repeat("x", 1<<20)}
	for n := uint64(1); ; n++ {
		s.put(&view.View{Seq: n + 1, Says: much, Sound: view.Sounding{N: n}})
		select {
		case <-gone:
			if len(st.room) != 0 {
				t.Error("its place is not free")
			}
			return
		case <-time.After(10 * time.Millisecond):
		}
		if n > 2000 {
			t.Fatal("it is still there")
		}
	}
}

func TestTooManyPages(t *testing.T) {
	st := newStream(newShelf(), quiet)
	for range mostPages {
		st.room <- struct{}{}
	}
	w := httptest.NewRecorder()
	st.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/api/events", nil))
	if w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), "Too many pages") {
		t.Errorf("got %d %s", w.Code, w.Body)
	}
}

// connect starts a server and opens the stream, reading nothing yet.
func connect(t *testing.T, server *http.Server) (net.Conn, *bufio.Reader) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go server.Serve(l)
	t.Cleanup(func() { server.Close() })
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	fmt.Fprintf(c, "GET /api/events HTTP/1.1\r\nHost: %s\r\n\r\n", l.Addr())
	return c, bufio.NewReader(c)
}

// readEventOf reads to the next event of that name and returns its data line.
func readEventOf(t *testing.T, r *bufio.Reader, name string) string {
	t.Helper()
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		if strings.TrimSpace(line) == "event: "+name {
			data, err := r.ReadString('\n')
			if err != nil {
				t.Fatal(err)
			}
			return strings.TrimSpace(data)
		}
	}
}
