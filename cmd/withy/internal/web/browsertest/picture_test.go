package browsertest

import (
	"encoding/json"
	"fmt"
	"image"
	"strings"
	"testing"

	"withy/alert"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/rehearsal"
)

var desktop = screen{"desktop", 1600, 1000, false}

// state is one of the shop, and what is kept of the page in it.
type state struct {
	name   string
	lives  func(*still) *still
	shows  string // what must be on the page by then; "": nothing of its own
	sights []sight
}

// sight is one way to look at the page.
type sight struct {
	name  string
	looks []string
	far   bool
	part  string // what is taken, and all of it; "": what is in the window
	opens string // JavaScript that opens something first; "": nothing is opened
	until string // what must be there then; "": nothing of its own
}

var (
	dark     = []string{"dark"}
	allLooks = []string{"dark", "light", "sun"}
	near     = sight{name: "near", looks: dark}
	far      = sight{name: "far", looks: dark, far: true}
	box      = sight{name: "box", looks: dark, part: "#shed"} // of which a phone's window shows the top
)

const alarmed = `document.querySelector("#alarms .raised")`

var states = []state{
	{"warming", func(s *still) *still { return s.tell(steambox.Event{Kind: steambox.Filled, Litres: 4}).heat(60, 40) },
		`!document.querySelector("#before").hidden`, []sight{near}},
	{"empty", (*still).warm, `document.querySelector("#box .empty")`, []sight{near}},
	{"soaking", soaking, `document.querySelector("#box .raw")`,
		[]sight{{name: "near", looks: allLooks}, {name: "far", looks: allLooks, far: true}, box,
			{name: "wait", looks: dark, part: "#wait", opens: openAll("#wait"), until: `document.querySelector("#wait .told-lines li") && document.querySelector("#wait svg")`},
			{name: "past", looks: dark, part: "#past", opens: scrolled, until: `document.querySelector("#plot canvas")`}}},
	{"late", func(s *still) *still { return s.loaded().before(0).run(30) }, `document.querySelector("#call.late")`, []sight{near, far}},
	{"pulled", func(s *still) *still {
		return s.loaded().before(0).tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"}).run(10)
	}, `!document.querySelector("#bent").hidden`, []sight{near}},
	{"overdone", func(s *still) *still { return s.loaded().run(900) }, alarmed, []sight{near, far}},
	{"unsure", func(s *still) *still { return unseenFor(s.loaded(), 40).run(45) }, `document.querySelector("#call .unsure")`, []sight{near, far, box}},
	{"blind", func(s *still) *still { return unseenFor(s.loaded(), 60) }, alarmed, []sight{near, far}},
	{"low", func(s *still) *still { s.loaded().level = sensor.Open; return s.run(30) }, alarmed, []sight{near, far}},
	{"pressure", func(s *still) *still { s.loaded().steamC, s.door = 104, 103; return s.run(60) }, alarmed, []sight{near, far}},
	{"latched", latched, `document.querySelector("#alarms .latched")`, []sight{near, far}},
	{"after", ended, `document.querySelector("#after .told-lines li")`,
		[]sight{near, {name: "told", looks: dark, part: "#after"},
			right("outcome", "supple"), right("pulled", "pulled"), right("fitted", "mark to")}},
}

// openAll opens the folds of a section, but none within them.
func openAll(section string) string {
	return fmt.Sprintf(`document.querySelectorAll(%q + " details:not(details details)").forEach((d) => { d.open = true; })`, section)
}

// scrolled brings the graph into sight: it is drawn then.
const scrolled = `document.querySelector("#past").scrollIntoView(); new Promise((drawn) => setTimeout(drawn, 200))`

// right is the first line that says a thing, with what puts it right.
func right(name, says string) sight {
	return sight{name: "right-" + name, looks: dark, part: ".told-lines li:has(.choice)",
		opens: fmt.Sprintf(`[...document.querySelectorAll(".told-lines li")].find((l) => l.querySelector(".what").textContent.includes(%q)).querySelector(".line button[aria-expanded=false]")?.click()`, says),
		until: `document.querySelector(".told-lines .choice")`}
}

// soaking has four ribs in, the first of which is due in 40 s.
func soaking(s *still) *still { return s.loaded().before(40) }

// unseenFor pulls the plug out of the probes for so many seconds, and puts it back where
// somebody goes on.
func unseenFor(s *still, n int) *still {
	s.fault = true
	s.run(n)
	s.fault = false
	return s
}

// latched had its boiler run dry: that was heard and mended, and nobody has said yet that
// it is over.
func latched(s *still) *still {
	s.loaded().level = sensor.Open
	s.steamC, s.door = 80, 78
	s.run(120).tell(steambox.Event{Kind: steambox.Heard, Alarm: string(alert.BoilerDry)})
	s.level, s.steamC, s.door = sensor.Closed, 99, 97
	return s.run(300)
}

