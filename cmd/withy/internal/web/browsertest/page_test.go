package browsertest

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// screen is the size of a window, in CSS pixels, and whether fingers touch it.
type screen struct {
	name          string
	width, height int
	touch         bool
}

var (
	phone   = screen{"phone", 360, 740, true}
	upright = screen{"tablet upright", 820, 1180, true}
	tablet  = screen{"tablet", 1280, 800, true}
	screens = []screen{phone, upright, tablet}
)

// page is one open page, and what the browser noted of it.
type page struct {
	t       *testing.T
	c       *chromium
	session string

	mu         sync.Mutex
	complaints []string // errors and warnings on its console
	asked      []string // addresses that it asked for
	bytes      int      // that came over the line, heads and bodies, as they were sent
	views      map[string]string
	newest     string // the id of the view that came last
}

// open opens an address in a window with a memory of its own, as another device
// would have it.
func (c *chromium) open(t *testing.T, s screen, url string) *page {
	t.Helper()
	p := c.blank(t, s)
	p.ask("Page.navigate", map[string]any{"url": url})
	p.wait(`document.body?.dataset.live === "live"`)
	return p
}

// blank opens such a window with nothing in it yet.
func (c *chromium) blank(t *testing.T, s screen) *page {
	t.Helper()
	var own struct{ BrowserContextID, TargetID, SessionID string }
	ask := func(method string, params map[string]any) {
		t.Helper()
		if err := c.ask(t.Context(), "", method, params, &own); err != nil {
			t.Fatal(err)
		}
	}
	ask("Target.createBrowserContext", map[string]any{})
	ask("Target.createTarget", map[string]any{"url": "about:blank", "browserContextId": own.BrowserContextID})
	ask("Target.attachToTarget", map[string]any{"targetId": own.TargetID, "flatten": true})
	p := &page{t: t, c: c, session: own.SessionID, views: map[string]string{}}
	c.mu.Lock()
	c.pages[p.session] = p
	c.mu.Unlock()
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		p.ask(domain+".enable", nil)
	}
	p.resize(s)
	return p
}

func (p *page) ask(method string, params map[string]any) {
	p.t.Helper()
	if err := p.c.ask(p.t.Context(), p.session, method, params, nil); err != nil {
		p.t.Fatal(err)
	}
}

// resize makes the window another, as if the device had been turned, and lets the page
// draw itself anew: in the first frame it learns its size, in the second it has it.
func (p *page) resize(s screen) {
	p.t.Helper()
	p.ask("Emulation.setDeviceMetricsOverride", map[string]any{"width": s.width, "height": s.height, "deviceScaleFactor": 1, "mobile": s.touch})
	p.eval(`new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))`, nil)
}

// look makes the device prefer light or dark, whatever else is asked for as name and
// value, and nothing that moves: a colour on its way to another is none to be measured.
func (p *page) look(scheme string, more ...string) {
	p.t.Helper()
	features := []map[string]string{{"name": "prefers-color-scheme", "value": scheme}, {"name": "prefers-reduced-motion", "value": "reduce"}}
	for pair := range slices.Chunk(more, 2) {
		features = append(features, map[string]string{"name": pair[0], "value": pair[1]})
	}
	p.ask("Emulation.setEmulatedMedia", map[string]any{"features": features})
	p.eval(`new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))`, nil)
}

