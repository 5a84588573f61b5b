// Package view is what the daemon publishes after every change: one immutable
// value that the page, the metrics and the outputs read.
package view

import (
	"time"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// View is all that there is to see of a box at one moment.
type View struct {
	Seq      uint64          `json:"seq"`              // rises by one with every change
	Session  string          `json:"session"`          // of the record
	Number   int             `json:"number,omitempty"` // painted on the box; absent: the only one
	Wall     time.Time       `json:"wall"`             // by a clock that anybody may set: a label
	Status   steambox.Status `json:"status"`
	Says     []string        `json:"says"`           // one sentence for each of Status.Calls
	StopSays string          `json:"stop_says"`      // the answer to "can I stop?"
	Asks     string          `json:"asks,omitempty"` // about Status.Proposal
	HullSays []string        `json:"hull_says"`      // one or two sentences for each of Status.Hulls
	Advice   []string        `json:"advice"`         // on pace, stick and spares: nothing urgent
	Rig      []words.RigLine `json:"rig"`            // what to see to before the first rib
	Alarms   []alert.Alarm   `json:"alarms"`         // the most urgent first
	Troubles []string        `json:"troubles"`       // of the program itself: settings, record, outputs
	Units    measure.Units   `json:"units"`          // that people see; every figure here is metric, but those in sentences
	Speed    float64         `json:"speed"`          // how fast the rehearsal goes; 1 on a board
	Sound    Sounding        `json:"sound"`
	Answer   Answer          `json:"answer"`
	Outputs  []Output        `json:"outputs"` // the ways to reach somebody away from the box
	Box      *steambox.Box   `json:"-"`       // as it is settled now, for what is reckoned beside the loop
}

// Sounding is the sound that began last, so that the page can make it too.
type Sounding struct {
	N     uint64      `json:"n"` // rises by one with every sound
	Sound alert.Sound `json:"sound,omitempty"`
}

// Heartbeat is the kind of an output that only tells a watcher outside that the board lives.
const Heartbeat = "heartbeat"

// Output is one way to reach somebody, and whether it works.
type Output struct {
	Name    string   `json:"name"`
	Kind    string   `json:"kind"`             // topic, webhook, alertmanager, mqtt or heartbeat
	GoodS   *float64 `json:"good_s,omitempty"` // seconds since something was last taken; absent: nothing was since the start
	BadS    *float64 `json:"bad_s,omitempty"`  // seconds since something last failed
	Fails   string   `json:"fails,omitempty"`  // why the last attempt failed; absent where it did not
	Waiting int      `json:"waiting"`          // alarms that it has not been told of
	Taken   int      `json:"taken"`            // messages that were taken since the start
	Failed  int      `json:"failed"`           // attempts that failed
	Late    bool     `json:"late"`             // one of high priority has waited for half a minute; three heartbeats in a row were not taken
}

// Tried is what became of a test message by one output.
type Tried struct {
	Name string `json:"name"`
	Kind string `json:"kind"`
	OK   bool   `json:"ok"`             // it was taken; whether it arrived only people can tell
	Says string `json:"says,omitempty"` // why it was not
	Key  string `json:"key,omitempty"`  // of the output's setting that may be at fault
}

// Trace is a stretch of the session's past, one value a column a moment; nil is
// a reading that failed.
type Trace struct {
	ElapsedS []float64    `json:"elapsed_s"`
	Probes   [][]*float64 `json:"probes"` // one row per probe, steam end first, °C as measured
	Level    []int        `json:"level"`  // 0 unknown, 1 closed: water above it, 2 open: low
	Events   []TraceEvent `json:"events"`
}

// TraceEvent is something that the crew did.
type TraceEvent struct {
	ElapsedS float64        `json:"elapsed_s"`
	Event    steambox.Event `json:"event"`
}
