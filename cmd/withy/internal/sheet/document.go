package sheet

import (
	"cmp"
	"math"
	"slices"

	"withy/steambox/measure"
	"withy/steambox/plan"
	"withy/steambox/words"
)

// PlanDocument is a plan as programs read it. Times are minutes from the first rib in,
// before it below nought; lists that are empty are empty lists.
type PlanDocument struct {
	Ribs       int             `json:"ribs"`
	Unfair     []OddDocument   `json:"unfair"`
	Thickness  []OddDocument   `json:"odd_thickness"`
	Spares     []SpareDocument `json:"spares"`
	Slots      int             `json:"slots"`
	IntervalS  float64         `json:"interval_s"`
	SoakS      float64         `json:"soak_s"`
	SoakFrom   plan.Source     `json:"soak_from"`
	RunMin     float64         `json:"run_min"`
	SessionMin float64         `json:"session_min"`
	WaterL     float64         `json:"water_l"`
	Kettle     []CallDocument  `json:"kettle"`
	Breaks     []BreakDocument `json:"breaks"`
	Heat       HeatDocument    `json:"heat"`
	Order      []TurnDocument  `json:"order"`
	Limits     []string        `json:"limits"`
	Cut        []CutDocument   `json:"cut,omitzero"`   // only in what Drawn returns
	Curve      []CurveDocument `json:"curve,omitzero"` // the same
}

// OddDocument is a rib that is out of line: by its length, or where the key says so
// by its thickness.
type OddDocument struct {
	Rib         string  `json:"rib"`
	LengthMM    float64 `json:"length_mm,omitempty"`
	ThicknessMM float64 `json:"thickness_mm,omitempty"`
	SuggestedMM float64 `json:"suggested_mm"`
	OffMM       float64 `json:"off_mm"`
}

// SpareDocument is a spare and the ribs that it can replace.
type SpareDocument struct {
	Stick    string   `json:"stick,omitempty"`
	LengthMM float64  `json:"length_mm"`
	Covers   []string `json:"covers"`
}

// CallDocument is a call for water: when, and when it is in the boiler.
type CallDocument struct {
	AtMin   float64 `json:"at_min"`
	PourMin float64 `json:"pour_min"`
	Litres  float64 `json:"litres"`
}

// BreakDocument is the refill of a boiler that can't be filled hot.
type BreakDocument struct {
	After      int     `json:"after_ribs"`
	HeatOffMin float64 `json:"heat_off_min"`
	FillMin    float64 `json:"fill_min"`
	Litres     float64 `json:"litres"`
	AgainMin   float64 `json:"again_min"`
}

// HeatDocument is where the boiler's heat goes, W; boiler_w is what makes steam.
type HeatDocument struct {
	BoilerW float64 `json:"boiler_w"`
	RibsW   float64 `json:"ribs_w"`
	WallsW  float64 `json:"walls_w"`
	VentW   float64 `json:"vent_w"`
	SpareW  float64 `json:"spare_w"`
}

// TurnDocument is one rib's passage through the box.
type TurnDocument struct {
	Rib    string  `json:"rib"`
	Slot   string  `json:"slot"`
	InMin  float64 `json:"in_min"`
	OutMin float64 `json:"out_min"`
}

// CurveDocument is one rib beside the fair curve of her boat. What the table doesn't
// say, or can't be judged, is absent.
type CurveDocument struct {
	Rib       string   `json:"rib"`
	Boat      string   `json:"boat,omitempty"`
	Stick     string   `json:"stick,omitempty"`
	StationMM *float64 `json:"station_mm,omitempty"`
	LengthMM  float64  `json:"length_mm"`
	FairMM    *float64 `json:"fair_mm,omitempty"`
	OffMM     *float64 `json:"off_mm,omitempty"`
	Unfair    bool     `json:"unfair"`
	Meant     bool     `json:"meant"`
}

// CutDocument is the blanks to be sawn from one stick to one size, with what is left on
// their ends.
type CutDocument struct {
	Stick       string   `json:"stick,omitempty"`
	ThicknessMM float64  `json:"thickness_mm,omitempty"`
	WidthMM     float64  `json:"width_mm,omitempty"`
	LengthMM    float64  `json:"length_mm"`
	Ribs        []string `json:"ribs"`
	Spares      int      `json:"spares"`
}

// Drawn returns the day as a page wants it that draws it: with the blanks to saw and
// the curve.
func (d Day) Drawn() PlanDocument {
	doc := d.Document()
	doc.Cut, doc.Curve = d.cut(), d.curve()
	return doc
}

