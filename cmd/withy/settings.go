package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"

	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/table"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/sensor/resistance"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/pace"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/unit"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// defaultBox is what a configuration that says nothing comes to.
var defaultBox = steambox.DefaultBox()

// settings is a configuration that has been checked, as the program uses it.
type settings struct {
	Units   measure.Units       `json:"units"`
	Box     steambox.Box        `json:"box"`
	Sensors sensor.Config       `json:"sensors"`
	Buzzer  sensor.OutputConfig `json:"buzzer"`
	Lamp    sensor.OutputConfig `json:"lamp"`
	Meter   string              `json:"barometer"` // empty: none
	Floats  []float64           `json:"floats"`    // litres left when each turns
	Does    map[string]string   `json:"does"`      // what each button does
	Page    pageConfig          `json:"page"`
	Log     logConfig           `json:"log"`
	Outputs []reach             `json:"outputs"`
	Shop    boxes.Shop          `json:"shop"`
	Data    string              `json:"data"`
	Told    map[string]bool     `json:"-"` // keys that stand in the file or the environment
	Mistook error               `json:"-"` // outputs that can't be used as they are set; the others can
	at      lines               // where the keys stand
	Damaged error               `json:"-"` // calibration records that can't be read; nil: all can
}

// readSettings reads and checks a configuration; all mistakes come together. data is
// the folder of the record, empty for what the configuration says.
//
// What was found by calibrating and surveying stands there, dated, and goes before
// offset_k, ice_k, lag, survey and slot_offset_k: whoever calibrates need not edit
// a file, and the file's date says nothing of when an offset was found.
func readSettings(name, data string) (settings, error) {
	c, at, err := readConfig(name)
	if err != nil {
		return settings{}, err
	}
	r := settler{c: c, at: at}
	s := r.settle()
	s.at = at
	s.Data = cmp.Or(data, s.Data)
	s.Told = map[string]bool{}
	for key := range at.of {
		s.Told[key] = true
	}
	for key := range at.variable {
		s.Told[key] = true
	}
	s.Outputs, s.Mistook = r.outputs()
	s.Box.Away = slices.ContainsFunc(s.Outputs, func(o reach) bool { return o.Kind != byBeat })
	if err := errors.Join(r.mistakes...); err != nil {
		return s, errors.Join(err, s.Mistook)
	}
	kept, err := calibration.Load(s.Data)
	kept.Apply(&s.Box)
	s.Damaged = err
	return s, nil
}

// weather takes the pressure from the barometer, if there is one. One that can't be read
// leaves what the altitude makes of it.
func (s *settings) weather() error {
	if s.Meter == "" {
		return nil
	}
	pa, err := sensor.ReadPressure(cmp.Or(s.Sensors.IIORoot, sensor.DefaultIIORoot), s.Meter)
	if err != nil {
		return fmt.Errorf("%s: %w", s.Meter, err)
	}
	s.Box.PressurePa, s.Box.Measured = pa, true
	return nil
}

// settler turns a configuration into settings and collects what is wrong with it.
type settler struct {
	c        config
	at       lines
	mistakes []error
}

func (r *settler) wrong(key, format string, a ...any) {
	r.mistakes = append(r.mistakes, r.at.mistake(key, format, a...))
}

func (r *settler) number(key string, x, lo, hi float64) {
	if !unit.Finite(x) || x < lo || x > hi {
		r.wrong(key, "%g is outside %g to %g", x, lo, hi)
	}
}

func (r *settler) lasts(key string, d duration, loS, hiS float64) {
	if s := d.seconds(); s < loS || s > hiS {
		r.wrong(key, "%gs is outside %gs to %gs", s, loS, hiS)
	}
}

// within holds a number to the range that it has on the page too.
func (r *settler) within(key string, x float64) {
	o, _ := offered(key) // TestOffers sees that it is there
	r.number(key, x, o.Lo, o.Hi)
}

// lastsWithin is within for a length of time.
func (r *settler) lastsWithin(key string, d duration) {
	o, _ := offered(key)
	r.lasts(key, d, o.Lo, o.Hi)
}

func (r *settler) word(key, got string, words []string) {
	if !slices.Contains(words, got) {
		r.wrong(key, "%q is not one of %s", got, strings.Join(words, ", "))
	}
}