// happened notes what tests ask for later.
func (p *page) happened(m message) {
	var e struct {
		Type             string
		Args             []struct{ Value, Description any }
		Entry            struct{ Level, Text, URL string }
		ExceptionDetails struct {
			Text      string
			Exception struct{ Description string }
		}
		Request                  struct{ URL string }
		EncodedDataLength        int
		EventName, EventID, Data string
		Response                 struct{ EncodedDataLength int }
	}
	// Params that are of another kind are of an event that is not looked at here.
	if json.Unmarshal(m.Params, &e) != nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	switch m.Method {
	case "Runtime.consoleAPICalled":
		if e.Type == "error" || e.Type == "warning" || e.Type == "assert" {
			p.complaints = append(p.complaints, fmt.Sprint(e.Type, e.Args))
		}
	case "Runtime.exceptionThrown":
		p.complaints = append(p.complaints, e.ExceptionDetails.Text+" "+e.ExceptionDetails.Exception.Description)
	case "Log.entryAdded":
		if e.Entry.Level == "error" || e.Entry.Level == "warning" {
			p.complaints = append(p.complaints, e.Entry.Text+" "+e.Entry.URL)
		}
	case "Network.requestWillBeSent":
		p.asked = append(p.asked, e.Request.URL)
	case "Network.responseReceived":
		p.bytes += e.Response.EncodedDataLength // the head
	case "Network.eventSourceMessageReceived":
		if e.EventName == "view" {
			p.newest, p.views[e.EventID] = e.EventID, e.Data
		}
	case "Network.dataReceived":
		p.bytes += e.EncodedDataLength
	}
}

// console returns what the page complained of so far.
func (p *page) console() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string{}, p.complaints...)
}

// view returns the view that came last over the page's own stream: its id, and all of it.
func (p *page) view() (id, text string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.newest, p.views[p.newest]
}

// stayed fails where the page asked any place but the one at url.
func (p *page) stayed(url string) {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, a := range p.asked {
		if !strings.HasPrefix(a, url+"/") {
			p.t.Errorf("asked %s", a)
		}
	}
}

// eval runs JavaScript in the page and puts what comes of it into result, unless
// that is nil.
func (p *page) eval(js string, result any) {
	p.t.Helper()
	var got struct {
		Result           struct{ Value json.RawMessage }
		ExceptionDetails *struct {
			Text      string
			Exception struct{ Description string }
		}
	}
	params := map[string]any{"expression": js, "awaitPromise": true, "returnByValue": true, "userGesture": true}
	if err := p.c.ask(p.t.Context(), p.session, "Runtime.evaluate", params, &got); err != nil {
		p.t.Fatal(err)
	}
	if got.ExceptionDetails != nil {
		p.t.Fatalf("%s: %s %s", js, got.ExceptionDetails.Text, got.ExceptionDetails.Exception.Description)
	}
	if result == nil {
		return
	}
	if err := json.Unmarshal(got.Result.Value, result); err != nil {
		p.t.Fatalf("%s: %v", js, err)
	}
}

// wait waits until an expression is true in the page, and returns how long that took.
func (p *page) wait(is string) time.Duration {
	p.t.Helper()
	began := time.Now()
	var so bool
	p.eval(fmt.Sprintf(`new Promise((done) => {
		const until = performance.now() + %d;
		const look = () => { const is = Boolean(%s); is || performance.now() > until ? done(is) : setTimeout(look, 20); };
		look();
	})`, (patience/2).Milliseconds(), is), &so)
	if !so {
		var text string
		p.eval("document.body.innerText", &text)
		p.t.Fatalf("never so: %s\nconsole: %q\nthe page:\n%s", is, p.console(), text)
	}
	return time.Since(began)
}

// press presses the button that says text, or the only one where text is "", within
// what selector finds, and returns what it said. It fails where there is none that a
// person could see and reach.
func (p *page) press(selector, text string) string {
	p.t.Helper()
	var did struct{ Said, Problem string }
	p.eval(fmt.Sprintf(`(() => {
		const [selector, text] = [%q, %q];
		const all = [...document.querySelectorAll(selector)]
			.filter((b) => (text === "" || b.textContent.trim() === text) && !b.disabled && b.checkVisibility());
		if (all.length !== 1) return { Problem: all.length + " such buttons" };
		all[0].scrollIntoView({ block: "center" });
		const at = all[0].getBoundingClientRect();
		const hit = document.elementFromPoint(at.x + at.width / 2, at.y + at.height / 2);
		if (!all[0].contains(hit)) return { Problem: "it lies under " + hit?.outerHTML.slice(0, 200) };
		const Said = all[0].textContent.trim();
		all[0].click();
		return { Said };
	})()`, selector+" button", text), &did)
	if did.Problem != "" {
		p.t.Fatalf("button %q in %s: %s", text, selector, did.Problem)
	}
	return did.Said
}
