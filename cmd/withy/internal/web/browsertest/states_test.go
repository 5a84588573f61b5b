package browsertest

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"withy/alert"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/rehearsal"
)

// In every state the page passes axe (WCAG 2.2 A and AA) and fits the window, whatever
// its size, dark and light, with more contrast and in colours that are forced on it.
func TestStates(t *testing.T) {
	b := browser(t)
	full := (*shed).begin
	far := func(p *page) { p.press("#tools", "Far view") }
	const alarm = `document.querySelector("#alarms .raised")`
	for _, c := range []struct {
		name     string
		scenario string
		at       moment
		begin    func(*shed)           // nil: an empty box, and nobody told of the water
		until    func(*view.View) bool // nil: from the first
		shows    string                // what must be on the page by then; "": nothing of its own
		then     func(*page)           // nil: nothing
	}{
		{"near", "good", hot, full, nil, "", nil},
		{"far", "good", hot, full, nil, "", far},
		{"folds open", "good", hot, full, nil, "", folds},
		{"warming", "good", hot, nil, nil, "", nil},
		{"empty", "good", hot, func(s *shed) { s.do(steambox.Event{Kind: steambox.Start}) }, nil, `document.querySelector("#box .empty")`, nil},
		{"late", "good", hot, full, nil, `document.querySelector("#call.late")`, nil},
		{"not sure", "good", hot, doubted, nil, `document.querySelector("#call .unsure") && document.querySelector("#box .unsure")`, nil},
		{"broken", "good", hot, broke, nil, "", folds},
		{"low water", "boils-dry", low, full, raised(alert.WaterLow), alarm, nil},
		{"low water, far", "boils-dry", low, full, raised(alert.WaterLow), alarm, far},
		{"dry", "boils-dry", dry, full, danger, alarm, nil},
		{"dry, far", "boils-dry", dry, full, danger, alarm, far},
		{"blind", "good", hot, unseen, raised(alert.Blind), alarm + ` && document.querySelector("#call .digits").textContent === "?" && document.querySelector("#call .good").textContent === ""`, nil},
		{"blind, far", "good", hot, unseen, raised(alert.Blind), alarm, far},
		{"pressure", "good", hot, pressed, raised(alert.Pressure), alarm, nil},
		{"pressure, far", "good", hot, pressed, raised(alert.Pressure), alarm, far},
		{"after", "good", hot, (*shed).end, nil, `document.querySelector("#after .told-lines li")`, nil},
		{"after, pressure", "good", hot, func(s *shed) { s.end(); s.become(fiveOver) }, raised(alert.Pressure),
			alarm + ` && document.querySelector("#call.away") && document.querySelector("#after .advice").textContent.includes("keep away from the door") && !document.querySelector("#after .advice").textContent.includes("open it")`, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := shop(t, c.scenario, c.at, 60)
			if c.begin != nil {
				c.begin(s)
			}
			if c.until != nil {
				s.wait("the alarm", c.until)
			}
			p := b.open(t, phone, s.url)
			p.look("dark")
			if c.shows != "" {
				p.wait(c.shows)
			}
			if c.then != nil {
				c.then(p)
			}
			for _, size := range screens {
				p.resize(size)
				p.clean(size.name + ", dark")
				if wide := p.wider(size); len(wide) > 0 {
					t.Errorf("on a %s: %q", size.name, wide)
				}
			}
			p.look("light")
			p.clean("light")
			p.look("dark", "prefers-contrast", "more")
			p.clean("dark, more contrast")
			p.look("light", "prefers-contrast", "more")
			p.clean("light, more contrast")
			p.look("dark", "forced-colors", "active")
			p.clean("forced colours, dark")
			p.look("light", "forced-colors", "active")
			p.clean("forced colours, light")
			if said := p.console(); len(said) > 0 {
				t.Errorf("on the console: %q", said)
			}
		})
	}
}

// folds opens all that is shut.
func folds(p *page) {
	p.eval(`document.querySelectorAll("details").forEach((d) => { d.open = true; })`, nil)
	p.wait(`document.querySelector(".heat tbody tr") && document.querySelectorAll("details[open] table, details[open] svg").length > 4`)
}

