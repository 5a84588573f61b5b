package web

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/record"
)

func TestHistory(t *testing.T) {
	log := history.New([]history.Day{
		{Session: "2026-05-01-1", Boat: "Heron", Ribs: []history.Rib{{Rib: "7", Stick: "oak", Outcome: "supple"}}},
		{Session: "2026-05-08-1", Boat: "Dipper", Ribs: []history.Rib{{Rib: "8", Stick: "ash", Outcome: "cracked"}}},
	})
	for _, c := range []struct {
		path   string
		err    error
		status int
		says   []string
		not    string
	}{
		{"/history", nil, 200, []string{"Heron", "Dipper", "oak", "ash"}, "<script"},
		{"/history?find=", nil, 200, []string{"Heron", "Dipper"}, "found by"},
		{"/history?find=oak+heron", nil, 200, []string{"Heron", "oak", "found by “oak heron”"}, "Dipper"},
		{"/history?find=%3Cb%3E", nil, 200, []string{"Nothing is found by “&lt;b&gt;”"}, "Heron"},
		{"/history?find=" + strings.Repeat("x", mostFind+1), nil, 400, []string{"at most 100 letters"}, "Heron"},
		{"/history?find=a&find=b", nil, 400, []string{"find: given more than once"}, ""},
		{"/history?seek=a", nil, 400, []string{"there is no such parameter"}, ""},
		{"/history?%zz", nil, 400, []string{"not well formed"}, ""},
		{"/history", errors.New("disk"), 503, []string{"Try again."}, "disk"},
		{"/history.csv", nil, 200, []string{"session,began", "2026-05-08-1"}, ""},
		{"/history.csv?find=a", nil, 400, []string{"there is no such parameter"}, ""},
		{"/compare?session=a&with=b", nil, 200, []string{"Two sessions"}, "<script"},
		{"/compare?session=a", nil, 400, []string{"session, with: the names of two"}, ""},
		{"/compare?session=a&with=b", fmt.Errorf("x: %w", record.ErrUnknown), 404, []string{"There is no such session"}, ""},
	} {
		s := newShelf()
		s.report, s.noReport, s.history, s.noHistory = reportOfNothing(t), c.err, log, c.err
		w := ask(serve(s), "GET", c.path, "")
		for _, want := range c.says {
			if w.Code != c.status || !strings.Contains(w.Body.String(), want) {
				t.Errorf("%s: %d without %q: %.300s", c.path, w.Code, want, w.Body)
			}
		}
		if c.not != "" && strings.Contains(w.Body.String(), c.not) {
			t.Errorf("%s: %q is in it", c.path, c.not)
		}
	}
}

// The page's forms ask this server, and it runs nothing.
func TestHistoryPolicy(t *testing.T) {
	s := newShelf()
	s.history = history.New(nil)
	policy := ask(serve(s), "GET", "/history", "").Header().Get("Content-Security-Policy")
	if !strings.Contains(policy, "form-action 'self'") || !strings.Contains(policy, "default-src 'none'") || strings.Contains(policy, "script") {
		t.Errorf("policy %q", policy)
	}
}
