// Package hail tells people and programs away from the box of its alarms: by a push to a
// phone, a signed webhook, a broker, an alert manager.
//
// Each output has a book of what it hasn't been told yet and a goroutine of its own, so one
// that hangs holds up neither the others nor the loop. What waits during an outage is merged
// into one notice, the newest state first. Everything is told at least once: a notice may come
// twice, and a raise carries the same key each time. Time is counted on the process's
// monotonic clock, which nobody can set.
package hail

import (
	"context"
	"time"

	"withy/alert"
)

// Alarm is an alarm as a notice tells of it.
type Alarm struct {
	Key string `json:"key"` // of this raise: the same however often it is told
	alert.Alarm
	Over bool `json:"over"` // it is not so any more
	New  bool `json:"new"`  // this notice tells of it; the others are so still
}

// Notice is what an output is told: what is up now, the most urgent first, then what is over.
type Notice struct {
	Box     string // as the settings name it
	Session string // of the record
	Alarms  []Alarm
	LeftOut int  // how many alarms that came and went are not told of, because too many waited
	Test    bool // nothing is wrong: somebody wants to see that it arrives
}

// Way is one way to reach somebody.
type Way interface {
	// Send tells a notice and returns nil once it was taken. A *Failure says in words why it
	// wasn't, and when to try again. It gives up when ctx ends, is called by one goroutine at
	// a time, and must name no secret in an error.
	Send(ctx context.Context, n Notice) error
}

// Keeper is a Way that holds a connection. It is told how things stand, with nothing up too, once
// it has connected.
type Keeper interface {
	Way
	// Keep connects, stays connected until ctx is done, and calls changed with nil when a
	// connection is there and else with why none is. It returns at once; ended waits for its end.
	Keep(ctx context.Context, changed func(error)) (ended func())
}

// Failure is why a notice was not taken.
type Failure struct {
	Says  string        // in words, with what to do, and without any secret
	Key   string        // of the setting to be looked at; "" where it isn't one of them
	After time.Duration // how long the other side wants to be left alone; 0: it didn't say
}

// Error returns the words.
func (f *Failure) Error() string { return f.Says }

// Output is one output as it is set.
type Output struct {
	Name  string // as people know it
	Kind  string // topic, webhook, alertmanager, mqtt, heartbeat
	Way   Way
	Least alert.Priority // the lowest that it is told of
	Again time.Duration  // how often what is up is told again; 0: never
}

// rank orders the priorities, the most urgent first.
var rank = map[alert.Priority]int{alert.High: 0, alert.Medium: 1, alert.Low: 2}
