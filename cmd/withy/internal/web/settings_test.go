package web

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"testing"

	"withy/steambox"
	"withy/steambox/calibrate"
)

// told is settings that take what they are told, or refuse it.
type told struct {
	values  map[string]any
	table   string
	back    bool // a table was taken back
	refusal error
	place   calibrate.Place // of the calibration; "" where it was ended
	erased  bool
}

func (o *told) List() []Setting {
	return []Setting{{Key: "place.altitude_m", Group: "place", Says: "Height", Kind: "number", Unit: "m", Hi: 5500, Value: 250.0, From: "file"}}
}

func (o *told) Set(_ context.Context, _ string, values map[string]any) error {
	o.values = values
	return o.refusal
}

func (o *told) Ribs() []byte  { return []byte("rib,length_mm\n1,1100\n") }
func (o *told) Bends() []byte { return []byte("exposure_min,outcome\n2.6,supple\n") }

func (o *told) Calibrator() Calibrator { return o }

func (o *told) TablesSet() (ribs, bends bool) { return true, false }

func (o *told) SetRibs(_ context.Context, _ string, table []byte) (int, error) {
	o.table, o.back = string(table), table == nil
	return 24, o.refusal
}

func (o *told) SetBends(_ context.Context, _ string, table []byte) (int, error) {
	o.table = string(table)
	return 5, o.refusal
}

func (o *told) Erase(context.Context) error {
	o.erased = true
	return o.refusal
}

func settingsHandler(o *told) http.Handler {
	return newHandler(newShelf(), o, http.NotFoundHandler(), Entry{}, quiet, page)
}

func TestSettings(t *testing.T) {
	wrong := &MistakesError{All: []string{"place.altitude_m: 9000 is outside 0 to 5500"}}
	for _, c := range []struct {
		method, path, kind, body string
		refusal                  error
		status                   int
		says                     string
	}{
		{"GET", "/api/settings", "", "", nil, 200, `"key":"place.altitude_m","group":"place","says":"Height","kind":"number","unit":"m","lo":0,"hi":5500,"value":250,"from":"file"}],"ribs_set":true,"bends_set":false`},
		{"POST", "/api/settings", asJSON, `{"id":"a","set":{"place.altitude_m":1200}}`, nil, 200, `"ok":true`},
		{"POST", "/api/settings", asJSON, `{"id":"a","set":{"place.altitude_m":9000}}`, wrong, 400, `"mistakes":["place.altitude_m: 9000 is outside 0 to 5500"]`},
		{"POST", "/api/settings", asJSON, `{"id":"a","set":{"x":1}}`, &steambox.RefusedError{Why: "Not now."}, 409, "Not now."},
		{"POST", "/api/settings", asJSON, `{"id":"a","set":{"x":1}}`, errors.New("disk"), 503, "written down"},
		{"POST", "/api/settings", asJSON, `{"id":"","set":{"x":1}}`, nil, 400, "an id of 1 to 200"},
		{"POST", "/api/settings", asJSON, `{"id":"a","set":{}}`, nil, 400, "the values by their keys"},
		{"POST", "/api/settings", asJSON, `{"id":"a","set":{"x":1},"more":1}`, nil, 400, "the values by their keys"},
		{"POST", "/api/settings", asCSV, `{"id":"a","set":{"x":1}}`, nil, 415, ""},
		{"GET", "/api/ribs", "", "", nil, 200, "rib,length_mm"},
		{"POST", "/api/ribs?id=a", asCSV, "rib,length_mm\n1,1100\n", nil, 200, `{"ok":true,"ribs":24}`},
		{"DELETE", "/api/ribs?id=a", "", "", nil, 200, `{"ok":true,"ribs":24}`},
		{"DELETE", "/api/ribs", "", "", nil, 400, "id: 1 to 200"},
		{"POST", "/api/ribs?id=a", asCSV, "x", wrong, 400, "9000"},
		{"POST", "/api/ribs", asCSV, "x", nil, 400, "id: 1 to 200"},
		{"POST", "/api/ribs?id=a", asJSON, "x", nil, 415, "text/csv"},
		{"POST", "/api/ribs?id=a", asCSV, strings.Repeat("x", mostTable+1), nil, 413, "65536 bytes"},
		{"GET", "/api/bends", "", "", nil, 200, "exposure_min,outcome"},
		{"POST", "/api/bends?id=a", asCSV, "outcome\n", nil, 200, `{"ok":true,"bends":5}`},
	} {
		w := ask(settingsHandler(&told{refusal: c.refusal}), c.method, c.path, c.body, "Content-Type", c.kind)
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s %s %.40q: %d %s", c.method, c.path, c.body, w.Code, w.Body)
		}
	}
}

func TestSettingsAreHandedOn(t *testing.T) {
	o := &told{}
	ask(settingsHandler(o), "POST", "/api/settings", `{"id":"a","set":{"box.slots":["A"],"place.altitude_m":null}}`, "Content-Type", asJSON)
	if v, there := o.values["place.altitude_m"]; !there || v != nil || len(o.values["box.slots"].([]any)) != 1 {
		t.Errorf("handed on were %v", o.values)
	}
	ask(settingsHandler(o), "POST", "/api/bends?id=a", "outcome\n", "Content-Type", asCSV)
	if o.table != "outcome\n" {
		t.Errorf("handed on was %q", o.table)
	}
	for _, c := range []struct {
		method string
		back   bool
	}{{"POST", false}, {"DELETE", true}} {
		ask(settingsHandler(o), c.method, "/api/ribs?id=a", "", "Content-Type", asCSV)
		if o.back != c.back {
			t.Errorf("%s of nothing: taken back is %v", c.method, o.back)
		}
	}
}

// What is set has a way in of its own: no event can carry it.
func TestSetIsNoEvent(t *testing.T) {
	for _, body := range []string{`{"id":"a","kind":"set"}`, `{"id":"a","kind":"set","box":{}}`, `{"id":"a","kind":"note","text":"x","box":{}}`} {
		if w := ask(serve(newShelf()), "POST", "/api/event", body, "Content-Type", asJSON); w.Code != http.StatusBadRequest {
			t.Errorf("%s: %d %s", body, w.Code, w.Body)
		}
	}
}

func TestErase(t *testing.T) {
	for body, want := range map[string]int{`{"erase":"everything"}`: 200, `{"erase":""}`: 400, `{"erase":"everything","id":"1"}`: 400, `{}`: 400, `[]`: 400, ``: 400} {
		o := &told{}
		w := ask(settingsHandler(o), "POST", "/api/erase", body, "Content-Type", "application/json")
		if w.Code != want || o.erased != (want == 200) {
			t.Errorf("%s: %d %s, erased %v", body, w.Code, w.Body, o.erased)
		}
	}
	o := &told{refusal: &steambox.RefusedError{Why: "Not while it is hot."}}
	if w := ask(settingsHandler(o), "POST", "/api/erase", `{"erase":"everything"}`, "Content-Type", "application/json"); w.Code != 409 || !strings.Contains(w.Body.String(), "Not while") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}
