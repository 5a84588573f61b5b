package browsertest

import (
	"fmt"
	"testing"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/view"
)

// A whole boat of four ribs by keyboard alone, from the water to the heat that is off
// and a line put right: every button is come to by Tab, in sight and with its focus to
// be seen, and Enter acts at once.
func TestRunByKeyboard(t *testing.T) {
	s := shop(t, "good", hot, 60, func(o *daemon.Options) { o.Box.Ribs = o.Box.Ribs[:4] })
	p := browser(t).open(t, tablet, s.url)
	k := &keyboard{page: p}
	h := &hand{s: s, page: p, press: k.press}
	h.begin()
	for h.pulled < 4 {
		h.next()
	}
	h.told()
	t.Logf("at most %d presses of Tab to a button, %d in all", k.most, k.tabs)

	k.press("#after", "Heat is off")
	s.wait("heat off", func(v *view.View) bool { return v.Status.HeatOff })
	var was string
	p.wait(`document.querySelector("#after .told-lines li")`)
	p.eval(`[...document.querySelectorAll("#after .line .what")].find((l) => /supple|stiff|cracked/.test(l.textContent)).textContent.split(" ")[2].replace(",", "")`, &was)
	other := map[string]string{"supple": "stiff", "stiff": "supple", "cracked": "supple"}[was]
	k.pressAt(fmt.Sprintf(`e.textContent === "Put right" && e.closest("li").textContent.includes(%q)`, was))
	k.press("#after .told-lines .choice", other)
	p.wait(`document.querySelector("#after .told-lines").textContent.includes("put right")`)

	k.press("#tools", "Set up")
	p.key("Tab", 9, "")
	p.wait(`document.activeElement === document.querySelector("#screen summary")`)
}

// keyboard works a page by keys alone.
type keyboard struct {
	page *page
	tabs int // presses of Tab so far
	most int // of them to one button
}

// press goes on by Tab to a button, as page.press finds it, presses Enter there, and
// returns what it said.
func (k *keyboard) press(selector, text string) string {
	k.page.t.Helper()
	return k.pressAt(fmt.Sprintf(`e.matches(%q) && (%q === "" || e.textContent.trim() === %q)`, selector+" button", text, text))
}

// pressAt is press where the element e, once it has the focus, is so.
func (k *keyboard) pressAt(so string) string {
	k.page.t.Helper()
	const patience = 200 // presses of Tab: more than twice round the page
	for n := 1; n <= patience; n++ {
		k.page.key("Tab", 9, "")
		k.tabs++
		var at struct {
			Is            bool
			Said, Problem string
		}
		k.page.eval(fmt.Sprintf(`(() => {
			const e = document.activeElement;
			if (!(%s)) return { Is: false };
			const at = e.getBoundingClientRect();
			const seen = at.bottom > 0 && at.top < innerHeight && e.checkVisibility();
			const ring = getComputedStyle(e);
			const Problem = !seen ? "out of sight" : ring.outlineStyle === "none" || parseFloat(ring.outlineWidth) < 2 ? "its focus is not to be seen" : "";
			return { Is: true, Said: e.textContent.trim(), Problem };
		})()`, so), &at)
		if !at.Is {
			continue
		}
		if at.Problem != "" {
			k.page.t.Errorf("%q: %s", at.Said, at.Problem)
		}
		k.most = max(k.most, n)
		k.page.key("Enter", 13, "\r")
		return at.Said
	}
	var round []string
	k.page.eval(`[...document.querySelectorAll("button, a, summary, input, select")].map((e) => e.textContent)`, &round)
	k.page.t.Fatalf("no %s by Tab; there are %q", so, round)
	return ""
}

// key presses a key and lets it go: its name, its number in Windows and the text it
// makes.
func (p *page) key(name string, code int, text string) {
	p.t.Helper()
	for _, kind := range []string{"keyDown", "keyUp"} {
		params := map[string]any{"type": kind, "key": name, "code": name, "windowsVirtualKeyCode": code}
		if kind == "keyDown" && text != "" {
			params["text"] = text
		}
		p.ask("Input.dispatchKeyEvent", params)
	}
}
