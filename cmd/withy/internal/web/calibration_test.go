package web

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"withy/steambox"
	"withy/steambox/calibrate"
)

func (o *told) Calibration() Calibration {
	var c Calibration
	full(reflect.ValueOf(&c).Elem())
	c.State, c.Place = CalibrationGoes, o.place
	return c
}

func (o *told) Calibrate(_ string, place calibrate.Place) error {
	o.place = place
	return o.refusal
}

func (o *told) EndCalibration(string) error {
	o.place = ""
	return o.refusal
}

func TestCalibration(t *testing.T) {
	for _, c := range []struct {
		method, path, kind, body string
		refusal                  error
		status                   int
		says                     string
	}{
		{"GET", "/api/calibration", "", "", nil, 200, `"state":"watching","place":"box","out":true`},
		{"POST", "/api/calibration", asJSON, `{"id":"a","place":"pot"}`, nil, 200, `"place":"pot"`},
		{"POST", "/api/calibration", asJSON, `{"id":"a","place":"ice"}`, &steambox.RefusedError{Why: "Not now."}, 409, "Not now."},
		{"POST", "/api/calibration", asJSON, `{"id":"a","place":"pot"}`, errors.New("inside"), 500, "just now"},
		{"POST", "/api/calibration", asJSON, `{"id":"a","place":"oven"}`, nil, 400, "pot, box or ice"},
		{"POST", "/api/calibration", asJSON, `{"id":"","place":"pot"}`, nil, 400, "an id of 1 to 200"},
		{"POST", "/api/calibration", asJSON, `{"id":"a","place":"pot","more":1}`, nil, 400, "pot, box or ice"},
		{"POST", "/api/calibration", asCSV, `{"id":"a","place":"pot"}`, nil, 415, ""},
		{"DELETE", "/api/calibration?id=b", "", "", nil, 200, `"state":"watching","out":true`},
		{"DELETE", "/api/calibration?id=b", "", "", &steambox.RefusedError{Why: "None."}, 409, "None."},
		{"DELETE", "/api/calibration", "", "", nil, 400, "id: 1 to 200"},
	} {
		w := ask(settingsHandler(&told{refusal: c.refusal, place: calibrate.Box}), c.method, c.path, c.body, "Content-Type", c.kind)
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s %s %q: %d %s", c.method, c.path, c.body, w.Code, w.Body)
		}
	}
}

// Where nothing calibrates, nothing is served.
func TestNoCalibration(t *testing.T) {
	if w := ask(serve(newShelf()), "GET", "/api/calibration", ""); w.Code != 404 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

func TestCalibrationIsAsDescribed(t *testing.T) {
	schemas := at(t, description(t), "components", "schemas")
	var got any
	w := ask(settingsHandler(&told{place: calibrate.Box}), "GET", "/api/calibration", "")
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	compare(t, "calibration", got, at(t, schemas, "Calibration"), schemas)
}
