package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/history"
)

// posted is everything that a body is sent to.
var posted = []string{"/api/event", "/api/press", "/api/sound", "/api/session", "/api/settings", "/api/ribs", "/api/bends", "/api/erase", "/api/pair", "/api/unpair", "/api/grant", "/api/message", "/api/calibration"}

// A body is taken, or refused in a sentence with nothing done.
func FuzzBodies(f *testing.F) {
	for i, body := range []string{
		`{"id":"1","kind":"break"}`, `{"id":"1","does":"next"}`, `{"id":"1","sound":"pull"}`, `{"id":"1","set":{"boat.name":"x"}}`, "rib,length_mm\n1,900\n", "exposure_min,outcome\n2,supple\n",
		`{"erase":"everything"}`, `{"name":"phone","ask":"0123456789abcdef"}`, `{"device":""}`, `{"role":"crew","name":"x"}`, `{"id":"1"}`, `{"id":"1","place":"pot"}`, `[[[[`, `{"id":1e999}`,
	} {
		f.Add(uint8(i), []byte(body))
	}
	for _, r := range newServer(newShelf(), &told{}, Entry{}, quiet, page).routes(http.NotFoundHandler()) {
		if r.body != nil && !slices.Contains(posted, r.path) {
			f.Errorf("%s is not tried", r.path)
		}
	}
	s, o := newShelf(), &told{}
	way, err := door.Open(f.TempDir())
	if err != nil {
		f.Fatal(err)
	}
	h := door.ByTheSocket(newHandler(s, o, http.NotFoundHandler(), Entry{Door: way}, quiet, page)) // once: it describes the API
	done := func() int {
		return len(s.done) + len(s.pressed) + len(s.tried) + len(s.messages) + len(s.nexts) + len(o.values) + len(o.table) + len(o.place) + len(way.Keys())
	}
	f.Fuzz(func(t *testing.T, which uint8, body []byte) {
		path := posted[int(which)%len(posted)]
		*o = told{}
		was := done()
		r := httptest.NewRequest(http.MethodPost, "http://box"+path+"?id=1", strings.NewReader(string(body)))
		r.Header.Set("Content-Type", "application/json")
		if slices.Contains([]string{"/api/ribs", "/api/bends"}, path) {
			r.Header.Set("Content-Type", "text/csv")
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code < 400 {
			return
		}
		var p Problem
		if w.Code >= 500 || json.Unmarshal(w.Body.Bytes(), &p) != nil || p.Error == "" {
			t.Errorf("%s: %d %s", path, w.Code, w.Body)
		}
		if done() != was || o.erased {
			t.Errorf("%s: refused by %s, and done", path, w.Body)
		}
	})
}

// A query is answered, or refused in a sentence.
func FuzzQueries(f *testing.F) {
	paths := []string{"/api/trace", "/report", "/api/plan", "/plan", "/history", "/history.csv", "/compare"}
	for i, query := range []string{"from=0&to=10&most=100", "session=2026-01-01-1", "spares_pct=30", "%zz", "from=NaN&from=1", "session=%00&session="} {
		f.Add(uint8(i), query)
	}
	for which, query := range map[uint8]string{1: "session=s1", 4: "find=oak+%3Cscript%3E+1+may", 6: "session=a&with=b"} {
		f.Add(which, query)
	}
	s := planned(f, 3)
	s.report, s.history = reportOfNothing(f), history.New([]history.Day{{Session: "2026-05-01-1", Boat: "Heron", Ribs: []history.Rib{{Rib: "7", Stick: "oak", Outcome: "supple"}}}})
	h := serve(s)
	f.Fuzz(func(t *testing.T, which uint8, query string) {
		r := httptest.NewRequest(http.MethodGet, "http://localhost/", nil)
		r.URL = &url.URL{Path: paths[int(which)%len(paths)], RawQuery: query}
		r.RemoteAddr = "127.0.0.1:40000"
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code >= 500 || strings.Contains(w.Body.String(), "<script") {
			t.Errorf("%s?%s: %d %s", r.URL.Path, query, w.Code, w.Body)
		}
	})
}

// Whatever the headers, the page is served as it is asked for, and a page from elsewhere tells
// nothing.
func FuzzHeaders(f *testing.F) {
	for _, accept := range []string{"gzip, br;q=1.0, *;q=0.5", "gzip;q=0", "gzip;q=NaN", "gzip;q=", ",,;;", ""} {
		f.Add(accept, `W/"x", "y"`, "http://box-2.lan", "cross-site", "application/json; charset=\xff", "18446744073709551616")
	}
	s := newShelf()
	h := serve(s)
	f.Fuzz(func(t *testing.T, accept, tag, origin, site, kind, last string) {
		s.pressed = nil
		headers := []string{"Accept-Encoding", accept, "If-None-Match", tag, "Origin", origin, "Sec-Fetch-Site", site, "Content-Type", kind, "Last-Event-ID", last}
		w := ask(h, http.MethodGet, "/", "", headers...)
		if squeezed := w.Header().Get("Content-Encoding") == "gzip"; w.Code != http.StatusOK && w.Code != http.StatusNotModified || squeezed && !strings.Contains(accept, "gzip") {
			t.Errorf("%q: %d, gzip %t", headers, w.Code, squeezed)
		}
		w = ask(h, http.MethodPost, "/api/press", `{"id":"1","does":"next"}`, headers...)
		elsewhere := origin != "" && origin != "http://localhost" && site != "same-origin" && site != "none"
		if w.Code >= 500 || elsewhere && len(s.pressed) != 0 || w.Code != http.StatusOK && len(s.pressed) != 0 {
			t.Errorf("%q: %d %s, and done: %q", headers, w.Code, w.Body, s.pressed)
		}
	})
}

// A host is answered only if it is one of those that are allowed, whatever it looks like.
func FuzzHosts(f *testing.F) {
	for _, host := range []string{"box.lan", "BOX.lan:80", "[fd00::1]:80", "box.lan.evil.example", "127.0.0.1", "localhost:1:2", "[", "box.lan:", "box.lan@evil.example"} {
		f.Add(host)
	}
	f.Fuzz(func(t *testing.T, host string) {
		if answers([]string{"box.lan", "fd00::1"}, host) && !slices.Contains([]string{"box.lan", "fd00::1"}, door.Bare(host)) {
			t.Errorf("%q is answered", host)
		}
		if answers(nil, host) && !loopback(door.Bare(host)) {
			t.Errorf("%q is answered", host)
		}
	})
}
