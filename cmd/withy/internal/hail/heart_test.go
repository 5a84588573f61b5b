package hail

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// What the watcher is asked, with the secret in the header or in the address.
func TestHeart(t *testing.T) {
	var got []string
	status := http.StatusOK
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		got = append(got, r.Method+" "+r.URL.Path+" "+r.Header.Get("Authorization"))
		w.WriteHeader(status)
	}))
	defer server.Close()
	heart := Heart{Post: Post{URL: address(t, server.URL+"/ping/"), Secret: Secret{File: secretFile(t, 0o600)}}, Method: http.MethodGet, Hidden: true}
	if err := heart.Send(t.Context(), Notice{}); err != nil {
		t.Fatal(err)
	}
	heart.Hidden, heart.Method = false, http.MethodPost
	if err := heart.Send(t.Context(), Notice{}); err != nil {
		t.Fatal(err)
	}
	if want := []string{"GET /ping/" + secretText + " ", "POST /ping/ Bearer " + secretText}; !slices.Equal(got, want) {
		t.Errorf("asked %q, want %q", got, want)
	}
	heart.Hidden, status = true, http.StatusNotFound
	failed(t, heart.Send(t.Context(), Notice{}), "404", 0)
}

// watcher is a way that counts.
type watcher struct {
	mu    sync.Mutex
	beats int
	fails error
}

func (w *watcher) RoundTrip(*http.Request) (*http.Response, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.beats++
	if w.fails != nil {
		return nil, w.fails
	}
	return &http.Response{StatusCode: http.StatusOK, Body: http.NoBody}, nil
}

func (w *watcher) set(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.fails = err
}

func (w *watcher) count() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.beats
}

// It beats only while the box is being watched; the third beat in a row that nobody takes is
// late, and the first that is taken ends that.
func TestHeartbeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &watcher{}
		heart := &Heart{Post: Post{URL: address(t, "http://watch.lan"), client: &http.Client{Transport: w}, line: &Line{}}, Method: http.MethodGet, Each: time.Minute}
		h := New([]Output{{Name: "watcher", Kind: "heartbeat", Way: heart}}, slog.New(slog.DiscardHandler))
		var mu sync.Mutex
		var blind error
		h.Sensing = func() error {
			mu.Lock()
			defer mu.Unlock()
			return blind
		}
		sense := func(err error) {
			mu.Lock()
			defer mu.Unlock()
			blind = err
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { defer close(done); h.Run(ctx) }()
		defer func() { cancel(); <-done }()
		beats := func(d time.Duration, want int) {
			t.Helper()
			before := w.count()
			pass(d)
			if got := w.count() - before; got != want {
				t.Errorf("%d beats in %v, want %d", got, d, want)
			}
		}
		late := func(want bool) {
			t.Helper()
			if s := h.Standing()[0]; s.Late != want || (s.Fails != "") != (want || w.fails != nil) {
				t.Errorf("%+v", s)
			}
		}
		beats(10*time.Second, 0) // a program that is started over and over isn't alive
		beats(10*time.Minute, 10)
		late(false)
		sense(errors.New("no sweep"))
		beats(5*time.Minute, 0)
		sense(nil)
		beats(5*time.Minute, 5)
		w.set(errors.New("gone"))
		beats(2*time.Minute, 2)
		late(false)
		beats(time.Minute, 1)
		late(true)
		w.set(nil)
		beats(time.Minute, 1)
		late(false)
	})
}
