package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"withy/cmd/withy/internal/web"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/unit"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// offer is one key of the configuration that can be set at the box too: what it may be,
// and where in a Box it stands. Values are those of encoding/json.
type offer struct {
	web.Setting // but Value and From
	whole       bool
	get         func(*steambox.Box) any
	put         func(*steambox.Box, any)
	copy        func(to, from *steambox.Box) // nil: what put and get do
}

// carry sets in one box what another has.
func (o *offer) carry(to, from *steambox.Box) {
	if o.copy != nil {
		o.copy(to, from)
		return
	}
	o.put(to, o.get(from))
}

// check returns what a value is taken as, or what it should be.
func (o *offer) check(v any) (any, error) {
	switch o.Kind {
	case "number":
		return o.checkNumber(v)
	case "time":
		return o.checkTime(v)
	case "word":
		s, ok := v.(string)
		if !ok || !(slices.Contains(o.Words, s) || s == "" && o.None) {
			return nil, fmt.Errorf("%s: %v is not one of %s", o.Key, shown(v), strings.Join(o.Words, ", "))
		}
		return s, nil
	case "switch":
		if on, ok := v.(bool); ok {
			return on, nil
		}
		return nil, fmt.Errorf("%s: %v is not true or false", o.Key, shown(v))
	case "list":
		return o.checkList(v)
	}
	s, ok := v.(string)
	s = strings.TrimSpace(s)
	if n := utf8.RuneCountInString(s); !ok || n < int(o.Lo) || n > int(o.Hi) || strings.ContainsFunc(s, func(r rune) bool { return r < ' ' }) {
		return nil, fmt.Errorf("%s: %v is not a text of %g to %g letters on one line", o.Key, shown(v), o.Lo, o.Hi)
	}
	return s, nil
}

// shown is a value as a mistake names it.
func shown(v any) string {
	if s, ok := v.(string); ok {
		return fmt.Sprintf("%q", s)
	}
	return fmt.Sprint(v)
}

func (o *offer) checkNumber(v any) (any, error) {
	x, ok := v.(float64)
	switch {
	case !ok || !unit.Finite(x):
		return nil, fmt.Errorf("%s: %v is not a number", o.Key, shown(v))
	case x == 0 && o.None:
		return x, nil
	case x < o.Lo || x > o.Hi:
		return nil, fmt.Errorf("%s: %g is outside %g to %g", o.Key, x, o.Lo, o.Hi)
	case o.whole && x != math.Trunc(x):
		return nil, fmt.Errorf("%s: %g is not a whole number", o.Key, x)
	}
	return x, nil
}

func (o *offer) checkTime(v any) (any, error) {
	text, _ := v.(string)
	d, err := time.ParseDuration(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %v is not a length of time with its unit, such as 90s or 5m", o.Key, shown(v))
	}
	if s := d.Seconds(); s < o.Lo || s > o.Hi {
		return nil, fmt.Errorf("%s: %gs is outside %gs to %gs", o.Key, s, o.Lo, o.Hi)
	}
	return text, nil
}

func (o *offer) checkList(v any) (any, error) {
	list, ok := v.([]any)
	if !ok || len(list) < int(o.Lo) || len(list) > int(o.Hi) {
		return nil, fmt.Errorf("%s: %v is not a list of %g to %g letters", o.Key, shown(v), o.Lo, o.Hi)
	}
	var out []string
	for i, one := range list {
		s, ok := one.(string)
		s = strings.ToUpper(strings.TrimSpace(s))
		if !ok || s == "" || utf8.RuneCountInString(s) > 3 || slices.Contains(out, s) {
			return nil, fmt.Errorf("%s: number %d is %v; each needs a letter of its own", o.Key, i+1, shown(one))
		}
		out = append(out, s)
	}
	return out, nil
}

// offers is all that can be set at the box, in the order that the page shows it. The
// configuration file's values are held to the same ranges.
var offers = slices.Concat(placeOffers(), boxOffers(), boilerOffers(), woodOffers(), runOffers())