func (r *settler) settle() settings {
	s := settings{Units: measure.Units(r.c.Units), Page: r.c.Page, Log: r.c.Log, Data: r.c.Data, Does: map[string]string{}}
	r.word("units", r.c.Units, texts(measure.All))
	r.box(&s.Box)
	r.place(&s)
	r.probes(&s)
	r.water(&s.Box)
	r.stock(&s.Box)
	r.boat(&s.Box)
	r.board(&s)
	s.Shop = r.shop()
	r.page(&s.Page)
	if r.c.Log.Days != 0 {
		r.number("log.keep_days", float64(r.c.Log.Days), 7, 36500)
	}
	r.number("log.keep_mb", float64(r.c.Log.MB), 20, 100000)
	if r.c.Data == "" {
		r.wrong("data", "empty; the folder of the record belongs here")
	}
	return s
}

// page enters how the page is served.
func (r *settler) page(p *pageConfig) {
	for _, file := range []*string{&p.Certificate, &p.Key} {
		if *file != "" {
			*file = r.at.beside(*file)
		}
	}
	for _, m := range p.mistakes() {
		r.wrong("page."+m.key, "%s", m.says)
	}
}

func (r *settler) box(b *steambox.Box) {
	c := r.c.Box
	r.within("box.length_mm", c.LengthMM)
	if c.InsideMM != 0 {
		r.within("box.inside_mm", c.InsideMM)
	}
	if c.BoardMM != 0 {
		r.within("box.board_mm", c.BoardMM)
	}
	b.InsideM, b.BoardM = c.InsideMM/1000, c.BoardMM/1000
	r.within("box.cold_end_k", c.ColdEndK)
	r.within("box.below_k", c.BelowK)
	r.lastsWithin("box.level", c.Level)
	r.lastsWithin("box.at_least", c.AtLeast)
	if len(c.Slots) < 1 || len(c.Slots) > 26 {
		r.wrong("box.slots", "%d slots; 1 to 26, a letter each", len(c.Slots))
	}
	for i, slot := range c.Slots {
		if slot == "" || slices.Contains(c.Slots[:i], slot) {
			r.wrong("box.slots", "slot %d is %q; each needs a letter of its own", i+1, slot)
		}
	}
	*b = defaultBox
	b.Name, b.LengthM, b.Slots, b.ColdEndK = c.Name, c.LengthMM/1000, c.Slots, c.ColdEndK
	b.Warm.LevelS, b.Warm.AtLeastS, b.Warm.BelowK = c.Level.seconds(), c.AtLeast.seconds(), c.BelowK
	r.survey(b)
	r.word("run.way", r.c.Run.Way, texts(pace.Ways))
	r.lastsWithin("run.crew", r.c.Run.Crew)
	b.Way, b.CrewS = pace.Way(r.c.Run.Way), r.c.Run.Crew.seconds()
}

// survey enters what was found along the box by carrying a probe through it.
func (r *settler) survey(b *steambox.Box) {
	c := r.c.Box
	r.number("box.inlet_mm", c.InletMM, 0, c.LengthMM)
	b.InletM, b.SlotK = c.InletMM/1000, c.SlotOffsetK
	if n := len(c.SlotOffsetK); n != 0 && n != len(c.Slots) {
		r.wrong("box.slot_offset_k", "%d offsets for %d slots", n, len(c.Slots))
	}
	for i, k := range c.SlotOffsetK {
		r.number("box.slot_offset_k["+strconv.Itoa(i)+"]", k, -10, 10)
	}
	if len(c.Survey) > 0 && len(r.c.Probes) != 2 {
		r.wrong("box.survey", "a survey belongs to a box with two probes")
	}
	for i, k := range c.Survey {
		key := "box.survey[" + strconv.Itoa(i) + "]"
		r.number(key+".at_mm", k.AtMM, 1, c.LengthMM)
		r.number(key+".share", k.Share, -1, 2)
		if i > 0 && k.AtMM <= c.Survey[i-1].AtMM {
			r.wrong(key+".at_mm", "%g mm: list the places from the steam end", k.AtMM)
		}
		b.Survey = append(b.Survey, profile.Knot{X: unit.Metre(k.AtMM / 1000), Share: k.Share})
	}
}

func texts[T ~string](words []T) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return out
}

