package sheet

import (
	"math"

	"withy/steambox/plan"
	"withy/steambox/words"
)

// Document is a plan as programs read it. Times are minutes from the first rib in,
// before it below nought; lists that are empty are empty lists.
type Document struct {
	Ribs       int             `json:"ribs"`
	Unfair     []oddDocument   `json:"unfair"`
	Thickness  []oddDocument   `json:"odd_thickness"`
	Spares     []spareDocument `json:"spares"`
	Slots      int             `json:"slots"`
	IntervalS  float64         `json:"interval_s"`
	SoakS      float64         `json:"soak_s"`
	SoakFrom   plan.Source     `json:"soak_from"`
	RunMin     float64         `json:"run_min"`
	SessionMin float64         `json:"session_min"`
	WaterL     float64         `json:"water_l"`
	Kettle     []callDocument  `json:"kettle"`
	Breaks     []breakDocument `json:"breaks"`
	Heat       heatDocument    `json:"heat"`
	Order      []turnDocument  `json:"order"`
	Limits     []string        `json:"limits"`
}

// oddDocument is a rib that is out of line: by its length, or where the key says so
// by its thickness.
type oddDocument struct {
	Rib         string  `json:"rib"`
	LengthMM    float64 `json:"length_mm,omitempty"`
	ThicknessMM float64 `json:"thickness_mm,omitempty"`
	SuggestedMM float64 `json:"suggested_mm"`
	OffMM       float64 `json:"off_mm"`
}

type spareDocument struct {
	Stick    string   `json:"stick,omitempty"`
	LengthMM float64  `json:"length_mm"`
	Covers   []string `json:"covers"`
}

type callDocument struct {
	AtMin   float64 `json:"at_min"`
	PourMin float64 `json:"pour_min"`
	Litres  float64 `json:"litres"`
}

type breakDocument struct {
	After      int     `json:"after_ribs"`
	HeatOffMin float64 `json:"heat_off_min"`
	FillMin    float64 `json:"fill_min"`
	Litres     float64 `json:"litres"`
	AgainMin   float64 `json:"again_min"`
}

// heatDocument is where the boiler's heat goes, W; boiler_w is what makes steam.
type heatDocument struct {
	BoilerW float64 `json:"boiler_w"`
	RibsW   float64 `json:"ribs_w"`
	WallsW  float64 `json:"walls_w"`
	VentW   float64 `json:"vent_w"`
	SpareW  float64 `json:"spare_w"`
}

type turnDocument struct {
	Rib    string  `json:"rib"`
	Slot   string  `json:"slot"`
	InMin  float64 `json:"in_min"`
	OutMin float64 `json:"out_min"`
}

// Document returns the day as programs read it.
func (d Day) Document() Document {
	p, h := d.Plan, d.Plan.Heat
	doc := Document{
		Ribs: len(p.Ribs), Unfair: []oddDocument{}, Thickness: []oddDocument{}, Spares: []spareDocument{},
		Slots: p.Rhythm.Slots, IntervalS: p.Rhythm.Interval.Seconds(), SoakS: p.Soak.S, SoakFrom: p.Soak.From,
		RunMin: p.RunS / 60, SessionMin: p.SessionS() / 60, WaterL: p.BoiledL,
		Kettle: []callDocument{}, Breaks: []breakDocument{}, Order: []turnDocument{}, Limits: limitsOf(p),
		Heat: heatDocument{h.BoilerW, h.RibsW, h.WallsW, h.VentW, h.SpareW},
	}
	for _, b := range p.Boats {
		for _, o := range b.Odd {
			doc.Unfair = append(doc.Unfair, oddDocument{Rib: o.Label, LengthMM: millimetre(o.IsM), SuggestedMM: millimetre(o.SuggestedM), OffMM: millimetre(o.OffM)})
		}
	}
	for _, o := range p.Thick {
		doc.Thickness = append(doc.Thickness, oddDocument{Rib: o.Label, ThicknessMM: millimetre(o.IsM), SuggestedMM: millimetre(o.SuggestedM), OffMM: millimetre(o.OffM)})
	}
	for _, s := range p.Spares {
		doc.Spares = append(doc.Spares, spareDocument{s.Stick, millimetre(s.LengthM), s.Covers})
	}
	doc.times(d)
	return doc
}

// times fills in what has a time of its own.
func (doc *Document) times(d Day) {
	for _, c := range d.Plan.Calls {
		doc.Kettle = append(doc.Kettle, callDocument{c.AtS / 60, c.PourS / 60, c.Litres})
	}
	for _, b := range d.Plan.Breaks {
		doc.Breaks = append(doc.Breaks, breakDocument{b.After, b.HeatOffS / 60, b.FillS / 60, b.Litres, b.AgainS / 60})
	}
	for _, t := range d.Plan.Turns {
		doc.Order = append(doc.Order, turnDocument{d.Plan.Ribs[t.Rib].Label, d.slot(t.Slot), t.InS / 60, t.OutS / 60})
	}
}

// millimetre returns metres in millimetres, to the hundredth.
func millimetre(m float64) float64 { return math.Round(m*1e5) / 100 }

// limitsOf returns the limits as sentences.
func limitsOf(p *plan.Plan) []string {
	said := []string{}
	for _, l := range p.Limits {
		said = append(said, words.Limit(l))
	}
	return said
}
