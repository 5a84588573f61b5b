package rehearsal

import (
	"math"
	"time"

	"withy/steambox/unit"
)

// Habit is how long the crew takes over one thing.
type Habit struct {
	Median time.Duration
	LogSD  float64 // spread in ln
	Late   float64 // share of times that something comes between
	Factor float64 // and by how much longer it then takes, at least 1
}

// Fitter is the crew as pure data. Whoever plays the crew reads it and draws
// delays with World.Delay; nothing here acts.
type Fitter struct {
	React Habit // from a call to the hand on the rib
	Swap  Habit // from a pull to the next rib in
	Carry Habit // from a pull to the bend
	Fit   Habit // from the bend to hands free
	Pour  Habit // from a kettle call, the kettle boiled, to the water in

	Refills  bool         // false: nobody heeds a kettle call
	PourL    float64      // litres poured at a time
	PourTemp unit.Celsius // and how hot

	FallsBehind Excursion
}

// Excursion is a spell during which everything takes longer.
type Excursion struct {
	From, To time.Duration // elapsed; none when both are 0
	Factor   float64
}

// Task is one thing the crew takes time over.
type Task string

// The tasks that World.Delay knows; the fields of Fitter.
const (
	React Task = "react"
	Swap  Task = "swap"
	Carry Task = "carry"
	Fit   Task = "fit"
	Pour  Task = "pour"
)

// habit returns the task's habit. An unknown task takes no time.
func (f *Fitter) habit(t Task) Habit {
	return map[Task]Habit{React: f.React, Swap: f.Swap, Carry: f.Carry, Fit: f.Fit, Pour: f.Pour}[t]
}

// delay draws how long a task begun at now takes.
func (f *Fitter) delay(t Task, now time.Duration, d dice) time.Duration {
	h := f.habit(t)
	s := h.Median.Seconds() * math.Exp(d.normal(0, h.LogSD))
	if d.chance(h.Late) {
		s *= h.Factor
	}
	if e := f.FallsBehind; now >= e.From && now < e.To {
		s *= e.Factor
	}
	return time.Duration(s * float64(time.Second)).Round(100 * time.Millisecond)
}

// drawFitter draws a crew of common practice: about 7 s to bend and 7 s to shape
// thin ribs, some 45 s to clamp, 90 s from rib to rib.
func drawFitter(d dice) Fitter {
	seconds := func(lo, hi float64) time.Duration {
		return time.Duration(d.between(lo, hi) * float64(time.Second)).Round(100 * time.Millisecond)
	}
	return Fitter{
		React:   Habit{seconds(2, 5), 0.4, 0.06, 4},
		Swap:    Habit{seconds(4, 9), 0.25, 0.05, 3},
		Carry:   Habit{seconds(4, 7), 0.2, 0, 1},
		Fit:     Habit{seconds(40, 60), 0.2, 0.08, 1.6},
		Pour:    Habit{seconds(15, 40), 0.3, 0.1, 2},
		Refills: true, PourL: 1.5, PourTemp: 96,
	}
}