func (r *settler) place(s *settings) {
	c, b := r.c.Place, &s.Box
	r.within("place.altitude_m", c.AltitudeM)
	r.within("place.shop_c", c.ShopC)
	b.ShopC = c.ShopC
	if c.Barometer != "" {
		if err := sensor.CheckBarometer(c.Barometer); err != nil {
			r.wrong("place.barometer", "%v", err)
		}
		if c.PressurePa != 0 {
			r.wrong("place.pressure_pa", "typed, and a barometer is named too; take one away")
		}
		s.Meter = c.Barometer
	}
	if c.PressurePa != 0 {
		r.within("place.pressure_pa", c.PressurePa)
		b.PressurePa, b.Measured = c.PressurePa, true
		return
	}
	if pa, err := steam.PressureAt(c.AltitudeM); err == nil {
		b.PressurePa = pa
	}
}

func (r *settler) probes(s *settings) {
	if n := len(r.c.Probes); n < 1 || n > 8 {
		r.wrong("probes", "%d probes; 1 to 8, from the steam end", n)
	}
	ids, names := map[string]int{}, map[string]int{}
	for i, p := range r.c.Probes {
		key := "probes[" + strconv.Itoa(i) + "]"
		r.element(s, key, p)
		r.twice(ids, key+".id", p.ID, i)
		for j, before := range r.c.Probes[:i] {
			if before.ID != p.ID && sensor.SameProbe(before.ID, p.ID) {
				r.wrong(key+".id", "%s may be the same as probes[%d], %s: write at which place each sits, such as iio:max31856@spi0.1/temp", p.ID, j, before.ID)
			}
		}
		r.twice(names, key+".name", p.Name, i)
		r.number(key+".at_mm", p.AtMM, -1000, 20000)
		r.number(key+".offset_k", p.OffsetK, -10, 10)
		r.lasts(key+".lag", p.Lag, 0, 120)
		if i > 0 && p.AtMM <= r.c.Probes[i-1].AtMM {
			r.wrong(key+".at_mm", "%g mm is where probes[%d] is, or nearer the steam: list them from the steam end", p.AtMM, i-1)
		}
		ice := p.OffsetK
		if p.IceK != nil {
			ice = *p.IceK
		}
		r.number(key+".ice_k", ice, -10, 10)
		s.Box.Probes = append(s.Box.Probes, steambox.BoxProbe{
			Name: p.Name, ID: p.ID, XM: p.AtMM / 1000, OffsetK: p.OffsetK, IceK: ice, LagS: p.Lag.seconds(), Calibrated: p.Calibrated,
		})
		s.Sensors.Probes = append(s.Sensors.Probes, p.ID)
	}
}

// Kinds of element, and platinum's ohms at 0 °C; a thermistor has no one figure.
var elementKinds = map[string]float64{"pt100": 100, "pt1000": 1000, "thermistor": 0}

// element enters a probe's name and what hangs at it.
func (r *settler) element(s *settings, key string, p probeConfig) {
	before := len(r.mistakes)
	if err := sensor.CheckProbe(p.ID); err != nil {
		r.wrong(key+".id", "%v", err)
	}
	var e *sensor.Element
	if p.Element != nil {
		e = r.elementOf(key+".element", *p.Element)
	}
	if len(r.mistakes) > before {
		return
	}
	if err := sensor.CheckElement(p.ID, e); err != nil {
		r.wrong(key+".element", "%v", err)
	}
	if e != nil {
		if s.Sensors.Elements == nil {
			s.Sensors.Elements = map[string]sensor.Element{}
		}
		s.Sensors.Elements[p.ID] = *e
	}
}

func (r *settler) elementOf(key string, c elementConfig) *sensor.Element {
	r.word(key+".kind", c.Kind, slices.Sorted(maps.Keys(elementKinds)))
	r.number(key+".reference_ohm", c.ReferenceOhm, 1, 10e6)
	if c.SupplyMV != 0 {
		r.number(key+".supply_mv", c.SupplyMV, 100, 24e3)
	}
	e := sensor.Element{Ohm0: elementKinds[c.Kind], ReferenceOhm: c.ReferenceOhm, SupplyMV: c.SupplyMV}
	if c.Kind == "thermistor" {
		e.Thermistor = r.thermistor(key, c)
	}
	return &e
}

