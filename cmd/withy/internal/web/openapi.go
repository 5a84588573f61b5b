package web

import (
	"encoding/json"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/schema"
	"withy/steambox"
)

// object is a JSON object of the description.
type object = schema.Object

// describe returns the OpenAPI document of what is served, made from the tables
// that serve it.
func describe(routes []route) []byte {
	types := newTypes()
	paths := object{}
	for _, r := range routes {
		at, _ := paths[r.path].(object)
		if at == nil {
			at = object{}
			paths[r.path] = at
		}
		at[strings.ToLower(r.method)] = operation(r, types)
	}
	doc := object{
		"openapi": "3.1.0",
		"info": object{
			"title": "Withy", "version": "1",
			"description": "What a steam box knows and what its crew did. Numbers are in the unit that the key names; what isn't known is absent.",
			"license":     object{"name": "Apache 2.0", "identifier": "Apache-2.0"},
		},
		"paths": paths,
		"components": object{"schemas": types.Named, "securitySchemes": object{
			"token":  object{"type": "http", "scheme": "bearer", "description": "Of a program: `withy pair --token NAME`."},
			"cookie": object{"type": "apiKey", "in": "cookie", "name": "__Host-withy", "description": "Of a browser that was paired; withy where there is no TLS."},
		}},
	}
	b, err := json.MarshalIndent(doc, "", " ")
	if err != nil {
		panic(err) // text, numbers and maps always marshal
	}
	return b
}

func operation(r route, types *schema.Types) object {
	out := object{"summary": r.does, "operationId": operationID(r)}
	if need := r.needs(); need != door.Nobody {
		out["security"] = []object{{"token": []string{string(need)}}, {"cookie": []string{string(need)}}}
	}
	var params []object
	for _, p := range r.params {
		params = append(params, object{"name": p.name, "in": p.in, "required": p.in == "path",
			"description": p.does, "schema": object{"type": p.kind}})
	}
	if params != nil {
		out["parameters"] = params
	}
	if r.body != nil {
		out["requestBody"] = object{"required": true, "content": object{asJSON: object{"schema": types.Of(r.body)}}}
		if r.body == reflect.TypeFor[steambox.Event]() {
			kindsOf(types)
		}
	}
	if r.text != "" {
		out["requestBody"] = object{"required": true, "content": object{r.text: object{"schema": object{"type": "string"}}}}
	}
	answers := object{}
	for _, a := range slices.Concat(r.answers, r.turnedAway()) {
		answers[strconv.Itoa(a.status)] = answer(a, types)
	}
	out["responses"] = answers
	return out
}

// turnedAway is what those are answered who may not.
func (r route) turnedAway() []reply {
	var out []reply
	if r.needs() != door.Nobody {
		out = append(out, problem(http.StatusUnauthorized, "Who asks is not paired."))
	}
	if r.needs() == door.Crew && r.method == http.MethodGet {
		out = append(out, problem(http.StatusForbidden, "Who asks may only look."))
	}
	return out
}

func answer(a reply, types *schema.Types) object {
	out := object{"description": a.does}
	if a.kind == "" {
		return out
	}
	media := object{}
	switch {
	case a.kind == asStream:
		types.Of(a.body) // of the beat; the view has its own name
		media["schema"] = object{"type": "string"}
	case a.body != nil:
		media["schema"] = types.Of(a.body)
	}
	out["content"] = object{a.kind: media}
	return out
}

// operationID names a route for those who make a client from the description.
func operationID(r route) string {
	words := strings.FieldsFunc(r.path, func(c rune) bool { return !(c >= 'a' && c <= 'z') })
	if len(words) == 0 {
		words = []string{"page"}
	}
	return strings.ToLower(r.method) + "_" + strings.Join(words, "_")
}

// kindsOf adds to the event's schema which fields belong to each kind, from the
// table of kinds.
func kindsOf(types *schema.Types) {
	event := types.Named[reflect.TypeFor[steambox.Event]().Name()].(object)
	properties := event["properties"].(object)
	var each []object
	for _, k := range toldKinds() {
		own := object{"kind": object{"const": string(k.Kind)}}
		allowed := append(slices.Clone(k.Required), k.Optional...)
		for name := range properties {
			if !slices.Contains(allowed, name) && !slices.Contains([]string{"id", "kind", "by"}, name) {
				own[name] = false
			}
		}
		one := object{"title": string(k.Kind), "description": k.Says, "properties": own}
		one["required"] = append([]string{"id", "kind"}, k.Required...)
		each = append(each, one)
	}
	event["oneOf"] = each
}
