package web

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"withy/alert"
	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/report"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

// shelf is a Box that holds what a test puts into it.
type shelf struct {
	mu       sync.Mutex
	view     *view.View
	changed  chan struct{}
	done     []steambox.Event
	pressed  []string
	messages []string
	tried    []Sounded
	nexts    []Next
	refusal  error
	still    error
	sick     error
	asked    [3]float64
	noTrace  error

	reported []string
	report   *report.Report
	noReport error

	history   *history.History
	noHistory error
}

func (s *shelf) History(context.Context) (*history.History, error) { return s.history, s.noHistory }

func newShelf() *shelf {
	return &shelf{view: &view.View{Seq: 1, Session: "s1"}, changed: make(chan struct{})}
}

func (s *shelf) put(v *view.View) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.view = v
	close(s.changed)
	s.changed = make(chan struct{})
}

func (s *shelf) View() *view.View {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.view
}

func (s *shelf) Changed() <-chan struct{} {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.changed
}

func (s *shelf) Do(_ context.Context, e steambox.Event) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.refusal == nil {
		s.done = append(s.done, e)
	}
	return s.refusal
}

func (s *shelf) Message(_ context.Context, id string) []view.Tried {
	s.messages = append(s.messages, id)
	return []view.Tried{{Name: "phone", Kind: "topic", OK: true}, {Name: "shop", Kind: "webhook", Says: "shop.lan: no answer in time"}}
}

func (s *shelf) Next(_ context.Context, id string, out bool) error {
	s.nexts = append(s.nexts, Next{id, out})
	return s.refusal
}

func (s *shelf) Try(_ context.Context, sound alert.Sound, id string) error {
	s.tried = append(s.tried, Sounded{id, sound})
	return s.refusal
}

func (s *shelf) Press(_ context.Context, does, id string) (view.Answer, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.refusal == nil {
		s.pressed = append(s.pressed, does+" "+id)
	}
	return view.Answer{N: 1, Says: "Rib 7, cracked."}, s.refusal
}

func (s *shelf) Trace(_ context.Context, fromS, toS float64, most int) (view.Trace, error) {
	s.asked = [3]float64{fromS, toS, float64(most)}
	return view.Trace{ElapsedS: []float64{fromS, toS}}, s.noTrace
}

func (s *shelf) Report(_ context.Context, session string) (*report.Report, error) {
	s.reported = append(s.reported, session)
	return s.report, s.noReport
}

func (s *shelf) Watching() error { return s.still }

func (s *shelf) Healthy() error { return cmp.Or(s.still, s.sick) }

var quiet = slog.New(slog.DiscardHandler)

var page = newAssets(fstest.MapFS{
	"index.html":       {Data: []byte("<p>the page</p>")},
	"page-AB12.js.gz":  {Data: squeezed("let a = 1")},
	"placeholder.html": {Data: []byte("<p>not built</p>")},
})

// squeezed compresses as the page's build does.
func squeezed(text string) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	io.WriteString(w, text)
	w.Close()
	return b.Bytes()
}

func serve(s *shelf, hosts ...string) http.Handler {
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "steambox_up 1\n") })
	return newHandler(s, nil, metrics, Entry{Hosts: hosts}, quiet, page)
}

