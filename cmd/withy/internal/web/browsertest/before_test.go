package browsertest

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"withy/cmd/withy/internal/web"
	"withy/steambox/measure"
)

// plain is a box at which nothing can be set: the daemon alone, without the program
// around it that keeps settings.
type plain struct{}

func (plain) List() []web.Setting                                   { return nil }
func (plain) Set(context.Context, string, map[string]any) error     { return nil }
func (plain) Ribs() []byte                                          { return []byte("rib,length_mm\n") }
func (plain) SetRibs(context.Context, string, []byte) (int, error)  { return 0, nil }
func (plain) Bends() []byte                                         { return []byte("exposure_min,outcome\n") }
func (plain) TablesSet() (ribs, bends bool)                         { return false, false }
func (plain) Calibrator() web.Calibrator                            { return nil }
func (plain) Erase(context.Context) error                           { return nil }
func (plain) SetBends(context.Context, string, []byte) (int, error) { return 0, nil }

// rehearse starts the program itself on a rehearsal that nobody crews, and returns
// where its page is.
func rehearse(t *testing.T, more ...string) string {
	t.Helper()
	long(t)
	program := filepath.Join(t.TempDir(), "withy")
	if out, err := exec.Command("go", "build", "-o", program, "withy/cmd/withy").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cmd := exec.Command(program, append([]string{"rehearse", "--alone", "--speed", "1", "--listen", "127.0.0.1:0"}, more...)...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed
	})
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if at := regexp.MustCompile(`http://\S+[0-9]`).FindString(lines.Text()); at != "" {
			return at
		}
	}
	t.Fatal("it says nowhere where its page is")
	return ""
}

// step opens a step before the run and waits until what it asks for has come.
func (p *page) step(title, until string) {
	p.t.Helper()
	p.eval(fmt.Sprintf(`[...document.querySelectorAll(".steps > details")].find((d) => d.querySelector(".title").textContent.endsWith(%q)).open = true`, title), nil)
	p.wait(until)
}

// typed types a text into the field that selector finds, in the place of what is there.
func (p *page) typed(selector, text string) {
	p.t.Helper()
	p.eval(fmt.Sprintf(`(() => {
		const field = document.querySelector(%q);
		field.focus();
		field.select();
	})()`, selector), nil)
	p.ask("Input.insertText", map[string]any{"text": text})
}

// asked returns what the program answers at a path.
func asked(t *testing.T, url string) string {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s %v", url, r.Status, err)
	}
	return string(text)
}

