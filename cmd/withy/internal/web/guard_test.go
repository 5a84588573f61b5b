package web

import (
	"net/http"
	"strings"
	"testing"
)

func TestHosts(t *testing.T) {
	for _, c := range []struct {
		hosts []string
		host  string
		want  int
	}{
		{nil, "localhost", 200},
		{nil, "LOCALHOST:8017", 200},
		{nil, "127.0.0.1:9", 200},
		{nil, "[::1]:8017", 200},
		{nil, "[::1]", 200},
		{nil, "evil.example", 421},
		{nil, "localhost.evil.example", 421},
		{nil, "127.0.0.1.evil.example", 421},
		{nil, "192.168.1.5", 421},
		{[]string{"box.lan"}, "box.lan", 200},
		{[]string{"Box.lan"}, "box.lan:8017", 200},
		{[]string{"box.lan:80"}, "box.lan:80", 200},
		{[]string{"box.lan:80"}, "box.lan:8017", 421},
		{[]string{"box.lan"}, "localhost", 421},
		{[]string{"fe80::1"}, "[fe80::1]:80", 200},
	} {
		w := ask(serve(newShelf(), c.hosts...), "GET", "/api/status", "", "Host", c.host)
		if w.Code != c.want {
			t.Errorf("%v asked for %q: %d, want %d", c.hosts, c.host, w.Code, c.want)
		}
	}
}

func TestHeaders(t *testing.T) {
	h := serve(newShelf())
	for _, path := range []string{"/", "/api/status", "/nothing"} {
		got := ask(h, "GET", path, "").Header()
		for name, want := range map[string]string{
			"Content-Security-Policy": "default-src 'none'",
			"X-Content-Type-Options":  "nosniff",
			"Referrer-Policy":         "no-referrer",
		} {
			if !strings.Contains(got.Get(name), want) {
				t.Errorf("%s: %s is %q", path, name, got.Get(name))
			}
		}
		if strings.Contains(got.Get("Content-Security-Policy"), "unsafe") {
			t.Errorf("%s: scripts in the text are allowed", path)
		}
	}
}

func TestForeignPageTellsNothing(t *testing.T) {
	const body = `{"id":"1","kind":"break"}`
	s := newShelf()
	h := serve(s)
	for _, headers := range [][]string{
		{"Sec-Fetch-Site", "cross-site"},
		{"Sec-Fetch-Site", "same-site"},
		{"Origin", "http://evil.example"},
		{"Origin", "null"},
	} {
		w := ask(h, "POST", "/api/event", body, append(headers, "Content-Type", "application/json")...)
		if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "own page") {
			t.Errorf("%v: %d %s", headers, w.Code, w.Body)
		}
	}
	if len(s.done) != 0 {
		t.Errorf("it was told %v", s.done)
	}
	if w := ask(h, "POST", "/api/event", body, "Content-Type", "application/json", "Sec-Fetch-Site", "same-origin"); w.Code != 200 {
		t.Errorf("our own page: %d %s", w.Code, w.Body)
	}
}
