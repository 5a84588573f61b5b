// Package wood follows the heat into a rib: what green wood conducts and
// stores, and the exact solution for a rectangular bar heated through a film on
// four sides.
package wood

import (
	"errors"
	"fmt"
	"slices"

	"withy/steambox/unit"
)

// ErrRange says that an argument lies outside the range that the source covers.
var ErrRange = errors.New("out of range")

// Material is what conduction needs to know of a piece of wood, across the grain.
type Material struct {
	ConductivityWPerMK float64 `means:"How well it conducts heat, in W/(m·K)."`
	DiffusivityM2PerS  float64 `means:"How fast heat spreads in it, in m²/s."`
}

// WhiteOak is green white oak at 65 % moisture: the default for a rib.
//
// The diffusivity is the one that makes the Wood Handbook's measured heating
// times for red oak come out (FPL-GTR-190, table 20-4); the conductivity is
// MacLean's for wet wood.
var WhiteOak = Material{ConductivityWPerMK: 0.38, DiffusivityM2PerS: 1.47e-7}

// Species is a kind of wood by its basic specific gravity (oven-dry mass over
// green volume) and the moisture it has when freshly sawn.
type Species struct {
	Name         string
	BasicGravity float64
	GreenPct     float64 // moisture in percent of dry mass
}

// species lists what ribs are bent from. Source: USDA Forest Service inventory
// reference table REF_SPECIES, rows that agree with the Wood Handbook's table 5-3a.
var species = []Species{
	{"white-oak", 0.60, 68.3},
	{"red-oak", 0.56, 83.1},
	{"bur-oak", 0.58, 74.1},
	{"white-ash", 0.55, 45.7},
	{"beech", 0.56, 54.5},
	{"american-elm", 0.46, 94.0},
	{"hickory", 0.64, 60.3},
	{"yellow-birch", 0.55, 71.9},
	{"yellow-cedar", 0.42, 71.7},
	{"western-redcedar", 0.31, 39.6},
}

// SpeciesNames returns the names that SpeciesByName knows, in table order.
func SpeciesNames() []string {
	names := make([]string, len(species))
	for i, s := range species {
		names[i] = s.Name
	}
	return names
}

// SpeciesByName returns the species called name, such as "white-oak".
func SpeciesByName(name string) (Species, error) {
	i := slices.IndexFunc(species, func(s Species) bool { return s.Name == name })
	if i < 0 {
		return Species{}, fmt.Errorf("species %q is not one of %v", name, SpeciesNames())
	}
	return species[i], nil
}

// At returns the species' material at a moisture in percent of dry mass, 0 to
// 200, reckoned at 60 °C, the middle of a rib's way. White oak near its green
// moisture is WhiteOak.
func (s Species) At(moisturePct float64) (Material, error) {
	if !(moisturePct >= 0 && moisturePct <= 200) {
		return Material{}, fmt.Errorf("moisture %g %%: %w (0 to 200)", moisturePct, ErrRange)
	}
	if s.Name == "white-oak" && moisturePct >= 55 && moisturePct <= 80 {
		return WhiteOak, nil
	}
	k := Conductivity(s.BasicGravity, moisturePct)
	rhoC := Density(s.BasicGravity, moisturePct) * SpecificHeat(60, moisturePct)
	return Material{ConductivityWPerMK: k, DiffusivityM2PerS: k / rhoC}, nil
}

// fibreSaturationPct is the moisture above which water no longer swells the
// wood: about 30 % (Wood Handbook, printed page 4-2).
const fibreSaturationPct = 30

// Gravity returns the specific gravity (oven-dry mass over volume at the given
// moisture, relative to water) from the basic one.
//
// Source: Wood Handbook FPL-GTR-190, equation (4-11).
func Gravity(basic, moisturePct float64) float64 {
	x := min(moisturePct, fibreSaturationPct)
	return basic / (1 - 0.265*basic*(1-x/fibreSaturationPct))
}

// Density returns the mass per volume in kg/m³ at a moisture in percent.
//
// Source: Wood Handbook FPL-GTR-190, equation (4-12).
func Density(basic, moisturePct float64) float64 {
	return 1000 * Gravity(basic, moisturePct) * (1 + moisturePct/100)
}

// Conductivity returns the thermal conductivity across the grain in W/(m K),
// for a basic specific gravity and a moisture in percent.
//
// Up to 25 % moisture it is the Wood Handbook's equation (4-15), from 40 % on
// MacLean's form for wet wood (1941, from memory), between the two a straight
// line: the handbook's own equation must not be carried past 25 %, where it
// makes heating up to 30 % too slow.
func Conductivity(basic, moisturePct float64) float64 {
	const dry, wet = 25.0, 40.0
	switch {
	case moisturePct <= dry:
		return HandbookConductivity(Gravity(basic, moisturePct), moisturePct)
	case moisturePct >= wet:
		return basic*(0.2005+0.00548*moisturePct) + 0.0238
	}
	low := HandbookConductivity(Gravity(basic, dry), dry)
	high := Conductivity(basic, wet)
	return low + (high-low)*(moisturePct-dry)/(wet-dry)
}

// HandbookConductivity returns the conductivity across the grain in W/(m K) of
// wood of a specific gravity, at its moisture in percent, up to 25 %.
//
// Source: Wood Handbook FPL-GTR-190, equation (4-15).
func HandbookConductivity(gravity, moisturePct float64) float64 {
	return gravity*(0.1941+0.004064*moisturePct) + 0.01864
}

// SpecificHeat returns the specific heat in J/(kg K) of wood at a temperature
// and a moisture in percent of dry mass.
//
// Source: Wood Handbook FPL-GTR-190, equations (4-16a), (4-17), (4-18). Above
// fibre saturation the water beyond it is added by the rule of mixtures and the
// cell wall keeps its bound-water term, so that the value rises steadily.
func SpecificHeat(c unit.Celsius, moisturePct float64) float64 {
	bound := min(moisturePct, fibreSaturationPct)
	kelvin := float64(c) + 273.15
	dry := 0.1031 + 0.003867*kelvin
	extra := bound * (-0.06191 + 2.36e-4*kelvin - 1.33e-4*bound)
	wall := (dry+4.18*bound/100)/(1+bound/100) + extra
	free := (moisturePct - bound) / 100
	return 1e3 * (wall*(1+bound/100) + 4.18*free) / (1 + moisturePct/100)
}
