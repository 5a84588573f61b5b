package report

import (
	"slices"
	"time"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/unit"
)

// Notes are taken along the way of a session, entry by entry: what can't be told from
// the session as it is at the end. They belong to one goroutine.
type Notes struct {
	events  []steambox.Entry
	moments []moment
	boiledS float64
	alarms  []Alarm
	unseen  []Unseen
	warm    steambox.WarmUp // the first; the box forgets it when it is cold again
	lastS   float64         // latest time of an entry
}

// moment is what the sensors came to at one sample.
type moment struct {
	atS   float64
	endC  [2]float32 // corrected, where seen
	seen  [2]bool
	leftL [3]float32 // best guess, least, most, where known
	known bool
}

// Alarm is one alarm from when it was raised until it was over.
type Alarm struct {
	Title   string         `json:"title"`
	On      string         `json:"on,omitempty"` // the probe or the rib
	How     alert.Priority `json:"priority"`
	RaisedS float64        `json:"raised_s"`
	HeardS  *float64       `json:"heard_s,omitempty"` // absent where nobody said so
	OverS   *float64       `json:"over_s,omitempty"`  // absent where it was still so at the end

	id  alert.ID
	key string
}

// Unseen is a stretch of time in which a probe, or everything, could not be read.
type Unseen struct {
	FromS float64 `json:"from_s"`
	ToS   float64 `json:"to_s"`
	Probe string  `json:"probe,omitempty"` // "": nobody watched, or no probe could be read

	open bool
}

// goneS is how long after a sample the next counts as late: nobody watched in between.
const goneS = 10

// Sample notes what a session made of a sample: its signals and the alarms after it.
func (n *Notes) Sample(at time.Duration, session *steambox.Session, s *steambox.Status, alarms []alert.Alarm) {
	if n.warm.ReadyS == nil {
		if w := session.WarmUp(); w.FirstSteamS != nil || w.Forced {
			n.warm = w
		}
	}
	m := moment{atS: at.Seconds()}
	lastS := m.atS
	if len(n.moments) > 0 {
		lastS = n.moments[len(n.moments)-1].atS
	}
	gone := m.atS-lastS > goneS
	if gone {
		n.gap(lastS)
	} else if s.Water.Boiling {
		n.boiledS += m.atS - lastS
	}
	n.watchProbes(m.atS, s.Probes)
	for e, i := range map[unit.End]int{unit.SteamEnd: 0, unit.DoorEnd: len(s.Probes) - 1} {
		if c := s.Probes[i].TempC; c != nil && (e == unit.SteamEnd || i > 0) {
			m.endC[e], m.seen[e] = float32(*c), true
		}
	}
	if w := s.Water; w.LeftL != nil {
		m.leftL, m.known = [3]float32{float32(*w.LeftL), float32(*w.LeftLoL), float32(*w.LeftHiL)}, true
	}
	n.moments = append(n.moments, m)
	n.watchAlarms(m.atS, alarms)
}

// gap begins a stretch in which nobody watched, which the next sample ends. Where no probe
// could be read before it, that goes on; what was out alone was last known to be so then.
func (n *Notes) gap(lastS float64) {
	for i := range n.unseen {
		u := &n.unseen[i]
		u.open = u.open && u.Probe == ""
	}
	n.stretch(lastS, "", true)
}

// watchProbes notes which probes can't be read; all of them count as one.
func (n *Notes) watchProbes(atS float64, probes []steambox.ProbeAt) {
	failed := 0
	for _, p := range probes {
		if p.TempC == nil {
			failed++
		}
	}
	blind := failed == len(probes)
	n.stretch(atS, "", blind)
	for _, p := range probes {
		n.stretch(atS, p.Name, p.TempC == nil && !blind)
	}
}

// stretch begins, goes on with or ends a stretch in which a probe can't be read.
func (n *Notes) stretch(atS float64, probe string, failed bool) {
	i := slices.IndexFunc(n.unseen, func(u Unseen) bool { return u.open && u.Probe == probe })
	switch {
	case i < 0 && failed:
		n.unseen = append(n.unseen, Unseen{FromS: atS, ToS: atS, Probe: probe, open: true})
	case i >= 0:
		n.unseen[i].ToS, n.unseen[i].open = atS, failed
	}
}

// Event notes what the crew told, and the alarms after it. A correction that can't be
// made changes nothing, in the session either.
func (n *Notes) Event(at time.Duration, e steambox.Event, alarms []alert.Alarm) {
	told := append(slices.Clip(n.events), steambox.Entry{At: at, Event: &e})
	if e.Corrects() {
		if _, err := steambox.Settle(told); err != nil {
			return
		}
	}
	n.events = told
	n.watchAlarms(at.Seconds(), alarms)
}

// watchAlarms notes which alarms began, were heard and ended since. What the crew told
// may be stamped a little later than the sample that comes after it.
func (n *Notes) watchAlarms(atS float64, up []alert.Alarm) {
	n.lastS = max(n.lastS, atS)
	atS = n.lastS
	so := func(a alert.Alarm) bool { return a.State == alert.Raised || a.State == alert.HeardBy }
	for i := range n.alarms {
		old := &n.alarms[i]
		if old.OverS == nil && !slices.ContainsFunc(up, func(a alert.Alarm) bool { return a.Key() == old.key && so(a) }) {
			old.OverS = &atS
		}
	}
	for _, a := range up {
		if !so(a) {
			continue
		}
		i := slices.IndexFunc(n.alarms, func(old Alarm) bool { return old.OverS == nil && old.key == a.Key() })
		if i < 0 {
			i = len(n.alarms)
			n.alarms = append(n.alarms, Alarm{Title: a.Title, On: a.On, How: a.Priority, RaisedS: atS, id: a.ID, key: a.Key()})
		}
		if old := &n.alarms[i]; a.State == alert.HeardBy && old.HeardS == nil {
			old.HeardS = &atS
		}
	}
}

// settled returns what was told as it is now known to have been.
func (n *Notes) settled() []steambox.Entry {
	all, err := steambox.Settle(n.events)
	if err != nil {
		panic("report: " + err.Error()) // Event has left out what can't be settled
	}
	return all
}

// Report returns the report of a session that was folded to here: its id on record,
// when it began by the clock on the wall, and the session itself.
func (n *Notes) Report(id string, began time.Time, s *steambox.Session) *Report {
	return newReport(n, id, began, s)
}