// offered returns the offer of a key.
func offered(key string) (*offer, bool) {
	i := slices.IndexFunc(offers, func(o offer) bool { return o.Key == key })
	if i < 0 {
		return nil, false
	}
	return &offers[i], true
}

// number offers a number that stands in the box; of is how many of the key's unit make
// one of the box's.
func number(key, says, measured string, lo, hi, of float64, at func(*steambox.Box) *float64) offer {
	return settled(offer{
		Setting: web.Setting{Key: key, Says: says, Kind: "number", Unit: measured, Lo: lo, Hi: hi},
		get:     func(b *steambox.Box) any { return math.Round(*at(b)*of*1e6) / 1e6 },
		put:     func(b *steambox.Box, v any) { *at(b) = v.(float64) / of },
	})
}

func lasts(key, says string, loS, hiS float64, at func(*steambox.Box) *float64) offer {
	return settled(offer{
		Setting: web.Setting{Key: key, Says: says, Kind: "time", Lo: loS, Hi: hiS},
		get:     func(b *steambox.Box) any { return time.Duration(inUnits(*at(b))).String() },
		put: func(b *steambox.Box, v any) {
			d, _ := time.ParseDuration(v.(string)) // it was checked
			*at(b) = d.Seconds()
		},
	})
}

func word[T ~string](key, says string, words []T, at func(*steambox.Box) *T) offer {
	return settled(offer{
		Setting: web.Setting{Key: key, Says: says, Kind: "word", Words: texts(words)},
		get:     func(b *steambox.Box) any { return string(*at(b)) },
		put:     func(b *steambox.Box, v any) { *at(b) = T(v.(string)) },
	})
}

func yes(key, says string, at func(*steambox.Box) *bool) offer {
	return settled(offer{
		Setting: web.Setting{Key: key, Says: says, Kind: "switch"},
		get:     func(b *steambox.Box) any { return *at(b) },
		put:     func(b *steambox.Box, v any) { *at(b) = v.(bool) },
	})
}

func text(key, says string, at func(*steambox.Box) *string) offer {
	return settled(offer{
		Setting: web.Setting{Key: key, Says: says, Kind: "text", Lo: 1, Hi: 60},
		get:     func(b *steambox.Box) any { return *at(b) },
		put:     func(b *steambox.Box, v any) { *at(b) = v.(string) },
	})
}

// settled fills in what follows from the rest of an offer.
func settled(o offer) offer {
	o.Group, _, _ = strings.Cut(o.Key, ".")
	return o
}

func (o offer) help(sentence string) offer { o.Help = sentence; return o }
func (o offer) orNone() offer              { o.None = true; return o }

func placeOffers() []offer {
	pressure := func(to, from *steambox.Box) { to.PressurePa, to.Measured = from.PressurePa, from.Measured }
	altitude := number("place.altitude_m", "Height above the sea", "m", steam.MinAltitudeM, highestM, 1, nil).
		help("Water boils cooler higher up.")
	altitude.get = func(b *steambox.Box) any {
		if b.Measured {
			return 0.0
		}
		return math.Round(steam.AltitudeAt(b.PressurePa)*10) / 10
	}
	altitude.put = func(b *steambox.Box, v any) {
		b.PressurePa, _ = steam.PressureAt(v.(float64)) // it was checked
		b.Measured = false
	}
	altitude.copy = pressure
	barometer := number("place.pressure_pa", "Today’s air pressure, not reduced to sea level", "Pa", 50e3, 110e3, 1, nil).orNone().
		help("A barometer’s reading here goes before the height; 0 for none.")
	barometer.get = func(b *steambox.Box) any {
		if !b.Measured {
			return 0.0
		}
		return math.Round(b.PressurePa)
	}
	barometer.put = func(b *steambox.Box, v any) {
		if pa := v.(float64); pa != 0 {
			b.PressurePa, b.Measured = pa, true
		} else if b.Measured { // nothing is told of the height
			b.PressurePa, b.Measured = steam.StandardPa, false
		}
	}
	barometer.copy = pressure
	return []offer{
		altitude, barometer,
		number("place.shop_c", "The shed", "°C", -30, 50, 1, func(b *steambox.Box) *float64 { return &b.ShopC }),
	}
}

