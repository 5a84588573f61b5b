package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/view"
)

// The event stream's pace, in real time whatever the rehearsal's speed.
const (
	viewEvery = time.Second     // the least time between two views with nothing urgent in them
	beatEvery = time.Second     // so that a page knows a silent line from a calm box
	patience  = 5 * time.Second // with a client that does not take what it is sent
	mostPages = 200             // streams open at once
)

// stream sends each view as a server-sent event to everybody who listens.
type stream struct {
	box      Box
	log      *slog.Logger
	room     chan struct{} // one place for each page
	patience time.Duration

	mu      sync.Mutex // guards the two below
	newest  *view.View
	encoded []byte
}

func newStream(b Box, log *slog.Logger) *stream {
	return &stream{box: b, log: log, room: make(chan struct{}, mostPages), patience: patience}
}

// encode returns v as JSON; pages that are sent the same view share it.
func (s *stream) encode(v *view.View) ([]byte, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.encoded != nil && s.newest == v {
		return s.encoded, nil
	}
	b, err := marshalView(v)
	if err != nil {
		return nil, err
	}
	s.newest, s.encoded = v, b
	return b, nil
}

// ServeHTTP sends events until the client goes or is too slow.
func (s *stream) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	select {
	case s.room <- struct{}{}:
		defer func() { <-s.room }()
	default:
		refuse(w, http.StatusServiceUnavailable, "Too many pages are open. Close one and try again.")
		return
	}
	l := &listener{stream: s, w: w, rc: http.NewResponseController(w)}
	if id, err := strconv.ParseUint(r.Header.Get("Last-Event-ID"), 10, 64); err == nil {
		l.caughtUp(s.box.View(), id)
	}
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // a proxy in between must not collect events
	if err := l.listen(r.Context()); err != nil {
		s.log.Debug("event stream ended", "err", err)
	}
}

// listener is one client of the stream.
type listener struct {
	stream *stream
	w      http.ResponseWriter
	rc     *http.ResponseController
	last   *view.View // sent last; nil before the first
	sentAt time.Time
}

// caughtUp notes that the client has the view with that id, if that is still the
// newest.
func (l *listener) caughtUp(v *view.View, id uint64) {
	if v != nil && v.Seq == id {
		l.last = v
	}
}

// listen sends views as they come and beats in between.
func (l *listener) listen(ctx context.Context) error {
	// The limit on reading a request must not end a stream that has been read.
	if err := l.rc.SetReadDeadline(time.Time{}); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	if err := l.beat(); err != nil {
		return err
	}
	beats := time.NewTicker(beatEvery)
	defer beats.Stop()
	for {
		changed := l.stream.box.Changed()
		wait, err := l.offer(l.stream.box.View())
		if err != nil {
			return err
		}
		var due <-chan time.Time
		if wait > 0 {
			due = time.After(wait)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-changed:
		case <-due:
		case <-beats.C:
			if err := l.beat(); err != nil {
				return err
			}
		}
	}
}

// offer sends v if it is new to the client, unless that would be too soon; then it
// returns how long to wait.
func (l *listener) offer(v *view.View) (time.Duration, error) {
	if v == nil || l.last != nil && v.Seq == l.last.Seq {
		return 0, nil
	}
	if wait := viewEvery - time.Since(l.sentAt); l.last != nil && wait > 0 && !urgent(l.last, v) {
		return wait, nil
	}
	b, err := l.stream.encode(v)
	if err != nil {
		return 0, err
	}
	l.last, l.sentAt = v, time.Now()
	return 0, l.send(fmt.Appendf(nil, "event: view\nid: %d\ndata: ", v.Seq), b)
}

// urgent reports whether the crew must see or hear next at once: a new sound, the
// answer to a press, or an alarm that has come, gone or been heard.
func urgent(last, next *view.View) bool {
	return last.Sound.N != next.Sound.N || last.Answer.N != next.Answer.N || !slices.EqualFunc(last.Alarms, next.Alarms, func(a, b alert.Alarm) bool {
		return a.Key() == b.Key() && a.State == b.State
	})
}

// Beat is what comes each second: that the program is there, and whether its loop
// still is.
type Beat struct {
	Seq  uint64 `json:"seq"` // of the newest view
	Well bool   `json:"well"`
	Why  string `json:"why,omitempty"` // a sentence, where it isn't
}

func (l *listener) beat() error {
	b := Beat{Well: true}
	if v := l.stream.box.View(); v != nil {
		b.Seq = v.Seq
	}
	if err := l.stream.box.Healthy(); err != nil {
		b.Well, b.Why = false, err.Error()
	}
	data, err := json.Marshal(b)
	if err != nil {
		return err
	}
	return l.send([]byte("event: beat\ndata: "), data)
}

// send writes one event, or gives the client up. The data are not copied: all pages
// share those of a view.
func (l *listener) send(head, data []byte) error {
	err := l.rc.SetWriteDeadline(time.Now().Add(l.stream.patience))
	if err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	for _, part := range [][]byte{head, data, []byte("\n\n")} {
		if _, err := l.w.Write(part); err != nil {
			return err
		}
	}
	return l.rc.Flush()
}
