package web

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/door"
)

const elsewhere = "192.168.4.7:50000"

// guarded is everything that is served, with its door.
type guarded struct {
	t     *testing.T
	door  *door.Door
	shelf *shelf
	http.Handler
	routes []route
}

func newGuarded(t *testing.T) *guarded {
	t.Helper()
	d, err := door.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "steambox_up 1\n") })
	entry, shelf := Entry{Hosts: []string{"box.lan"}, Door: d}, newShelf()
	return &guarded{t: t, door: d, shelf: shelf, Handler: newHandler(shelf, &told{}, metrics, entry, quiet, page),
		routes: newServer(shelf, &told{}, entry, quiet, page).routes(metrics)}
}

// ask sends a request from elsewhere, with a token if there is one.
func (g *guarded) ask(method, path, body, token string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "https://box.lan"+path, strings.NewReader(body))
	r.RemoteAddr = elsewhere
	r.Header.Set("Content-Type", "application/json")
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	w := httptest.NewRecorder()
	g.ServeHTTP(w, r)
	return w
}

func (g *guarded) let(role door.Role) string {
	g.t.Helper()
	token, err := g.door.Let("phone", role)
	if err != nil {
		g.t.Fatal(err)
	}
	return token
}

// open is all that anybody may have who reaches the page.
var open = []string{"GET /", "GET /{asset}", "GET /healthz", "GET /api/pairing", "POST /api/pair", "GET /.well-known/security.txt"}

// viewed is what is sent and yet may be sent by one that may only look.
var viewed = []string{"POST /api/unpair"}

func TestEveryRouteIsGuarded(t *testing.T) {
	g := newGuarded(t)
	g.shelf.noReport = errors.New("no report here")
	g.shelf.noHistory = g.shelf.noReport
	for _, r := range g.routes {
		view := g.let(door.View) // a new one each time: it may send itself away
		name := r.method + " " + r.path
		want := [2]int{401, 0} // nobody, and one that may look; 0 is anything else than turned away
		switch {
		case slices.Contains(open, name):
			want = [2]int{0, 0}
		case r.method != "GET" && !slices.Contains(viewed, name) || r.path == "/api/devices":
			want = [2]int{401, 403}
		}
		if r.path == "/api/events" {
			continue // has no end; TestStreamEndsWithTheKey
		}
		for i, token := range []string{"", view} {
			got := g.ask(r.method, r.path, "{}", token)
			turned := got.Code == 401 || got.Code == 403
			if want[i] == 0 && turned || want[i] != 0 && got.Code != want[i] {
				t.Errorf("%s, token %q: %d %s, want %d", name, token, got.Code, got.Body, want[i])
			}
			if want[i] == 401 && strings.Contains(got.Body.String(), "s1") {
				t.Errorf("%s: says %s", name, got.Body)
			}
		}
	}
	if len(g.shelf.done)+len(g.shelf.pressed)+len(g.shelf.tried) != 0 {
		t.Error("something was told")
	}
}

// The allowlist of hosts stands before everything, whoever asks.
func TestEveryRouteAsksForTheHost(t *testing.T) {
	g := newGuarded(t)
	crew := g.let(door.Crew)
	for _, r := range g.routes {
		for _, from := range []string{elsewhere, "127.0.0.1:4"} {
			q := httptest.NewRequest(r.method, "https://rebound.example"+r.path, nil)
			q.RemoteAddr = from
			q.Header.Set("Authorization", "Bearer "+crew)
			w := httptest.NewRecorder()
			g.ServeHTTP(w, q)
			if w.Code != http.StatusMisdirectedRequest {
				t.Errorf("%s %s from %s: %d", r.method, r.path, from, w.Code)
			}
		}
	}
}