// highestM is how high up boxes are reckoned: above it the air is thinner than 50 kPa.
const highestM = 5500

func boxOffers() []offer {
	slots := settled(offer{
		Setting: web.Setting{Key: "box.slots", Says: "Letters of the slots, in order", Kind: "list", Lo: 1, Hi: 26},
		get:     func(b *steambox.Box) any { return b.Slots },
		put:     func(b *steambox.Box, v any) { b.Slots = v.([]string) },
	}).help("As they are painted at the door.")
	return []offer{
		text("box.name", "Name of the box", func(b *steambox.Box) *string { return &b.Name }),
		number("box.length_mm", "Length between the outermost probes, or inside", "mm", 200, 20000, 1000, func(b *steambox.Box) *float64 { return &b.LengthM }),
		number("box.inside_mm", "Side of its square inside", "mm", 50, 2000, 1000, func(b *steambox.Box) *float64 { return &b.InsideM }).orNone().
			help("For the heat that its walls take; 0 if nobody measured."),
		number("box.board_mm", "Thickness of its boards", "mm", 3, 100, 1000, func(b *steambox.Box) *float64 { return &b.BoardM }).orNone().
			help("The same."),
		slots,
		number("box.inlet_mm", "Where the steam comes in", "mm", 0, 20000, 1000, func(b *steambox.Box) *float64 { return &b.InletM }).
			help("From the steam end’s probe."),
		number("box.cold_end_k", "Difference of the ends that is worth an alarm", "K", 1, 50, 1, func(b *steambox.Box) *float64 { return &b.ColdEndK }),
		lasts("box.level", "Ready when both ends have kept still for", 60, 590, func(b *steambox.Box) *float64 { return &b.Warm.LevelS }),
		number("box.below_k", "and are no farther below boiling than", "K", 1, 50, 1, func(b *steambox.Box) *float64 { return &b.Warm.BelowK }),
		lasts("box.at_least", "and not before", 0, 4*3600, func(b *steambox.Box) *float64 { return &b.Warm.AtLeastS }),
	}
}

func boilerOffers() []offer {
	ring := word("boiler.ring", "Gas ring of unknown power", boiler.Rings, func(b *steambox.Box) *boiler.Ring { return &b.Boiler.Ring }).orNone().
		help("Its rate is learnt in the first half hour.")
	return []offer{
		word("boiler.kind", "Boiler", boiler.Kinds, func(b *steambox.Box) *boiler.Kind { return &b.Boiler.Kind }),
		yes("boiler.gas", "It burns gas or spirit", func(b *steambox.Box) *bool { return &b.Boiler.Gas }),
		ring,
		number("boiler.power_w", "Its power", "W", 100, 50e3, 1, func(b *steambox.Box) *float64 { return &b.Boiler.PowerW }),
		number("boiler.full_l", "What it holds", "L", 0.2, 500, 1, func(b *steambox.Box) *float64 { return &b.Boiler.FullL }),
		number("boiler.switch_l", "Left when the float switch trips", "L", 0, 500, 1, func(b *steambox.Box) *float64 { return &b.Boiler.SwitchL }),
		number("boiler.bare_l", "Left when the element, or the pot’s bottom, is bare", "L", 0, 500, 1, func(b *steambox.Box) *float64 { return &b.Boiler.BareL }),
		number("kettle.litres", "What the kettle holds", "L", 0, 50, 1, func(b *steambox.Box) *float64 { return &b.Kettle.Litres }),
		number("kettle.power_w", "The kettle’s power", "W", 0, 10e3, 1, func(b *steambox.Box) *float64 { return &b.Kettle.PowerW }),
		number("kettle.tap_c", "Water from the tap", "°C", 0, 100, 1, func(b *steambox.Box) *float64 { return &b.Kettle.TapC }),
		lasts("kettle.carry", "From hearing the call to pouring, boiling apart", 0, 3600, func(b *steambox.Box) *float64 { return &b.Kettle.CarryS }),
	}
}

