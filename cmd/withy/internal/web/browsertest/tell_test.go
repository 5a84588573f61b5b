package browsertest

import (
	"bytes"
	"slices"
	"testing"
)

// What a person would see at once is not within the tolerance of TestPictures, and
// letters drawn by other rules are.
func TestPicturesTell(t *testing.T) {
	b := browser(t)
	of := func(name string) state {
		return states[slices.IndexFunc(states, func(c state) bool { return c.name == name })]
	}
	for _, c := range []struct {
		state    string
		sight    sight
		mistakes map[string]string // what it is, and the style that makes it
	}{
		{"soaking", near, map[string]string{
			"no door end":                     `#door { visibility: hidden; }`,
			"no button":                       `#call .main { visibility: hidden; }`,
			"no way round":                    `#call .mark { visibility: hidden; }`,
			"all of it moved":                 `body { transform: translateY(20px); }`,
			"the box moved":                   `#box { position: relative; top: 20px; }`,
			"port's edge to starboard":        `.edge.port { left: auto !important; right: 0; }`,
			"starboard's colour to port":      `.edge.port { background: var(--starboard); }`,
			"digits that can hardly be read":  `.digits { color: var(--line); }`,
			"letters that can hardly be read": `.good, .end { color: var(--line); }`,
		}},
		{"soaking", box, map[string]string{
			"no water":             `#water { visibility: hidden; }`,
			"ribs without colour":  `#box .raw { fill: #a4a4a4; } .hatch { stroke: #2d2d2d; }`,
			"ribs that look soft":  `#box .raw { fill: #f0a030; } #box .hatch { stroke: none; }`,
			"walls without colour": `:root { --oak: #9f9f9f; }`,
			"water without colour": `:root { --water: #a0a0a0; }`,
			"times hardly be read": `#box :is(.time, .inbox) { opacity: .2; }`,
		}},
		{"soaking", far, map[string]string{
			"port's edge to starboard":       `.edge.port { left: auto !important; right: 0; }`,
			"a narrow edge":                  `body.far { --edge: 8vw !important; }`,
			"no slot":                        `#call .plate { visibility: hidden; }`,
			"small digits":                   `.digits { font-size: 24vw !important; }`,
			"digits that can hardly be read": `.digits { color: var(--line); }`,
		}},
		{"unsure", near, map[string]string{
			"sure": `#call .unsure { visibility: hidden; } #box .unsure { stroke-dasharray: none; }`,
		}},
		{"late", far, map[string]string{
			"not late": `.late .digits { color: var(--ink); }`,
		}},
		{"low", far, map[string]string{
			"no frame":                      `body::after { display: none; }`,
			"no word":                       `.word { visibility: hidden; }`,
			"a frame like starboard's edge": `:root { --hold: var(--starboard); }`,
		}},
	} {
		t.Run(c.state+", "+c.sight.name, func(t *testing.T) {
			t.Parallel()
			p := of(c.state).open(t, b)
			for _, size := range []screen{phone, desktop} {
				good := reduced(p.take(size, c.sight, "dark"))
				if _, off := unlike(reduced(p.take(size, c.sight, "dark")), good); off > 0 {
					t.Errorf("%s: the same page twice differs by %.2f %%", size.name, 100*off)
				}
				for mistake, css := range c.mistakes {
					p.wear(css)
					_, off := unlike(reduced(p.take(size, c.sight, "dark")), good)
					t.Logf("%s, %s: %.2f %%", size.name, mistake, 100*off)
					if off <= mostUnlike {
						t.Errorf("%s, %s: %.2f %% differ, which nobody would be told", size.name, mistake, 100*off)
					}
				}
				p.wear("")
			}
		})
	}
	plain := of("soaking").open(t, b)
	for _, c := range []struct {
		letters, css string
	}{
		{"placed between pixels", `html { text-rendering: geometricPrecision; }`},
		{"thicker", `body :not(.digits) { -webkit-text-stroke: .2px currentColor; }`},
	} {
		for _, v := range []sight{near, far, box} {
			plain.wear("")
			was := plain.take(tablet, v, "dark")
			plain.wear(c.css)
			is := plain.take(tablet, v, "dark")
			_, off := unlike(reduced(is), reduced(was))
			t.Logf("letters %s, %s: %.2f %%", c.letters, v.name, 100*off)
			if bytes.Equal(is.Pix, was.Pix) {
				t.Errorf("letters %s, %s: drawn all the same, so nothing is tested", c.letters, v.name)
			}
			if off > mostUnlike {
				t.Errorf("letters %s, %s: %.2f %% differ, at most %.2f", c.letters, v.name, 100*off, 100*mostUnlike)
			}
		}
	}
}
