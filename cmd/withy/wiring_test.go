package main

import (
	"encoding/xml"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"go.yaml.in/yaml/v3"

	"withy/sensor"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/unit"
)

// The wiring guide, its drawings and the configuration that goes with it.
const (
	guideFile   = "../../deploy/wiring.md"
	drawings    = "../../deploy/drawings"
	exampleFile = "../../deploy/withy.yaml"
)

// headerPins are the pins of the 40-pin header by what is on them, as its maker
// publishes: "General-purpose I/O" in the documentation of the Raspberry Pi.
var headerPins = map[string][]int{
	"3.3 V":  {1, 17},
	"5 V":    {2, 4},
	"ground": {6, 9, 14, 20, 25, 30, 34, 39},
	"GPIO4":  {7}, "GPIO17": {11}, "GPIO18": {12}, "GPIO22": {15},
	"GPIO23": {16}, "GPIO24": {18}, "GPIO27": {13}, "GPIO5": {29},
}

// What the guide says of a pin holds on the header, in the configuration and in the
// drawing.
func TestWiringPins(t *testing.T) {
	guide := readGuide(t)
	pins := guide.table("terminal")
	others := guide.table("terminal", "other")
	if len(pins) != 11 || len(others) == 0 {
		t.Fatalf("the guide has %d pins and %d others", len(pins), len(others))
	}
	lines := exampleLines(t)
	told := map[string]bool{}
	for i, row := range append(slices.Clone(pins), others...) {
		pin, err := strconv.Atoi(row["header pin"])
		name := strings.Trim(row["board's name"], "`")
		if err != nil || !slices.Contains(headerPins[name], pin) {
			t.Errorf("%s is said to be on pin %s; it is on %v", name, row["header pin"], headerPins[name])
		}
		key := strings.ReplaceAll(row["key in the configuration"], "`", "")
		told[key] = true
		line, known := lines[key]
		if key != "" && (known || i < len(pins)) && line != name {
			t.Errorf("%s is on %q in the guide and on %q in %s", key, name, line, exampleFile)
		}
	}
	for key, line := range lines {
		if !told[key] {
			t.Errorf("%s has %s on %s, of which the guide says nothing", exampleFile, key, line)
		}
	}

	texts := drawnTexts(t, "wiring.svg")
	for _, row := range pins {
		want := []string{row["header pin"], strings.Trim(row["board's name"], "`"), "to " + row["terminal"]}
		if !hasRun(texts, want) {
			t.Errorf("wiring.svg does not draw %q", want)
		}
	}
	drawn := 0
	for _, text := range texts {
		if regexp.MustCompile(`^to [A-C][1-9]$`).MatchString(text) {
			drawn++
		}
	}
	if drawn != len(pins) {
		t.Errorf("wiring.svg draws %d pins, the guide has %d", drawn, len(pins))
	}
}