// thermistor reads three rows of a thermistor's table, or its beta.
func (r *settler) thermistor(key string, c elementConfig) resistance.Thermistor {
	if len(c.Table) == 0 {
		r.number(key+".ohm_25", c.Ohm25, 100, 10e6)
		r.number(key+".beta_k", c.BetaK, 1000, 10000)
		return resistance.FromBeta(c.Ohm25, c.BetaK)
	}
	if len(c.Table) != 3 {
		r.wrong(key+".table", "%d rows; three of its maker's, such as those of 25, 85 and 125 °C", len(c.Table))
		return resistance.Thermistor{}
	}
	var at, ohm [3]float64
	for i, row := range c.Table {
		at[i], ohm[i] = row.C, row.Ohm
		r.number(key+".table["+strconv.Itoa(i)+"].c", row.C, -55, 200)
		r.number(key+".table["+strconv.Itoa(i)+"].ohm", row.Ohm, 1, 100e6)
	}
	th, err := resistance.FromTable(at, ohm)
	if err != nil {
		r.wrong(key+".table", "%v", err)
	}
	return th
}

// twice enters a word that only one of a list may have.
func (r *settler) twice(seen map[string]int, key, word string, i int) {
	if word == "" {
		r.wrong(key, "empty")
	} else if j, ok := seen[word]; ok {
		r.wrong(key, "%q is named by number %d already", word, j+1)
	}
	seen[word] = i
}

func (r *settler) water(b *steambox.Box) {
	c, k := r.c.Boiler, r.c.Kettle
	r.word("boiler.kind", c.Kind, texts(boiler.Kinds))
	r.within("boiler.power_w", c.PowerW)
	if c.Ring != "" {
		r.word("boiler.ring", c.Ring, texts(boiler.Rings))
	}
	r.within("boiler.full_l", c.FullL)
	r.number("boiler.switch_l", c.SwitchL, 0, c.FullL)
	r.number("boiler.bare_l", c.BareL, 0, c.FullL)
	if c.SwitchL > 0 && c.SwitchL <= c.BareL {
		r.wrong("boiler.switch_l", "%g L is not above bare_l, %g L: the switch would trip too late", c.SwitchL, c.BareL)
	}
	r.within("kettle.litres", k.Litres)
	r.within("kettle.power_w", k.PowerW)
	r.within("kettle.tap_c", k.TapC)
	r.lastsWithin("kettle.carry", k.Carry)
	b.Boiler = boiler.Boiler{Kind: boiler.Kind(c.Kind), PowerW: c.PowerW, Gas: c.Gas, Ring: boiler.Ring(c.Ring), FullL: c.FullL, SwitchL: c.SwitchL, BareL: c.BareL}
	b.Kettle = boiler.Kettle{Litres: k.Litres, PowerW: k.PowerW, TapC: k.TapC, CarryS: k.Carry.seconds()}
	if r.c.Board.Level.Line == "" {
		b.Boiler.SwitchL = 0
	}
}

func (r *settler) stock(b *steambox.Box) {
	c, w := r.c.Wood, r.c.Window
	r.within("wood.start_c", c.StartC)
	r.within("wood.film_w_m2k", c.FilmWPerM2K)
	r.within("wood.film_factor", c.FilmFactor)
	b.WoodC = c.StartC
	b.Wood = steambox.Stock{Material: wood.WhiteOak, Species: c.Species, Moisture: c.MoisturePct, FilmWPerM2: c.FilmWPerM2K, FilmFactor: c.FilmFactor}
	if kind, err := wood.SpeciesByName(c.Species); err != nil {
		r.wrong("wood.species", "%v", err)
	} else if b.Wood.Material, err = kind.At(c.MoisturePct); err != nil {
		r.wrong("wood.moisture_pct", "%v", err)
	}
	r.within("window.soft_min", w.SoftMin)
	r.within("window.target_min", w.TargetMin)
	r.within("window.over_min", w.OverMin)
	if !(w.SoftMin <= w.TargetMin && w.TargetMin < w.OverMin) {
		r.wrong("window", "soft_min %g, target_min %g, over_min %g must rise", w.SoftMin, w.TargetMin, w.OverMin)
	}
	r.word("window.dryness", w.Dryness, texts(window.Drynesses))
	b.Learn, b.Dryness = w.Learn, window.Dryness(w.Dryness)
	if w.Bends != "" {
		b.TestBends = r.testBends(r.at.beside(w.Bends))
	}
	b.Window = steambox.Window{Soft: soak.Exposure(w.SoftMin), Target: soak.Exposure(w.TargetMin), Over: soak.Exposure(w.OverMin)}
}

