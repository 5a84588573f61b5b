package web

import (
	"reflect"
	"strings"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/door"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/plan"
)

// schemas are the JSON schemas of our types by name.
type schemas map[string]any

// words are the types of text that hold one of a few words.
var words = map[reflect.Type][]string{
	reflect.TypeFor[steambox.Kind]():     kindNames(),
	reflect.TypeFor[steambox.Phase]():    texts(steambox.Cold, steambox.Warming, steambox.Ready, steambox.Running, steambox.Cooling, steambox.NoProbes),
	reflect.TypeFor[steambox.CallKind](): texts(steambox.PullCall, steambox.LoadCall, steambox.HoldCall, steambox.WaitCall, steambox.DoneCall, steambox.DryCall),
	reflect.TypeFor[steambox.RibPlace](): texts(steambox.Waiting, steambox.InBox, steambox.Out),
	reflect.TypeFor[steambox.RigItem]():  texts(steambox.RigItems...),
	reflect.TypeFor[steambox.RigState](): texts(steambox.RigOpen, steambox.RigGood, steambox.RigWrong),
	reflect.TypeFor[boiler.Kind]():       texts(boiler.Kinds...),
	reflect.TypeFor[plan.Source]():       texts(plan.Told, plan.Learnt, plan.Guessed),
	reflect.TypeFor[door.Role]():         texts(door.Nobody, door.View, door.Crew),
	reflect.TypeFor[alert.Priority]():    texts(alert.High, alert.Medium, alert.Low),
	reflect.TypeFor[alert.State]():       texts(alert.States...),
	reflect.TypeFor[alert.Sound]():       texts(alert.Silent, alert.Look, alert.ReadySoon, alert.Pull, alert.Kettle, alert.Danger),
}

// fieldWords are the words that a field of an event may hold.
var fieldWords = map[string][]string{"outcome": steambox.Outcomes, "where": steambox.Wheres, "mark": steambox.Marks, "item": steambox.RigTold}

func kindNames() []string {
	var out []string
	for _, k := range toldKinds() {
		out = append(out, string(k.Kind))
	}
	return out
}

func texts[T ~string](all ...T) []string {
	out := make([]string, len(all))
	for i, t := range all {
		out[i] = string(t)
	}
	return out
}

// of returns the schema of a type; a struct with a name is described once and
// referred to.
func (s schemas) of(t reflect.Type) object {
	if allowed, ok := words[t]; ok {
		return object{"type": "string", "enum": allowed}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return s.of(t.Elem()) // a nil one is absent, or null in a list
	case reflect.String:
		return object{"type": "string"}
	case reflect.Bool:
		return object{"type": "boolean"}
	case reflect.Float64:
		return object{"type": "number"}
	case reflect.Map: // values by a key, whatever they are
		return object{"type": "object"}
	case reflect.Interface:
		return object{}
	case reflect.Int, reflect.Uint64:
		return object{"type": "integer"}
	case reflect.Slice:
		return object{"type": []string{"array", "null"}, "items": s.item(t.Elem())}
	case reflect.Array:
		return object{"type": "array", "items": s.item(t.Elem()), "minItems": t.Len(), "maxItems": t.Len()}
	case reflect.Struct:
		return s.structure(t)
	}
	panic("web: no schema for " + t.String())
}

// item returns the schema of a list's members, which may be missing readings.
func (s schemas) item(t reflect.Type) object {
	if t.Kind() == reflect.Pointer {
		return object{"anyOf": []object{s.of(t), {"type": "null"}}}
	}
	return s.of(t)
}

func (s schemas) structure(t reflect.Type) object {
	if t == reflect.TypeFor[time.Time]() {
		return object{"type": "string", "format": "date-time"}
	}
	if t.Name() == "" {
		return s.fields(t)
	}
	if _, ok := s[nameOf(t)]; !ok {
		s[nameOf(t)] = nil // so that a type may hold itself
		s[nameOf(t)] = s.fields(t)
	}
	return object{"$ref": "#/components/schemas/" + nameOf(t)}
}

// nameOf is a type's name in the description.
func nameOf(t reflect.Type) string { return t.Name() }

func (s schemas) fields(t reflect.Type) object {
	properties, required := object{}, []string{}
	for f := range t.Fields() {
		name := jsonName(f)
		if name == "-" || name == ownField && t == reflect.TypeFor[steambox.Event]() {
			continue
		}
		of := s.of(f.Type)
		if allowed, ok := fieldWords[name]; ok && t == reflect.TypeFor[steambox.Event]() {
			of = object{"type": "string", "enum": allowed}
		}
		properties[name] = of
		if !strings.Contains(f.Tag.Get("json"), "omitempty") {
			required = append(required, name)
		}
	}
	out := object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		out["required"] = required
	}
	return out
}
