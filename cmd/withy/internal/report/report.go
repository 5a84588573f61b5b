// Package report tells a session afterwards: what was bent and how much heat it took,
// how the box, the water and the alarms went, what was seen of it and what was not.
//
// Notes are taken while somebody folds the session's record; a Report is what they and
// the folded session come to: plain numbers, the --json of the verb. WriteHTML makes the
// page of it. The package reads no file and no clock; sentences are those of package
// words.
package report

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/median"
	"withy/steambox/unit"
	"withy/steambox/window"
	"withy/steambox/words"
)

// Report is one session as it went. Times ending in S count from its beginning, in
// seconds; heat is in minutes at 100 °C, steam end before door end.
type Report struct {
	Session   string    `json:"session"`
	Began     time.Time `json:"began"`   // by a clock that anybody may set
	Undated   bool      `json:"undated"` // that clock is not known to have been right; false says no more than that nothing speaks against it
	LastedS   float64   `json:"lasted_s"`
	Finished  bool      `json:"finished"` // the box has gone cold; else it goes on, or was left
	Box       string    `json:"box"`
	Boat      string    `json:"boat"`
	Rehearsal bool      `json:"rehearsal"`
	BoilingC  float64   `json:"boiling_c"`

	Hot    bool                `json:"hot"` // the box was ready from the log before: there was no warm-up
	WarmUp steambox.WarmUp     `json:"warm_up"`
	Ribs   []Rib               `json:"ribs"`   // in the order of their pulls, then what was never pulled
	Bent   steambox.Counts     `json:"bent"`   // test pieces apart
	Ratio  *Range              `json:"ratio"`  // heat at the door end over the steam end's, over all ribs; null without any
	Sticks []steambox.StickNow `json:"sticks"` // what was learnt of each
	Pace   Pace                `json:"pace"`
	Water  Water               `json:"water"`
	Alarms []Alarm             `json:"alarms"` // in the order they were raised
	Unseen []Unseen            `json:"unseen"` // when nothing, or one end, could not be read
	Ledger steambox.Ledger     `json:"ledger"`
	Hulls  []steambox.HullNow  `json:"hulls"`
	Keel   []words.KeelLift    `json:"keel_lifts"` // each time it was measured
	Notes  []Remark            `json:"notes"`      // what somebody wrote into the log
	Next   [3]string           `json:"next_time"`

	units   measure.Units // of who reads the page
	box     steambox.Box  // as it was set last
	begun   steambox.Box  // as the session began with it
	soaks   []soaking
	moments []moment
}

// Rib is a rib of the report. Heat is that at the pull, absent before it; Wanted is what
// was wanted of it then, as far as the bends before it had taught.
type Rib struct {
	Rib        string               `json:"rib"`
	Boat       string               `json:"boat,omitempty"`
	Stick      string               `json:"stick,omitempty"`
	StationM   float64              `json:"station_m"`
	ThicknessM float64              `json:"thickness_m"`
	Bend       string               `json:"bend,omitempty"`
	Test       bool                 `json:"test,omitempty"`
	Place      steambox.RibPlace    `json:"place"`
	PulledS    float64              `json:"pulled_s,omitempty"`
	SoakS      float64              `json:"soak_s,omitempty"`
	Soaks      int                  `json:"soaks"` // how often it was in the box
	Heat       *[2]steambox.EndHeat `json:"heat,omitempty"`
	Ratio      float64              `json:"ratio,omitempty"` // door end over steam end
	Wanted     *steambox.Window     `json:"wanted,omitempty"`
	Outcome    string               `json:"outcome,omitempty"`
	Where      string               `json:"where,omitempty"`
	Mark       string               `json:"mark,omitempty"`
	MarkTold   bool                 `json:"mark_told"` // else where it was called to go
	Sure       bool                 `json:"sure"`      // all of its soak was seen
	Broke      words.Mending        `json:"broke,omitempty"`
	Instead    string               `json:"replaced_by,omitempty"`
	InsteadOf  string               `json:"replaces,omitempty"`
}