// testBends reads the bends that were made before the session. What a soak in the box
// of that day was worth is not known here, so they are told by their heat.
func (r *settler) testBends(name string) []steambox.TestBend {
	sticks, err := readBends(name)
	if err != nil {
		r.mistakes = append(r.mistakes, err)
		return nil
	}
	bends, err := byTheirHeat(name, sticks)
	if err != nil {
		r.wrong("window.bends", "%v", err)
	}
	return bends
}

func byTheirHeat(name string, sticks []triedStick) ([]steambox.TestBend, error) {
	var out []steambox.TestBend
	for _, s := range sticks {
		for _, b := range s.bends {
			if b.soakS > 0 {
				return nil, fmt.Errorf("%s tells soak_s; exposure_min is needed here (`withy expose` and `withy window --json` reckon it)", name)
			}
			out = append(out, steambox.TestBend{Stick: s.name, ThicknessM: s.thicknessMM / 1000, Bend: b.Bend})
		}
	}
	return out, nil
}

func (r *settler) boat(b *steambox.Box) {
	c := r.c.Boat
	r.within("boat.length_mm", c.LengthMM)
	r.within("boat.thickness_mm", c.ThicknessMM)
	r.within("boat.width_mm", c.WidthMM)
	r.within("boat.spares", float64(c.Spares))
	r.within("boat.margin", c.Margin)
	b.Boat, b.Spares, b.HullMargin, b.ByTurns = c.Name, c.Spares, c.Margin, c.ByTurns
	b.Common = steambox.Rib{LengthM: c.LengthMM / 1000, ThicknessM: c.ThicknessMM / 1000, WidthM: c.WidthMM / 1000}
	if c.Ribs == "" {
		return
	}
	ribs, err := readRibs(r.at.beside(c.Ribs), b.Common)
	var missing *fs.PathError
	switch {
	case errors.As(err, &missing):
		r.wrong("boat.ribs", "%v", err)
	case err != nil:
		r.mistakes = append(r.mistakes, err)
	}
	b.Ribs = ribs
}

// readRibs reads a rib table; what it leaves out is as common has it.
func readRibs(name string, common steambox.Rib) ([]steambox.Rib, error) {
	f, err := table.Open(name, ribColumns)
	if err != nil {
		return nil, err
	}
	return ribsOf(f, common)
}

// ribColumns are those of a rib table.
var ribColumns = table.Columns{
	Required: []string{"rib", "length_mm"},
	Optional: []string{"thickness_mm", "width_mm", "station_mm", "stick", "boat", "bend", "meant"},
}

func ribsOf(f *table.File, common steambox.Rib) ([]steambox.Rib, error) {
	var ribs []steambox.Rib
	inBoat := map[string]int{}
	for i := range f.Rows {
		row := &f.Rows[i]
		rib := common
		rib.Label, rib.Stick, rib.Boat, rib.Bend = row.Text("rib"), row.Text("stick"), row.Text("boat"), row.Text("bend")
		rib.LengthM = row.Required("length_mm", 50, 20000) / 1000
		rib.StationM = float64(inBoat[rib.Boat]) // where no station is told, the order within the boat
		inBoat[rib.Boat]++
		millimetres(row, "thickness_mm", 1, 100, &rib.ThicknessM)
		millimetres(row, "width_mm", 1, 300, &rib.WidthM)
		millimetres(row, "station_mm", -1e5, 1e5, &rib.StationM)
		if rib.Label == "" {
			f.Mistake(row.Line, "rib", "empty; each rib needs a label")
		}
		if twice := slices.IndexFunc(ribs, func(r steambox.Rib) bool { return r.Label == rib.Label }); twice >= 0 {
			standsTwice(f, row, ribs[twice].Boat)
		}
		rib.Meant = isMeant(f, row)
		if rib.Bend != "" && !slices.Contains(window.Difficulties, window.Difficulty(rib.Bend)) {
			f.Mistake(row.Line, "bend", "%q is not easy, middling or hard", rib.Bend)
		}
		ribs = append(ribs, rib)
	}
	return ribs, f.Err()
}

// millimetres reads a cell that may be empty into metres.
func millimetres(row *table.Row, column string, lo, hi float64, to *float64) {
	if mm, ok := row.Number(column, lo, hi); ok {
		*to = mm / 1000
	}
}

