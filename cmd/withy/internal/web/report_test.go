package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/steambox"
	"withy/steambox/measure"
)

// reportOfNothing is the report of a session that has just begun.
func reportOfNothing(t testing.TB) *report.Report {
	t.Helper()
	b := steambox.DefaultBox()
	b.Probes, b.Boat = []steambox.BoxProbe{{Name: "steam"}, {Name: "door", XM: 1.5}}, "<b>Heron"
	session, err := steambox.NewSession(b)
	if err != nil {
		t.Fatal(err)
	}
	return new(report.Notes).Report("s1", time.Unix(0, 0), session)
}

// The page is that of the session asked for, runs nothing, loads nothing, takes no
// markup from the log, and is in the units of the box.
func TestReport(t *testing.T) {
	s := newShelf()
	s.report = reportOfNothing(t)
	s.view.Units = measure.US
	for _, query := range []string{"", "?session=2026-05-01-1"} {
		w := ask(serve(s), "GET", "/report"+query, "")
		if w.Code != 200 || !strings.Contains(w.Body.String(), "&lt;b&gt;Heron") || !strings.Contains(w.Body.String(), "°F") {
			t.Errorf("%q: %d %s", query, w.Code, w.Body)
		}
		if kind := w.Header().Get("Content-Type"); kind != "text/html; charset=utf-8" {
			t.Errorf("is %q", kind)
		}
		if got := w.Header().Get("Content-Security-Policy"); got != paperPolicy {
			t.Errorf("policy %q", got)
		}
	}
	if got := fmt.Sprintf("%q", s.reported); got != `["" "2026-05-01-1"]` {
		t.Errorf("asked for %s", got)
	}
}

func TestNoReport(t *testing.T) {
	for _, c := range []struct {
		query  string
		err    error
		status int
		says   string
	}{
		{"?session=a&session=b", nil, 400, "session: given more than once"},
		{"?boat=x&session=", nil, 400, "there is no such parameter"},
		{"?session=%zz", nil, 400, "not well formed"},
		{"?session=gone", fmt.Errorf("x: %w", record.ErrUnknown), 404, "There is no such session"},
		{"", errors.New("disk"), 503, "Try again."},
	} {
		s := newShelf()
		s.report, s.noReport = reportOfNothing(t), c.err
		w := ask(serve(s), "GET", "/report"+c.query, "")
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) || strings.Contains(w.Body.String(), "disk") {
			t.Errorf("%q: %d %s", c.query, w.Code, w.Body)
		}
		if c.status == 400 && len(s.reported) > 0 {
			t.Errorf("%q was made", c.query)
		}
	}
}

// While a report is being made the next waits, and gives up with who asked for it.
func TestOneReportAtATime(t *testing.T) {
	shelf := newShelf()
	shelf.report = reportOfNothing(t)
	s := newServer(shelf, nil, Entry{}, quiet, page)
	s.reporting <- struct{}{}
	ctx, leave := context.WithCancel(t.Context())
	leave()
	s.report(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/report", nil).WithContext(ctx))
	if len(shelf.reported) > 0 {
		t.Error("made beside another")
	}
	<-s.reporting
	s.report(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/report", nil))
	if len(shelf.reported) != 1 || len(s.reporting) != 0 {
		t.Errorf("made %d, %d under way", len(shelf.reported), len(s.reporting))
	}
}
