package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"withy/cmd/withy/internal/table"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/window"
)

// Any text is a configuration that the box can be made of, or each of its mistakes is
// named with the file.
func FuzzConfig(f *testing.F) {
	text, err := os.ReadFile(exampleFile)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("probes: [{name: steam, id: 28-000000000001, lag: -1s}]\nbox: {slots: [A, A], level: 9e9h}\npage: {listen: ':', hosts: ['*'], tls: off}"))
	f.Add([]byte("a: &a [*a]"))
	f.Add([]byte("probes:\n  - {name: steam, id: iio:max31865/temp, element: {kind: thermistor, reference_ohm: 430, table: [{c: 1, ohm: 1}]}}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c := defaults()
		at, err := readLines("f.yaml", text, &c)
		if err != nil {
			named(t, err)
			return
		}
		settles(t, c, at)
	})
}

// A variable of the environment goes before the file, and has its mistake named in its place.
func FuzzEnvironment(f *testing.F) {
	keys := []string{"PLACE_SHOP_C", "BOX_SLOTS", "PROBES", "RUN_CREW", "SHOP_NUMBER", "SHOP_BOXES", "OUTPUTS", "PAGE_LISTEN", "PAGE_HOSTS", "BOARD_LEVEL", "UNITS", "DATA", "WOOD_SPECIES", "LOG_KEEP_DAYS"}
	for i, text := range []string{
		"12.5", "[A, B]", "[{name: steam, id: 28-000000000001}]", "90s", "3", "[{number: 1, at: 'http://box-1.lan'}]", "[{name: x, kind: mqtt, url: 'mqtt://x', topic: a/b}]",
		"10.42.0.1:80", "[box.lan]", "{line: GPIO17}", "us", "/x", "&a [*a]", "!!binary x", "1e999",
	} {
		f.Add(uint8(i), text)
	}
	file, err := os.ReadFile(exampleFile)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, which uint8, text string) {
		if strings.ContainsRune(text, 0) {
			return // no environment holds it
		}
		t.Setenv("WITHY_"+keys[int(which)%len(keys)], text)
		c := defaults()
		at, err := readLines("f.yaml", file, &c)
		if err != nil {
			t.Fatal(err)
		}
		if err := at.environment(reflect.ValueOf(&c).Elem(), ""); err != nil {
			if !strings.HasPrefix(err.Error(), "WITHY_") {
				t.Errorf("%q names no variable", err)
			}
			return
		}
		settles(t, c, at)
	})
}

// settles fails unless a configuration makes a box, or each of its mistakes is named with the
// file or the variable.
func settles(t *testing.T, c config, at lines) {
	t.Helper()
	// Files that it names are read by parsers that have targets of their own.
	c.Boat.Ribs, c.Window.Bends, c.Page.Certificate, c.Page.Key = "", "", "", ""
	r := settler{c: c, at: at}
	s := r.settle()
	if err := errors.Join(r.mistakes...); err != nil {
		if !strings.HasPrefix(err.Error(), "WITHY_") {
			named(t, err)
		}
		return
	}
	if err := s.Box.Check(); err != nil {
		t.Errorf("let through: %v", err)
	}
	if _, err := json.Marshal(s); err != nil {
		t.Errorf("it can't be kept for the next start: %v", err)
	}
}

// What is listed by a flag is numbers in their range, or each that isn't is named.
func FuzzLists(f *testing.F) {
	for _, text := range []string{"1.0,2.0,3.0", "300, 600 ,900", "", ",", "NaN", "1e309", "900,300", "0x1p-1"} {
		f.Add(text)
	}
	s := settings{Box: defaultBox}
	s.Box.Probes = []steambox.BoxProbe{{Name: "steam", ID: "x"}, {Name: "door", ID: "y", XM: 1.5}}
	f.Fuzz(func(t *testing.T, text string) {
		if tried, err := (&windowFlags{candidates: &text}).readCandidates(); err == nil {
			for _, x := range tried {
				if !(x >= window.MinExposure && x <= window.MaxExposure) {
					t.Errorf("candidates %q: %v", text, tried)
				}
			}
		}
		if places, err := (&surveyFlags{at: &text, slotAt: new(float64)}).places(s); err == nil {
			for i, x := range places {
				if !(x > 0 && x < 1.5) || i > 0 && x <= places[i-1] {
					t.Errorf("places %q: %v", text, places)
				}
			}
		}
	})
}

// named fails unless an error begins with the file.
func named(t *testing.T, err error) {
	t.Helper()
	if !strings.HasPrefix(err.Error(), "f.yaml") {
		t.Errorf("%q names no file", err)
	}
}

