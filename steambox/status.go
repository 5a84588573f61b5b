package steambox

import (
	"time"

	"withy/steambox/boiler"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// Status is all that is known of a box at one moment, as programs read it: plain
// numbers in the unit that the key names. What isn't known is absent.
type Status struct {
	Box       string           `json:"box"`
	Boat      string           `json:"boat"`
	Rehearsal bool             `json:"rehearsal"`
	ElapsedS  float64          `json:"elapsed_s"`
	Phase     Phase            `json:"phase"`
	BoilingC  float64          `json:"boiling_c"`
	Probes    []ProbeAt        `json:"probes"`
	Hotter    string           `json:"hotter"` // "steam", "door", or "" where the probes can't tell
	GradientK float64          `json:"gradient_k"`
	Quality   string           `json:"quality"` // of the air in the box: good, uncertain, bad
	Warm      WarmUp           `json:"warm_up"`
	Slots     []Slot           `json:"slots"`
	Calls     []Call           `json:"calls"` // the next first
	Stop      Stop             `json:"stop"`
	Resting   bool             `json:"resting"`
	Rhythm    Rhythm           `json:"rhythm"`
	Water     WaterNow         `json:"water"`
	Ribs      []RibNow         `json:"ribs"`
	Bent      Counts           `json:"bent"`
	Window    Window           `json:"window"`
	Out       OutOfBox         `json:"out_of_box"`
	Pace      PaceNow          `json:"pace"`
	Ledger    Ledger           `json:"ledger"`
	Hulls     []HullNow        `json:"hulls"`  // one for each boat
	Sticks    []StickNow       `json:"sticks"` // what was learnt of each
	Try       *Try             `json:"try,omitempty"`
	Proposal  *Proposal        `json:"proposal,omitempty"`
	Rig       []RigNow         `json:"rig"`
	Dry       *DryNow          `json:"dry,omitempty"`
	Heat      HeatNow          `json:"heat"`
	ColdEnd   []boiler.Suspect `json:"cold_end,omitempty"` // why, the likeliest first; absent while it isn't
	GapS      float64          `json:"gap_s"`              // how long nobody watched, in all

	// What the alarms go by.
	FellK      [2]float64  `json:"fell_k"`     // below the hottest of the last three minutes
	FellFarK   [2]float64  `json:"fell_far_k"` // below the hottest of the last ten
	QuietS     float64     `json:"quiet_s"`    // since a rib last went in or out
	OverK      float64     `json:"over_k"`     // hottest good probe over boiling
	PressureK  float64     `json:"pressure_k"` // what OverK must reach to mean pressure
	ColdEndK   float64     `json:"cold_end_k"`
	HeatOff    bool        `json:"heat_off"`
	BoilerKind boiler.Kind `json:"boiler_kind"`
	Unreached  []string    `json:"unreached"`           // outputs that could not tell of an alarm in time
	NoBeat     []string    `json:"no_beat"`             // watchers outside that take no sign of life
	WarmingS   float64     `json:"warming_s"`           // since the box began to warm; 0 once it was ready
	GapAgoS    *float64    `json:"gap_ago_s,omitempty"` // since the last time that nobody watched was over
	Ails       []Ailment   `json:"ails"`                // what is wrong with the board that watches
}

// ProbeAt is one probe now.
type ProbeAt struct {
	Name  string   `json:"name"`
	XM    float64  `json:"x_m"`
	TempC *float64 `json:"temp_c,omitempty"` // corrected for offset and lag; absent without a reading
	Fault string   `json:"fault,omitempty"`
}

// WarmUp is how far the box is on its way, each step by the elapsed time it came.
type WarmUp struct {
	FirstSteamS *float64 `json:"first_steam_s,omitempty"`
	LevelS      *float64 `json:"level_s,omitempty"`
	ReadyS      *float64 `json:"ready_s,omitempty"`
	NotBeforeS  float64  `json:"not_before_s"`
	Forced      bool     `json:"forced"`
}

// Slot is one slot and the rib in it.
type Slot struct {
	Slot   string      `json:"slot"`
	Rib    string      `json:"rib,omitempty"`
	InS    float64     `json:"in_s,omitempty"` // how long the rib has been in the box
	Ends   *[2]EndHeat `json:"ends,omitempty"` // steam end, door end
	Along  []float64   `json:"along_min,omitempty"`
	ReadyS *float64    `json:"ready_s,omitempty"`
	OverS  *float64    `json:"over_s,omitempty"`
	Ratio  float64     `json:"ratio,omitempty"` // door end over steam end
	Sure   bool        `json:"sure"`
	// OverShare is how much of what is too much its hotter end may have had.
	OverShare float64 `json:"over_share,omitempty"`
	// Target and Over are the window of the rib's own stick.
	Target soak.Exposure `json:"target_min,omitempty"`
	Over   soak.Exposure `json:"over_min,omitempty"`
}

// EndHeat is the heat that one end of a rib has taken.
type EndHeat struct {
	Min   float64 `json:"exposure_min"`
	LoMin float64 `json:"exposure_lo_min"`
	HiMin float64 `json:"exposure_hi_min"`
	CoreC float64 `json:"core_c"`
}

// Rhythm is how ribs should go through the box as it is now.
type Rhythm struct {
	Way       string   `json:"way"`
	Slots     int      `json:"slots"`
	IntervalS float64  `json:"interval_s"`
	SoakS     *float64 `json:"soak_s,omitempty"`
	CrewS     *float64 `json:"crew_s,omitempty"` // the crew's own pace, once it is known
}

// WaterNow is the water. Lo and hi are bounds; absent where nothing is known.
type WaterNow struct {
	Switch  string   `json:"switch"` // closed: water above it; open: low; unknown
	Proven  bool     `json:"proven"`
	Told    bool     `json:"told"` // a fill was told
	LeftL   *float64 `json:"left_l,omitempty"`
	LeftLoL *float64 `json:"left_lo_l,omitempty"`
	LeftHiL *float64 `json:"left_hi_l,omitempty"`
	DryS    *float64 `json:"dry_s,omitempty"`
	DryLoS  *float64 `json:"dry_lo_s,omitempty"`
	DryHiS  *float64 `json:"dry_hi_s,omitempty"`
	LeadS   float64  `json:"kettle_lead_s"`
	ForRibs *int     `json:"for_ribs,omitempty"`
	ToGo    int      `json:"ribs_to_go"`
	RateLH  float64  `json:"rate_l_per_h"`
	RateLo  float64  `json:"rate_lo_l_per_h"`
	RateHi  float64  `json:"rate_hi_l_per_h"`
	KettleS *float64 `json:"kettle_on_s,omitempty"` // since the kettle was put on
	LowS    float64  `json:"low_s"`                 // how long the switch has read low
	Boiling bool     `json:"boiling"`               // or may be, where no probe was ever read
	FullL   float64  `json:"full_l"`
	SwitchL float64  `json:"switch_l"`
	KettleL float64  `json:"kettle_l"` // what the backup kettle holds

	Basis     boiler.Basis `json:"basis"`                 // what the account rests on
	ReserveS  *float64     `json:"reserve_s,omitempty"`   // from the switch's trip until dry, early bound
	KettleInS *float64     `json:"kettle_in_s,omitempty"` // until the kettle's call, between two pulls; absent while it is far off
	Break     *BreakNow    `json:"break,omitempty"`       // for a boiler that can't be filled hot
	Refill    *RefillNow   `json:"refill,omitempty"`      // the last that was not boiling
}

// RibNow is one rib of the table.
type RibNow struct {
	Rib      string      `json:"rib"`
	StationM float64     `json:"station_m"`
	LengthM  float64     `json:"length_m"`
	Place    RibPlace    `json:"place"`
	Slot     string      `json:"slot,omitempty"`
	Ends     *[2]EndHeat `json:"ends,omitempty"`
	AtPull   *[2]float64 `json:"at_pull_min,omitempty"` // heat at the pull, steam end and door end
	ThickM   float64     `json:"thickness_m"`
	SoakS    float64     `json:"soak_s,omitempty"`
	PulledS  float64     `json:"pulled_s,omitempty"` // elapsed time of the pull
	Outcome  string      `json:"outcome,omitempty"`
	Mark     string      `json:"mark"` // where its mark goes, or went
	Fitted   bool        `json:"fitted"`
	Boat     string      `json:"boat,omitempty"`
	Stick    string      `json:"stick,omitempty"`
	Bend     string      `json:"bend,omitempty"`
	Test     bool        `json:"test,omitempty"`
	ResteamS *float64    `json:"resteam_s,omitempty"` // if it goes back now, until it is hot through
	Replaces string      `json:"replaces,omitempty"`

	// What only a report goes into: heat at the pull with its bounds, steam end and
	// door end, and the window that was wanted of it then (nil before the pull); where a
	// crack was, which rib took its place, and how often it was loaded.
	PullHeat   *[2]EndHeat `json:"-"`
	Wanted     *Window     `json:"-"`
	Where      string      `json:"-"`
	ReplacedBy string      `json:"-"`
	Soaks      int         `json:"-"`
}

// Counts is how the ribs bent.
type Counts struct {
	Supple  int `json:"supple"`
	Stiff   int `json:"stiff"`
	Cracked int `json:"cracked"`
	Untold  int `json:"untold"`
	ToGo    int `json:"to_go"`
}

// Add counts a rib that was pulled by how it bent: supple, stiff or cracked, else nobody told.
func (c *Counts) Add(outcome string) {
	switch outcome {
	case "supple":
		c.Supple++
	case "stiff":
		c.Stiff++
	case "cracked":
		c.Cracked++
	default:
		c.Untold++
	}
}

// Told is how many were told of.
func (c Counts) Told() int { return c.Supple + c.Stiff + c.Cracked }

// Status returns what is known now. It allocates; Sample does not.
func (s *Session) Status() Status {
	out := s.Signals()
	dues := s.dues()
	out.Calls, out.Stop, out.Rhythm = s.calls(dues), s.stop(dues), s.rhythmNow()
	out.Warm, out.Ribs, out.Window = s.WarmUp(), s.ribsNow(), s.windowOf(s.nextRib())
	out.Out, out.Pace, out.Ledger = s.outOfBox(s.nextOut(dues)), s.paceNow(), s.ledger()
	out.Water.Break = s.breakNow(&out.Water, dues)
	out.Heat, out.ColdEnd = s.heatNow(seconds(out.Rhythm.IntervalS)), s.coldEnd()
	out.Proposal = s.proposal()
	out.Rig, out.Dry = s.rigNow(), s.dryNow()
	out.Sticks, out.Try = s.sticksNow(), s.try()
	out.Hulls = append([]HullNow{}, s.fit().hulls...)
	for slot, i := range s.InSlot {
		if i != empty {
			s.fill(&out.Slots[slot], &s.Ribs[i], dues[slot])
		}
	}
	if dry := out.Water.DryLoS; dry != nil && out.Rhythm.IntervalS > 0 {
		ribs := int(*dry / out.Rhythm.IntervalS)
		out.Water.ForRibs = &ribs
	}
	return out
}

// Signals returns the part of Status that the alarms go by; it foretells nothing
// and so costs a fraction.
func (s *Session) Signals() Status {
	out := Status{
		Box: s.box.Name, Boat: s.box.Boat, Rehearsal: s.box.Rehearsal, ElapsedS: s.At.Seconds(),
		Phase: s.phase(), BoilingC: s.around.BoilingC, Probes: s.probesNow(), Quality: s.air.Quality.String(),
		Slots: s.slotsNow(), Resting: s.Resting, Bent: s.counts(), GapS: s.GapS,
		FellK: s.fellK(3 * time.Minute), FellFarK: s.fellK(10 * time.Minute), QuietS: (s.At - s.Moved).Seconds(),
		ColdEndK: s.box.ColdEndK, HeatOff: s.HeatOff, BoilerKind: s.box.Boiler.Kind,
		Unreached: append([]string{}, s.Unreached...), NoBeat: append([]string{}, s.NoBeat...), Ails: append([]Ailment{}, s.Ails...),
	}
	if out.Phase == Warming {
		out.WarmingS = (s.At - s.Warmth.Began).Seconds()
	}
	if s.GapEnd > 0 {
		out.GapAgoS = inSeconds(s.At - s.GapEnd)
	}
	out.OverK, out.PressureK = s.pressure()
	if s.Began && s.air.Quality == profile.Good {
		c, _ := s.ends()
		out.GradientK = c[unit.SteamEnd] - c[unit.DoorEnd]
		out.Hotter = s.hotter(out.GradientK)
	}
	out.Water = s.waterNow(out.Bent.ToGo)
	return out
}

// hotter names the hotter end where the probes can tell.
func (s *Session) hotter(gradientK float64) string {
	tell := 2 * float64(s.box.shape().UncertaintyK)
	switch {
	case gradientK > tell:
		return unit.SteamEnd.String()
	case gradientK < -tell:
		return unit.DoorEnd.String()
	}
	return ""
}

// pressure returns how far the hottest good probe is over boiling, and what that
// must reach to mean pressure: 1 K beyond what the air pressure and the probe can
// be off by.
func (s *Session) pressure() (overK, limitK float64) {
	limitK = 1 + s.around.BoilingDoubtK + float64(s.box.shape().UncertaintyK)
	overK = -s.around.BoilingC
	for i := range s.box.Probes {
		if s.state.Air.Seen[i] {
			overK = max(overK, s.measuredC(i)-s.around.BoilingC)
		}
	}
	return overK, limitK
}

// measuredC is what a probe reads, corrected for its offset but not for its lag,
// which never takes it over boiling.
func (s *Session) measuredC(i int) float64 {
	return s.box.Probes[i].corrected(float64(s.Probes[i].MilliC) / 1000)
}

func (s *Session) probesNow() []ProbeAt {
	out := make([]ProbeAt, len(s.box.Probes))
	for i, p := range s.box.Probes {
		out[i] = ProbeAt{Name: p.Name, XM: p.XM, Fault: s.Probes[i].Fault}
		if s.state.Air.Seen[i] {
			c := s.state.Air.T[i]
			out[i].TempC = &c
		}
	}
	return out
}

// WarmUp says how far the warm-up has come; one that is over is forgotten when the box
// is cold.
func (s *Session) WarmUp() WarmUp {
	h := &s.Warmth
	w := WarmUp{NotBeforeS: s.box.Warm.AtLeastS, Forced: h.Forced}
	at := func(d time.Duration) *float64 {
		if d == 0 {
			return nil
		}
		return inSeconds(d)
	}
	w.FirstSteamS, w.LevelS = at(h.FirstSteam), at(h.LevelAt)
	if h.Ready {
		w.ReadyS = at(h.ReadyAt)
	}
	return w
}

// Steamed reports whether the box had steam at some time, also once it is cold again.
func (s *Session) Steamed() bool { return s.Warmth.Steamed }

// FirstReadyS is when the box first was ready, in elapsed seconds, also once it is cold
// again; nil: never, or it was so when the session began.
func (s *Session) FirstReadyS() *float64 {
	if s.Warmth.FirstReady == 0 {
		return nil
	}
	return inSeconds(s.Warmth.FirstReady)
}

// slotsNow lists the slots with what the alarms need of the ribs in them.
func (s *Session) slotsNow() []Slot {
	out := make([]Slot, len(s.box.Slots))
	for k, i := range s.InSlot {
		out[k] = Slot{Slot: s.box.Slots[k], Sure: true}
		if i == empty {
			continue
		}
		h := &s.Ribs[i].Heat
		out[k].Rib = s.Ribs[i].Label
		out[k].OverShare = float64(hottest(h).AtMost() / s.windowOf(s.Ribs[i].Rib).Over)
	}
	return out
}

// hottest returns the point that may have taken most: an end, or in a box fed in
// the middle some place between.
func hottest(h *soak.Heat) *soak.Point {
	most := &h.Points[0]
	for i := range h.Points {
		if p := &h.Points[i]; p.AtMost() > most.AtMost() {
			most = p
		}
	}
	return most
}

// fill enters the rest of a slot's rib.
func (s *Session) fill(o *Slot, r *RibState, d Due) {
	ends := heatOf(&r.Heat)
	w := s.windowOf(r.Rib)
	o.Target, o.Over = w.Target, w.Over
	o.InS, o.Ends, o.Ratio, o.Sure = (s.At - r.In).Seconds(), &ends, r.Heat.Ratio(), d.Sure
	for p := range r.Heat.Points {
		o.Along = append(o.Along, float64(r.Heat.Points[p].Track[soak.Best].Exposure))
	}
	if d.ReadyOK {
		o.ReadyS = inSeconds(d.Ready)
	}
	if d.OverOK {
		o.OverS = inSeconds(d.Over)
	}
}

func (s *Session) rhythmNow() Rhythm {
	r, known := s.rhythm()
	out := Rhythm{Way: string(r.Way), Slots: r.Slots, IntervalS: r.Interval.Seconds()}
	if known {
		out.SoakS = inSeconds(r.Soak)
	}
	if own, ok := s.Crew.Pace(); ok {
		out.CrewS = inSeconds(own)
	}
	return out
}

func (s *Session) waterNow(toGo int) WaterNow {
	w, b := &s.Water, s.box.Boiler
	rate := w.Rate.Span()
	out := WaterNow{
		Switch: w.Reads.String(), Proven: w.Proven, Told: w.Known, ToGo: toGo, LowS: w.LowS, Boiling: s.boiling() || s.Began && s.neverSeen() && w.Known && !s.HeatOff,
		LeadS:  s.box.Kettle.Lead(s.around.BoilingC).Seconds(),
		RateLH: rate.Best * 3600, RateLo: rate.Lo * 3600, RateHi: rate.Hi * 3600, FullL: b.FullL, SwitchL: b.SwitchL,
		KettleL: s.box.Kettle.Litres, Basis: w.Basis(b), Refill: s.refillNow(),
	}
	if reserve, ok := w.Reserve(b); ok {
		out.ReserveS = &reserve.Lo
	}
	if b.SwitchL <= 0 {
		out.Switch = boiler.Unknown.String()
	}
	if s.Kettle > 0 {
		out.KettleS = inSeconds(s.At - s.Kettle)
	}
	left, known := w.NowWith(b)
	if !known {
		return out
	}
	dry, _ := w.UntilDry(b)
	out.LeftL, out.LeftLoL, out.LeftHiL = &left.Best, &left.Lo, &left.Hi
	out.DryS, out.DryLoS, out.DryHiS = &dry.Best, &dry.Lo, &dry.Hi
	out.KettleInS = s.kettleAt(&out)
	return out
}

func (s *Session) ribsNow() []RibNow {
	out := make([]RibNow, len(s.Ribs))
	for i := range s.Ribs {
		r := &s.Ribs[i]
		o := RibNow{ThickM: r.ThicknessM, Rib: r.Label, StationM: r.StationM, LengthM: r.LengthM, Place: r.Place, Outcome: r.Outcome,
			Mark: r.markIn(), Fitted: r.Mark != "", Boat: s.boat(r), Stick: r.Stick, Bend: r.Bend, Test: r.Test, Replaces: r.Replaces,
			Where: r.Where, ReplacedBy: r.ReplacedBy, Soaks: r.Soaks}
		if r.Place != Out && !o.Fitted {
			o.Mark = s.side(i)
		}
		switch r.Place {
		case InBox:
			o.Slot, o.SoakS = s.box.Slots[r.Slot], (s.At - r.In).Seconds()
		case Out:
			o.ResteamS = s.resteam(r)
			heat, wanted := r.PullHeat, r.Wanted // a status stays as it is when the rib is pulled again
			o.AtPull, o.PullHeat, o.Wanted = &[2]float64{float64(r.AtPull[0]), float64(r.AtPull[1])}, &heat, &wanted
			o.SoakS, o.PulledS = (r.Out - r.In).Seconds(), r.Out.Seconds()
		}
		if r.Place != Waiting {
			ends := heatOf(&r.Heat)
			o.Ends = &ends
		}
		out[i] = o
	}
	return out
}

func (s *Session) counts() Counts {
	var c Counts
	for i := range s.Ribs {
		switch r := &s.Ribs[i]; {
		case r.Test:
		case r.Place != Out:
			c.ToGo++
		default:
			c.Add(r.Outcome)
		}
	}
	return c
}
