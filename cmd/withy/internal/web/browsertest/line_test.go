package browsertest

import (
	"context"
	"fmt"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/alert"
	"withy/deploy/freeport"
	"withy/steambox"
)

// line is the way between a browser and the daemon, which can be cut.
type line struct {
	t       *testing.T
	address string
	to      string

	gate sync.RWMutex // held while nothing may pass
	mu   sync.Mutex   // guards what follows
	in   net.Listener
	open []net.Conn
}

// lay lays a line to where the daemon listens.
func lay(t *testing.T, to string) *line {
	t.Helper()
	l := &line{t: t, address: freeport.Find(t), to: to}
	l.join()
	t.Cleanup(l.sever)
	return l
}

// join lets browsers connect, at the same address each time.
func (l *line) join() {
	l.t.Helper()
	in, err := net.Listen("tcp", l.address)
	if err != nil {
		l.t.Fatal(err)
	}
	l.mu.Lock()
	l.in = in
	l.mu.Unlock()
	go func() {
		for {
			from, err := in.Accept()
			if err != nil {
				return
			}
			l.connect(from)
		}
	}()
}

// sever ends all connections and takes no more.
func (l *line) sever() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.in.Close()
	for _, c := range l.open {
		c.Close()
	}
	l.open = nil
}

func (l *line) connect(from net.Conn) {
	to, err := net.Dial("tcp", l.to)
	if err != nil {
		from.Close()
		return
	}
	l.mu.Lock()
	l.open = append(l.open, from, to)
	l.mu.Unlock()
	go l.pass(from, to)
	go l.pass(to, from)
}

// pass hands on what comes, while anything may pass.
func (l *line) pass(from, to net.Conn) {
	defer from.Close()
	defer to.Close()
	part := make([]byte, 32<<10)
	for {
		n, err := from.Read(part)
		l.gate.RLock()
		_, failed := to.Write(part[:n])
		l.gate.RUnlock()
		if err != nil || failed != nil {
			return
		}
	}
}

// within is how soon a page must say that it hears nothing.
const within = 3 * time.Second

// The line falls silent, or is cut: the page says so, no number looks live, and once
// there is a line again it shows by itself what is true now.
func TestLineLost(t *testing.T) {
	b := browser(t)
	for _, c := range []struct {
		name      string
		cut, mend func(*line)
	}{
		{"silent", func(l *line) { l.gate.Lock() }, func(l *line) { l.gate.Unlock() }},
		{"cut", (*line).sever, (*line).join},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := shop(t, "boils-dry", low, 60)
			s.begin()
			s.wait("the alarm", raised(alert.WaterLow))
			l := lay(t, strings.TrimPrefix(s.url, "http://"))
			p := b.open(t, tablet, "http://"+l.address)
			p.wait(`document.querySelector("#call .digits") && document.querySelector("#alarms .raised")`)
			if loose := p.looksLive(); len(loose) == 0 {
				t.Fatal("no number looks live while the line is good")
			}
			c.cut(l)
			took := p.wait(`document.body.dataset.live === "lost" && document.querySelector("#lost").checkVisibility()`)
			if t.Logf("said after %v", took); took > within {
				t.Errorf("the page said so after %v, not %v", took, within)
			}
			if loose := p.looksLive(); len(loose) > 0 {
				t.Errorf("looks live: %q", loose)
			}
			var age string
			if p.eval(`document.querySelector("#age").textContent`, &age); age == "live" {
				t.Error("the head of the page still says live")
			}
			for _, size := range screens {
				p.resize(size)
				if wide := p.wider(size); len(wide) > 0 {
					t.Errorf("on a %s: %q", size.name, wide)
				}
			}
			s.do(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
			c.mend(l)
			t.Logf("back after %v", p.wait(`document.body.dataset.live === "live" && !document.querySelector("#lost").checkVisibility()`))
			p.wait(`document.querySelector("#box").textContent.includes("Slot A is empty.")`)
		})
	}
}

// looksLive lists the texts with a number in them that are neither greyed nor struck
// out, but for the names of ribs on buttons, the past, and what is said of the line.
func (p *page) looksLive() []string {
	p.t.Helper()
	var out []string
	p.eval(fmt.Sprintf(`(() => {
		const dead = (e) => e !== null && (Number(getComputedStyle(e).opacity) < 1 || getComputedStyle(e).textDecorationLine.includes("line-through") || dead(e.parentElement));
		const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), out = [];
		while (texts.nextNode()) {
			const { data, parentElement: e } = texts.currentNode;
			if (/\d/.test(data) && e.checkVisibility() && !e.closest(%q) && !dead(e)) out.push(data);
		}
		return out;
	})()`, "#crew :is(button, select, output, b), #past, #lost, header, #rehearsal, #answer"), &out)
	return out
}

// A page that is one too many says so, and goes on by itself when there is room.
func TestOneTooMany(t *testing.T) {
	s := shop(t, "good", hot, 1)
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	for range streams {
		if err := hear(ctx, s.url); err != nil {
			t.Fatal(err)
		}
	}
	p := browser(t).blank(t, phone)
	p.ask("Page.navigate", map[string]any{"url": s.url})
	p.wait(`document.querySelector("#lost")?.checkVisibility() && document.querySelector("#lost").textContent.startsWith("Too many pages are open. Close one and try again.")`)
	leave()
	p.wait(`document.body.dataset.live === "live" && !document.querySelector("#lost").checkVisibility()`)
}
