package main

import (
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"withy/sensor"
)

// examples are the keys whose values in the example are not defaults: what a board has
// can't be guessed.
var examples = regexp.MustCompile(`^probes`)

// hidden are defaults that the reader of a key fills in.
var hidden = map[string]string{
	"board.w1_root":    sensor.DefaultW1Root,
	"board.iio_root":   sensor.DefaultIIORoot,
	"board.hwmon_root": sensor.DefaultHwmonRoot,
}

// Every key of the configuration stands in the example, each line of it says what it is,
// and what is given there as a default is what a file that says nothing comes to.
func TestExample(t *testing.T) {
	text, err := os.ReadFile(exampleFile)
	if err != nil {
		t.Fatal(err)
	}
	var c config
	if _, err := readLines(exampleFile, text, &c); err != nil {
		t.Fatal(err)
	}
	sections := map[string]string{}
	section := ""
	for line := range strings.Lines(string(text)) {
		if key := regexp.MustCompile(`^(\w+):`).FindStringSubmatch(line); key != nil {
			section = key[1]
		}
		sections[section] += line
		if regexp.MustCompile(`^\s+\w+:.*\S`).MatchString(line) && !strings.Contains(line, "#") {
			t.Errorf("no comment on %s", strings.TrimSpace(line))
		}
	}
	eachKey(reflect.ValueOf(c), reflect.ValueOf(defaults()), "", func(key string, stands, holds reflect.Value) {
		top, _, _ := strings.Cut(key, ".")
		last := key[strings.LastIndex(key, ".")+1:]
		if !regexp.MustCompile(`\b` + last + `:`).MatchString(sections[top]) {
			t.Errorf("%s does not stand in %s", key, exampleFile)
		}
		if !holds.IsValid() || examples.MatchString(key) {
			return
		}
		want := holds.Interface()
		if text, ok := hidden[key]; ok {
			want = text
		}
		written := regexp.MustCompile(`(?m)^\s*` + last + `:`).MatchString(sections[top])
		if holds.Kind() == reflect.Slice && holds.Len() == 0 && stands.Len() == 0 {
			return
		}
		if got := stands.Interface(); !reflect.DeepEqual(got, want) && (written || !holds.IsZero()) {
			t.Errorf("%s: %v in %s, and the default is %v", key, got, exampleFile, want)
		}
	})
	for _, o := range offers { // what the page offers to choose from, the file does too
		top, last, _ := strings.Cut(o.Key, ".")
		for _, word := range append(o.Words, last+":") {
			if !strings.Contains(sections[top], word) {
				t.Errorf("%s: %s does not stand in %s", o.Key, word, exampleFile)
			}
		}
	}
}

// eachKey calls what for each key below a block: with its value in two configurations,
// and for the keys of the blocks of a list with no values.
func eachKey(a, b reflect.Value, within string, what func(key string, a, b reflect.Value)) {
	for i := range a.NumField() {
		key := strings.TrimPrefix(within+"."+a.Type().Field(i).Tag.Get("yaml"), ".")
		x, y := a.Field(i), reflect.Value{}
		if b.IsValid() {
			y = b.Field(i)
		}
		kind := x.Type()
		if kind.Kind() == reflect.Struct {
			eachKey(x, y, key, what)
			continue
		}
		what(key, x, y)
		if kind.Kind() == reflect.Slice || kind.Kind() == reflect.Pointer {
			if kind = kind.Elem(); kind.Kind() == reflect.Struct {
				eachKey(reflect.Zero(kind), reflect.Value{}, key, what)
			}
		}
	}
}