func TestStreamEndsWithTheKey(t *testing.T) {
	g := newGuarded(t)
	if w := g.ask("GET", "/api/events", "", ""); w.Code != 401 {
		t.Errorf("anybody may listen: %d", w.Code)
	}
	token := g.let(door.View)
	key, _ := g.door.Knows(token)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr, r.Host = elsewhere, "box.lan"
		g.ServeHTTP(w, r)
	}))
	defer server.Close()
	r, _ := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+"/api/events", nil)
	r.Header.Set("Authorization", "Bearer "+token)
	answer, err := server.Client().Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	lines := bufio.NewScanner(answer.Body)
	if !lines.Scan() || lines.Text() != "event: beat" {
		t.Fatalf("%d: %q", answer.StatusCode, lines.Text())
	}
	if err := g.door.Revoke(key.ID); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		for lines.Scan() {
		}
		close(ended)
	}()
	select {
	case <-ended:
	case <-time.After(3 * time.Second):
		t.Error("one that was sent away is still told")
	}
}

// A page that came in the open from the same place is a foreign one over TLS.
func TestOpenPageIsForeign(t *testing.T) {
	g := newGuarded(t)
	token := g.let(door.Crew)
	for origin, want := range map[string]int{"http://box.lan": 403, "https://box.lan": 200} {
		r := httptest.NewRequest(http.MethodPost, "https://box.lan/api/event", strings.NewReader(`{"id":"1","kind":"break"}`))
		r.RemoteAddr = elsewhere
		r.Header = http.Header{"Content-Type": {"application/json"}, "Authorization": {"Bearer " + token}, "Origin": {origin}}
		w := httptest.NewRecorder()
		if g.ServeHTTP(w, r); w.Code != want {
			t.Errorf("%s: %d %s", origin, w.Code, w.Body)
		}
	}
}

// Guessing does not fill the log.
func TestGuessingIsLoggedOnce(t *testing.T) {
	var logged bytes.Buffer
	h := newHandler(newShelf(), nil, http.NotFoundHandler(), Entry{}, slog.New(slog.NewTextHandler(&logged, nil)), page)
	for range 50 {
		if w := ask(h, "POST", "/api/pair", `{"name":"x","code":"123456"}`, "Content-Type", "application/json"); w.Code != 403 {
			t.Fatal(w.Code, w.Body)
		}
	}
	if n := strings.Count(logged.String(), "\n"); n != 1 {
		t.Errorf("%d lines: %s", n, logged.String())
	}
}

// cookie is the token that an answer brought.
func cookie(w *httptest.ResponseRecorder) *http.Cookie {
	for _, c := range w.Result().Cookies() {
		return c
	}
	return nil
}

func TestPairByCode(t *testing.T) {
	g := newGuarded(t)
	code, _ := g.door.OpenCode(door.Crew)
	if w := g.ask("POST", "/api/pair", `{"name":"phone","code":"nonsense"}`, ""); w.Code != 403 || cookie(w) != nil || !strings.Contains(w.Body.String(), "withy pair") {
		t.Errorf("a wrong code: %d %s", w.Code, w.Body)
	}
	w := g.ask("POST", "/api/pair", `{"name":"phone","code":"`+code+`"}`, "")
	got := cookie(w)
	if w.Code != 200 || w.Body.String() != `{"role":"crew"}` || got == nil || got.Name != "__Host-withy" || !got.Secure || !got.HttpOnly || got.SameSite != http.SameSiteStrictMode {
		t.Fatalf("%d %s %v", w.Code, w.Body, got)
	}
	if strings.Contains(w.Body.String(), got.Value) {
		t.Error("scripts can read the token")
	}
	r := httptest.NewRequest(http.MethodPost, "https://box.lan/api/event", strings.NewReader(`{"id":"1","kind":"break"}`))
	r.RemoteAddr = elsewhere
	r.Header.Set("Content-Type", "application/json")
	r.AddCookie(got)
	w = httptest.NewRecorder()
	if g.ServeHTTP(w, r); w.Code != 200 || len(g.shelf.done) != 1 {
		t.Errorf("the crew can't tell: %d %s", w.Code, w.Body)
	}
	if w := g.ask("GET", "/api/pairing", "", got.Value); w.Body.String() != `{"role":"crew","here":false,"name":"phone","safe":true}` {
		t.Error(w.Body)
	}
	var all Devices
	if err := json.Unmarshal(g.ask("GET", "/api/devices", "", got.Value).Body.Bytes(), &all); err != nil || len(all.Devices) != 1 || !all.Devices[0].This {
		t.Errorf("%+v %v", all, err)
	}
	if w := g.ask("POST", "/api/unpair", `{"device":""}`, got.Value); w.Code != 200 || cookie(w).MaxAge >= 0 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if w := g.ask("GET", "/api/status", "", got.Value); w.Code != 401 {
		t.Errorf("it is still let in: %d", w.Code)
	}
}