func woodOffers() []offer {
	species := word("wood.species", "Wood", wood.SpeciesNames(), func(b *steambox.Box) *string { return &b.Wood.Species })
	moisture := number("wood.moisture_pct", "Its moisture, in percent of the dry wood", "%", 0, 200, 1, func(b *steambox.Box) *float64 { return &b.Wood.Moisture })
	for _, o := range []*offer{&species, &moisture} {
		enter := o.put
		o.put = func(b *steambox.Box, v any) {
			enter(b, v)
			if kind, err := wood.SpeciesByName(b.Wood.Species); err == nil {
				if made, err := kind.At(b.Wood.Moisture); err == nil {
					b.Wood.Material = made
				}
			}
		}
	}
	minutes := func(key, says string, hi float64, at func(*steambox.Window) *soak.Exposure) offer {
		return settled(offer{
			Setting: web.Setting{Key: key, Says: says, Kind: "number", Unit: "min", Lo: 0.05, Hi: hi},
			get:     func(b *steambox.Box) any { return float64(*at(&b.Window)) },
			put:     func(b *steambox.Box, v any) { *at(&b.Window) = soak.Exposure(v.(float64)) },
		}).help("Heat in minutes, as the page counts it; only where nothing is learnt.")
	}
	return []offer{
		species, moisture,
		number("wood.start_c", "A blank when it goes in", "°C", -30, 100, 1, func(b *steambox.Box) *float64 { return &b.WoodC }),
		number("wood.film_w_m2k", "How well the steam heats the wood here", "W/m²K", 20, 20000, 1, func(b *steambox.Box) *float64 { return &b.Wood.FilmWPerM2 }).
			help("Leave it, unless a blank with a probe in it was fitted."),
		number("wood.film_factor", "known within this factor", "", 1, 10, 1, func(b *steambox.Box) *float64 { return &b.Wood.FilmFactor }),
		yes("window.learn", "Learn the heat that this wood wants", func(b *steambox.Box) *bool { return &b.Learn }).
			help("From test bends, and from each rib that you tell of."),
		word("window.dryness", "The search begins at", window.Drynesses, func(b *steambox.Box) *window.Dryness { return &b.Dryness }),
		minutes("window.soft_min", "Stiff below", 500, func(w *steambox.Window) *soak.Exposure { return &w.Soft }),
		minutes("window.target_min", "Ready at the cooler end", 500, func(w *steambox.Window) *soak.Exposure { return &w.Target }),
		minutes("window.over_min", "Brittle at the hotter end", 1000, func(w *steambox.Window) *soak.Exposure { return &w.Over }),
	}
}

func runOffers() []offer {
	spares := number("boat.spares", "Blanks cut beyond the table", "", 0, 1000, 1, nil).help("0: not counted.")
	spares.whole = true
	spares.get = func(b *steambox.Box) any { return float64(b.Spares) }
	spares.put = func(b *steambox.Box, v any) { b.Spares = int(v.(float64)) }
	return []offer{
		word("run.way", "Way of working", pace.Ways, func(b *steambox.Box) *pace.Way { return &b.Way }),
		lasts("run.crew", "Least time you need from one rib to the next", 5, 3600, func(b *steambox.Box) *float64 { return &b.CrewS }),
		text("boat.name", "Boat", func(b *steambox.Box) *string { return &b.Boat }),
		number("boat.length_mm", "Length of a rib that is not in the table", "mm", 50, 20000, 1000, func(b *steambox.Box) *float64 { return &b.Common.LengthM }),
		number("boat.thickness_mm", "Its thickness", "mm", 1, 100, 1000, func(b *steambox.Box) *float64 { return &b.Common.ThicknessM }),
		number("boat.width_mm", "Its width", "mm", 1, 300, 1000, func(b *steambox.Box) *float64 { return &b.Common.WidthM }),
		spares,
		yes("boat.always_alternate", "One port, one starboard, whatever went wrong", func(b *steambox.Box) *bool { return &b.ByTurns }),
		number("boat.margin", "What must be saved before a rib goes out of turn", "", 0, 1, 1, func(b *steambox.Box) *float64 { return &b.HullMargin }),
	}
}
