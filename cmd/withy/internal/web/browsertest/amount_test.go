package browsertest

import (
	"testing"
	"time"

	"withy/cmd/withy/internal/view"
	"withy/steambox/rehearsal"
)

// The litres that were told of once are a kettle's again afterwards, so that a level that
// was read isn't poured on top of itself; and no more can be set than the boiler holds.
func TestAmountIsAKettleAgain(t *testing.T) {
	s := shop(t, "good", hot, 1)
	p := browser(t).open(t, tablet, s.url)
	var first, most, after string
	const shown = `document.querySelector("#crew .pot output").textContent`
	p.eval(shown, &first)
	p.eval(`(() => {
		const more = [...document.querySelectorAll("#crew .pot .amount button")].at(-1);
		for (let i = 0; i < 100; i++) more.click();
		return `+shown+`;
	})()`, &most)
	p.press("#crew", "Level read")
	s.wait("the level", func(*view.View) bool { return len(s.told()) > 0 })
	p.wait(shown + ` === "1.5 litres"`)
	p.eval(shown, &after)
	// The rehearsal's boiler holds six litres, its kettle one and a half.
	if first != "1.5 litres" || most != "6.0 litres" || after != first {
		t.Errorf("%q at first, %q at most, %q afterwards", first, most, after)
	}
}

// A cold boiler is filled to the brim; once it boils the same page offers a kettle.
func TestAmountIsAKettleOnceItBoils(t *testing.T) {
	s := shop(t, "good", func(w *rehearsal.World) bool { return w.Elapsed() >= 9*time.Minute }, 40)
	p := browser(t).open(t, tablet, s.url)
	const shown = `document.querySelector("#crew .pot output").textContent`
	p.wait(shown + ` === "6.0 litres"`)
	p.wait(shown + ` === "1.5 litres"`)
}
