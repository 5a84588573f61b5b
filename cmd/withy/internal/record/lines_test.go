package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"withy/cmd/withy/internal/schema"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/profile"
	"withy/steambox/window"
)

// lineSchema is the schema as a validator that is not ours reads it; it has held it
// against the schema of JSON Schema 2020-12.
func lineSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(LineSchema()))
	must(t, err)
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	must(t, c.AddResource("line.json", doc))
	s, err := c.Compile("line.json")
	must(t, err)
	return s
}

func keeps(s *jsonschema.Schema, line []byte) error {
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(line))
	if err != nil {
		return err
	}
	return s.Validate(v)
}

// whole is a box in which nothing is absent.
func whole() steambox.Box {
	b := testBox()
	b.InsideM, b.BoardM, b.Away, b.Spares, b.SlotK = .15, .02, true, 2, []float64{.1, 0, 0, -.1}
	b.Survey = []profile.Knot{{X: .4, Share: .5}}
	b.TestBends = []steambox.TestBend{{Stick: "a", ThicknessM: .0065, Bend: window.Bend{Cool: 3, Hot: 4, Outcome: window.Cracked, Where: "outside", Difficulty: window.Hard}}}
	b.Earlier = []steambox.Earlier{{ThicknessM: .0065, Bend: "hard", Soft: window.Interval{Median: 2, Lo: 1, Hi: 3}, Bends: 5}}
	b.Boiler.Ring, b.Probes[0].ID = boiler.LowRing, "28-1"
	b.Ribs[0].Bend, b.Ribs[0].Stick, b.Ribs[0].Boat, b.Ribs[0].Meant = "easy", "a", "Wren", true
	return b
}

// everyEvent are two of each kind: with all the fields that it may have, and with those
// that it must.
func everyEvent(t *testing.T) []steambox.Event {
	t.Helper()
	box := whole()
	values := map[string]any{
		"rib": "7", "slot": "A", "outcome": "cracked", "where": "outside", "mark": "port", "alarm": "dry-now", "text": "windy <i>", "litres": 1.5, "temp_c": 20.5,
		"on": true, "item": "vent", "test": true, "with": "25", "across_pct": 20.0, "through_pct": 5.0, "lift_mm": -2.5, "minutes": 10.0, "earlier_s": 40.0, "of": "e1", "box": &box,
	}
	var out []steambox.Event
	for _, k := range steambox.Kinds {
		for _, fields := range [][]string{slices.Concat(k.Required, k.Optional), k.Required} {
			e := steambox.Event{ID: fmt.Sprint("e", len(out)), Kind: k.Kind, By: "page"}
			v := reflect.ValueOf(&e).Elem()
			for i := range v.NumField() {
				if name := schema.Key(v.Type().Field(i)); slices.Contains(fields, name) {
					v.Field(i).Set(reflect.ValueOf(values[name]))
				}
			}
			if err := e.Check(); err != nil {
				t.Fatalf("%s: %v", k.Kind, err)
			}
			out = append(out, e)
		}
	}
	return out
}

// everyLine exports a session with every kind of line.
func everyLine(t *testing.T) [][]byte {
	t.Helper()
	r := open(t, t.TempDir())
	id, err := r.Begin(whole(), Clock{Boot: "boot-1", Origin: 90 * time.Second}, morning)
	must(t, err)
	must(t, r.Sample(time.Second, morning, steambox.Sample{Probes: []steambox.ProbeSample{{MilliC: 98062}, {Fault: "absent"}, {MilliC: -62}, {}}, Level: boiler.Closed}))
	for i, e := range everyEvent(t) {
		must(t, r.Event(time.Duration(i+1)*time.Second+123, morning, e))
	}
	must(t, r.Moved(Clock{Boot: "boot-2", Origin: time.Minute, Undated: true}, morning))
	var out bytes.Buffer
	must(t, r.Export(&out, id))
	return slices.Collect(bytes.SplitSeq(bytes.TrimSpace(out.Bytes()), []byte("\n")))
}

func kindOf(t *testing.T, line []byte) string {
	t.Helper()
	var l struct{ Kind string }
	must(t, json.Unmarshal(line, &l))
	return l.Kind
}

