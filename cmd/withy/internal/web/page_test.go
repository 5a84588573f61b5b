package web

import (
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"withy/alert"
	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/schema"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/steambox"
)

// sources returns what the page is made from, one text for each file.
func sources(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir("ui/src", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		out[filepath.Base(path)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The page has a word for every alarm and every fault.
func TestPageKnowsAllWords(t *testing.T) {
	words := sources(t)["words.ts"]
	for _, r := range alert.Rules {
		if !strings.Contains(words, `"`+string(r.ID)+`": "`) {
			t.Errorf("alarm %s has no word in words.ts", r.ID)
		}
	}
	for _, k := range sensor.FaultKinds() {
		if !strings.Contains(words, `"`+k.String()+`": "`) {
			t.Errorf("fault %s has no words in words.ts", k)
		}
	}
}

// What the page tells is of a kind that there is.
func TestPageTellsKnownEvents(t *testing.T) {
	told := regexp.MustCompile(`\{ kind: "(\w+)"`)
	known := map[string]bool{}
	for _, k := range steambox.Kinds {
		known[string(k.Kind)] = true
	}
	n := 0
	for name, text := range sources(t) {
		for _, m := range told.FindAllStringSubmatch(text, -1) {
			n++
			if !known[m[1]] {
				t.Errorf("%s tells %q", name, m[1])
			}
		}
	}
	if n < 10 {
		t.Errorf("only %d events found", n)
	}
}

// The page has words for every kind of event, for the log and for putting it right.
func TestPageHasWordsForEveryEvent(t *testing.T) {
	words := sources(t)["words.ts"]
	for _, k := range steambox.Kinds {
		if !strings.Contains(words, `case "`+string(k.Kind)+`": return `) {
			t.Errorf("event %s has no words in words.ts", k.Kind)
		}
	}
}

// Everything that a press can mean can be set for a key, and nothing else.
func TestPageKnowsEveryPress(t *testing.T) {
	list := regexp.MustCompile(`presses: Press\[\] = \[(.*)\]`).FindStringSubmatch(sources(t)["device.ts"])
	if list == nil {
		t.Fatal("device.ts lists no presses")
	}
	want := slices.Sorted(slices.Values(view.Presses))
	got := strings.Split(strings.ReplaceAll(list[1], `"`, ""), ", ")
	if slices.Sort(got); !slices.Equal(got, want) {
		t.Errorf("the page sets %q, the daemon takes %q", got, want)
	}
}

// The page reads only what the daemon serves, by the names that it has there.
func TestPageReadsWhatIsServed(t *testing.T) {
	served := map[string]bool{}
	for _, of := range []any{view.View{}, view.Trace{}, view.Tried{}, steambox.Event{}, boxes.ShopView{}} {
		names(reflect.TypeOf(of), served)
	}
	shape := regexp.MustCompile(`(?ms)^export interface \w+ \{\n(.*?)^\}`)
	field := regexp.MustCompile(`(\w+)\??: `)
	n := 0
	for _, body := range shape.FindAllStringSubmatch(sources(t)["state.ts"]+sources(t)["shop-state.ts"], -1) {
		for line := range strings.Lines(body[1]) {
			code, _, _ := strings.Cut(line, "//")
			for _, m := range field.FindAllStringSubmatch(code, -1) {
				n++
				if !served[m[1]] {
					t.Errorf("the page reads %s, which nothing serves", m[1])
				}
			}
		}
	}
	if n < 100 {
		t.Errorf("only %d fields found", n)
	}
}

// names enters the names that a type and all in it have in JSON.
func names(of reflect.Type, into map[string]bool) {
	switch of.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		names(of.Elem(), into)
	case reflect.Struct:
		for f := range of.Fields() {
			if f.IsExported() && f.Tag.Get("json") != "-" {
				into[schema.Key(f)] = true
				names(f.Type, into)
			}
		}
	}
}

// The page works without any network but the board's: it names no address
// elsewhere, but for that of the drawing's language.
func TestPageNamesNoOtherPlace(t *testing.T) {
	elsewhere := regexp.MustCompile(`https?://[^"' ]+`)
	for name, text := range sources(t) {
		for _, u := range elsewhere.FindAllString(text, -1) {
			if u != "http://www.w3.org/2000/svg" {
				t.Errorf("%s names %s", name, u)
			}
		}
	}
}