// cut lists the blanks, stick by stick.
func (d Day) cut() []CutDocument {
	cut := []CutDocument{}
	for _, l := range d.Plan.Lots {
		for _, b := range l.Blanks {
			cut = append(cut, CutDocument{l.Stick, millimetre(l.ThicknessM), millimetre(l.WidthM), millimetre(b.LengthM), append([]string{}, b.Ribs...), b.Spares})
		}
	}
	return cut
}

// curve returns the ribs beside the fair curve, boat by boat, each from bow to stern.
func (d Day) curve() []CurveDocument {
	curve := []CurveDocument{}
	for _, b := range d.Plan.Boats {
		first := len(curve)
		for n, i := range b.Ribs {
			r := d.Plan.Ribs[i]
			one := CurveDocument{Rib: r.Label, Boat: r.Boat, Stick: r.Stick, LengthMM: millimetre(r.LengthM), Unfair: d.Plan.Odd(r.Label), Meant: r.Meant}
			if r.HasStation {
				station := millimetre(r.StationM)
				one.StationMM = &station
			}
			if b.CurveM != nil {
				fair, off := millimetre(b.CurveM[n]), millimetre(r.LengthM-b.CurveM[n])
				one.FairMM, one.OffMM = &fair, &off
			}
			curve = append(curve, one)
		}
		if boat := curve[first:]; boat[0].StationMM != nil {
			slices.SortStableFunc(boat, func(a, b CurveDocument) int { return cmp.Compare(*a.StationMM, *b.StationMM) })
		}
	}
	return curve
}

// Document returns the day as programs read it.
func (d Day) Document() PlanDocument {
	p, h := d.Plan, d.Plan.Heat
	doc := PlanDocument{
		Ribs: len(p.Ribs), Unfair: []OddDocument{}, Thickness: []OddDocument{}, Spares: []SpareDocument{},
		Slots: p.Rhythm.Slots, IntervalS: p.Rhythm.Interval.Seconds(), SoakS: p.Soak.S, SoakFrom: p.Soak.From,
		RunMin: p.RunS / 60, SessionMin: p.SessionS() / 60, WaterL: p.BoiledL,
		Kettle: []CallDocument{}, Breaks: []BreakDocument{}, Order: []TurnDocument{}, Limits: limitsOf(p, measure.Metric),
		Heat: HeatDocument{h.BoilerW, h.RibsW, h.WallsW, h.VentW, h.SpareW},
	}
	for _, b := range p.Boats {
		for _, o := range b.Odd {
			doc.Unfair = append(doc.Unfair, OddDocument{Rib: o.Label, LengthMM: millimetre(o.IsM), SuggestedMM: millimetre(o.SuggestedM), OffMM: millimetre(o.OffM)})
		}
	}
	for _, o := range p.Thick {
		doc.Thickness = append(doc.Thickness, OddDocument{Rib: o.Label, ThicknessMM: millimetre(o.IsM), SuggestedMM: millimetre(o.SuggestedM), OffMM: millimetre(o.OffM)})
	}
	for _, s := range p.Spares {
		doc.Spares = append(doc.Spares, SpareDocument{s.Stick, millimetre(s.LengthM), s.Covers})
	}
	doc.times(d)
	return doc
}

// times fills in what has a time of its own.
func (doc *PlanDocument) times(d Day) {
	for _, c := range d.Plan.Calls {
		doc.Kettle = append(doc.Kettle, CallDocument{c.AtS / 60, c.PourS / 60, c.Litres})
	}
	for _, b := range d.Plan.Breaks {
		doc.Breaks = append(doc.Breaks, BreakDocument{b.After, b.HeatOffS / 60, b.FillS / 60, b.Litres, b.AgainS / 60})
	}
	for _, t := range d.Plan.Turns {
		doc.Order = append(doc.Order, TurnDocument{d.Plan.Ribs[t.Rib].Label, d.slot(t.Slot), t.InS / 60, t.OutS / 60})
	}
}

// millimetre returns metres in millimetres, to the hundredth.
func millimetre(m float64) float64 { return math.Round(m*1e5) / 100 }

// limitsOf returns the limits as sentences.
func limitsOf(p *plan.Plan, u measure.Units) []string {
	said := []string{}
	for _, l := range p.Limits {
		said = append(said, words.Limit(l, u))
	}
	return said
}
