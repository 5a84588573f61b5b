package browsertest

import (
	"testing"

	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

// Another boat on the same day: two presses, the second below what lies in the box; then the
// page is before the run again, in a log of its own.
func TestAnotherBoat(t *testing.T) {
	s := shop(t, "good", hot, 10)
	s.begin()
	s.do(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	first := s.View().Session
	p := browser(t).open(t, phone, s.url)
	const fold = `[...document.querySelectorAll("#wait > .fold")].find((f) => f.querySelector(".title")?.textContent === "Another boat")`
	p.wait(fold + `?.checkVisibility()`)
	p.eval(fold+`.open = true`, nil)
	p.wait(`[...document.querySelectorAll("#wait button")].some((b) => b.textContent === "Begin a new log…")`)
	p.press("#wait", "Begin a new log…")
	p.wait(`document.querySelector("#wait .fold[open] .question").textContent.startsWith("In the box lie ribs ")`)
	p.clean("asked")
	p.press("#wait", "Leave it")
	p.wait(`!document.querySelector("#wait .fold[open] .question")`)
	p.press("#wait", "Begin a new log…")
	p.wait(`!!document.querySelector("#wait .fold[open] .question")`)
	p.press("#wait", "They are out: end it, begin a new one")
	p.wait(`document.querySelector("#answer span").textContent === "A new log has begun. The last one is kept."`)
	s.wait("another session", func(v *view.View) bool { return v.Session != first && v.Session != "" })
	p.wait(`!document.querySelector("#before").hidden && !` + fold + `.checkVisibility()`)
	for _, r := range s.View().Status.Ribs {
		if r.Place != steambox.Waiting {
			t.Errorf("rib %s is %s", r.Rib, r.Place)
		}
	}
	if said := p.console(); len(said) > 0 {
		t.Errorf("on the console: %q", said)
	}
}
