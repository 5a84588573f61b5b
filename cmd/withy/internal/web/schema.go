package web

import (
	"reflect"

	"withy/alert"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/schema"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/plan"
)

// schemasAt is where the description has the types that are served and taken.
const schemasAt = "#/components/schemas/"

// words are the types of text that hold one of a few words.
var words = map[reflect.Type]object{
	reflect.TypeFor[steambox.Kind]():     schema.Words(kindNames()...),
	reflect.TypeFor[steambox.Phase]():    schema.Words(steambox.Cold, steambox.Warming, steambox.Ready, steambox.Running, steambox.Cooling, steambox.NoProbes),
	reflect.TypeFor[steambox.CallKind](): schema.Words(steambox.PullCall, steambox.LoadCall, steambox.HoldCall, steambox.WaitCall, steambox.DoneCall, steambox.DryCall),
	reflect.TypeFor[steambox.RibPlace](): schema.Words(steambox.Waiting, steambox.InBox, steambox.Out),
	reflect.TypeFor[steambox.RigItem]():  schema.Words(steambox.RigItems...),
	reflect.TypeFor[steambox.RigState](): schema.Words(steambox.RigOpen, steambox.RigGood, steambox.RigWrong),
	reflect.TypeFor[boiler.Kind]():       schema.Words(boiler.Kinds...),
	reflect.TypeFor[plan.Source]():       schema.Words(plan.Told, plan.Learnt, plan.Guessed),
	reflect.TypeFor[door.Role]():         schema.Words(door.Nobody, door.View, door.Crew),
	reflect.TypeFor[alert.Priority]():    schema.Words(alert.High, alert.Medium, alert.Low),
	reflect.TypeFor[alert.State]():       schema.Words(alert.States...),
	reflect.TypeFor[alert.Sound]():       schema.Words(alert.Silent, alert.Look, alert.ReadySoon, alert.Pull, alert.Kettle, alert.Danger),
}

// newTypes describes what is served and taken. An event is told without the field that
// the crew does not tell.
func newTypes() *schema.Types {
	fields := map[string]object{"Event." + ownField: nil}
	for name, allowed := range steambox.FieldWords {
		fields["Event."+name] = schema.Words(allowed...)
	}
	return &schema.Types{At: schemasAt, Named: object{}, Known: words, Fields: fields}
}

func kindNames() []steambox.Kind {
	var out []steambox.Kind
	for _, k := range toldKinds() {
		out = append(out, k.Kind)
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
