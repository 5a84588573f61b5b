package browsertest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/rehearsal"
)

// Somebody alone takes four ribs through the box with the buttons of the page: it is
// all on record, the page never complains, fits every window, and asks nobody else.
func TestRunByHand(t *testing.T) {
	s := shop(t, "good", hot, 90)
	p := browser(t).open(t, phone, s.url)
	h := &hand{s: s, page: p, press: p.press, rests: true}
	h.begin()
	for h.pulled < 4 {
		h.next()
	}
	h.told()
}

// ribsOf puts what was told of ribs into the words of hand.did.
func ribsOf(events []steambox.Event) (out []string) {
	in := map[string]string{} // what lies in a slot
	for _, e := range events {
		switch e.Kind {
		case steambox.Loaded:
			in[e.Slot] = e.Rib
			out = append(out, fmt.Sprintf("Loaded %s into %s", e.Rib, e.Slot))
		case steambox.Pulled:
			out = append(out, fmt.Sprintf("Pulled %s from %s", in[e.Slot], e.Slot))
		case steambox.Outcome:
			out = append(out, fmt.Sprintf("%s %s", e.Rib, e.Outcome))
		case steambox.Fitted:
			out = append(out, fmt.Sprintf("%s to %s", e.Rib, e.Mark))
		}
	}
	return out
}

// hand follows the calls of a page by its buttons, and loads four ribs.
type hand struct {
	s              *shed
	page           *page
	press          func(selector, text string) string // as page.press
	rests          bool                               // there are more than four: a break, then
	loaded, pulled int
	did            []string
}

// begin tells how much water there is, and that it goes on with the box as it is.
func (h *hand) begin() {
	h.s.t.Helper()
	for n := 0.5; n <= h.s.litres-1; n += 0.5 { // the page begins at the kettle's 1.5 L
		h.press("#crew", "+")
	}
	h.press("#crew", "Level read")
	h.press("#crew", "Start though not level")
}

// told fails where what the hand did is not what is on record, or the page complained.
func (h *hand) told() {
	t := h.s.t
	t.Helper()
	h.s.wait("all told", func(v *view.View) bool {
		bent := v.Status.Bent
		return bent.Supple+bent.Stiff+bent.Cracked == 4 && len(ribsOf(h.s.told())) == len(h.did)
	})
	if d := cmp.Diff(h.did, ribsOf(h.s.told())); d != "" {
		t.Errorf("done and on record: %s", d)
	}
	if said := h.page.console(); len(said) > 0 {
		t.Errorf("on the console: %q", said)
	}
	h.page.stayed(h.s.url)
}

// next waits for the next call that is due and follows it by its large button.
func (h *hand) next() {
	h.s.t.Helper()
	h.page.wait(`document.querySelector("#call .main")?.textContent.startsWith("Loaded") || document.querySelector("#call.late .main")`)
	h.fits()
	says := h.press("#call", "")
	h.did = append(h.did, says)
	h.page.wait(fmt.Sprintf(`document.querySelector("#call .main")?.textContent !== %q`, says))
	if did := strings.Fields(says); did[0] == "Pulled" {
		h.pulled++
		h.bend(did[1])
		return
	}
	if h.loaded++; h.loaded == 4 && h.rests {
		h.press("#crew", "Break: load no more")
		h.page.wait(`!document.querySelector("#call .main")?.textContent.startsWith("Loaded")`)
	}
}

// bend bends a rib as its wood will, and tells how it went.
func (h *hand) bend(rib string) {
	h.s.t.Helper()
	bent, err := h.s.box.Bend(rib)
	if err != nil {
		h.s.t.Fatal(err)
	}
	h.page.wait(`document.querySelector("#crew .bent button")`)
	h.press("#crew .bent", string(bent.Result))
	if bent.Result == rehearsal.Cracked {
		h.press("#crew .bent", bent.Where)
	}
	h.press("#crew .bent", "port")
	h.did = append(h.did, rib+" "+string(bent.Result), rib+" to port")
	h.page.wait(`!document.querySelector("#crew .bent button")`)
}

// fits fails where anything is wider than one of the windows.
func (h *hand) fits() {
	h.s.t.Helper()
	for _, size := range screens {
		h.page.resize(size)
		if wide := h.page.wider(size); len(wide) > 0 {
			h.s.t.Errorf("on a %s: %q", size.name, wide)
		}
	}
	h.page.resize(phone)
}
