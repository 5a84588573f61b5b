package browsertest

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"withy/alert"
	"withy/cmd/withy/internal/view"
)

// In every state the page passes axe (WCAG 2.2 A and AA) and fits the window, whatever
// its size, dark and light.
func TestStates(t *testing.T) {
	b := browser(t)
	far := func(p *page) { p.press("#tools", "Far view") }
	for _, c := range []struct {
		name     string
		scenario string
		at       moment
		full     bool                  // four ribs are in, and the water is known
		until    func(*view.View) bool // nil: from the first
		then     func(*page)           // nil: nothing
	}{
		{"near", "good", hot, true, nil, nil},
		{"far", "good", hot, true, nil, far},
		{"folds open", "good", hot, true, nil, func(p *page) {
			p.eval(`document.querySelectorAll("details").forEach((d) => { d.open = true; })`, nil)
			p.wait(`document.querySelector(".heat tbody tr") && document.querySelectorAll("details[open] table, details[open] svg").length > 4`)
		}},
		{"warming", "good", hot, false, nil, nil},
		{"low water", "boils-dry", low, true, raised(alert.WaterLow), nil},
		{"low water, far", "boils-dry", low, true, raised(alert.WaterLow), far},
		{"dry", "boils-dry", dry, true, danger, nil},
		{"dry, far", "boils-dry", dry, true, danger, far},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := shop(t, c.scenario, c.at, 60)
			if c.full {
				s.begin()
			}
			if c.until != nil {
				s.wait("the alarm", c.until)
			}
			p := b.open(t, phone, s.url)
			p.look("dark")
			if c.until != nil {
				p.wait(`document.querySelector("#alarms .raised")`)
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
			if said := p.console(); len(said) > 0 {
				t.Errorf("on the console: %q", said)
			}
		})
	}
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
	p.eval(`axe.run(document, {
		runOnly: { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] },
		rules: { "target-size": { enabled: true } },
		resultTypes: ["violations"],
	})`, &found)
	if len(found.Passes) < 10 {
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