// Range is a middle value with the least and the greatest.
type Range struct {
	Median float64 `json:"median"`
	Lo     float64 `json:"lo"`
	Hi     float64 `json:"hi"`
}

// Pace is how the ribs followed one another.
type Pace struct {
	IntervalS float64 `json:"interval_s,omitempty"` // usual time from one pull to the next; absent below three pulls
	SoakS     float64 `json:"soak_s,omitempty"`     // usual time in the box
	Slots     int     `json:"slots"`                // most that were in use at once
}

// Water is the session's water.
type Water struct {
	FilledL []Pour      `json:"filled"` // each fill, cold, and what the boiler held then
	Poured  []Pour      `json:"poured"` // what was poured on top
	PouredL float64     `json:"poured_l"`
	BoiledS float64     `json:"boiled_s"`               // how long it boiled
	BoiledL [3]float64  `json:"boiled_off_l"`           // what that took: best guess, least, most
	RateLH  [3]float64  `json:"rate_l_per_h"`           // the same
	OverL   *[3]float64 `json:"taken_over_l,omitempty"` // what was in the boiler from the log before, the same; absent where that wasn't known
	LeftL   *[3]float64 `json:"left_l,omitempty"`       // at the end, the same; absent where no fill was told
	FullL   float64     `json:"full_l"`
	Switch  bool        `json:"switch"` // there is one
}

// Pour is water that went in.
type Pour struct {
	AtS    float64 `json:"at_s"`
	Litres float64 `json:"litres"`
}

// Remark is what somebody wrote into the log.
type Remark struct {
	AtS  float64 `json:"at_s"`
	Text string  `json:"text"`
}

// soaking is a rib's stay in a slot.
type soaking struct {
	rib, slot string
	inS, outS float64
	out       bool // it was pulled; else the report ends with it in the box
}

// newReport puts together what the folded session and the notes come to.
func newReport(n *Notes, id string, began time.Time, s *steambox.Session) *Report {
	now := s.Status()
	r := &Report{
		Session: id, Began: began, LastedS: now.ElapsedS, Finished: s.Over(), Box: now.Box, Boat: now.Boat, Rehearsal: now.Rehearsal,
		BoilingC: now.BoilingC, WarmUp: n.warm, Bent: now.Bent, Sticks: now.Sticks, Alarms: append([]Alarm{}, n.alarms...), Unseen: append([]Unseen{}, n.unseen...),
		Ledger: now.Ledger, Hulls: now.Hulls, Keel: []words.KeelLift{}, Notes: []Remark{}, Ribs: []Rib{}, box: s.Box(), begun: s.Begun(), moments: n.moments,
	}
	r.follow(n.settled())
	for _, o := range now.Ribs {
		r.Ribs = append(r.Ribs, r.newRib(o, now.Ledger))
	}
	slices.SortStableFunc(r.Ribs, func(a, b Rib) int {
		if a.Heat == nil || b.Heat == nil {
			return cmp.Compare(waits(a), waits(b))
		}
		return cmp.Compare(a.PulledS, b.PulledS)
	})
	r.Ratio, r.Pace = r.ratio(), r.pace()
	r.water(n, now.Water)
	r.takeOver()
	r.Next = words.NextTime(r.learnt(), measure.Metric)
	return r
}

// waits puts what was never pulled behind what was.
func waits(r Rib) int {
	if r.Heat == nil {
		return 1
	}
	return 0
}

