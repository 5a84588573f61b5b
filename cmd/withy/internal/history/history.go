// Package history tells what all sessions on record come to: which soak worked in which
// stick, how much of it broke, how this box's ends and its boil-off went over time.
//
// A Day is what is kept of one session, made of its folded state; a History is what
// several come to: plain numbers, the --json of the verb. The package reads no file and no
// clock.
package history

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"withy/cmd/withy/internal/record"
	"withy/steambox"
	"withy/steambox/median"
	"withy/steambox/unit"
	"withy/steambox/window"
)

// Day is one session. Heat is in minutes at 100 °C.
type Day struct {
	Session   string          `json:"session"`
	Began     time.Time       `json:"began"` // by a clock that anybody may set
	LastedS   float64         `json:"lasted_s"`
	Box       string          `json:"box"`
	Boat      string          `json:"boat"`
	Rehearsal bool            `json:"rehearsal"`
	Finished  bool            `json:"finished"`          // the box has gone cold; else it goes on, or was left
	WarmS     *float64        `json:"warm_s"`            // from the beginning until the box was ready; null: never, or it was warm from the session before
	Ratio     *float64        `json:"ratio"`             // heat at the door end over the steam end's, middle of all ribs; null without any
	RateLH    *[3]float64     `json:"rate_l_per_h"`      // boiled off in an hour: best guess, least, most; null where it never boiled
	Bent      steambox.Counts `json:"bent"`              // test pieces apart
	Ribs      []Rib           `json:"ribs"`              // that were pulled, in that order
	Why       string          `json:"why_not,omitempty"` // it can't be read; nothing else is told of it then
}

// Rib is one that was pulled.
type Rib struct {
	Rib         string         `json:"rib"`
	Boat        string         `json:"boat"`
	Stick       string         `json:"stick"`
	Bend        string         `json:"bend"` // how hard: easy, middling or hard
	ThicknessMM float64        `json:"thickness_mm"`
	PulledS     float64        `json:"pulled_s"` // since the session began
	SoakS       float64        `json:"soak_s"`
	SteamMin    float64        `json:"steam_min"` // heat at the steam end
	DoorMin     float64        `json:"door_min"`
	Outcome     window.Outcome `json:"outcome"` // supple, stiff, cracked, or "" for untold
	Where       string         `json:"where"`   // of a crack
	Mark        string         `json:"mark"`
	Test        bool           `json:"test"`
}

// cooler is the heat of the end that had less.
func (r *Rib) cooler() float64 { return min(r.SteamMin, r.DoorMin) }

// NewDay is what is kept of a session.
func NewDay(s record.Summary, session *steambox.Session) Day {
	now := session.Status()
	d := Day{
		Session: s.ID, Began: s.Began, LastedS: s.Lasted.Seconds(), Box: s.Box, Boat: s.Boat, Rehearsal: s.Rehearsal, Finished: s.Finished,
		WarmS: session.FirstReadyS(), Bent: now.Bent, Ribs: []Rib{},
	}
	if session.Steamed() {
		d.RateLH = &[3]float64{now.Water.RateLH, now.Water.RateLo, now.Water.RateHi}
	}
	var ratios []float64
	for _, r := range now.Ribs {
		if r.Place != steambox.Out || r.PullHeat == nil {
			continue
		}
		steam, door := r.PullHeat[unit.SteamEnd].Min, r.PullHeat[unit.DoorEnd].Min
		d.Ribs = append(d.Ribs, Rib{
			Rib: r.Rib, Boat: r.Boat, Stick: r.Stick, Bend: cmp.Or(r.Bend, string(window.Middling)), ThicknessMM: 1000 * r.ThickM,
			PulledS: r.PulledS, SoakS: r.SoakS, SteamMin: steam, DoorMin: door,
			Outcome: window.Outcome(r.Outcome), Where: r.Where, Mark: r.Mark, Test: r.Test,
		})
		if steam > 0 {
			ratios = append(ratios, door/steam)
		}
	}
	slices.SortStableFunc(d.Ribs, func(a, b Rib) int { return cmp.Compare(a.PulledS, b.PulledS) })
	if len(ratios) > 0 {
		m := median.Of(ratios)
		d.Ratio = &m
	}
	return d
}

// History is what several sessions come to.
type History struct {
	Days   []Day   `json:"sessions"` // the oldest first, as they were begun: a board's clock may have been wrong
	Sticks []Stick `json:"sticks"`   // by name, then by how hard they were bent, then by thickness
}

// Stick is what the bends of one stick come to, of those as thick and bent as hard.
type Stick struct {
	Stick       string          `json:"stick"`
	Bend        string          `json:"bend"`
	ThicknessMM float64         `json:"thickness_mm"` // to the half
	Sessions    []string        `json:"sessions"`
	Bent        steambox.Counts `json:"bent"`
	Tests       steambox.Counts `json:"tests"`  // of them, test pieces, some of which are bent to break
	Broke       *float64        `json:"broke"`  // share of those told of that cracked, test pieces left out; null: none was told of
	Worked      *Worked         `json:"worked"` // what the supple ones had; null without any, and of sticks that nobody named, which are many
}

