package steambox

import (
	"errors"
	"fmt"
	"slices"

	"withy/steambox/boiler"
)

// Kind is what the crew did or told.
type Kind string

// The kinds of event. Kinds describes each with its fields.
const (
	Filled   Kind = "filled"   // the boiler was filled, cold
	Refilled Kind = "refilled" // water was poured on
	Level    Kind = "level"    // a level was read by eye
	KettleOn Kind = "kettle"   // the backup kettle was put on
	Heat     Kind = "heat"     // the burner or element was switched
	Loaded   Kind = "loaded"   // a rib went into a slot
	Pulled   Kind = "pulled"   // a rib was pulled
	Outcome  Kind = "outcome"  // how a rib bent
	Fitted   Kind = "fitted"   // which way round a rib went in
	Split    Kind = "split"    // how far a crack goes
	Replaced Kind = "replaced" // another rib took a broken one's place
	KeelLift Kind = "keel"     // how far the keel lifted
	Peeped   Kind = "peeped"   // the door was opened, and nothing went in or out
	Break    Kind = "break"    // load no more for now
	Back     Kind = "back"     // the crew is back
	Start    Kind = "start"    // start though the box isn't level yet
	Heard    Kind = "heard"    // an alarm was heard
	Reset    Kind = "reset"    // a latched alarm was reset
	Remind   Kind = "remind"   // an alarm was put off
	Note     Kind = "note"     // a remark for the log
	Checked  Kind = "checked"  // an item of the rig check is in order
	Dry      Kind = "dry"      // a dry run begins or ends
	Round    Kind = "round"    // of a dry run: back at the box
	Forget   Kind = "forget"   // what the dry runs taught
	Struck   Kind = "struck"   // what was told before never happened
	Set      Kind = "set"      // the box was set otherwise: made by the daemon, not by the crew
	Reach    Kind = "reach"    // an output fell silent or can be reached again: made by the daemon
	Beat     Kind = "beat"     // a watcher outside takes no sign of life, or does again: made by the daemon
	Board    Kind = "board"    // something ails the board, or is well again: made by the daemon
	Amended  Kind = "amended"  // what was told before happened otherwise, or earlier
)

// Event is one thing that the crew did or told. The tag means is what the descriptions
// say of a field.
type Event struct {
	ID         string  `json:"id" means:"Made by who tells it; one that is told twice counts once."`
	Kind       Kind    `json:"kind" means:"What was done or told."`
	Rib        string  `json:"rib,omitempty" means:"Label of the rib."`
	Slot       string  `json:"slot,omitempty" means:"Letter of the slot."`
	Outcome    string  `json:"outcome,omitempty" means:"How the rib bent."`
	Where      string  `json:"where,omitempty" means:"Where the rib cracked."`
	Mark       string  `json:"mark,omitempty" means:"Which side of the boat the rib's mark went to."`
	Alarm      string  `json:"alarm,omitempty" means:"Name of the alarm, and behind a slash the probe or the rib that it is about."`
	Text       string  `json:"text,omitempty" means:"A remark, or the name of what it is about."`
	Litres     float64 `json:"litres,omitempty" means:"Water, in litres as poured cold."`
	TempC      float64 `json:"temp_c,omitempty" means:"How hot the water was that was poured in, in °C."`
	On         bool    `json:"on,omitempty" means:"Whether it is so, or in order; absent for no."`
	Item       string  `json:"item,omitempty" means:"Item of the rig check."`
	Test       bool    `json:"test,omitempty" means:"Whether it is an offcut, bent to learn; absent for no."`
	With       string  `json:"with,omitempty" means:"Label of the rib that took the place."`
	AcrossPct  float64 `json:"across_pct,omitempty" means:"How far the crack goes across the rib, in percent of its width."`
	ThroughPct float64 `json:"through_pct,omitempty" means:"How far the crack goes through the rib, in percent of its thickness."`
	LiftMM     float64 `json:"lift_mm,omitempty" means:"How far the keel lifted off its blocks, in millimetres."`
	Minutes    float64 `json:"minutes,omitempty" means:"For how long the alarm is put off, in minutes."`
	EarlierS   float64 `json:"earlier_s,omitempty" means:"How long before it was told it really happened, in seconds."`
	Of         string  `json:"of,omitempty" means:"Id of the event that is corrected."`
	By         string  `json:"by,omitempty" means:"By what it was told, such as page, button or rehearsal."`
	Box        *Box    `json:"box,omitempty" means:"The box as it is set from then on, whole."`
}

