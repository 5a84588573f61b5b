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
	viewEvery = 900 * time.Millisecond  // the least time between two views with nothing urgent in them: a sweep a second, which may come early
	beatEvery = 1100 * time.Millisecond // so that a page knows a silent line from a calm box; the view that comes each second takes one along
	patience  = 5 * time.Second         // with a client that does not take what it is sent
	mostPages = 200                     // streams open at once
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
	sentAt time.Time  // when that was
}

// caughtUp notes that the client has the view with that id, if that is still the
// newest.
func (l *listener) caughtUp(v *view.View, id uint64) {
	if v != nil && v.Seq == id {
		l.last = v
	}
}

// listen sends views as they come, each with a beat, and a beat alone where none comes.
func (l *listener) listen(ctx context.Context) error {
	// The limit on reading a request must not end a stream that has been read.
	if err := l.rc.SetReadDeadline(time.Time{}); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	alone := time.NewTicker(beatEvery)
	defer alone.Stop()
	if err := l.send(l.news()); err != nil {
		return err
	}
	for {
		changed := l.stream.box.Changed()
		wait := time.Duration(0)
		if v := l.news(); v != nil {
			if wait = l.early(v); wait <= 0 {
				if err := l.send(v); err != nil {
					return err
				}
				alone.Reset(beatEvery)
			}
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
		case <-alone.C:
			if err := l.send(nil); err != nil {
				return err
			}
		}
	}
}

// news returns the newest view unless the client has it, else nil.
func (l *listener) news() *view.View {
	if v := l.stream.box.View(); v != nil && (l.last == nil || v.Seq != l.last.Seq) {
		return v
	}
	return nil
}

// early returns how much too soon it is for v.
func (l *listener) early(v *view.View) time.Duration {
	if l.last == nil || urgent(l.last, v) {
		return 0
	}
	return viewEvery - time.Since(l.sentAt)
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

func (l *listener) beat() ([]byte, error) {
	b := Beat{Well: true}
	if v := l.stream.box.View(); v != nil {
		b.Seq = v.Seq
	}
	if err := l.stream.box.Watching(); err != nil {
		b.Well, b.Why = false, err.Error()
	}
	return json.Marshal(b)
}

// send sends a beat, and v with it unless that is nil, or gives the client up. A view's
// data are not copied: all pages share them.
func (l *listener) send(v *view.View) error {
	beat, err := l.beat()
	if err != nil {
		return err
	}
	parts := [][]byte{[]byte("event: beat\ndata: "), beat, []byte("\n\n")}
	if v != nil {
		data, err := l.stream.encode(v)
		if err != nil {
			return err
		}
		parts = append(parts, fmt.Appendf(nil, "event: view\nid: %d\ndata: ", v.Seq), data, []byte("\n\n"))
		l.last, l.sentAt = v, time.Now()
	}
	err = l.rc.SetWriteDeadline(time.Now().Add(l.stream.patience))
	if err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	for _, part := range parts {
		if _, err := l.w.Write(part); err != nil {
			return err
		}
	}
	return l.rc.Flush()
}
