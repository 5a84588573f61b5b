package browsertest

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"withy/sensor"
	"withy/steambox"
)

// stands stops the clocks of a page: what it counts down stays where it is.
const stands = `Date.now = () => 1777629600000; performance.now = () => 1000;`

// Every view of the page looks as somebody found it good: a fifth of its size, by the
// tolerance below. WITHY_PICTURES=1 takes them anew; look at them before they are kept.
func TestPictures(t *testing.T) {
	b := browser(t)
	far := func(p *page) { p.press("#tools", "Far view") }
	open := func(p *page) {
		p.eval(`document.querySelectorAll("details").forEach((d) => { d.open = true; })`, nil)
		p.wait(`document.querySelectorAll("details[open] table, details[open] svg").length > 4`)
	}
	for _, c := range []struct {
		name  string
		still func(*still) *still
		then  func(*page) // nil: nothing
		looks []string    // nil: dark only
		whole bool        // all of the page, not its first screen only
	}{
		{"warming", func(s *still) *still { return s.tell(steambox.Event{Kind: steambox.Filled, Litres: 4}).heat(60, 40) }, nil, nil, false},
		{"empty", (*still).warm, nil, nil, false},
		{"near", func(s *still) *still { return s.loaded().before(40) }, nil, []string{"dark", "light", "sun"}, false},
		{"far", func(s *still) *still { return s.loaded().before(40) }, far, []string{"dark", "light", "sun"}, false},
		{"late", func(s *still) *still { return s.loaded().before(0).run(30) }, nil, nil, false},
		{"late-far", func(s *still) *still { return s.loaded().before(0).run(30) }, far, nil, false},
		{"unsure", func(s *still) *still { return unseenFor(s.loaded(), 40).run(20) }, nil, nil, false},
		{"blind", func(s *still) *still { return unseenFor(s.loaded(), 60) }, nil, nil, false},
		{"low", func(s *still) *still { s.loaded().level = sensor.Open; return s.run(30) }, nil, nil, false},
		{"low-far", func(s *still) *still { s.loaded().level = sensor.Open; return s.run(30) }, far, nil, false},
		{"pressure", func(s *still) *still { s.loaded().steamC, s.door = 104, 103; return s.run(60) }, nil, nil, false},
		{"wait", func(s *still) *still { return s.loaded().before(40) }, open, nil, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			url := c.still(newStill(t)).url()
			looks := c.looks
			if looks == nil {
				looks = []string{"dark"}
			}
			for _, size := range []screen{phone, tablet} {
				if c.whole && size != tablet {
					continue
				}
				for _, look := range looks {
					p := b.blank(t, size)
					if !c.whole { // a second is nothing to that, and a drawing needs its time
						p.ask("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": stands})
					}
					p.ask("Page.navigate", map[string]any{"url": url})
					p.wait(`document.body?.dataset.live === "live"`)
					p.look("dark")
					if look != "dark" {
						p.eval(fmt.Sprintf(`document.querySelector('#screen input[value="%s"]').click()`, look), nil)
					}
					if c.then != nil {
						c.then(p)
					}
					p.resize(size)
					name := strings.Join([]string{c.name, size.name, look}, "-")
					compared(t, name, p.picture(c.whole))
				}
			}
		})
	}
}

// unseenFor pulls the plug out of the probes for so many seconds, and puts it back where
// somebody goes on.
func unseenFor(s *still, n int) *still {
	s.fault = true
	s.run(n)
	s.fault = false
	return s
}

// picture is what is on the screen, a fifth of its size; whole: on all of the page.
func (p *page) picture(whole bool) *image.RGBA {
	p.t.Helper()
	params := map[string]any{"format": "png"}
	if whole {
		var high float64
		p.eval(`document.documentElement.scrollHeight`, &high)
		var wide float64
		p.eval(`innerWidth`, &wide)
		params["captureBeyondViewport"] = true
		params["clip"] = map[string]any{"x": 0, "y": 0, "width": wide, "height": min(high, 6000), "scale": 1}
	}
	var shot struct{ Data string }
	if err := p.c.ask(p.t.Context(), p.session, "Page.captureScreenshot", params, &shot); err != nil {
		p.t.Fatal(err)
	}
	raw, err := base64.StdEncoding.DecodeString(shot.Data)
	if err != nil {
		p.t.Fatal(err)
	}
	full, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		p.t.Fatal(err)
	}
	if dir := os.Getenv("WITHY_PICTURES_FULL"); dir != "" {
		name := strings.ReplaceAll(p.t.Name(), "/", "-") + fmt.Sprintf("-%d.png", full.Bounds().Dx())
		if err := os.WriteFile(filepath.Join(dir, name), raw, 0o644); err != nil {
			p.t.Fatal(err)
		}
	}
	return fifth(full)
}

