package steambox

import (
	"math"
)

// A split of at most so much of the width and so much of the thickness can be
// pinned, glued and clamped; beyond it the rib is replaced, and stays in its place
// until then: common practice, no source.
const gluePct = 25

// Ordinary breakage is one to four ribs in a boat of about two dozen, with good
// fresh stock: common practice, no source. As a starting belief about a stick it
// weighs as much as having bent so many and broken so many.
const (
	usualBent, usualBroken = 15.0, 1.5
	ordinaryShare          = 4.0 / 24
)

// settleLiftM is how far a keel may lift, in metres, and settle again as the ribs
// dry; beyond it the bottom comes out too round: common practice, no source (half
// an inch).
const settleLiftM = 0.0127

// Ledger is what breakage has come to.
type Ledger struct {
	Glue     []string      `json:"glue"`     // splits small enough to pin, glue and clamp
	Replace  []string      `json:"replace"`  // broken, in their place until there is another
	Replaced []Replacement `json:"replaced"` // which rib took whose place
	// SparesLeft is how many spares are left, ExpectBroken how many more of this
	// stick will break before the boat is done, and MakeMore how many blanks to cut
	// so that they do.
	SparesLeft   *int     `json:"spares_left,omitempty"`
	ExpectBroken float64  `json:"expect_broken"`
	MakeMore     int      `json:"make_more"`
	Beyond       bool     `json:"beyond_ordinary"`   // more than ordinary breakage
	Favours      string   `json:"favours,omitempty"` // what the evidence favours: stick, soak or pace
	KeelLiftM    *float64 `json:"keel_lift_m,omitempty"`
	KeelTooHigh  bool     `json:"keel_too_high"`
}

// Replacement is a rib that broke and the one that took its place.
type Replacement struct {
	Rib string `json:"rib"`
	By  string `json:"by"`
}

// split is a crack as somebody measured it.
type split struct {
	Told               bool
	AcrossPct, Through float64
}

// keel is how far it was measured to lift.
type keel struct {
	Told  bool
	LiftM float64
}

// glues reports whether the rib can stay.
func (p split) glues() bool { return p.Told && p.AcrossPct <= gluePct && p.Through <= gluePct }

// ledger reckons what breakage has come to.
func (s *Session) ledger() Ledger {
	l := Ledger{Glue: []string{}, Replace: []string{}, Replaced: []Replacement{}}
	var bent, broken, toGo float64
	for i := range s.Ribs {
		r := &s.Ribs[i]
		if r.Test {
			continue
		}
		switch {
		case r.Place != Out:
			toGo++
		case r.Outcome == "cracked":
			broken++
			fallthrough
		default:
			bent++
		}
		switch {
		case r.ReplacedBy != "":
			l.Replaced = append(l.Replaced, Replacement{r.Label, r.ReplacedBy})
		case r.Place == Out && r.Outcome == "cracked" && r.Split.glues():
			l.Glue = append(l.Glue, r.Label)
		case r.Place == Out && r.Outcome == "cracked":
			l.Replace = append(l.Replace, r.Label)
		}
	}
	share := (usualBroken + broken) / (usualBent + bent)
	l.ExpectBroken = toGo * share
	l.Beyond = broken >= 2 && broken > ordinaryShare*max(bent, 12)
	if l.Beyond {
		l.Favours = s.favours()
	}
	if s.box.Spares > 0 {
		left := max(0, s.box.Spares-s.sparesUsed())
		l.SparesLeft = &left
		// A little more than is to be expected: a Poisson spread.
		need := float64(len(l.Replace)) + l.ExpectBroken + math.Sqrt(l.ExpectBroken)
		l.MakeMore = max(0, int(math.Ceil(need))-left)
	}
	if s.Keel.Told {
		lift := s.Keel.LiftM
		l.KeelLiftM, l.KeelTooHigh = &lift, lift > settleLiftM
	}
	return l
}

// sparesUsed is how many ribs went in that the table does not have; without a table,
// how many took another's place.
func (s *Session) sparesUsed() int {
	used := 0
	for i := s.Listed; i < len(s.Ribs); i++ {
		r := &s.Ribs[i]
		if r.Place != Waiting && !r.Test && (len(s.box.Ribs) > 0 || r.Replaces != "") {
			used++
		}
	}
	return used
}

// favours says what breakage beyond the ordinary comes from: pace, where ribs go
// through too fast or too slowly; soak, where most broken ones had too little or
// too much heat at an end; else the stick.
func (s *Session) favours() string {
	outside, broken := 0, 0
	for i := range s.Ribs {
		r := &s.Ribs[i]
		if r.Place != Out || r.Outcome != "cracked" {
			continue
		}
		broken++
		if w := r.Wanted; min(r.AtPull[0], r.AtPull[1]) < w.Soft || max(r.AtPull[0], r.AtPull[1]) > w.Over {
			outside++
		}
	}
	switch v := s.paceNow().Verdict; {
	case v == "too-fast" || v == "too-slow":
		return "pace"
	case 2*outside > broken:
		return "soak"
	}
	return "stick"
}