// exampleLines returns the lines of the configuration that goes with the program, with
// those that stand in it as comments, by key and name: "board.level",
// "board.buttons, palm".
func exampleLines(t *testing.T) map[string]string {
	t.Helper()
	text, err := os.ReadFile(exampleFile)
	if err != nil {
		t.Fatal(err)
	}
	before, board, found := strings.Cut(string(text), "\nboard:")
	board, after, ends := strings.Cut(board, "\n\n")
	if !found || !ends {
		t.Fatalf("%s has no block named board", exampleFile)
	}
	board = strings.ReplaceAll(board, "\n  # ", "\n  ")
	whole := before + "\nboard:" + board + "\n\n" + after
	file := filepath.Join(t.TempDir(), "wired.yaml")
	if err := os.WriteFile(file, []byte(whole), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := readConfig(file); err != nil {
		t.Errorf("%s with its lines uncommented: %v", exampleFile, err)
	}

	var parsed struct {
		Board map[string]any `yaml:"board"`
	}
	if err := yaml.Unmarshal([]byte(whole), &parsed); err != nil {
		t.Fatal(err)
	}
	lines := map[string]string{}
	for key, v := range parsed.Board {
		list, ok := v.([]any)
		if !ok {
			list = []any{v}
		}
		for _, v := range list {
			m, ok := v.(map[string]any)
			if !ok || m["line"] == nil {
				continue
			}
			named := "board." + key
			if m["name"] != nil {
				named += fmt.Sprintf(", %v", m["name"])
			}
			lines[named] = fmt.Sprint(m["line"])
		}
	}
	return lines
}

// The drawings that the guide shows are there, are XML, and can be read at 800 pixels.
func TestWiringDrawings(t *testing.T) {
	guide := readGuide(t)
	shown := map[string]bool{}
	for _, m := range regexp.MustCompile(`\]\(drawings/([^)]+)\)`).FindAllStringSubmatch(guide.text, -1) {
		shown[m[1]] = true
		if texts := drawnTexts(t, m[1]); len(texts) == 0 {
			t.Errorf("%s has no text", m[1])
		}
	}
	files, err := filepath.Glob(filepath.Join(drawings, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !shown[filepath.Base(f)] {
			t.Errorf("%s is not shown in the guide", f)
		}
	}
	if len(files) == 0 {
		t.Error("no drawings")
	}
}

// What the guide quotes as said by check is said by it.
func TestWiringMessages(t *testing.T) {
	rows := readGuide(t).table("it says")
	if len(rows) < 15 {
		t.Fatalf("the guide has %d faults", len(rows))
	}
	said := literals(t, ".", "../../sensor", "../../steambox/words")
	said = append(said, syscall.EBUSY.Error())
	for _, c := range []sensor.Contact{sensor.Open, sensor.Closed, sensor.Unknown} {
		said = append(said, lineFound(sensor.LineState{Input: "level", Contact: c}).Says)
	}
	quoted := regexp.MustCompile("`([^`]+)`")
	for _, row := range rows {
		quotes := quoted.FindAllStringSubmatch(row["it says"], -1)
		if len(quotes) == 0 {
			t.Errorf("nothing quoted in %q", row["it says"])
		}
		for _, q := range quotes {
			if !slices.ContainsFunc(said, func(s string) bool { return strings.Contains(s, q[1]) }) {
				t.Errorf("nothing says %q", q[1])
			}
		}
	}
}

// The report that the guide shows is the one that check prints.
func TestWiringReport(t *testing.T) {
	guide := readGuide(t)
	s := settings{Units: measure.Metric}
	s.Box.Probes = []steambox.BoxProbe{{Name: "steam", ID: "28-0000000a0b0c"}, {Name: "door", ID: "28-0000000a0b0d"}}
	var sweep sensor.Sweep
	for _, c := range []unit.Celsius{18.4, 18.6} {
		sweep.Probes = append(sweep.Probes, sensor.Reading{Temp: c})
	}
	all := tryProbes(s, sweep)
	lines := exampleLines(t)
	for _, l := range []sensor.LineState{
		{Input: "level", Line: lines["board.level"], Contact: sensor.Closed},
		{Input: "palm", Line: lines["board.buttons, palm"], Contact: sensor.Open},
		{Input: "pedal", Line: lines["board.buttons, pedal"], Contact: sensor.Open},
	} {
		all = append(all, lineFound(l))
	}
	all = append(all, found{"buzzer", lines["board.buzzer"], true, "sounded: two pulses. Did you hear them?"})
	var out strings.Builder
	if err := reportFound(&out, "my.yaml", all, false); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(guide.text, "```\n"+out.String()+"```\n") {
		t.Errorf("check prints\n%sand the guide shows something else", out.String())
	}
}

// guide is the wiring guide.
type guide struct{ text string }

func readGuide(t *testing.T) guide {
	t.Helper()
	text, err := os.ReadFile(guideFile)
	if err != nil {
		t.Fatal(err)
	}
	return guide{string(text)}
}

// table returns the rows of a table by the names of their columns: of the first whose
// first column has this name, or of one after it for each further argument.
func (g guide) table(first string, further ...string) []map[string]string {
	skip := len(further)
	var names []string
	var rows []map[string]string
	for line := range strings.Lines(g.text) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		switch {
		case !strings.HasPrefix(line, "|"):
			if rows != nil {
				return rows
			}
			names = nil
		case names == nil:
			names = cells
			if cells[0] == first {
				skip--
			}
		case names[0] == first && skip < 0 && !strings.HasPrefix(cells[0], "---"):
			row := map[string]string{}
			for i, name := range names {
				row[name] = cells[i]
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// drawnTexts returns the texts of a drawing in their order. It fails unless the drawing
// is XML that is 800 units wide with no letters smaller than 14.
func drawnTexts(t *testing.T, name string) []string {
	t.Helper()
	file, err := os.Open(filepath.Join(drawings, name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var texts []string
	in := ""
	for decoder := xml.NewDecoder(file); ; {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return texts
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			in = token.Name.Local
			for _, a := range token.Attr {
				size, err := strconv.ParseFloat(a.Value, 64)
				if a.Name.Local == "font-size" && (err != nil || size < 14) {
					t.Errorf("%s: letters of %q", name, a.Value)
				}
				if a.Name.Local == "viewBox" && !strings.HasPrefix(a.Value, "0 0 800 ") {
					t.Errorf("%s: viewBox %q", name, a.Value)
				}
			}
		case xml.EndElement:
			in = ""
		case xml.CharData:
			if in == "text" {
				texts = append(texts, string(token))
			}
		}
	}
}

// hasRun reports whether want stands in all, in one piece.
func hasRun(all, want []string) bool {
	for i := range all {
		if i+len(want) <= len(all) && slices.Equal(all[i:i+len(want)], want) {
			return true
		}
	}
	return false
}

// literals returns the strings in the sources of some packages, tests apart.
func literals(t *testing.T, dirs ...string) []string {
	t.Helper()
	var all []string
	for _, dir := range dirs {
		names, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					if s, err := strconv.Unquote(lit.Value); err == nil {
						all = append(all, s)
					}
				}
				return true
			})
		}
	}
	return all
}
