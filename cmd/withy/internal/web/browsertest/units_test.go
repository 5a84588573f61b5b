package browsertest

import (
	"math"
	"regexp"
	"testing"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/measure"
)

// In a shop that measures in US units no metric quantity is left on the page, whatever is
// open; what is told in quarts is on record in litres; and one screen may be set otherwise.
func TestUnits(t *testing.T) {
	s := shop(t, "good", hot, 20, func(o *daemon.Options) { o.Units = measure.US })
	s.begin()
	p := browser(t).open(t, tablet, s.url)
	folds(p)
	p.eval(`document.querySelector("#past").scrollIntoView()`, nil)
	p.wait(`document.querySelector("#plot-table td")`)
	var text string
	// The choice for this screen names both kinds.
	const all = `[...document.querySelectorAll("body > *, main > section")].filter((e) => !e.matches("main, #screen")).map((e) => e.innerText).join("\n")`
	p.eval(all, &text)
	if metric := regexp.MustCompile(`.*(°C|[0-9] (mm|cm|m|L|K)\b|litre).*`).FindAllString(text, -1); len(metric) > 0 {
		t.Errorf("in metric units: %q", metric)
	}
	for _, us := range []string{`[0-9]\.[0-9] °F`, `[0-9]\.[0-9] qt`, `[0-9]/(2|4|8|16|32|64) in\b`, `quarts`} {
		if !regexp.MustCompile(us).MatchString(text) {
			t.Errorf("nothing like %s on the page", us)
		}
	}

	p.press("#crew", "Level read")
	s.wait("the level", func(*view.View) bool { return len(s.told()) > 6 })
	told := s.told()
	// A kettle's 1.5 L to the half quart is 1.5 qt; a US quart is 0.946352946 L (NIST SP 811, appendix B.8).
	if e := told[len(told)-1]; e.Kind != steambox.Level || math.Abs(e.Litres-1.5*0.946352946) > 0.001 {
		t.Errorf("told %+v", e)
	}

	p.eval(`document.querySelector("#screen input[value=metric]").click()`, nil)
	p.wait(`document.querySelector("#steam .temp").textContent.endsWith("°C") && document.querySelector("#water .litres").textContent.endsWith(" L")`)
}