// All steps before the run on the page of the program itself, as a builder takes them
// with thumbs: the rig, a setting that can't be and one that can, a rib typed wrong and
// put right, a bend more, the plan, a dry run, and how she lies.
func TestBefore(t *testing.T) {
	url := rehearse(t)
	p := browser(t).open(t, phone, url)
	p.look("dark")

	p.step("The rig", `document.querySelectorAll(".rig > li").length > 10`)
	p.press(".rig li:nth-child(1)", "")
	p.wait(`[...document.querySelectorAll(".rig .is-good button")].some((b) => b.textContent === "Not so any more")`)
	p.eval(`[...document.querySelectorAll(".rig .group button")].find((b) => b.textContent === "Sound it").click()`, nil)
	p.wait(`document.querySelector("#answer").textContent.includes("Was it heard")`)

	p.step("The box and the stick", `document.querySelector("#set-place-altitude_m")`)
	p.eval(`document.querySelectorAll(".steps .part").forEach((d) => { d.open = true; })`, nil)
	p.typed("#set-place-altitude_m", "9000")
	p.press(".steps", "Set 1 change")
	p.wait(`document.querySelector("#set-place-altitude_m-wrong").textContent.includes("5500 m") && document.activeElement.id === "set-place-altitude_m"`)
	p.typed("#set-place-altitude_m", "1200")
	p.press(".steps", "Set 1 change")
	p.wait(`document.querySelector("#answer").textContent.startsWith("Set, and kept")`)
	if got := setting(t, url, "place.altitude_m"); got != 1200.0 {
		t.Errorf("the height is %v", got)
	}

	p.step("The ribs", `document.querySelector("#rib-0-length")`)
	p.eval(`document.querySelector(".keypad") || [...document.querySelectorAll(".steps button")].find((b) => b.textContent === "Keypad").click()`, nil)
	p.typed("#rib-1-length", "long")
	p.press(".steps", "Take this table")
	p.wait(`document.querySelector("#rib-1-wrong").textContent.includes("no length") && document.activeElement.id === "rib-1-length"`)
	p.typed("#rib-1-length", "")
	for _, key := range []string{"1", "2", "3", "0"} {
		p.press(".keypad", key)
	}
	p.ask("Page.reload", nil) // as a phone does with a page that is not looked at
	p.wait(`document.body?.dataset.live === "live" && document.querySelector("#before")`)
	p.step("The ribs", `document.querySelector("#rib-1-length")?.value === "1230"`)
	p.eval(`document.querySelector(".keypad") || [...document.querySelectorAll(".steps button")].find((b) => b.textContent === "Keypad").click()`, nil)
	p.eval(`document.querySelector("#rib-1-length").focus()`, nil)
	p.press(".keypad", "Next")
	p.press(".keypad", "As above")
	p.wait(`document.activeElement.id === "rib-2-length" && document.activeElement.value === "1230"`)
	p.press(".steps", "Take this table")
	p.wait(`document.querySelector("#answer").textContent.startsWith("Taken")`)
	if table := strings.Split(asked(t, url+"/api/ribs"), "\n"); !strings.Contains(table[2], ",1230,") || !strings.Contains(table[3], ",1230,") {
		t.Errorf("the table: %q", table[:4])
	}

	p.step("Test bends", `document.querySelector("#bend-0-heat")`)
	p.press(".steps", "Add a bend")
	p.wait(`document.activeElement.id.endsWith("-heat")`)
	p.ask("Input.insertText", map[string]any{"text": "4.5"})
	p.press(".steps", "Take these bends")
	p.wait(`document.querySelector("#answer").textContent.includes("6 test bends")`)

	p.step("The plan", `document.querySelector(".curve .odd")`)
	p.wait(`document.querySelectorAll(".steps .mistakes .choice").length === 2`)
	p.eval(`document.querySelector(".steps .mistakes .choice button").click()`, nil)
	p.wait(`document.querySelectorAll(".steps .mistakes .choice").length === 1`)
	p.eval(`document.querySelectorAll(".steps .mistakes .choice button")[1].click()`, nil)
	p.wait(`document.querySelector(".curve") && !document.querySelector(".curve .odd")`)
	if table := asked(t, url+"/api/ribs"); strings.Count(table, "yes") != 1 || strings.Count(table, ",1230,") != 1 {
		t.Errorf("the table: %q", table)
	}
	if paper := asked(t, url+"/plan"); !strings.Contains(paper, "</html>") {
		t.Error("no sheet to print")
	}

	p.step("Dry run", `document.querySelector(".steps .rounds")`)
	p.press(".steps", "Begin the dry run")
	p.wait(`document.querySelector("#call .label").textContent === "this round"`)
	p.press("#call", "Back at the box")
	p.wait(`document.querySelector(".rounds").textContent.includes("1 round done")`)
	p.press(".steps", "End the dry run")
	p.wait(`[...document.querySelectorAll(".steps p")].some((says) => says.textContent.startsWith("What it has learned stays"))`)
	p.press(".steps", "Begin the dry run")
	p.wait(`document.querySelector(".rounds").textContent.includes("1 round done") && !!document.querySelector(".round .digits")`)
	p.press(".steps", "End the dry run")
	p.wait(`[...document.querySelectorAll(".steps button")].some((b) => b.textContent === "Forget this pace")`)
	p.press(".steps", "Forget this pace")
	p.wait(`document.querySelector(".rounds").textContent === ""`)

	p.step("How she lies", `document.querySelector(".steps .pick")`)
	p.eval(`document.querySelector('.steps .pick input[value="up"]').click()`, nil)
	p.wait(`document.querySelector('#screen input[value="up"]').checked`)

	for _, size := range screens {
		p.resize(size)
		p.clean(size.name + ", dark")
		if wide := p.wider(size); len(wide) > 0 {
			t.Errorf("on a %s: %q", size.name, wide)
		}
	}
	p.look("light")
	p.clean("light")
	p.look("light", "forced-colors", "active")
	p.clean("forced colours")
	if said := p.console(); len(said) > 0 {
		t.Errorf("on the console: %q", said)
	}

	// The first rib takes all of it out of the way, and it can be had again.
	p.press("#crew", "into A")
	p.wait(`document.querySelector("#before").hidden && document.querySelector("#wait .steps")`)
}

