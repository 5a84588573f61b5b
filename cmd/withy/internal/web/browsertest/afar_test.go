package browsertest

import "testing"

// From the boat, 6 m away: on a tablet of ten inches, 216 mm wide at 1280 px, the digits
// are 60 mm high and the rib's number and the slot's letter 30. Measured is the ink.
func TestFromAfar(t *testing.T) {
	const mmPerPx = 216.0 / 1280
	p := browser(t).blank(t, tablet)
	p.ask("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": stands})
	p.ask("Page.navigate", map[string]any{"url": newStill(t).loaded().before(40).url()})
	p.wait(`document.body?.dataset.live === "live"`)
	p.press("#tools", "Far view")
	var high struct{ Digits, Rib, Slot float64 }
	p.eval(`(() => {
		const ink = (selector, text) => {
			const e = document.querySelector(selector), c = document.createElement("canvas").getContext("2d");
			const style = getComputedStyle(e);
			c.font = style.fontWeight + " " + style.fontSize + " " + style.fontFamily;
			const m = c.measureText(text ?? e.textContent);
			return m.actualBoundingBoxAscent + m.actualBoundingBoxDescent;
		};
		return { Digits: ink("#call .digits"), Rib: ink("#call .rib > span", document.querySelector("#call .rib > span").textContent.split(" ").at(-1)), Slot: ink("#call .plate") };
	})()`, &high)
	t.Logf("digits %.1f mm, rib %.1f mm, slot %.1f mm", high.Digits*mmPerPx, high.Rib*mmPerPx, high.Slot*mmPerPx)
	if high.Digits*mmPerPx < 60 || high.Rib*mmPerPx < 30 || high.Slot*mmPerPx < 30 {
		t.Error("too small")
	}
	if wide := p.wider(tablet); len(wide) > 0 {
		t.Errorf("%q", wide)
	}
}
