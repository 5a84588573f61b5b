package web

import (
	"encoding/json"
	"maps"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"

	"withy/alert"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/plan"
)

func description(t *testing.T) object {
	t.Helper()
	var doc object
	if err := json.Unmarshal(ask(settingsHandler(&told{}), "GET", "/api/openapi.json", "").Body.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	return doc
}

// at walks down the description.
func at(t *testing.T, o object, path ...string) object {
	t.Helper()
	for _, name := range path {
		next, ok := o[name].(object)
		if !ok {
			t.Fatalf("no %q on the way %q", name, path)
		}
		o = next
	}
	return o
}

func TestEveryRouteIsDescribed(t *testing.T) {
	paths := at(t, description(t), "paths")
	s := newShelf()
	served := newServer(s, &told{}, Entry{}, quiet, page).routes(http.NotFoundHandler())
	described := 0
	for path := range paths {
		described += len(at(t, paths, path))
	}
	for _, r := range served {
		at(t, paths, r.path, strings.ToLower(r.method), "responses")
	}
	if described != len(served) {
		t.Errorf("described are %v", slices.Sorted(maps.Keys(paths)))
	}
	for _, path := range []string{"/", "/metrics", "/healthz", "/api/status", "/api/events", "/api/event", "/api/trace", "/api/plan", "/plan", "/report", "/api/settings", "/api/ribs", "/api/bends", "/api/calibration", "/api/openapi.json"} {
		at(t, paths, path)
	}
}

// full fills every field of a value, so that nothing is left out of its JSON.
func full(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		full(v.Elem())
	case reflect.Struct:
		for _, field := range v.Fields() {
			if field.CanSet() {
				full(field)
			}
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		full(v.Index(0))
	case reflect.Array:
		for i := range v.Len() {
			full(v.Index(i))
		}
	case reflect.String:
		v.SetString("x")
	case reflect.Float64:
		v.SetFloat(1)
	case reflect.Int:
		v.SetInt(1)
	case reflect.Uint64:
		v.SetUint(1)
	case reflect.Bool:
		v.SetBool(true)
	}
}

// What is served has exactly the keys that are described, at every depth.
func TestStatusIsAsDescribed(t *testing.T) {
	schemas := at(t, description(t), "components", "schemas")
	s := newShelf()
	var v view.View
	full(reflect.ValueOf(&v).Elem())
	s.put(&v)
	var got any
	if err := json.Unmarshal(ask(serve(s), "GET", "/api/status", "").Body.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	compare(t, "view", got, at(t, schemas, "View"), schemas)
}

func compare(t *testing.T, where string, got any, schema, schemas object) {
	if ref, ok := schema["$ref"].(string); ok {
		schema = at(t, schemas, strings.TrimPrefix(ref, "#/components/schemas/"))
	}
	switch got := got.(type) {
	case object:
		properties := at(t, schema, "properties")
		if a, b := slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(properties)); !slices.Equal(a, b) {
			t.Errorf("%s: served are %v, described %v", where, a, b)
			return
		}
		for name := range got {
			compare(t, where+"."+name, got[name], at(t, properties, name), schemas)
		}
	case []any:
		for _, item := range got {
			compare(t, where+"[]", item, at(t, schema, "items"), schemas)
		}
	}
}

func TestEventsAreDescribedByTheTable(t *testing.T) {
	event := at(t, description(t), "components", "schemas", "Event")
	each := event["oneOf"].([]any)
	if len(each) != len(steambox.Kinds)-4 { // the daemon makes four itself
		t.Fatalf("%d kinds described, %d there", len(each), len(steambox.Kinds))
	}
	for i, k := range toldKinds() {
		one := each[i].(object)
		if one["description"] != k.Says || len(one["required"].([]any)) != 2+len(k.Required) {
			t.Errorf("%s: described as %v", k.Kind, one)
		}
	}
	if got := at(t, event, "properties", "outcome")["enum"].([]any); len(got) != len(steambox.Outcomes) {
		t.Errorf("outcomes are %v", got)
	}
}

// The words of a type that the description lists are all that the type has.
func TestWords(t *testing.T) {
	for kind, n := range map[reflect.Type]int{
		reflect.TypeFor[steambox.Phase](): 6, reflect.TypeFor[steambox.CallKind](): 6, reflect.TypeFor[steambox.RibPlace](): 3,
		reflect.TypeFor[plan.Source](): 3, reflect.TypeFor[alert.Sound](): 6, reflect.TypeFor[alert.State](): 5, reflect.TypeFor[alert.Priority](): 3,
	} {
		if got := words[kind]["enum"].([]string); len(got) != n {
			t.Errorf("%v has %v", kind, got)
		}
	}
}
