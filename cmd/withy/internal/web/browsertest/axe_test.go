package browsertest

import (
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
		full     bool
		until    func(*view.View) bool
		then     func(*page)
	}{
		{"near", "good", hot, true, nil, nil},
		{"far", "good", hot, true, nil, far},
		{"folds open", "good", hot, true, nil, func(p *page) {
			p.eval(`document.querySelectorAll("details").forEach((d) => { d.open = true; })`, nil)
			p.wait(`document.querySelectorAll("details[open] table, details[open] svg").length > 4`)
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
				p.clean(t, size.name+", dark")
				if wide := p.wider(size); len(wide) > 0 {
					t.Errorf("on a %s: %q", size.name, wide)
				}
			}
			p.look("light")
			p.clean(t, "light")
			if said := p.console(); len(said) > 0 {
				t.Errorf("on the console: %q", said)
			}
		})
	}
}

// clean fails where axe finds anything.
func (p *page) clean(t *testing.T, where string) {
	t.Helper()
	for _, found := range p.axe() {
		t.Errorf("%s: %s", where, found)
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
