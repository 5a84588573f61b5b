package browsertest

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/web"
)

// elsewhere is the daemon's page as it is served to a phone elsewhere.
func elsewhere(t *testing.T, s *shed) (url string, way *door.Door) {
	t.Helper()
	way, err := door.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	h := web.New(s.Daemon, plain{}, metrics.Handler(s.Daemon), web.Entry{Hosts: []string{"127.0.0.1"}, Door: way}, slog.New(slog.DiscardHandler))
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr = "192.168.4.7:50000"
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(func() {
		server.CloseClientConnections()
		server.Close()
	})
	return server.URL, way
}

// anew waits until an expression is true in the page, which may be loaded anew meanwhile.
func (p *page) anew(is string) {
	p.t.Helper()
	for range 100 {
		var got struct{ Result struct{ Value bool } }
		params := map[string]any{"expression": "Boolean(" + is + ")", "returnByValue": true}
		if err := p.c.ask(p.t.Context(), p.session, "Runtime.evaluate", params, &got); err == nil && got.Result.Value {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	p.t.Fatalf("never so: %s", is)
}

// A phone that is not paired sees the way in and nothing of the box; it is let in by the
// button, pressed once, and by the code; and it is sent away.
func TestPair(t *testing.T) {
	s := shop(t, "good", hot, 1)
	url, way := elsewhere(t, s)
	p := browser(t).blank(t, phone)
	p.ask("Page.navigate", map[string]any{"url": url})
	const shut, in = `document.querySelector("#pair h2")?.checkVisibility()`, `document.body.dataset.live === "live" && !document.querySelector("#pair").checkVisibility()`

	p.wait(shut + ` && document.querySelector("#pair [role=status]").textContent === "Waiting for the button."`)
	var text string
	p.eval(`document.body.innerText`, &text)
	if box := s.View().Box; strings.Contains(text, box.Name) || strings.Contains(text, box.Boat) || !strings.Contains(text, "five seconds") || !strings.Contains(text, "withy pair") {
		t.Errorf("before it is paired it says %q", text)
	}
	if _, err := way.Press(); err != nil {
		t.Fatal(err)
	}
	p.anew(in)
	p.eval(`document.querySelector("#paired").open = true`, nil)
	p.wait(`document.querySelector("#paired .what")?.textContent.includes("this one")`)
	if keys := way.Keys(); len(keys) != 1 || keys[0].Role != door.Crew {
		t.Fatalf("paired are %+v", keys)
	}
	p.press("#paired", "Send away")

	p.anew(shut)
	code, err := way.OpenCode(door.View)
	if err != nil {
		t.Fatal(err)
	}
	p.eval(`document.querySelector("#pair input").value = "12"`, nil)
	p.press("#pair .pair-code", "Pair")
	p.wait(`document.querySelector("#pair [role=status]").textContent === "The code has six digits."`)
	p.eval(`document.querySelector("#pair input").value = "`+code[:3]+" "+code[3:]+`"`, nil)
	p.press("#pair .pair-code", "Pair")
	p.anew(in + ` && document.body.dataset.role === "view" && !document.querySelector("#crew").checkVisibility()`)

	if err := way.RevokeAll(); err != nil { // by somebody else, while the page is open
		t.Fatal(err)
	}
	p.wait(shut)
}