// fifth is a picture with one pixel for each five by five.
func fifth(full image.Image) *image.RGBA {
	const of = 5
	at := full.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, at.Dx()/of, at.Dy()/of))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			var sum [3]uint32
			for i := range of * of {
				r, g, b, _ := full.At(at.Min.X+of*x+i%of, at.Min.Y+of*y+i/of).RGBA()
				sum[0], sum[1], sum[2] = sum[0]+r, sum[1]+g, sum[2]+b
			}
			mean := func(s uint32) uint8 { return uint8(s / (of * of) >> 8) }
			out.SetRGBA(x, y, color.RGBA{mean(sum[0]), mean(sum[1]), mean(sum[2]), 255})
		}
	}
	return out
}

// A pixel is off where one of its colours is by more than offBy of 255: that is more than
// another way of drawing the edges of letters makes of five by five pixels. So many of a
// picture's pixels may be off: a letter's width that differs by a Debian release, and not
// a panel, an edge or a colour (TestPicturesDiffer).
const (
	offBy    = 56
	mayBeOff = 0.005
)

// off is the share of pixels that are.
func off(a, b *image.RGBA) float64 {
	if a.Rect != b.Rect {
		return 1
	}
	n := 0
	for i := 0; i < len(a.Pix); i += 4 {
		for c := range 3 {
			if x, y := int(a.Pix[i+c]), int(b.Pix[i+c]); max(x-y, y-x) > offBy {
				n++
				break
			}
		}
	}
	return float64(n) / float64(len(a.Pix)/4)
}

// compared fails where a picture is not as it is kept, and puts both beside each other.
func compared(t *testing.T, name string, got *image.RGBA) {
	t.Helper()
	file := filepath.Join("testdata", "pictures", name+".png")
	if os.Getenv("WITHY_PICTURES") != "" {
		write(t, file, got)
		return
	}
	kept, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer kept.Close()
	decoded, err := png.Decode(kept)
	if err != nil {
		t.Fatal(err)
	}
	want := image.NewRGBA(decoded.Bounds())
	for y := range want.Rect.Dy() {
		for x := range want.Rect.Dx() {
			want.Set(x, y, decoded.At(x, y))
		}
	}
	if share := off(got, want); share > mayBeOff {
		beside := filepath.Join(os.TempDir(), name+".png")
		write(t, beside, got)
		t.Errorf("%s: %.1f %% of it is off; it looks like %s now", file, 100*share, beside)
	}
}

func write(t *testing.T, file string, picture *image.RGBA) {
	t.Helper()
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	err := encoder.Encode(&b, picture)
	if err == nil {
		err = os.MkdirAll(filepath.Dir(file), 0o755)
	}
	if err == nil {
		err = os.WriteFile(file, b.Bytes(), 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// What must not pass does not: a panel gone, all moved by a finger's width, the sides
// changed over, a colour lost.
func TestPicturesDiffer(t *testing.T) {
	b := browser(t)
	url := newStill(t).loaded().before(40).url()
	for _, size := range []screen{phone, tablet} {
		p := b.blank(t, size)
		p.ask("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": stands})
		p.ask("Page.navigate", map[string]any{"url": url})
		p.wait(`document.body?.dataset.live === "live"`)
		p.look("dark")
		p.resize(size)
		good := p.picture(false)
		if share := off(good, p.picture(false)); share > mayBeOff/2 {
			t.Errorf("%s: the same page differs from itself by %.2f %%", size.name, 100*share)
		}
		for what, css := range map[string]string{
			"the rib is gone":      `#call .plate { visibility: hidden }`,
			"all is moved":         `body { transform: translateY(20px) }`,
			"the sides changed":    `.edge { transform: none; } .edge.port { left: auto !important; right: 0 !important } .edge.starboard { right: auto !important; left: 0 !important }`,
			"the call lost colour": `#call, #call * { color: inherit !important; background: none !important }`,
		} {
			p.eval(fmt.Sprintf(`{ const wrong = new CSSStyleSheet(); wrong.replaceSync(%s); document.adoptedStyleSheets = [wrong] }`, jsText(css)), nil)
			p.resize(size)
			if share := off(good, p.picture(false)); share <= mayBeOff {
				t.Errorf("%s, %s: only %.2f %% is off", size.name, what, 100*share)
			} else {
				t.Logf("%s, %s: %.1f %% is off", size.name, what, 100*share)
			}
			p.eval(`document.adoptedStyleSheets = []`, nil)
			p.resize(size)
		}
	}
}

func jsText(s string) string {
	text, _ := json.Marshal(s) // a string always is
	return string(text)
}
