// Package alert decides what is wrong, how loudly and until when it is said, and
// to whom: rules over a box's status, the life of an alarm, and the outputs.
package alert

// ID names a kind of alarm; it is stable across versions.
type ID string

// Priority says how soon an alarm wants an answer.
type Priority string

// High: injury, fire or the loss of the boiler within minutes. Medium: the ribs
// in the box or the watch over them are at stake. Low: it can wait.
const (
	High   Priority = "high"
	Medium Priority = "medium"
	Low    Priority = "low"
)

// State is where an alarm is in its life, in the words that people meet.
type State string

// An alarm in none of them is normal and not shown.
const (
	Raised  State = "raised"  // it is so, and nobody has heard it
	HeardBy State = "heard"   // it is so, and somebody has
	Cleared State = "cleared" // it is over, but nobody ever heard it
	Latched State = "latched" // it is over and was heard; it stays until reset
	Off     State = "off"     // put off for some minutes, so or not
)

// States is all that people meet.
var States = []State{Raised, HeardBy, Cleared, Latched, Off}

// Sound is one of the four that the buzzer and the page make, or a short look.
type Sound string

// Danger is used for pressure, a dry boiler and lost steam, and for nothing else.
const (
	Silent    Sound = ""
	Look      Sound = "look" // one short pulse: something to read on the page
	ReadySoon Sound = "ready soon"
	Pull      Sound = "pull"
	Kettle    Sound = "kettle"
	Danger    Sound = "danger"
)

// Alarm is one alarm that is not normal, as the page and the outputs show it.
type Alarm struct {
	ID          ID       `json:"id"`
	On          string   `json:"on,omitempty"` // the probe, rib or output that it is about
	Title       string   `json:"title"`
	Priority    Priority `json:"priority"`
	State       State    `json:"state"`
	Sound       Sound    `json:"sound,omitempty"`
	SinceS      float64  `json:"since_s"` // elapsed time of the session at which it was raised
	Cause       string   `json:"cause"`
	Consequence string   `json:"consequence"`
	Do          []string `json:"do"`       // at most three steps
	WithinS     float64  `json:"within_s"` // how soon they are wanted
	Latching    bool     `json:"latching"`
	MostOffMin  float64  `json:"most_off_min"`         // for how long it may be put off; 0: not at all
	OffTillS    float64  `json:"off_till_s,omitempty"` // elapsed time at which it is said again; of one that is off
	FirstOut    bool     `json:"first_out"`            // the first of its group
	Hushed      bool     `json:"hushed,omitempty"`     // there are so many that only the high ones sound
	Count       int      `json:"count"`                // how often it was raised
}

// Key is what Heard, Reset and PutOff name an alarm by: its id, and what it is on.
func (a Alarm) Key() string { return key(a.ID, a.On) }

func key(id ID, on string) string {
	if on == "" {
		return string(id)
	}
	return string(id) + "/" + on
}
