package browsertest

import (
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// A tablet of ten inches is 216 mm wide and has 1280 pixels.
const mmPerPx = 216.0 / 1280

// minute is a minute of arc at 6 m, in pixels of such a tablet: what an eye tells apart
// that sees as well as people are said to (20/20, the gaps of a Snellen letter).
var minute = 6000 * math.Tan(math.Pi/180/60) / mmPerPx

// From the boat, 6 m away, the digits are 60 mm high on such a tablet, the rib's number
// and the slot's letter 30, and so is the word of an alarm. Measured is what is drawn.
func TestFromAfar(t *testing.T) {
	type least struct {
		selector string
		mm       float64
	}
	b := browser(t)
	for _, c := range states {
		what := map[string][]least{
			"soaking": {{"#call .digits", 60}, {"#call .rib > span", 30}, {"#call .plate", 30}},
			"late":    {{"#call .digits", 60}, {"#call .rib > span", 30}, {"#call .plate", 30}},
			"unsure":  {{"#call .digits", 60}, {"#call .rib > span", 30}, {"#call .plate", 30}},
			"low":     {{".alarm .word", 30}},
			"blind":   {{".alarm .word", 30}},
		}[c.name]
		if what == nil {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			p := c.open(t, b)
			full := p.take(tablet, far, "dark")
			if wide := p.wider(tablet); len(wide) > 0 {
				t.Errorf("%q", wide)
			}
			for _, l := range what {
				high := p.drawn(l.selector) * mmPerPx
				t.Logf("%s: %.1f mm, %.0f minutes of arc at 6 m", l.selector, high, high/mmPerPx/minute)
				if high < l.mm {
					t.Errorf("%s: %.1f mm high, at least %.0f", l.selector, high, l.mm)
				}
			}
			if dir := os.Getenv("WITHY_PICTURES_FULL"); dir != "" {
				write(t, filepath.Join(dir, c.name+"-six-metres.png"), shrunk(full, minute))
			}
		})
	}
}

// drawn is how many pixels high the last word of what selector finds is drawn, from the
// first row that has ink to the last.
func (p *page) drawn(selector string) float64 {
	p.t.Helper()
	p.eval(fmt.Sprintf(`{ const node = document.querySelector(%q); node.textContent = node.textContent.split(" ").at(-1); }`, selector), nil)
	ink := color.RGBA{G: 255, A: 255}
	p.wear(fmt.Sprintf(`body, body * { visibility: hidden !important; } %s { visibility: visible !important; color: #0f0 !important; background: none !important; -webkit-text-stroke: 0 !important; }`, selector))
	defer p.wear("")
	full := p.take(tablet, far, "dark")
	first, last := 0, -1
	for y := range full.Rect.Dy() {
		for x := range full.Rect.Dx() {
			if apart(full.RGBAAt(x, y), ink) < 128 {
				if last < 0 {
					first = y
				}
				last = y
				break
			}
		}
	}
	return float64(last + 1 - first)
}