func (r *Report) newRib(o steambox.RibNow, l steambox.Ledger) Rib {
	out := Rib{
		Rib: o.Rib, Boat: o.Boat, Stick: o.Stick, StationM: o.StationM, ThicknessM: o.ThickM, Bend: o.Bend, Test: o.Test, Place: o.Place, Soaks: o.Soaks,
		Outcome: o.Outcome, Where: o.Where, Mark: o.Mark, MarkTold: o.Fitted, Instead: o.ReplacedBy, InsteadOf: o.Replaces, Sure: true,
	}
	if o.Place != steambox.Out {
		return out
	}
	out.PulledS, out.SoakS, out.Heat, out.Wanted = o.PulledS, o.SoakS, o.PullHeat, o.Wanted
	if steam := o.PullHeat[unit.SteamEnd].Min; steam > 0 {
		out.Ratio = o.PullHeat[unit.DoorEnd].Min / steam
	}
	out.Sure = !r.wasUnseen(o.Rib)
	switch {
	case slices.Contains(l.Glue, o.Rib):
		out.Broke = words.ToGlue
	case slices.Contains(l.Replace, o.Rib):
		out.Broke = words.ToReplace
	case o.ReplacedBy != "":
		out.Broke = words.IsReplaced
	}
	return out
}

// wasUnseen reports whether some of a rib's time in the box was not seen.
func (r *Report) wasUnseen(rib string) bool {
	for _, s := range r.soaks {
		if s.rib == rib && slices.ContainsFunc(r.Unseen, func(u Unseen) bool { return u.FromS < s.outS && u.ToS > s.inS }) {
			return true
		}
	}
	return false
}

// follow goes through what was told, as it is now known to have been.
func (r *Report) follow(events []steambox.Entry) {
	r.Water.FilledL, r.Water.Poured = []Pour{}, []Pour{}
	for _, e := range events {
		atS := e.At.Seconds()
		switch e.Event.Kind {
		case steambox.Loaded:
			r.soaks = append(r.soaks, soaking{e.Event.Rib, e.Event.Slot, atS, r.LastedS, false})
		case steambox.Pulled:
			for i := range r.soaks {
				if s := &r.soaks[i]; !s.out && strings.EqualFold(s.slot, e.Event.Slot) {
					s.outS, s.out = atS, true
				}
			}
		case steambox.Filled:
			r.Water.FilledL = append(r.Water.FilledL, Pour{atS, e.Event.Litres})
		case steambox.Refilled:
			p := Pour{atS, cmp.Or(e.Event.Litres, r.box.Kettle.Litres)}
			r.Water.Poured, r.Water.PouredL = append(r.Water.Poured, p), r.Water.PouredL+p.Litres
		case steambox.KeelLift:
			r.Keel = append(r.Keel, words.KeelLift{AtS: atS, LiftM: e.Event.LiftMM / 1000})
		case steambox.Note:
			r.Notes = append(r.Notes, Remark{atS, e.Event.Text})
		}
	}
}

// pulled lists the ribs that were pulled.
func (r *Report) pulled() []Rib {
	n := slices.IndexFunc(r.Ribs, func(o Rib) bool { return o.Heat == nil })
	if n < 0 {
		n = len(r.Ribs)
	}
	return r.Ribs[:n]
}

// ratio is how the ends shared the heat.
func (r *Report) ratio() *Range {
	var all []float64
	for _, o := range r.pulled() {
		if o.Ratio > 0 {
			all = append(all, o.Ratio)
		}
	}
	if len(all) == 0 {
		return nil
	}
	return &Range{median.Of(slices.Clone(all)), slices.Min(all), slices.Max(all)}
}

// fewPulls is below how many pulls no pace can be told.
const fewPulls = 3

func (r *Report) pace() Pace {
	var soaks, between []float64
	lastS := -1.0
	for _, o := range r.pulled() {
		soaks = append(soaks, o.SoakS)
		if lastS >= 0 {
			between = append(between, o.PulledS-lastS)
		}
		lastS = o.PulledS
	}
	p := Pace{Slots: r.mostAtOnce()}
	if len(soaks) > 0 {
		p.SoakS = median.Of(soaks)
	}
	if len(soaks) >= fewPulls {
		p.IntervalS = median.Of(between)
	}
	return p
}