// ask sends one request to the names of the machine itself; headers are pairs.
func ask(h http.Handler, method, path, body string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://localhost"+path, strings.NewReader(body))
	r.RemoteAddr = "127.0.0.1:40000"
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	if host := r.Header.Get("Host"); host != "" {
		r.Host = host
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestRoutes(t *testing.T) {
	h := serve(newShelf())
	for _, c := range []struct {
		path, kind, body string
		status           int
	}{
		{"/", "text/html; charset=utf-8", "the page", 200},
		{"/page-AB12.js", "text/javascript; charset=utf-8", "let a", 200},
		{"/nothing.js", "application/json", "nothing here", 404},
		{"/metrics", "", "steambox_up 1", 200},
		{"/healthz", "text/plain; charset=utf-8", "ok", 200},
		{"/api/status", "application/json", `"seq":1`, 200},
		{"/api/trace", "application/json", `"elapsed_s":[0,1000000000]`, 200},
		{"/api/openapi.json", "application/json", `"openapi": "3.1.0"`, 200},
		{"/api/nothing", "", "", 404},
	} {
		w := ask(h, "GET", c.path, "")
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.body) {
			t.Errorf("%s: %d %q, want %d with %q", c.path, w.Code, w.Body, c.status, c.body)
		}
		if kind := w.Header().Get("Content-Type"); c.kind != "" && kind != c.kind {
			t.Errorf("%s: is %q, want %q", c.path, kind, c.kind)
		}
	}
}

func TestWrongMethod(t *testing.T) {
	h := serve(newShelf())
	for path, method := range map[string]string{
		"/": "POST", "/api/status": "POST", "/api/event": "GET", "/api/events": "DELETE", "/api/trace": "PUT", "/metrics": "POST",
	} {
		if w := ask(h, method, path, ""); w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") == "" {
			t.Errorf("%s %s: %d, Allow %q", method, path, w.Code, w.Header().Get("Allow"))
		}
	}
}

func TestHealthz(t *testing.T) {
	s := newShelf()
	s.sick = errors.New("no probe has answered for 12 seconds")
	if w := ask(serve(s), "GET", "/healthz", ""); w.Code != 503 || !strings.Contains(w.Body.String(), "no probe") {
		t.Errorf("got %d %q", w.Code, w.Body)
	}
}

func TestStatusIsTheView(t *testing.T) {
	s := newShelf()
	s.put(&view.View{Seq: 7, Says: []string{"Pull rib 7 from C."}, Alarms: []alert.Alarm{{ID: "kettle", State: alert.Raised}}})
	var got view.View
	if err := json.Unmarshal(ask(serve(s), "GET", "/api/status", "").Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Seq != 7 || got.Says[0] != "Pull rib 7 from C." || got.Alarms[0].State != alert.Raised {
		t.Errorf("got %+v", got)
	}
}

// A box that has published nothing, or a number that is none, must not look like a
// status.
func TestStatusUnwritable(t *testing.T) {
	s := newShelf()
	bad := 0.0
	s.put(&view.View{Speed: bad / bad})
	if w := ask(serve(s), "GET", "/api/status", ""); w.Code != 500 || strings.Contains(w.Body.String(), "json:") {
		t.Errorf("NaN: %d %q", w.Code, w.Body)
	}
	s.put(nil)
	if w := ask(serve(s), "GET", "/api/status", ""); w.Code != 500 {
		t.Errorf("nothing: %d", w.Code)
	}
}

func TestTrace(t *testing.T) {
	s := newShelf()
	s.put(&view.View{Status: steambox.Status{ElapsedS: 90}})
	h := serve(s)
	for _, c := range []struct {
		query string
		want  [3]float64
	}{
		{"", [3]float64{0, 1e9, 1000}},
		{"?from=10&to=20.5&most=2", [3]float64{10, 20.5, 2}},
	} {
		if w := ask(h, "GET", "/api/trace"+c.query, ""); w.Code != 200 || s.asked != c.want {
			t.Errorf("%q: %d, asked for %v, want %v", c.query, w.Code, s.asked, c.want)
		}
	}
	for query, mistake := range map[string]string{
		"from=x":            "from:",
		"to=NaN":            "to:",
		"to=Inf":            "to:",
		"from=-1":           "from:",
		"from=1&from=2":     "from:",
		"from=9&to=3":       "not be after",
		"most=1":            "most:",
		"most=NaN":          "most:",
		"most=1e300":        "most:",
		"until=9":           "no such parameter",
		"from=x&most=99999": "; most:",
		"%zz":               "well formed",
	} {
		if w := ask(h, "GET", "/api/trace?"+query, ""); w.Code != 400 || !strings.Contains(w.Body.String(), mistake) {
			t.Errorf("%s: %d %s, want 400 with %q", query, w.Code, w.Body, mistake)
		}
	}
	s.noTrace = errors.New("sqlite: disk I/O error")
	if w := ask(h, "GET", "/api/trace", ""); w.Code != 503 || strings.Contains(w.Body.String(), "sqlite") {
		t.Errorf("failing record: %d %s", w.Code, w.Body)
	}
}
