package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// planTable is no boat's: a parabola with the ninth rib 8 mm too long.
const planTable = `rib,length_mm,thickness_mm,width_mm,station_mm,bend,meant
1,615,6.5,25,0,hard,
2,717,6.5,25,150,,
3,807,6.5,25,300,,
4,885,6.5,25,450,,
5,951,6.5,25,600,,
6,1004,6.5,25,750,,
7,1045,6.5,25,900,,
8,1073,6.5,25,1050,,
9,1096,6.5,25,1200,,
<b>,1088,6.5,25,1350,,
11,1073,6.5,25,1500,,
12,1045,6.5,25,1650,,
13,1004,6.5,25,1800,,
14,951,6.5,25,1950,,
15,845,6.5,25,2100,,yes
16,807,6.5,25,2250,,
17,717,6.5,25,2400,,
18,615,6.5,25,2550,hard,
`

// planned runs the verb on planTable and returns what it printed, demanding its status.
func planned(t *testing.T, status int, flags ...string) []byte {
	t.Helper()
	name := filepath.Join(t.TempDir(), "ribs.csv")
	if err := os.WriteFile(name, []byte(planTable), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if got := run(t.Context(), append([]string{"plan", name}, flags...), &out, &errs); got != status {
		t.Fatalf("status %d, want %d: %s", got, status, errs.String())
	}
	return out.Bytes()
}

// The keys that other programs rely on, at every level.
func TestPlanKeys(t *testing.T) {
	out := planned(t, exitWrong, "--json", "--soak-s", "360", "--boiler-l", "3")
	var d map[string]any
	if err := json.Unmarshal(out, &d); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{
		"ribs", "unfair", "spares", "slots", "interval_s", "soak_s", "run_min", "session_min", "water_l", "kettle", "heat", "limits",
	} {
		if _, ok := d[key]; !ok {
			t.Errorf("no %s in %v", key, slices.Sorted(maps.Keys(d)))
		}
	}
	for key, within := range map[string][]string{
		"unfair": {"rib", "length_mm", "suggested_mm", "off_mm"},
		"spares": {"length_mm", "covers"},
		"kettle": {"at_min", "litres"},
	} {
		list, _ := d[key].([]any)
		if len(list) == 0 {
			t.Errorf("%s is empty", key)
			continue
		}
		first, _ := list[0].(map[string]any)
		hasKeys(t, key, first, within)
	}
	heat, _ := d["heat"].(map[string]any)
	hasKeys(t, "heat", heat, []string{"boiler_w", "ribs_w", "walls_w"})
	if odd := d["unfair"].([]any)[0].(map[string]any); odd["rib"] != "9" || odd["length_mm"] != 1096.0 {
		t.Errorf("unfair: %v", odd)
	}
}

func hasKeys(t *testing.T, what string, in map[string]any, keys []string) {
	t.Helper()
	for _, key := range keys {
		if _, ok := in[key]; !ok {
			t.Errorf("%s has no %s: %v", what, key, in)
		}
	}
}

// Lists that are empty are empty lists to a program, not null.
func TestPlanEmptyLists(t *testing.T) {
	if out := planned(t, exitWrong, "--json", "--soak-s", "360", "--boiler-l", "50"); bytes.Contains(out, []byte("null")) {
		t.Errorf("%s", out)
	}
}

// The page stands alone: nothing from elsewhere, no script, and what the file says
// can't become markup. It has a box to tick for each blank, each turn and each odd rib.
func TestPlanPage(t *testing.T) {
	name := filepath.Join(t.TempDir(), "plan.html")
	planned(t, exitWrong, "--soak-s", "360", "--boiler-l", "3", "--page", name)
	page, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for _, never := range []string{"<script", "src=", "href=", "url(", "@import", "http:", "https:", "<b>", "NaN", "ZgotmplZ"} {
		if bytes.Contains(page, []byte(never)) {
			t.Errorf("%q in the page", never)
		}
	}
	// 18 ribs and six spares (30 % rounded up) to saw, 18 to bend, one to measure again.
	if got := bytes.Count(page, []byte(`class="tick"`)); got != 18+6+18+1 {
		t.Errorf("%d boxes to tick", got)
	}
	if got := drawn(t, page); got != 18+6 {
		t.Errorf("%d ribs and spares drawn upright on the keel", got)
	}
}

// drawn counts the upright lines of the page's picture that stand on its keel, which
// is the first line of the picture.
func drawn(t *testing.T, page []byte) (n int) {
	t.Helper()
	from, to := bytes.Index(page, []byte("<svg")), bytes.Index(page, []byte("</svg>"))
	if from < 0 || to < from {
		t.Fatal("no picture")
	}
	keel := ""
	for d := xml.NewDecoder(bytes.NewReader(page[from : to+6])); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return n
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := token.(xml.StartElement)
		if !ok || e.Name.Local != "path" {
			continue
		}
		path := e.Attr[slices.IndexFunc(e.Attr, func(a xml.Attr) bool { return a.Name.Local == "d" })].Value
		start, _, _ := strings.Cut(path, "V")
		_, foot, _ := strings.Cut(start, " ")
		if keel == "" {
			keel, _, _ = strings.Cut(foot, "H")
		} else if foot == keel {
			n++
		}
	}
}