// Any text is a table, or each of its mistakes is named with the file.
func FuzzTables(f *testing.F) {
	for _, text := range []string{
		"rib,length_mm,station_mm,bend,meant\n1,943,-20,hard,yes\n2,\"9,43\",,,\n", "exposure_min,outcome,stick\n2.5,supple,oak\n1e300,stiff,\n", "soak_s,outcome\n300,cracked\n",
		"elapsed_s,steam_c,door_c,witness_c\n0,20,20,\n1,,20,15\n1e308,1,1,1\n", "rib,station_mm,mark,steam_exposure_min,door_exposure_min,weight\n1,0,port,4,3,1\n",
		"\ufeffrib,length_mm\r\n\"1", "rib;length_mm\n1;9,43\n", "\x00",
	} {
		f.Add([]byte(text))
	}
	name := filepath.Join(f.TempDir(), "f.csv")
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(name, text, 0o600); err != nil {
			t.Fatal(err)
		}
		read := map[string]func() (any, error){
			"ribs":    func() (any, error) { return readRibs(name, defaultBox.Common) },
			"planned": func() (any, error) { return readPlanned(name) },
			"fitted":  func() (any, error) { return readFitted(name) },
			"trace":   func() (any, error) { return readTrace(name) },
			"bends": func() (any, error) {
				f, err := table.Read(name, bytes.NewReader(text), bendColumns)
				if err != nil {
					return nil, err
				}
				sticks, err := sticksOf(f)
				if err != nil {
					return nil, err
				}
				return byTheirHeat("bends", sticks)
			},
		}
		for kind, parse := range read {
			rows, err := parse()
			if err != nil {
				if err.Error() == "" || len(err.Error()) > 100e3 {
					t.Errorf("%s: %d letters of mistakes", kind, len(err.Error()))
				}
				continue
			}
			finite(t, kind, reflect.ValueOf(rows))
		}
		if ribs, err := readRibs(name, defaultBox.Common); err == nil {
			b := defaultBox
			b.Probes = []steambox.BoxProbe{{Name: "steam", ID: "x"}}
			if b.Ribs = ribs; b.Check() != nil {
				t.Errorf("ribs let through: %v", b.Check())
			}
		}
	})
}

// finite fails where a number in v is none.
func finite(t *testing.T, where string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if math.IsInf(v.Float(), 0) || math.IsNaN(v.Float()) && where != "trace" { // where a trace has no reading
			t.Errorf("%s: %v", where, v.Float())
		}
	case reflect.Slice:
		for i := range v.Len() {
			finite(t, where, v.Index(i))
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			finite(t, where, v.Elem())
		}
	case reflect.Struct:
		for _, field := range v.Fields() {
			finite(t, where, field)
		}
	}
}

// What lies in the data folder as set on the page makes a box, or changes nothing.
func FuzzOverlay(f *testing.F) {
	f.Add([]byte(`{"values":{"place.altitude_m":1200,"units":"us","box.slots":["A"],"run.crew":"90s","boat.spares":3},"ribs":[{"label":"1","length_m":1}],"bends":[]}`))
	f.Add([]byte(`{"values":{"wood.species":"oak","place.pressure_pa":null}}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var o overlay
		if json.Unmarshal(text, &o) != nil {
			return
		}
		b, units := defaultBox, measure.Metric
		b.Probes = []steambox.BoxProbe{{Name: "steam", ID: "x"}, {Name: "door", ID: "y", XM: 1.5}}
		was := b
		if err := o.apply(&b, &units); err != nil {
			if !reflect.DeepEqual(b, was) || units != measure.Metric {
				t.Errorf("refused, and changed: %v", err)
			}
			return
		}
		if err := b.Check(); err != nil {
			t.Errorf("let through: %v", err)
		}
	})
}

// The last good settings are whole, or they are none.
func FuzzLastGood(f *testing.F) {
	f.Add([]byte(`{"units":"metric","box":{},"page":{"listen":"127.0.0.1:8017"}}`))
	good, err := json.Marshal(settings{Box: defaultBox, Units: measure.Metric, Data: "x"})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	data := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(filepath.Join(data, goodFile), text, 0o600); err != nil {
			t.Fatal(err)
		}
		s, troubles, err := lastGood(filepath.Join(data, "none.yaml"), data)
		if err == nil && (s.Box.Check() != nil || len(troubles) == 0) {
			t.Errorf("in use without a word: %v %v", s.Box.Check(), troubles)
		}
	})
}