// In a shop that measures in US units no step before the run has a metric quantity, but
// where the units themselves are chosen; and a length typed in inches is on record in mm.
func TestBeforeInInches(t *testing.T) {
	url := rehearse(t, "--units", "us")
	p := browser(t).open(t, tablet, url)
	for _, open := range []string{".steps > details", ".steps .part"} {
		p.eval(fmt.Sprintf(`document.querySelectorAll(%q).forEach((d) => { d.open = true; })`, open), nil)
		p.wait(`document.querySelector("#set-place-altitude_m") && document.querySelector("#rib-0-length") && document.querySelector("#bend-0-heat") && document.querySelector(".curve")`)
	}
	var text string
	p.eval(`[document.querySelector(".steps").innerText, ...[...document.querySelectorAll(".steps input")].map((i) => i.value)].join("\n")`, &text)
	for _, line := range regexp.MustCompile(`.*(°C|[0-9] (mm|cm|m|L|K)\b|litre).*`).FindAllString(text, -1) {
		if line != "metric: °C, mm, litres" {
			t.Errorf("in metric units: %q", line)
		}
	}
	p.typed("#rib-0-length", "46 7/16")
	p.press(".steps", "Take this table")
	p.wait(`document.querySelector("#answer").textContent.startsWith("Taken")`)
	// 46.4375 in of 25.4 mm (NIST SP 811, appendix B.8) are 1179.5125 mm.
	if table := strings.Split(asked(t, url+"/api/ribs"), "\n"); !strings.Contains(table[1], ",1179.51,") {
		t.Errorf("the table: %q", table[:3])
	}
}

// The probes are calibrated on the page, with nothing but the page: first both tips in a
// boiling pot while the box is not taken to be as hot, then tied together in the box at the
// end of its warm-up. The rehearsal carries them there.
func TestCalibrateOnThePage(t *testing.T) {
	url := rehearse(t, "--speed", "200")
	p := browser(t).open(t, phone, url)
	p.look("light")
	p.step("The rig", `document.querySelector("#calibrate")`)
	p.eval(`document.querySelector("#calibrate").click()`, nil)
	p.wait(`document.querySelector("#calibrate-pot")`)
	p.clean("where the tips can be")
	p.press(".calibration", "They are in the pot: begin")
	p.wait(`document.querySelector(".calibration .reads td") && document.querySelector("#phase").textContent.includes("out to be calibrated")`)
	p.clean("watched")
	p.wait(`document.querySelector(".calibration .is-kept")?.textContent.startsWith("Kept, and in use.")`)
	var shown []string
	p.eval(`[...document.querySelectorAll(".calibration .reads td:last-child")].map((td) => td.textContent)`, &shown)
	var c web.Calibration
	if err := json.Unmarshal([]byte(asked(t, url+"/api/calibration")), &c); err != nil {
		t.Fatal(err)
	}
	for i, probe := range c.Probes {
		// The rehearsal's probes are within 0.2 K, and read in steps of 1/16 K.
		if probe.AddK == nil || math.Abs(*probe.AddK) > 0.2+1.0/16 || shown[i] != measure.Metric.Offset(*probe.AddK, 2) {
			t.Errorf("%+v, on the page %q", probe, shown[i])
		}
	}
	if c.Out {
		p.press(".calibration", "They hang in the box again")
	}
	p.wait(`!document.querySelector("#phase").textContent.includes("calibrated") && !document.querySelector("#calibrate-end")`)

	p.press(".calibration", "They are cool: begin")
	p.wait(`document.querySelector(".calibration .is-watching")?.textContent.includes("until all have risen")`)
	p.wait(`document.querySelector(".calibration .is-kept")?.textContent.includes("steam follows in ")`)
	p.wait(`[...document.querySelectorAll(".calibration .reads td:last-child")].every((td) => /^\d+\.\d s$/.test(td.textContent))`)
	p.eval(`document.querySelector("#calibrate-end")?.click()`, nil)
	p.wait(`!document.querySelector("#phase").textContent.includes("calibrated")`)

	p.wait(`document.querySelector("#phase").textContent.includes("ready")`)
	p.press(".calibration", "They are tied in the box: begin")
	p.wait(`document.querySelector(".calibration .is-kept, .calibration .is-doubted")`)
	p.clean("over")
	for _, size := range screens {
		p.resize(size)
		if wide := p.wider(size); len(wide) > 0 {
			t.Errorf("on a %s: %q", size.name, wide)
		}
	}
	if said := p.console(); len(said) > 0 {
		t.Errorf("on the console: %q", said)
	}
}

// setting returns the value of a key that is in use.
func setting(t *testing.T, url, key string) any {
	t.Helper()
	var now web.SettingsNow
	if err := json.Unmarshal([]byte(asked(t, url+"/api/settings")), &now); err != nil {
		t.Fatal(err)
	}
	for _, s := range now.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	t.Fatalf("there is no %s", key)
	return nil
}
