package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"withy/cmd/withy/internal/onefile"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// limits holds what each number flag of a verb may be. A flag is declared and
// limited in one place; check reports every one that is out of range.
type limits struct {
	flags *pflag.FlagSet
	list  []limit
}

type limit struct {
	name   string
	value  *float64
	lo, hi float64
}

// number declares a flag for a number from lo to hi.
func (l *limits) number(name string, def, lo, hi float64, usage string) *float64 {
	p := l.flags.Float64(name, def, fmt.Sprintf("%s (%g to %g)", usage, lo, hi))
	l.list = append(l.list, limit{name, p, lo, hi})
	return p
}

// check returns all flags that are out of range, joined.
func (l *limits) check() error {
	var errs []error
	for _, f := range l.list {
		if !unit.Finite(*f.value) || *f.value < f.lo || *f.value > f.hi {
			errs = append(errs, fmt.Errorf("--%s %g: outside %g to %g", f.name, *f.value, f.lo, f.hi))
		}
	}
	return errors.Join(errs...)
}

// placeFlags say where the box stands.
type placeFlags struct {
	flags      *pflag.FlagSet
	altitudeM  *float64
	pressurePa *float64
	shopC      *float64
}

func newPlaceFlags(l *limits) *placeFlags {
	return &placeFlags{
		flags:      l.flags,
		altitudeM:  l.number("altitude-m", 0, steam.MinAltitudeM, steam.MaxAltitudeM, "where the box stands, metres above the sea"),
		pressurePa: l.number("pressure-pa", steam.StandardPa, 50e3, 110e3, "air pressure there, pascal, by a barometer; wins over --altitude-m"),
		shopC:      l.number("shop-c", 15, -30, 50, "air around the box, °C"),
	}
}

// surroundings turns the flags into what steam can be there.
func (p *placeFlags) surroundings() (steambox.Surroundings, error) {
	if p.flags.Changed("pressure-pa") {
		return steambox.NewSurroundings(*p.pressurePa, true, *p.shopC)
	}
	pa, err := steam.PressureAt(*p.altitudeM)
	if err != nil {
		return steambox.Surroundings{}, fmt.Errorf("--altitude-m: %w", err)
	}
	return steambox.NewSurroundings(pa, false, *p.shopC)
}

// woodFlags say what a rib is made of.
type woodFlags struct {
	flags                     *pflag.FlagSet
	species                   *string
	thickness, width          *float64
	moisture                  *float64
	film                      *float64
	diffusivity, conductivity *float64
}

func newWoodFlags(l *limits) *woodFlags {
	return &woodFlags{
		flags:        l.flags,
		species:      l.flags.String("species", "white-oak", "kind of wood: "+strings.Join(wood.SpeciesNames(), ", ")),
		thickness:    l.number("thickness-mm", 6.5, 1, 100, "of the rib, mm"),
		width:        l.number("width-mm", 25, 1, 300, "of the rib, mm"),
		moisture:     l.number("moisture-pct", 65, 0, 200, "water in percent of the dry wood"),
		film:         l.number("film-w-m2k", soak.DefaultFilm, 20, 20000, "film coefficient in the steam, W/m²K"),
		diffusivity:  l.number("diffusivity-m2s", wood.WhiteOak.DiffusivityM2PerS, 2e-8, 2e-6, "of the wood, m²/s; overrides the species"),
		conductivity: l.number("conductivity-w-mk", wood.WhiteOak.ConductivityWPerMK, 0.05, 5, "of the wood, W/mK; overrides the species"),
	}
}

// assumed turns the flags into what is taken for granted of the rib. A film
// coefficient that somebody gave is taken to be known within a tenth.
func (w *woodFlags) assumed() (soak.Assumed, error) {
	kind, err := wood.SpeciesByName(*w.species)
	if err != nil {
		return soak.Assumed{}, fmt.Errorf("--species: %w", err)
	}
	material, err := kind.At(*w.moisture)
	if err != nil {
		return soak.Assumed{}, fmt.Errorf("--moisture-pct: %w", err)
	}
	if w.flags.Changed("diffusivity-m2s") {
		material.DiffusivityM2PerS = *w.diffusivity
	}
	if w.flags.Changed("conductivity-w-mk") {
		material.ConductivityWPerMK = *w.conductivity
	}
	a := soak.Default(wood.Section{WidthM: *w.width / 1000, ThicknessM: *w.thickness / 1000})
	a.Material, a.FilmWPerM2K = material, *w.film
	if w.flags.Changed("film-w-m2k") {
		a.FilmFactor = 1.1
	}
	return a, nil
}

// unitsFlag says in which units a verb prints what people read.
type unitsFlag struct{ text *string }

func newUnitsFlag(cmd *cobra.Command) unitsFlag {
	return unitsFlag{cmd.Flags().String("units", "", fmt.Sprintf("of what people read, one of %v; files and JSON stay metric; not given: units of the configuration, else "+unitsVariable+", else metric", measure.All))}
}

// unitsVariable is where the environment says the units, for every verb.
const unitsVariable = "WITHY_UNITS"

// choose returns the units to print in: the flag's, else those of a configuration if
// the verb has one, else the environment's.
func (f unitsFlag) choose(configured measure.Units) (measure.Units, error) {
	where, units := "--units", measure.Units(*f.text)
	if units == "" {
		where, units = unitsVariable, cmp.Or(configured, measure.Units(os.Getenv(unitsVariable)), measure.Metric)
	}
	if !slices.Contains(measure.All, units) {
		return measure.Metric, fmt.Errorf("%s %q: one of %v", where, units, measure.All)
	}
	return units, nil
}

// printJSON prints v as one indented JSON document.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// oneFile says that a verb takes exactly one file.
func oneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("%s takes one file, got %d; see withy %s --help", cmd.Name(), len(args), cmd.Name())
	}
	return nil
}

// writePage writes a page or a picture to the file that a flag names, or to out where it names none.
func writePage(out io.Writer, flag, name string, write func(io.Writer) error) error {
	var page bytes.Buffer
	if err := write(&page); err != nil {
		return err
	}
	if name == "" {
		_, err := page.WriteTo(out)
		return err
	}
	if err := writeWhole(name, page.Bytes()); err != nil {
		return fmt.Errorf("%s: %w", flag, err)
	}
	return nil
}

// writeWhole writes a file whole or not at all. What is no file, such as a pipe, it
// writes to; a folder that isn't there is not made.
func writeWhole(name string, text []byte) error {
	info, err := os.Stat(name)
	_, noFolder := os.Stat(filepath.Dir(name))
	if err == nil && !info.Mode().IsRegular() || noFolder != nil {
		return os.WriteFile(name, text, 0o666)
	}
	return onefile.Write(name, text, 0o644)
}
