package steambox

import (
	"cmp"
	"math"
	"slices"

	"withy/steambox/hull"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// HullNow is how one boat balances as ribbed so far.
type HullNow struct {
	Boat     string  `json:"boat"`
	Fitted   int     `json:"fitted"`
	Stations int     `json:"stations"`
	Lean     float64 `json:"lean"`  // above 0: softer, so rounder, to starboard
	Twist    float64 `json:"twist"` // above 0: rounder to starboard aft, to port forward
	LeanSD   float64 `json:"lean_sd"`
	TwistSD  float64 `json:"twist_sd"`
	PerRib   float64 `json:"per_rib"` // how far one rib the wrong way round moves the lean

	// The next rib that goes in, where its mark goes, where it would go by turns, and
	// why; absent when there is none or it isn't known where it goes.
	Next    string       `json:"next,omitempty"`
	Mark    hull.Side    `json:"mark,omitempty"`
	ByTurns hull.Side    `json:"by_turns,omitempty"`
	Reason  string       `json:"reason,omitempty"`
	Advice  *hull.Advice `json:"-"`
}

// Balance returns the hull's balance as package hull tells it.
func (h HullNow) Balance() hull.Balance {
	return hull.Balance{Lean: h.Lean, Twist: h.Twist, LeanSD: h.LeanSD, TwistSD: h.TwistSD, PerRib: h.PerRib, Ribs: h.Fitted}
}

// fits is what follows from the ribs fitted so far: one hull for each boat and the
// way round for each rib to come. It is a function of the session's state, made
// anew when that changes.
type fits struct {
	hulls  []HullNow
	advice []*hull.Advice // of each rib; nil: where it goes isn't known
}

// fit returns what follows from the ribs fitted so far.
func (s *Session) fit() *fits {
	if s.fitted == nil {
		s.fitted = &fits{advice: make([]*hull.Advice, len(s.Ribs))}
		for _, boat := range s.boats() {
			s.fitBoat(boat)
		}
	}
	return s.fitted
}

// boats lists the boats of all ribs, in the order of the table.
func (s *Session) boats() []string {
	var out []string
	for i := range s.Ribs {
		if b := s.boat(&s.Ribs[i]); !s.Ribs[i].Test && !slices.Contains(out, b) {
			out = append(out, b)
		}
	}
	return out
}

// placed reports whether it is known where on the keel a rib goes. One that the
// table does not have only replaces another, and which one the crew must tell.
func (s *Session) placed(i int) bool {
	return !s.Ribs[i].Test && (i < s.Listed || len(s.box.Ribs) == 0 || s.Ribs[i].Replaces != "")
}

func (s *Session) fitBoat(boat string) {
	var stations []float64
	var in []*RibState
	for i := range s.Ribs {
		r := &s.Ribs[i]
		if !s.placed(i) || s.boat(r) != boat {
			continue
		}
		stations = append(stations, r.StationM)
		if r.Place == Out && r.markIn() != "" {
			in = append(in, r)
		}
	}
	slices.SortStableFunc(in, func(a, b *RibState) int { return cmp.Compare(a.Out, b.Out) })
	h, err := hull.New(stations, asFitted(in))
	if err != nil || alike(stations) {
		s.byOrder(boat) // no boat is like that, so its stations say nothing
		return
	}
	b := h.Balance()
	now := HullNow{Boat: boat, Lean: b.Lean, Twist: b.Twist, LeanSD: b.LeanSD, TwistSD: b.TwistSD, PerRib: b.PerRib}
	now.Fitted, now.Stations = h.Ribs()
	for i := range s.Ribs {
		if r := &s.Ribs[i]; r.Place != Out && s.placed(i) && s.boat(r) == boat {
			s.advise(h, &now, i)
		}
	}
	s.fitted.hulls = append(s.fitted.hulls, now)
}

// alike reports whether several ribs are all said to be at one place.
func alike(stations []float64) bool {
	return len(stations) > 1 && slices.Max(stations) == slices.Min(stations)
}

// byOrder lets the marks of one boat's ribs go by turns in the order of the table.
func (s *Session) byOrder(boat string) {
	n := 0
	for i := range s.Ribs {
		if r := &s.Ribs[i]; s.placed(i) && s.boat(r) == boat && r.Replaces == "" {
			mark := hull.Sides[n%2]
			s.fitted.advice[i] = &hull.Advice{Mark: mark, ByTurns: mark, Reason: hull.Turns}
			n++
		}
	}
	s.fitted.hulls = append(s.fitted.hulls, HullNow{Boat: boat, Stations: n})
}

// side is where the mark of a rib goes, "" where only the crew knows.
func (s *Session) side(i int) string {
	if a := s.fit().advice[i]; a != nil {
		return string(a.Mark)
	}
	return ""
}

// advise enters the way round for one rib to come.
func (s *Session) advise(h *hull.Hull, now *HullNow, i int) {
	rule := hull.Rule{Margin: s.box.HullMargin, Always: s.box.ByTurns, Blind: s.blindEnds()}
	// In a table without trouble all go by turns: what may depart is what comes next.
	if now.Next != "" && s.Ribs[i].Place == Waiting {
		rule.Always = true
	}
	a, err := h.Advise(s.Ribs[i].StationM, rule)
	if err != nil {
		return
	}
	s.fitted.advice[i] = &a
	if now.Next == "" {
		now.Next, now.Advice, now.Mark, now.ByTurns, now.Reason = s.Ribs[i].Label, &a, a.Mark, a.ByTurns, a.Reason.String()
	}
}

// blindEnds reports whether the probes can't tell which end of a rib is the softer.
func (s *Session) blindEnds() bool {
	last := s.box.Probes[len(s.box.Probes)-1].XM
	middle := s.box.InletM > 0.1*last && s.box.InletM < 0.9*last
	return middle && len(s.box.Survey) == 0 || s.box.shape().UncertaintyK > CalibratedK
}

// asFitted describes ribs to package hull. Their heat is that of the pull; what
// nobody saw of it is doubt.
func asFitted(ribs []*RibState) []hull.Fitted {
	var out []hull.Fitted
	for _, r := range ribs {
		f := hull.Fitted{
			Label: r.Label, StationM: r.StationM, Mark: hull.Side(r.markIn()),
			Steam: r.AtPull[unit.SteamEnd], Door: r.AtPull[unit.DoorEnd], SD: r.ratioSD(),
		}
		for _, e := range []*soak.Exposure{&f.Steam, &f.Door} {
			*e = min(max(*e, hull.MinExposure), hull.MaxExposure)
		}
		out = append(out, f)
	}
	return out
}

// markIn is where the rib's mark went: as told, else as it was called.
func (r *RibState) markIn() string {
	if r.Mark != "" {
		return r.Mark
	}
	return r.Called
}

// ratioSD is how well the ratio of its ends is known.
func (r *RibState) ratioSD() float64 {
	v := hull.DefaultSD * hull.DefaultSD
	for _, e := range unit.Ends {
		p, took := r.Heat.End(e), r.AtPull[e]
		half := math.Log(float64(max(hull.MinExposure, took+p.More)/max(hull.MinExposure, took-p.Less))) / 2
		v += half * half
	}
	return min(math.Sqrt(v), hull.MaxSD)
}
