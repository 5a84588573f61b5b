// Package web is the daemon's HTTP face: the page for the crew, the status and its
// stream for programs, and the one way in for what the crew did.
//
// It decides nothing about the box. It shows what a Box publishes, hands events on,
// and says in sentences what can't be done; what went wrong inside goes to the log.
package web

import (
	"context"
	"log/slog"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/report"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

//go:generate sh ui/build.sh

// Box is what is served. Its methods are called from many goroutines.
type Box interface {
	// View returns the newest view, which nobody changes any more.
	View() *view.View
	// Changed returns a channel that is closed when a view newer than the one that
	// View returned before the call is there.
	Changed() <-chan struct{}
	// Do returns nil once the event is on disk, a *steambox.RefusedError where it
	// can't be taken now, and any other error where it could not be stored. It gets
	// only events that pass their own Check.
	Do(ctx context.Context, e steambox.Event) error
	// Press takes the press of a key, by what it does, and returns the answer to be
	// said. Errors are those of Do.
	Press(ctx context.Context, does, id string) (view.Answer, error)
	// Next ends the session that goes on and begins another one, for another boat; out says
	// that ribs which lie in the box were pulled just now. The same id counts once. Errors
	// are those of Do.
	Next(ctx context.Context, id string, out bool) error
	// Try makes a sound, so that it is known to be heard. The same id counts once.
	Try(ctx context.Context, sound alert.Sound, id string) error
	// Message sends a test message by each output, so that it is known to arrive, and
	// returns what became of it. The same id is sent once.
	Message(ctx context.Context, id string) []view.Tried
	// Trace returns the past between two elapsed times, thinned to at most that many
	// moments.
	Trace(ctx context.Context, fromS, toS float64, most int) (view.Trace, error)
	// Report returns the report of a session on record, "" for the one that goes on. It
	// takes as long as going through the session does. Errors wrap record.ErrUnknown
	// where there is no such session.
	Report(ctx context.Context, session string) (*report.Report, error)
	// History returns what the sessions on record come to, rehearsals if this is one, or
	// else the others.
	History(ctx context.Context) (*history.History, error)
	// Watching returns nil while the loop is alive, else a sentence that says what is
	// missing.
	Watching() error
	// Healthy does so while the loop is alive and sensing.
	Healthy() error
}

// shopkeeper is what a Box may be too: one that knows all the boxes of its shop.
type shopkeeper interface {
	// Shop returns them as they were heard last. It waits for none of them.
	Shop() boxes.ShopView
}

// Entry is who gets to see what is served.
type Entry struct {
	// Hosts are what may be asked for: a name or an address, which stands for every
	// port, or either with its port. Without any, the names of the machine itself.
	Hosts []string
	// Door says who may do what; nil: only who is on the machine itself.
	Door *door.Door
	// Certificate is what the page is served with; nil: nothing is.
	Certificate *door.Certificate
	// Contact is the address for who has found a hole; empty: none is known.
	Contact string
}

// New returns everything that is served about b and what can be set at it, with
// metrics at /metrics. Without settings nothing can be set. What goes wrong inside is
// logged to log.
func New(b Box, settings Settings, metrics http.Handler, entry Entry, log *slog.Logger) http.Handler {
	return newHandler(b, settings, metrics, entry, log, built())
}

func newHandler(b Box, settings Settings, metrics http.Handler, entry Entry, log *slog.Logger, page *assets) http.Handler {
	s := newServer(b, settings, entry, log, page)
	mux := http.NewServeMux()
	for _, r := range s.routes(metrics) {
		mux.Handle(r.method+" "+r.pattern(), s.admits(r.needs(), r.handler))
	}
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(foreignPage))
	return guard(entry.Hosts, cross.Handler(mux))
}

// server answers with what its box says.
type server struct {
	box       Box
	settings  Settings
	log       *slog.Logger
	page      *assets
	stream    *stream
	entry     Entry
	planning  chan struct{} // holds one while a plan is being made
	reporting chan struct{} // the same of a report
	guessed   atomic.Int64  // when a wrong code was last put into the log, Unix nanoseconds
}

func newServer(b Box, settings Settings, entry Entry, log *slog.Logger, page *assets) *server {
	if entry.Door == nil {
		entry.Door = &door.Door{}
	}
	return &server{box: b, settings: settings, entry: entry, log: log, page: page, stream: newStream(b, log), planning: make(chan struct{}, 1), reporting: make(chan struct{}, 1)}
}

// Server returns an HTTP server for what New returned, with limits that suit a
// small board: 5 s for a request's head, 15 s for all of it, 30 s for an answer,
// 16 KiB of headers. The event stream sets limits of its own, and ends as soon as
// Shutdown is called. The address and the error log are the caller's.
func Server(h http.Handler) *http.Server {
	ctx, stop := context.WithCancel(context.Background())
	s := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       15 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	s.RegisterOnShutdown(stop)
	return s
}
