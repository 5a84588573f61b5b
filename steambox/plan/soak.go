package plan

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"withy/steambox/ribs"
	"withy/steambox/soak"
	"withy/steambox/window"
)

// Source is where a soak comes from.
type Source string

// Told by the builder, learnt from test bends, or the handbook's for the thickness.
const (
	Told    Source = "told"
	Learnt  Source = "bends"
	Guessed Source = "guess"
)

// Soak is how long a rib is to lie in the steam.
type Soak struct {
	S      float64       // seconds in the box
	Heat   soak.Exposure // that the steam end takes; 0 where the time was told
	Chance float64       // that both ends come out supple; 0 where the time was told
	From   Source
	bentM  float64 // thickness of the bends it was learnt from; 0: as the rib's
}

// Same returns a soak of s seconds, as somebody told it, for each of n ribs.
func Same(s float64, n int) []Soak { return slices.Repeat([]Soak{{S: s, From: Told}}, n) }

// Stick is what test bends have shown of one stick.
type Stick struct {
	Name       string // empty: not said
	ThicknessM float64
	Bends      []window.Bend // each passes its Check
}

// Steaming is the box and the wood that a soak is reckoned for. Ribs that say no
// thickness or width have those of the section.
type Steaming struct {
	Assumed  soak.Assumed
	Dryness  window.Dryness
	WoodC    float64 // of a rib that goes in
	SteamC   float64 // of the air at the steam end
	EndRatio float64 // heat that the door end takes over what the steam end takes, above 0
}

// longestSoak is how long a rib is left in the steam at most.
const longestSoak = 24 * time.Hour

// Soaks returns the soak of each rib. Ribs sawn alike from one stick, that bend
// equally hard, have one. A stick of which there are no bends gets what is usual; the
// only stick with bends speaks for ribs that name no stick, and one without a name
// for all.
//
// Errors: wood that can't be reckoned, and heat that this steam doesn't give in a day.
func Soaks(table []ribs.Rib, sticks []Stick, s Steaming) ([]Soak, error) {
	return SoaksBy(table, func(of ribs.Section, bend window.Difficulty) (Soak, error) {
		return s.soakOf(of, bend, stickOf(sticks, of.Stick))
	})
}

// SoaksBy returns the soak of each rib, asking soakOf once for all that are sawn alike
// from one stick and bend equally hard. The error holds all that soakOf returned.
func SoaksBy(table []ribs.Rib, soakOf func(of ribs.Section, bend window.Difficulty) (Soak, error)) ([]Soak, error) {
	at := map[string]int{}
	for i, r := range table {
		at[r.Label] = i
	}
	soaks := make([]Soak, len(table))
	var errs []error
	for _, lot := range ribs.CutList(table, nil, 0) {
		each := map[window.Difficulty]Soak{}
		for _, blanks := range lot.Blanks {
			for _, label := range blanks.Ribs {
				i := at[label]
				bend := cmp.Or(window.Difficulty(table[i].Bend), window.Middling)
				one, known := each[bend]
				if !known {
					var err error
					one, err = soakOf(lot.Section, bend)
					errs = append(errs, err)
					each[bend] = one
				}
				soaks[i] = one
			}
		}
	}
	return soaks, errors.Join(errs...)
}

// stickOf returns the bends that speak for ribs of a stick; without any, an empty one.
func stickOf(sticks []Stick, name string) Stick {
	for _, s := range sticks {
		if s.Name == name || len(sticks) == 1 && (s.Name == "" || name == "") {
			return s
		}
	}
	return Stick{}
}

// soakOf reckons one soak: the heat to aim at, and how long this steam takes to give it.
func (s Steaming) soakOf(of ribs.Section, bend window.Difficulty, stick Stick) (Soak, error) {
	a := s.Assumed
	a.Section.ThicknessM = cmp.Or(of.ThicknessM, a.Section.ThicknessM)
	a.Section.WidthM = cmp.Or(of.WidthM, a.Section.WidthM)
	prior, err := window.Start(a, s.Dryness)
	if err != nil {
		return Soak{}, err
	}
	learnt := window.Learn(prior, stick.Bends, bend)
	target := learnt.Target(s.EndRatio)
	soakS, err := TimeFor(a, target.Steam, s.WoodC, s.SteamC)
	if err != nil {
		return Soak{}, err
	}
	one := Soak{S: soakS, Heat: target.Steam, Chance: target.Chance, From: Learnt}
	if learnt.Guess() {
		one.From = Guessed
	} else if math.Abs(stick.ThicknessM-a.Section.ThicknessM) > alikeM {
		one.bentM = stick.ThicknessM
	}
	return one, nil
}

// TimeFor returns the seconds in which wood that goes in at woodC has taken a heat in
// steam of steamC. Errors: wood that can't be reckoned, and more than a day.
func TimeFor(a soak.Assumed, heat soak.Exposure, woodC, steamC float64) (float64, error) {
	model, err := soak.NewModel(a)
	if err != nil {
		return 0, err
	}
	d, ok := model.Fresh(heat, woodC, steamC, longestSoak)
	if !ok {
		return 0, fmt.Errorf("ribs %g mm thick would have to stay longer than a day in steam of %.1f °C: no soak does", a.Section.ThicknessM*1000, steamC)
	}
	return d.Seconds(), nil
}

// alikeM is how far thicknesses may be apart and count as one (common practice, no
// source: measured blanks scatter by that much).
const alikeM = 0.0005

// otherShare is how far another soak must be from the run's before it matters: ribs
// pulled by a watch scatter by less (common practice, no source).
const otherShare = 0.10

// chooseSoak keeps to the soak that most ribs want and says which want another.
func (p *Plan) chooseSoak(a *Asked) {
	count := map[Soak]int{}
	for _, s := range a.Soaks {
		count[s]++
		if count[s] > count[p.Soak] {
			p.Soak = s
		}
	}
	others := map[float64][]string{}
	for i, s := range a.Soaks {
		if math.Abs(s.S-p.Soak.S) > otherShare*p.Soak.S {
			others[s.S] = append(others[s.S], a.Ribs[i].Label)
		}
	}
	for _, s := range slices.Sorted(maps.Keys(others)) {
		p.limit(Limit{Kind: OtherSoak, Ribs: others[s], Is: s, May: p.Soak.S})
	}
	p.doubtSoaks(a)
}

// doubtSoaks says which soaks stand on little.
func (p *Plan) doubtSoaks(a *Asked) {
	guessed, told := map[string]bool{}, map[string]bool{}
	for i, s := range a.Soaks {
		stick := a.Ribs[i].Stick
		if s.From == Guessed && !guessed[stick] {
			guessed[stick] = true
			p.limit(Limit{Kind: SoakGuessed, Stick: stick})
		}
		if s.bentM > 0 && !told[stick] {
			told[stick] = true
			p.limit(Limit{Kind: OtherThickness, Stick: stick, Is: s.bentM, May: cmp.Or(a.Ribs[i].ThicknessM, a.Usual.ThicknessM)})
		}
	}
}