func TestLinesKeepToTheSchema(t *testing.T) {
	s := lineSchema(t)
	seen := map[string]int{}
	for _, line := range everyLine(t) {
		if err := keeps(s, line); err != nil {
			t.Errorf("%.200s: %v", line, err)
		}
		seen[kindOf(t, line)]++
	}
	if len(seen) != len(steambox.Kinds)+3 {
		t.Errorf("lines of %v", seen)
	}
}

// Whatever makes a line wrong is refused, in each kind of line.
func TestWrongLinesAreRefused(t *testing.T) {
	s := lineSchema(t)
	var doc schema.Object
	must(t, json.Unmarshal(LineSchema(), &doc))
	for _, line := range everyLine(t) {
		kind := kindOf(t, line)
		if kind == lineSession {
			continue // all of its fields are tried below
		}
		refused := func(what string, change func(map[string]any)) {
			t.Helper()
			var fields map[string]any
			must(t, json.Unmarshal(line, &fields))
			change(fields)
			wrong, err := json.Marshal(fields)
			must(t, err)
			if keeps(s, wrong) == nil {
				t.Errorf("%s, %s: taken: %s", kind, what, wrong)
			}
		}
		refused("unknown kind", func(f map[string]any) { f["kind"] = "bent" })
		refused("no kind", func(f map[string]any) { delete(f, "kind") })
		refused("unknown field", func(f map[string]any) { f["degrees"] = 1 })
		refused("not a time", func(f map[string]any) { f["wall"] = "yesterday" })
		for _, field := range doc["$defs"].(schema.Object)[kind].(schema.Object)["required"].([]any) {
			refused("without "+field.(string), func(f map[string]any) { delete(f, field.(string)) })
		}
		var fields map[string]any
		must(t, json.Unmarshal(line, &fields))
		for field := range fields {
			refused(field+" of another type", func(f map[string]any) { f[field] = []any{map[string]any{"a": 1}} })
		}
	}
	head := string(everyLine(t)[0])
	for _, c := range [][2]string{
		{`"version":1`, `"version":2`}, {`"length_m":1.5`, `"length_m":"1.5"`}, {`"length_m":1.5,`, ``}, {`"x_m":0,`, ``}, {`"Kind":"open-pot"`, `"Kind":"pan"`},
		{`"length_m":1.5`, `"length_m":1.5,"long":2`}, {`"dryness":"green"`, `"dryness":"wet"`},
	} {
		wrong := strings.Replace(head, c[0], c[1], 1)
		if wrong == head {
			t.Errorf("no %s in %s", c[0], head)
		}
		if keeps(s, []byte(wrong)) == nil {
			t.Errorf("%s taken for %s", c[1], c[0])
		}
	}
}

// unitWords are the units, and what counts or compares.
var unitWords = []string{"in metres", "in millimetres", "in K", "in °C", "in seconds", "in minutes", "in litres", "in watts", "in pascal", "in percent",
	"in W/", "in m²/s", "no unit", "a share", "Number of"}

// Every field says what it is, and every number in which unit.
func TestEveryFieldIsDescribed(t *testing.T) {
	var doc schema.Object
	must(t, json.Unmarshal(LineSchema(), &doc))
	n := 0
	for where, def := range doc["$defs"].(schema.Object) {
		properties := def.(schema.Object)["properties"].(schema.Object)
		for _, name := range slices.Sorted(maps.Keys(properties)) {
			p := properties[name].(schema.Object)
			n++
			says, _ := p["description"].(string)
			if !strings.HasSuffix(says, ".") {
				t.Errorf("%s.%s: %q", where, name, says)
			}
			kind := p["type"]
			if items, ok := p["items"].(schema.Object); ok {
				kind = items["type"]
			}
			unit := slices.ContainsFunc(unitWords, func(u string) bool { return strings.Contains(says, u) })
			if (kind == "number" || kind == "integer") && !unit {
				t.Errorf("%s.%s: no unit in %q", where, name, says)
			}
		}
	}
	if n < 300 {
		t.Errorf("%d fields", n)
	}
}
