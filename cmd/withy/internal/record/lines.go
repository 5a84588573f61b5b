package record

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"

	"withy/cmd/withy/internal/schema"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/window"
)

// LineSchema is the JSON Schema 2020-12 of a line that Export writes: any but an empty
// one. It is made from the types that are written and from the table of kinds of event.
// Import asks for more, which no schema can say: numbers that rise, and no exponents.
func LineSchema() []byte {
	contacts := schema.Words(boiler.Unknown.String(), boiler.Closed.String(), boiler.Open.String())
	fields := map[string]schema.Object{
		"headLine.kind": {"const": lineSession}, "headLine.version": {"const": lineVersion},
		"sampleFields.level": contacts, "sampleFields.door": contacts,
	}
	for name, words := range steambox.FieldWords {
		fields["Event."+name] = schema.Words(words...)
	}
	types := &schema.Types{At: "#/$defs/", Named: schema.Object{}, Fields: fields, Known: map[reflect.Type]schema.Object{
		reflect.TypeFor[steambox.After]():    {"type": "object"}, // what is reckoned with, as it stands
		reflect.TypeFor[seconds]():           {"type": "number"},
		reflect.TypeFor[milli]():             {"type": "number"},
		reflect.TypeFor[boiler.Kind]():       schema.Words(boiler.Kinds...),
		reflect.TypeFor[boiler.Ring]():       schema.Words(append(boiler.Rings, "")...),
		reflect.TypeFor[pace.Way]():          schema.Words(pace.Ways...),
		reflect.TypeFor[window.Dryness]():    schema.Words(window.Drynesses...),
		reflect.TypeFor[window.Outcome]():    schema.Words(window.Outcomes...),
		reflect.TypeFor[window.Difficulty](): schema.Words(append(window.Difficulties, "")...),
	}}
	kinds, defs := describeKinds(types)
	maps.Copy(defs, types.Named)
	var each []schema.Object
	for _, kind := range kinds {
		is := schema.Object{"properties": schema.Object{"kind": schema.Object{"const": kind}}, "required": []string{"kind"}}
		each = append(each, schema.Object{"if": is, "then": schema.Object{"$ref": types.At + kind}})
	}
	b, err := json.MarshalIndent(schema.Object{
		"$schema": "https://json-schema.org/draft/2020-12/schema",
		"title":   "A line of an exported session",
		"description": "The first line is the session, every other an entry, in the order they came to be. What isn't known, or is no, is absent." +
			" Quantities are in the unit that the description names; times and temperatures are plain decimals, without exponents.",
		"type": "object", "required": []string{"kind"},
		"properties": schema.Object{"kind": schema.Object{"enum": kinds}},
		"allOf":      each,
		"$defs":      defs,
	}, "", " ")
	if err != nil {
		panic(err) // text, numbers and maps always marshal
	}
	return append(b, '\n')
}

// describeKinds lists the kinds of line and describes each.
func describeKinds(types *schema.Types) (kinds []string, defs schema.Object) {
	defs = schema.Object{}
	add := func(kind, says string, properties schema.Object, required []string) {
		one := schema.Closed(properties, required)
		one["description"] = says
		kinds, defs[kind] = append(kinds, kind), one
	}
	head, always := types.Properties(reflect.TypeFor[headLine]())
	add(lineSession, "The session and its box, on the first line.", head, always)

	entry, always := types.Properties(reflect.TypeFor[entryLine]())
	of := func(kind string, more schema.Object) schema.Object {
		out := maps.Clone(entry)
		maps.Copy(out, more)
		out["kind"] = schema.Object{"const": kind, "description": "What the line tells."}
		return out
	}
	sample, _ := types.Properties(reflect.TypeFor[sampleFields]())
	add(lineSample, "What all sensors said at one moment.", of(lineSample, sample), append(always, "level", "door"))
	clock, _ := types.Properties(reflect.TypeFor[clockFields]())
	add(lineClock, "The clock that elapsed time comes from, from here on: another after each start of the board, and where its clock of the day came to be known.", of(lineClock, clock), append(always, "origin_s"))

	told, _ := types.Properties(reflect.TypeFor[steambox.Event]())
	for _, k := range steambox.Kinds {
		own := schema.Object{}
		for _, field := range slices.Concat([]string{"id", "by"}, k.Required, k.Optional) {
			own[field] = told[field]
		}
		add(string(k.Kind), k.Says, of(string(k.Kind), own), slices.Concat(always, []string{"id"}, k.Required))
	}
	return kinds, defs
}