// KindInfo describes a kind of event: the table behind the descriptions of the API and of
// an exported session.
type KindInfo struct {
	Kind     Kind
	Says     string
	Required []string
	Optional []string
}

// Kinds is the table of all kinds.
var Kinds = []KindInfo{
	{Filled, "The boiler was filled cold and holds so many litres.", []string{"litres"}, []string{"earlier_s"}},
	{Refilled, "So many litres were poured in on top; temp_c is how hot they were, boiling if not told.", nil, []string{"litres", "temp_c", "earlier_s"}},
	{Level, "Somebody read the level: the boiler holds so many litres.", []string{"litres"}, []string{"earlier_s"}},
	{KettleOn, "The backup kettle was put on.", nil, nil},
	{Heat, "The burner or the element was switched on or off by hand.", nil, []string{"on"}},
	{Loaded, "A rib went into a slot, its mark towards the door; test says that it is an offcut, bent to learn.", []string{"rib", "slot"}, []string{"test", "earlier_s"}},
	{Pulled, "The rib in a slot was pulled.", []string{"slot"}, []string{"earlier_s"}},
	{Outcome, "A rib bent supple, stiff or cracked; where it cracked: outside, inside or snapped.", []string{"rib", "outcome"}, []string{"where"}},
	{Fitted, "A rib was fitted with its mark to port or starboard.", []string{"rib", "mark"}, nil},
	{Split, "How far a rib's crack goes, in percent of its width and of its thickness: up to 25 % of both it can be glued.", []string{"rib"}, []string{"across_pct", "through_pct"}},
	{Replaced, "Rib with took the place of rib, which had broken.", []string{"rib", "with"}, nil},
	{KeelLift, "The keel was measured: it lifted so far off its blocks.", nil, []string{"lift_mm"}},
	{Peeped, "The door was opened, earlier_s ago, and nothing went in or out.", nil, []string{"earlier_s"}},
	{Break, "Load no more for now.", nil, nil},
	{Back, "The crew is back; loading goes on.", nil, nil},
	{Start, "Start loading although the box isn't level yet.", nil, nil},
	{Heard, "An alarm was heard; it stays on the page but sounds no more.", []string{"alarm"}, nil},
	{Reset, "A latched alarm is over.", []string{"alarm"}, nil},
	{Remind, "An alarm is off for so many minutes; if it is so then, it is said again. Not every alarm can be put off.", []string{"alarm", "minutes"}, nil},
	{Note, "A remark for the log.", []string{"text"}, nil},
	{Checked, "An item of the rig check was looked at; on says that it is in order.", []string{"item"}, []string{"on"}},
	{Dry, "A dry run, without steam, begins or ends; what an earlier one taught stays.", nil, []string{"on"}},
	{Round, "A round of the dry run is done: back at the box.", nil, nil},
	{Forget, "What the dry runs taught is to be learnt again; one that is on goes on.", nil, nil},
	{Set, "The box is set otherwise from now on; what was told and seen stays.", []string{"box"}, nil},
	{Reach, "A way to reach somebody, named in text, could not tell of an alarm in time; on says that it can again.", []string{"text"}, []string{"on"}},
	{Beat, "A watcher outside, named in text, took three signs of life in a row not; on says that it does again.", []string{"text"}, []string{"on"}},
	{Board, "What text names, one of hot, full and unkept, ails the board; without on it is well again.", []string{"text"}, []string{"on"}},
	{Struck, "The event with the id in of never happened; everything after it is reckoned again. Striking a correction takes it back.", []string{"of"}, nil},
	{Amended, "The event with the id in of happened with these fields instead, or earlier_s before it was told; everything after it is reckoned again.",
		[]string{"of"}, []string{"rib", "slot", "outcome", "where", "mark", "litres", "temp_c", "text", "with", "across_pct", "through_pct", "lift_mm", "earlier_s"}},
}

// ByDaemon reports whether the daemon makes such events, so that nobody can tell them.
func (k Kind) ByDaemon() bool { return k == Set || k == Board || k == Reach || k == Beat }

