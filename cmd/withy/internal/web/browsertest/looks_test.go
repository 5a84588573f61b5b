package browsertest

import "testing"

// Where a device asks for more contrast it gets that of WCAG 2.2, 1.4.6 (AAA): 7 to 1,
// and 4.5 to 1 for large letters.
func TestMoreContrast(t *testing.T) {
	s := shop(t, "boils-dry", low, 60)
	s.begin()
	p := browser(t).open(t, tablet, s.url)
	p.wait(`document.querySelector("#alarms .raised")`)
	folds(p)
	for _, scheme := range []string{"dark", "light"} {
		p.look(scheme, "prefers-contrast", "more")
		for _, found := range p.axeRun(1, `{ runOnly: { type: "rule", values: ["color-contrast-enhanced"] }, resultTypes: ["violations"] }`) {
			t.Errorf("%s: %s", scheme, found)
		}
	}
}

// moving lists what would move or fade on the page.
const moving = `[...document.querySelectorAll("*")].flatMap((e) => ["", "::before", "::after"].map((part) => [e, getComputedStyle(e, part)]))
	.filter(([, style]) => [style.transitionDuration, style.animationDuration].some((d) => d.split(", ").some((s) => parseFloat(s) > 0)) || style.scrollBehavior === "smooth")
	.map(([e]) => e.tagName + "#" + e.id + "." + e.className)`

// Where a device asks for less motion nothing moves or fades, not even what is held.
func TestReducedMotion(t *testing.T) {
	s := shop(t, "good", hot, 1)
	s.begin()
	p := browser(t).open(t, tablet, s.url)
	const held = `document.querySelector("#call .main").dataset.held = ""`
	var moves []string
	p.eval(held, nil)
	if p.eval(moving, &moves); len(moves) == 0 {
		t.Error("nothing moves where it may, so nothing is tested")
	}
	p.look("dark") // asks for it
	p.eval(held, nil)
	if p.eval(moving, &moves); len(moves) > 0 {
		t.Errorf("moves: %q", moves)
	}
}

// In colours that are forced on it the page still tells a button that is pressed from one
// that is not, the sides from each other, and late from not yet; the word across a
// rehearsal stays hollow.
func TestForcedColours(t *testing.T) {
	s := shop(t, "good", hot, 60)
	s.begin()
	p := browser(t).open(t, tablet, s.url)
	p.look("light", "forced-colors", "active")
	p.wait(`document.querySelector("#call.late .mark:not(:empty)")`)
	for what, is := range map[string]string{
		"forced":           `matchMedia("(forced-colors: active)").matches`,
		"late is hollow":   `getComputedStyle(document.querySelector(".late .digits")).color === "rgba(0, 0, 0, 0)"`,
		"word is hollow":   `getComputedStyle(document.querySelector("#rehearsal")).color === "rgba(0, 0, 0, 0)"`,
		"side has colour":  `!["rgb(255, 255, 255)", "rgb(0, 0, 0)"].includes(getComputedStyle(document.querySelector(".edge." + document.body.dataset.mark)).backgroundColor)`,
		"side has letter":  `["P", "S"].includes(document.querySelector(".edge." + document.body.dataset.mark).firstChild.textContent)`,
		"call is filled":   `getComputedStyle(document.querySelector("#call .main")).backgroundColor !== getComputedStyle(document.querySelector("#crew button")).backgroundColor`,
		"letter is filled": `getComputedStyle(document.querySelector("#call .plate")).backgroundColor !== getComputedStyle(document.body).backgroundColor`,
	} {
		var so bool
		if p.eval(is, &so); !so {
			t.Error("not so: " + what)
		}
	}
}

// What a colour says a word, a letter or a texture says as well.
func TestColourIsNotAlone(t *testing.T) {
	s := shop(t, "good", hot, 120)
	s.begin()
	p := browser(t).open(t, tablet, s.url)
	for _, state := range []string{
		`document.querySelector("#box .raw")`,
		`document.querySelector("#call.late .mark:not(:empty)") && document.querySelector("#box .soft")`,
		`document.querySelector("#box .over")`, // nobody pulls
	} {
		p.wait(state)
		var plain []string
		p.eval(`(() => {
			const out = [];
			const texture = { raw: "url(#hatch)", soft: null, over: "url(#cross)" };
			for (const [heat, fill] of Object.entries(texture)) {
				for (const e of document.querySelectorAll("#box ." + heat)) {
					const next = e.nextElementSibling?.getAttribute("fill") ?? null;
					if (next !== fill) out.push(heat + " with " + next);
				}
			}
			const side = document.body.dataset.mark;
			if (side && document.querySelector(".edge." + side).firstChild.textContent !== { port: "P", starboard: "S" }[side]) out.push("the edge to " + side);
			if (side && !document.querySelector("#call .mark").textContent.startsWith("Mark to " + side)) out.push("the call to " + side);
			for (const b of document.querySelectorAll("button.port, button.starboard")) if (b.textContent !== b.className) out.push("button " + b.className);
			return out;
		})()`, &plain)
		if len(plain) > 0 {
			t.Errorf("%s: %q", state, plain)
		}
	}
}