// Worked is what the ribs that came out supple had: the middle one, the least and the
// greatest, of the soak in s and of the heat of the cooler end in minutes at 100 °C.
type Worked struct {
	SoakS   [3]float64 `json:"soak_s"`
	HeatMin [3]float64 `json:"heat_min"`
}

// New puts sessions together, in the order given.
func New(days []Day) *History {
	h := &History{Days: slices.Clone(days), Sticks: []Stick{}}
	if h.Days == nil {
		h.Days = []Day{}
	}
	type kind struct {
		stick, bend string
		thickMM     float64
	}
	worked := map[kind][]Rib{}
	at := map[kind]int{}
	for _, d := range h.Days {
		for _, r := range d.Ribs {
			k := kind{r.Stick, r.Bend, math.Round(2*r.ThicknessMM) / 2}
			i, ok := at[k]
			if !ok {
				i = len(h.Sticks)
				at[k] = i
				h.Sticks = append(h.Sticks, Stick{Stick: r.Stick, Bend: r.Bend, ThicknessMM: k.thickMM, Sessions: []string{}})
			}
			h.Sticks[i].count(r, d.Session)
			if r.Outcome == window.Supple && r.Stick != "" {
				worked[k] = append(worked[k], r)
			}
		}
	}
	for i := range h.Sticks {
		s := &h.Sticks[i]
		s.finish(worked[kind{s.Stick, s.Bend, s.ThicknessMM}])
	}
	slices.SortFunc(h.Sticks, func(a, b Stick) int {
		return cmp.Or(strings.Compare(a.Stick, b.Stick), cmp.Compare(hardness(a.Bend), hardness(b.Bend)), cmp.Compare(a.ThicknessMM, b.ThicknessMM))
	})
	return h
}

func hardness(bend string) int { return slices.Index(window.Difficulties, window.Difficulty(bend)) }

func (s *Stick) count(r Rib, session string) {
	if !slices.Contains(s.Sessions, session) {
		s.Sessions = append(s.Sessions, session)
	}
	s.Bent.Add(string(r.Outcome))
	if r.Test {
		s.Tests.Add(string(r.Outcome))
	}
}

func (s *Stick) finish(supple []Rib) {
	if n := s.Bent.Told() - s.Tests.Told(); n > 0 {
		s.Broke = new(float64(s.Bent.Cracked-s.Tests.Cracked) / float64(n))
	}
	if len(supple) == 0 {
		return
	}
	spread := func(of func(*Rib) float64) [3]float64 {
		all := make([]float64, len(supple))
		for i := range supple {
			all[i] = of(&supple[i])
		}
		return [3]float64{median.Of(slices.Clone(all)), slices.Min(all), slices.Max(all)}
	}
	s.Worked = &Worked{SoakS: spread(func(r *Rib) float64 { return r.SoakS }), HeatMin: spread((*Rib).cooler)}
}

// Find returns what all words of a text are found in: of a session the beginning of its
// name, its date at a place, as 2026-05-01 or as the page shows it, and its box and boat;
// of a rib its number, boat and stick. A session in which only ribs are found has only
// those. Capitals count for nothing.
func (h *History) Find(text string, at *time.Location) *History {
	asked := terms(text)
	if len(asked) == 0 {
		return h
	}
	var days []Day
	for _, d := range h.Days {
		left := slices.DeleteFunc(slices.Clone(asked), func(term string) bool { return d.has(term, at) })
		d.Ribs = slices.DeleteFunc(slices.Clone(d.Ribs), func(r Rib) bool {
			return slices.ContainsFunc(left, func(term string) bool { return !r.has(term) })
		})
		if len(left) == 0 || len(d.Ribs) > 0 {
			days = append(days, d)
		}
	}
	return New(days)
}

// dayForm is how people see a date.
const dayForm = "2 January 2006"

// dayForms are how a day of the year may be typed: as the page has it, or short.
var dayForms = []string{"2 January", "2 Jan"}

// terms are the words of a text in small letters; a day and its month are one, so that
// the 1 of "1 May" is no rib's number.
func terms(text string) []string {
	var out []string
	for word := range strings.FieldsSeq(strings.ToLower(text)) {
		word = strings.TrimSuffix(word, ",")
		if n := len(out); n > 0 {
			day := out[n-1] + " " + word
			if slices.ContainsFunc(dayForms, func(form string) bool { _, err := time.Parse(form, day); return err == nil }) {
				out[n-1] = day
				continue
			}
		}
		out = append(out, word)
	}
	return slices.DeleteFunc(out, func(term string) bool { return term == "" })
}

func (d *Day) has(term string, at *time.Location) bool {
	began := d.Began.In(at)
	for _, form := range append([]string{"January", "15:04"}, dayForms...) {
		if strings.EqualFold(began.Format(form), term) {
			return true
		}
	}
	return strings.HasPrefix(d.Session, term) || strings.HasPrefix(began.Format(time.DateOnly), term) || within(term, d.Box, d.Boat)
}

func (r *Rib) has(word string) bool {
	return strings.EqualFold(r.Rib, word) || within(word, r.Boat, r.Stick)
}

func within(word string, texts ...string) bool {
	return slices.ContainsFunc(texts, func(t string) bool { return strings.Contains(strings.ToLower(t), word) })
}