// broke has the first rib come out cracked.
func broke(s *shed) {
	s.begin()
	s.do(steambox.Event{Kind: steambox.Pulled, Slot: "A"},
		steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: string(rehearsal.Cracked), Where: "outside"})
}

func unseen(s *shed) {
	s.begin()
	s.become(unplugged)
}

func pressed(s *shed) {
	s.begin()
	s.become(fiveOver)
}

// doubted has nobody see the ribs for a while.
func doubted(s *shed) {
	unseen(s)
	s.wait("nothing seen", func(v *view.View) bool { return v.Status.Phase == steambox.NoProbes })
	s.probes.become.Store(nil)
	s.wait("seen again", func(v *view.View) bool { return v.Status.Phase != steambox.NoProbes })
}

// clean fails where axe finds anything.
func (p *page) clean(where string) {
	p.t.Helper()
	for _, found := range p.axe() {
		p.t.Errorf("%s: %s", where, found)
	}
}

func raised(id alert.ID) func(*view.View) bool {
	return func(v *view.View) bool {
		for _, a := range v.Alarms {
			if a.ID == id && a.State == alert.Raised {
				return true
			}
		}
		return false
	}
}

func danger(v *view.View) bool {
	for _, a := range v.Alarms {
		if a.Sound == alert.Danger && a.State == alert.Raised {
			return true
		}
	}
	return false
}

// axe lists what the checker of accessibility finds against WCAG 2.2, levels A and AA.
func (p *page) axe() []string {
	p.t.Helper()
	return p.axeRun(10, `{
		runOnly: { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] },
		rules: { "target-size": { enabled: true } },
		resultTypes: ["violations"],
	}`)
}

// axeRun lists what it finds by these options, by at least so many rules.
func (p *page) axeRun(rules int, options string) []string {
	p.t.Helper()
	script, err := os.ReadFile("../ui/node_modules/axe-core/axe.min.js")
	if err != nil {
		p.t.Fatalf("go generate ./cmd/withy/internal/web fetches it: %v", err)
	}
	var has bool
	if p.eval(`"axe" in window`, &has); !has {
		p.eval(string(script)+"\n;0", nil)
	}
	var found struct {
		Passes     []struct{}
		Violations []struct {
			ID    string
			Nodes []struct {
				Target         []any
				FailureSummary string
			}
		}
	}
	p.eval("axe.run(document, "+options+")", &found)
	if len(found.Passes) < rules {
		p.t.Fatalf("only %d rules could be looked at", len(found.Passes))
	}
	var out []string
	for _, v := range found.Violations {
		for _, n := range v.Nodes {
			out = append(out, fmt.Sprintf("%s %v: %s", v.ID, n.Target, strings.ReplaceAll(n.FailureSummary, "\n", " ")))
		}
	}
	return out
}

// wider lists what reaches beyond the sides of the window, but for what scrolls by
// itself, the word across a rehearsal and what is only read out. Large figures are
// taken to be as wide as they get.
func (p *page) wider(s screen) []string {
	p.t.Helper()
	var out []string
	p.eval(fmt.Sprintf(`(() => {
		const wide = %d, out = [];
		const figure = document.querySelector("#call .digits:not([data-word])");
		const [text, length] = [figure?.textContent, figure?.dataset.length];
		if (figure) [figure.textContent, figure.dataset.length] = ["88:88", "5"];
		const scrolls = (e) => e !== null && e !== document.body && (/auto|scroll/.test(getComputedStyle(e).overflowX) || scrolls(e.parentElement));
		const page = document.documentElement.scrollWidth;
		if (page > wide) out.push("the page is " + page + " px wide");
		for (const e of document.body.querySelectorAll("*")) {
			if (e.closest("#rehearsal, .unseen") || !e.checkVisibility() || e.ownerSVGElement || scrolls(e.parentElement)) continue;
			const at = e.getBoundingClientRect();
			if (at.width > 0 && (at.right > wide + 1 || at.left < -1)) out.push(e.tagName + "#" + e.id + "." + e.className + " from " + at.left + " to " + at.right);
		}
		if (figure) [figure.textContent, figure.dataset.length] = [text, length];
		return out;
	})()`, s.width), &out)
	return out
}