// mostAtOnce is how many ribs were in the box at once, at most.
func (r *Report) mostAtOnce() int {
	most := 0
	for _, s := range r.soaks {
		in := 0
		for _, o := range r.soaks {
			if o.inS <= s.inS && s.inS < o.outS {
				in++
			}
		}
		most = max(most, in)
	}
	return most
}

func (r *Report) water(n *Notes, now steambox.WaterNow) {
	w := &r.Water
	w.BoiledS, w.FullL, w.Switch = n.boiledS, now.FullL, now.SwitchL > 0
	w.RateLH = [3]float64{now.RateLH, now.RateLo, now.RateHi}
	for i, rate := range w.RateLH {
		w.BoiledL[i] = rate * w.BoiledS / 3600
	}
	if now.LeftL != nil {
		w.LeftL = &[3]float64{*now.LeftL, *now.LeftLoL, *now.LeftHiL}
	}
}

// takeOver enters what the session began with from the log before, if it began after one. A
// box that was ready then is so at its first sample, and that was no warm-up.
func (r *Report) takeOver() {
	after := r.begun.After
	if after == nil {
		return
	}
	if over, known := after.Water.NowWith(r.begun.Boiler); known {
		r.Water.OverL = &[3]float64{over.Best, over.Lo, over.Hi}
	}
	w := &r.WarmUp
	if r.Hot = after.Ready && w.ReadyS != nil && w.FirstSteamS != nil && *w.ReadyS == *w.FirstSteamS; r.Hot {
		*w = steambox.WarmUp{}
	}
}

// learnt gathers what the next session should begin with.
func (r *Report) learnt() words.Learnt {
	l := words.Learnt{
		Pulled: len(r.pulled()), Bent: r.Bent, Learns: r.box.Learn, Set: r.box.Window, Slots: len(r.box.Slots),
		IntervalS: r.Pace.IntervalS, SoakS: r.Pace.SoakS, CrewS: r.box.CrewS, FullL: r.Water.FullL,
		After: r.begun.After != nil, Told: len(r.Water.FilledL) > 0 || r.Water.OverL != nil, BoiledS: r.Water.BoiledS, BoiledL: r.Water.BoiledL, RateLH: r.Water.RateLH[0],
		RanDry: r.raised(alert.BoilerDry), NearlyDry: r.raised(alert.DryNow),
		Kind: r.box.Boiler.Kind,
	}
	if r.WarmUp.ReadyS != nil && r.WarmUp.FirstSteamS != nil {
		l.SteamBeforeS = *r.WarmUp.ReadyS - *r.WarmUp.FirstSteamS
	}
	for _, k := range r.Sticks {
		if l.Stick == nil || k.Bends > l.Stick.Bends {
			l.Stick = &k
		}
	}
	if l.Stick != nil {
		l.SupplesS = r.suppleSoak(*l.Stick)
	}
	return l
}

// raised reports whether an alarm was raised in the session.
func (r *Report) raised(id alert.ID) bool {
	return slices.ContainsFunc(r.Alarms, func(a Alarm) bool { return a.id == id })
}

// suppleSoak is the usual time in the box of the ribs of a stick, bent as hard, that
// came out supple; 0: none did.
func (r *Report) suppleSoak(k steambox.StickNow) float64 {
	var soaks []float64
	for _, o := range r.pulled() {
		if o.Outcome == "supple" && o.of(k) {
			soaks = append(soaks, o.SoakS)
		}
	}
	if len(soaks) == 0 {
		return 0
	}
	return median.Of(soaks)
}

// of reports whether a rib is of a stick and bends as hard.
func (o Rib) of(k steambox.StickNow) bool {
	return o.Stick == k.Stick && cmp.Or(o.Bend, string(window.Middling)) == k.Bend && math.Abs(o.ThicknessM-k.ThicknessM) <= halfStepM
}

// halfStepM is how far a rib's thickness may be from that of its stick, in metres.
const halfStepM = 0.00026