// The words that an event's fields may hold.
var (
	Outcomes = []string{"supple", "stiff", "cracked"}
	Wheres   = []string{"outside", "inside", "snapped"}
	Marks    = []string{"port", "starboard"}
)

// FieldWords are those words by the name of the field.
var FieldWords = map[string][]string{"outcome": Outcomes, "where": Wheres, "mark": Marks, "item": RigTold}

// longestAgoS is how much earlier than told something may have happened.
const longestAgoS = 12 * 3600

// maxText is the longest text or id that an event may carry, in bytes.
const maxText = 200

// Check returns what is wrong with the event by itself, whatever the session.
func (e *Event) Check() error {
	i := slices.IndexFunc(Kinds, func(k KindInfo) bool { return k.Kind == e.Kind })
	if i < 0 {
		return fmt.Errorf("kind: %q is not one of the kinds of event", e.Kind)
	}
	c := checker{}
	if e.ID == "" || len(e.ID) > maxText {
		c.add("id: 1 to %d characters, made by the client", maxText)
	}
	given := e.fields()
	for _, f := range Kinds[i].Required {
		if !slices.Contains(given, f) {
			c.add("%s: missing for %s", f, e.Kind)
		}
	}
	for _, f := range given {
		if !slices.Contains(Kinds[i].Required, f) && !slices.Contains(Kinds[i].Optional, f) {
			c.add("%s: does not belong to %s", f, e.Kind)
		}
	}
	e.checkFields(&c)
	return errors.Join(c...)
}

// fields lists the fields that are filled in.
func (e *Event) fields() []string {
	var given []string
	for _, f := range []struct {
		name string
		set  bool
	}{
		{"rib", e.Rib != ""}, {"slot", e.Slot != ""}, {"outcome", e.Outcome != ""}, {"where", e.Where != ""},
		{"mark", e.Mark != ""}, {"alarm", e.Alarm != ""}, {"text", e.Text != ""}, {"litres", e.Litres != 0},
		{"temp_c", e.TempC != 0}, {"on", e.On}, {"item", e.Item != ""},
		{"test", e.Test}, {"with", e.With != ""}, {"across_pct", e.AcrossPct != 0}, {"through_pct", e.ThroughPct != 0},
		{"lift_mm", e.LiftMM != 0}, {"minutes", e.Minutes != 0}, {"earlier_s", e.EarlierS != 0}, {"of", e.Of != ""}, {"box", e.Box != nil},
	} {
		if f.set {
			given = append(given, f.name)
		}
	}
	return given
}

func (e *Event) checkFields(c *checker) {
	for _, f := range [][2]string{{"outcome", e.Outcome}, {"where", e.Where}, {"mark", e.Mark}, {"item", e.Item}} {
		if words := FieldWords[f[0]]; f[1] != "" && !slices.Contains(words, f[1]) {
			c.add("%s: %q is not one of %v", f[0], f[1], words)
		}
	}
	if e.Box != nil {
		c.join(e.Box.Check())
	}
	c.number("litres", e.Litres, 0, 500)
	c.number("temp_c", e.TempC, 0, 100)
	c.number("across_pct", e.AcrossPct, 0, 100)
	c.number("through_pct", e.ThroughPct, 0, 100)
	c.number("lift_mm", e.LiftMM, -100, 100)
	c.number("minutes", e.Minutes, 0, 60)
	c.number("earlier_s", e.EarlierS, 0, longestAgoS)
	for _, f := range [][2]string{{"text", e.Text}, {"rib", e.Rib}, {"slot", e.Slot}, {"alarm", e.Alarm}, {"of", e.Of}, {"with", e.With}, {"by", e.By}} {
		if len(f[1]) > maxText {
			c.add("%s: %d bytes; at most %d", f[0], len(f[1]), maxText)
		}
	}
}

// Sample is what all sensors said at one moment.
type Sample struct {
	Probes []ProbeSample // in the order of Box.Probes
	Level  boiler.Contact
	Door   boiler.Contact
}

// ProbeSample is one probe's reading, in thousandths of a degree so that what is
// recorded is what was reckoned with.
type ProbeSample struct {
	MilliC int32
	Fault  string // kind of fault; "" for a good reading
}

// OutToCalibrate is the Fault of a probe that somebody has taken out of the box to
// calibrate it.
const OutToCalibrate = "calibrating"