// ended has every rib out of the box, supple but for the first, and the last in the boat.
func ended(s *still) *still {
	bent := string(rehearsal.Cracked)
	ribs := s.warm().View().Status.Ribs
	for _, r := range ribs {
		s.tell(steambox.Event{Kind: steambox.Loaded, Rib: r.Rib, Slot: "A"}).run(1).
			tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"}).
			tell(steambox.Event{Kind: steambox.Outcome, Rib: r.Rib, Outcome: bent})
		bent = string(rehearsal.Supple)
	}
	return s.tell(steambox.Event{Kind: steambox.Fitted, Rib: ribs[len(ribs)-1].Rib, Mark: "port"}).run(10)
}

// Each view of the page looks as it did when somebody last looked at it and found it
// good. WITHY_PICTURES=1 keeps those of now; WITHY_PICTURES_FULL=FOLDER puts them there at
// their full size, to be looked at first.
func TestPictures(t *testing.T) {
	b := browser(t)
	for _, c := range states {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := c.open(t, b)
			for _, v := range c.sights {
				for _, size := range []screen{phone, tablet, desktop} {
					for _, look := range v.looks {
						compare(t, strings.Join([]string{c.name, v.name, size.name, look}, "-"), p.take(size, v, look))
					}
				}
			}
			if said := p.console(); len(said) > 0 {
				t.Errorf("on the console: %q", said)
			}
		})
	}
}

// open opens the page in a state of the shop, its clocks standing and in a typeface that
// Debian has, so that one view is one picture.
func (c state) open(t *testing.T, b *chromium) *page {
	t.Helper()
	p := b.blank(t, tablet)
	p.ask("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": stands})
	p.ask("Emulation.setScrollbarsHidden", map[string]any{"hidden": true})
	p.ask("Page.navigate", map[string]any{"url": c.lives(newStill(t)).url()})
	p.wait(`document.body?.dataset.live === "live"`)
	p.wear("")
	p.look("dark")
	if c.shows != "" {
		p.wait(c.shows)
	}
	return p
}

// stands stops the clocks of a page: what it counts down stays where it is.
const stands = `Date.now = () => Date.UTC(2026, 4, 1, 10); performance.now = () => 60_000;`

// wear puts a style on the page, in the place of what it wore so before.
func (p *page) wear(css string) {
	p.t.Helper()
	text, err := json.Marshal(`html { font-family: "DejaVu Sans"; } ` + css)
	if err != nil {
		p.t.Fatal(err)
	}
	p.eval(fmt.Sprintf(`{
		const style = new CSSStyleSheet(); // a style element is what the page forbids
		style.replaceSync(%s);
		document.adoptedStyleSheets = [style];
	}`, text), nil)
}

// take takes a picture of the page as it is seen so.
func (p *page) take(size screen, v sight, look string) *image.RGBA {
	p.t.Helper()
	var isFar bool
	if p.eval(`document.body.classList.contains("far")`, &isFar); isFar != v.far {
		p.eval(`[...document.querySelectorAll("#tools button")].find((b) => /^(Far|Near) view$/.test(b.textContent)).click()`, nil)
	}
	p.eval(fmt.Sprintf(`document.querySelector("#screen input[value=%s]").click()`, look), nil)
	p.resize(size)
	if v.opens != "" {
		p.eval(v.opens, nil)
		p.settle()
	}
	if v.until != "" {
		p.wait(v.until)
	}
	p.settle()
	if v.part == "" {
		return p.picture(map[string]any{"x": 0, "y": 0, "width": size.width, "height": size.height, "scale": 1})
	}
	long := size // a window as long as the page, so that nothing of it has to be scrolled to
	p.eval(`document.documentElement.scrollHeight`, &long.height)
	p.resize(long)
	p.settle()
	clip := map[string]any{}
	p.eval(fmt.Sprintf(`(({ x, y, width, height }) => ({ x, y, width, height, scale: 1 }))(document.querySelector(%q).getBoundingClientRect())`, v.part), &clip)
	return p.picture(clip)
}

// settle waits until nothing on the page changes any more.
func (p *page) settle() {
	p.t.Helper()
	p.eval(`(async () => {
		scrollTo(0, 0);
		await document.fonts.ready;
		let was = "";
		for (let same = 0; same < 3;) {
			document.querySelector("#screen input:checked").dispatchEvent(new Event("change")); // shows the view again
			await new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn, 20)));
			const is = document.body.outerHTML + [...document.querySelectorAll("canvas")].map((c) => c.toDataURL());
			same = is === was ? same + 1 : 0;
			was = is;
		}
	})()`, nil)
}

// picture takes a picture of a part of the window.
func (p *page) picture(clip map[string]any) *image.RGBA {
	p.t.Helper()
	var shot struct{ Data []byte }
	if err := p.c.ask(p.t.Context(), p.session, "Page.captureScreenshot", map[string]any{"format": "png", "optimizeForSpeed": true, "clip": clip}, &shot); err != nil {
		p.t.Fatal(err)
	}
	return decode(p.t, shot.Data)
}
