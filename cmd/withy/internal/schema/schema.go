// Package schema describes Go's types as JSON Schema 2020-12: what encoding/json makes of
// them. The description of a field is its tag "means".
package schema

import (
	"maps"
	"reflect"
	"slices"
	"strings"
	"time"
)

// Object is a JSON object of a description.
type Object = map[string]any

// Types describes types. One with a name is described once, in Named, and referred to.
type Types struct {
	At    string                  // where the document has Named, such as "#/$defs/"
	Named Object                  // by the name of the type
	Known map[reflect.Type]Object // types that are described so
	// Fields are those that are described so, by their type and key, such as
	// "Event.outcome"; nil for one that is left out.
	Fields map[string]Object
}

// Words describes a text that holds one of a few words.
func Words[T ~string](all ...T) Object {
	out := make([]string, len(all))
	for i, t := range all {
		out[i] = string(t)
	}
	return Object{"type": "string", "enum": out}
}

// Of describes a type.
func (s *Types) Of(t reflect.Type) Object {
	if known, ok := s.Known[t]; ok {
		return maps.Clone(known)
	}
	switch t.Kind() {
	case reflect.Pointer:
		return s.Of(t.Elem()) // a nil one is absent, or null in a list
	case reflect.String:
		return Object{"type": "string"}
	case reflect.Bool:
		return Object{"type": "boolean"}
	case reflect.Float64:
		return Object{"type": "number"}
	case reflect.Map: // values by a key, whatever they are
		return Object{"type": "object"}
	case reflect.Interface:
		return Object{}
	case reflect.Int, reflect.Int64, reflect.Uint64:
		return Object{"type": "integer"}
	case reflect.Slice:
		return Object{"type": []string{"array", "null"}, "items": s.item(t.Elem())}
	case reflect.Array:
		return Object{"type": "array", "items": s.item(t.Elem()), "minItems": t.Len(), "maxItems": t.Len()}
	case reflect.Struct:
		return s.structure(t)
	}
	panic("schema: none of " + t.String())
}

// item describes a list's members, which may be missing readings.
func (s *Types) item(t reflect.Type) Object {
	if t.Kind() == reflect.Pointer {
		return Object{"anyOf": []Object{s.Of(t), {"type": "null"}}}
	}
	return s.Of(t)
}

func (s *Types) structure(t reflect.Type) Object {
	if t == reflect.TypeFor[time.Time]() {
		return Object{"type": "string", "format": "date-time"}
	}
	if t.Name() == "" {
		return Closed(s.Properties(t))
	}
	if _, ok := s.Named[t.Name()]; !ok {
		s.Named[t.Name()] = nil // so that a type may hold itself
		s.Named[t.Name()] = Closed(s.Properties(t))
	}
	return Object{"$ref": s.At + t.Name()}
}

// Properties describes the fields of a struct by their keys, and lists those that are
// always there. What it embeds is left to the caller.
func (s *Types) Properties(t reflect.Type) (properties Object, required []string) {
	properties = Object{}
	for f := range t.Fields() {
		key := Key(f)
		if f.Anonymous || key == "-" {
			continue
		}
		of, ok := s.Fields[t.Name()+"."+key]
		switch {
		case ok && of == nil:
			continue
		case ok:
			of = maps.Clone(of)
		default:
			of = s.Of(f.Type)
		}
		if means := f.Tag.Get("means"); means != "" {
			of["description"] = means
		}
		properties[key] = of
		if !strings.Contains(f.Tag.Get("json"), "omitempty") {
			required = append(required, key)
		}
	}
	return properties, required
}

// Key is the name that a field has in JSON; "-" of one that isn't written.
func Key(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	if name == "" {
		return f.Name
	}
	return name
}

// Closed describes an object that has these properties and no others.
func Closed(properties Object, required []string) Object {
	out := Object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		out["required"] = slices.Sorted(slices.Values(required))
	}
	return out
}