func (r *settler) board(s *settings) {
	c := r.c.Board
	s.Sensors.W1Root, s.Sensors.IIORoot, s.Sensors.HwmonRoot = c.W1Root, c.IIORoot, c.Hwmon
	s.Sensors.Level = r.contact("board.level", c.Level)
	s.Sensors.Door = r.contact("board.door", c.Door)
	r.floats(s)
	r.line("board.buzzer.line", c.Buzzer.Line)
	s.Buzzer = sensor.OutputConfig{Line: c.Buzzer.Line, ActiveLow: c.Buzzer.ActiveLow}
	r.line("board.lamp.line", c.Lamp.Line)
	s.Lamp = sensor.OutputConfig{Line: c.Lamp.Line, ActiveLow: c.Lamp.ActiveLow}
	names := map[string]int{"level": -1, "door": -1}
	for i, b := range c.Buttons {
		key := "board.buttons[" + strconv.Itoa(i) + "]"
		r.twice(names, key+".name", b.Name, i)
		r.word(key+".does", b.Does, append(slices.Clone(view.Presses), view.PressPair))
		s.Sensors.Buttons = append(s.Sensors.Buttons, sensor.ButtonConfig{
			Name: b.Name, Contact: r.contact(key, lineConfig{b.Line, b.ToHigh}), Key: r.key(key, b),
		})
		s.Does[b.Name] = b.Does
	}
	r.shared()
}

// floats enters the level switches above the one that calls for the kettle.
func (r *settler) floats(s *settings) {
	for i, f := range r.c.Board.Floats {
		key := "board.floats[" + strconv.Itoa(i) + "]"
		if f.Line == "" {
			r.wrong(key+".line", "empty; a float is on one of the board's lines")
		}
		lo, hi := max(r.c.Boiler.SwitchL, r.c.Boiler.BareL), r.c.Boiler.FullL
		if !(f.Litres > lo && f.Litres < hi) {
			r.wrong(key+".litres", "%g is not between %g, where the level switch or the bare element is, and a full boiler, %g", f.Litres, lo, hi)
		}
		s.Sensors.Floats = append(s.Sensors.Floats, r.contact(key, lineConfig{f.Line, f.ToHigh}))
		s.Floats = append(s.Floats, f.Litres)
	}
}

// key reads which key a button is, if it is one.
func (r *settler) key(key string, b buttonConfig) sensor.KeyConfig {
	if _, err := sensor.ParseKey(b.Key); err != nil {
		r.wrong(key+".key", "%v", err)
	}
	switch {
	case b.Line == "" && b.Device == "":
		r.wrong(key, "neither line nor device: a button is on one of the board's lines, or a key of a keyboard or pedal")
	case b.Line != "" && b.Device+b.Key != "":
		r.wrong(key, "line %s and a key of a keyboard: it is one of the two", b.Line)
	}
	return sensor.KeyConfig{Device: b.Device, Key: b.Key}
}

// shared reports lines that are given to two things.
func (r *settler) shared() {
	c := r.c.Board
	used := map[string]string{}
	claim := func(key, line string) {
		if line == "" {
			return
		}
		if other, ok := used[line]; ok {
			r.wrong(key, "%s is taken by %s", line, other)
		}
		used[line] = key
	}
	claim("board.level.line", c.Level.Line)
	claim("board.door.line", c.Door.Line)
	claim("board.buzzer.line", c.Buzzer.Line)
	claim("board.lamp.line", c.Lamp.Line)
	for i, f := range c.Floats {
		claim("board.floats["+strconv.Itoa(i)+"].line", f.Line)
	}
	for i, b := range c.Buttons {
		key := "board.buttons[" + strconv.Itoa(i) + "]"
		claim(key+".line", b.Line)
		if b.Device != "" {
			claim(key+".key", strings.TrimSpace("the key "+b.Key)+" of "+b.Device)
		}
	}
}

func (r *settler) contact(key string, l lineConfig) sensor.ContactConfig {
	r.line(key+".line", l.Line)
	return sensor.ContactConfig{Line: l.Line, ToHigh: l.ToHigh}
}

func (r *settler) line(key, line string) {
	if line == "" {
		return
	}
	if _, err := sensor.ParseLine(line); err != nil {
		r.wrong(key, "%v", err)
	}
}