func TestPairByButton(t *testing.T) {
	g := newGuarded(t)
	const ask = `{"name":"phone","ask":"0123456789abcdef"}`
	if w := g.ask("POST", "/api/pair", ask, ""); w.Code != 200 || w.Body.String() != `{"role":""}` || cookie(w) != nil {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	if name, err := g.door.Press(); err != nil || name != "phone" {
		t.Fatal(name, err)
	}
	if w := g.ask("POST", "/api/pair", ask, ""); w.Code != 200 || w.Body.String() != `{"role":"crew"}` || cookie(w) == nil {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
}

func TestPairRefuses(t *testing.T) {
	g := newGuarded(t)
	for body, want := range map[string]int{
		`{}`: 400, `[]`: 400, ``: 400, `{"name":"x"}`: 400, `{"name":"x","code":"1","ask":"0123456789abcdef"}`: 400, `{"name":"x","code":1}`: 400,
		`{"name":"x","ask":"short"}`: 400, `{"name":"","ask":"0123456789abcdef"}`: 400, `{"name":"x","code":"123456","role":"crew"}`: 400,
		`{"name":"` + strings.Repeat("x", mostBody) + `"}`: 413,
	} {
		if w := g.ask("POST", "/api/pair", body, ""); w.Code != want || cookie(w) != nil {
			t.Errorf("%.60s: %d %s", body, w.Code, w.Body)
		}
	}
	if len(g.door.Keys()) != 0 {
		t.Errorf("paired are %v", g.door.Keys())
	}
}

// One that may only look sends nobody away but itself.
func TestViewSendsNobodyAway(t *testing.T) {
	g := newGuarded(t)
	crew, _ := g.door.Knows(g.let(door.Crew))
	view := g.let(door.View)
	if w := g.ask("POST", "/api/unpair", `{"device":"`+crew.ID+`"}`, view); w.Code != 403 || len(g.door.Keys()) != 2 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if w := g.ask("POST", "/api/unpair", `{"device":""}`, view); w.Code != 200 || len(g.door.Keys()) != 1 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

// Codes and tokens are made for who comes by the socket, and for no crew elsewhere, nor
// for a page in the board's own browser.
func TestGrantIsForTheSocket(t *testing.T) {
	g := newGuarded(t)
	const body = `{"role":"crew"}`
	if w := g.ask("POST", "/api/grant", body, g.let(door.Crew)); w.Code != 403 || strings.Contains(w.Body.String(), "code\":") {
		t.Errorf("crew elsewhere: %d %s", w.Code, w.Body)
	}
	bySocket := func(body string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodPost, "http://any/api/grant", strings.NewReader(body))
		r.RemoteAddr = "@"
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		door.ByTheSocket(g).ServeHTTP(w, r)
		return w
	}
	var got Granted
	if err := json.Unmarshal(bySocket(body).Body.Bytes(), &got); err != nil || len(got.Code) != 6 || got.ForS != 120 {
		t.Fatalf("%+v %v", got, err)
	}
	if w := g.ask("POST", "/api/pair", `{"name":"phone","code":"`+got.Code+`"}`, ""); w.Code != 200 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	got = Granted{}
	if err := json.Unmarshal(bySocket(`{"role":"view","name":"scraper"}`).Body.Bytes(), &got); err != nil || got.Token == "" || got.Code != "" {
		t.Fatalf("%+v %v", got, err)
	}
	if w := g.ask("GET", "/metrics", "", got.Token); w.Code != 200 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	for _, bad := range []string{`{}`, `{"role":""}`, `{"role":"owner"}`, `{"role":"view","name":"\n"}`, `[]`} {
		if w := bySocket(bad); w.Code != 400 {
			t.Errorf("%s: %d %s", bad, w.Code, w.Body)
		}
	}
}
