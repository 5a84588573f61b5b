package soak

import (
	"errors"
	"fmt"
	"time"

	"withy/steambox/wood"
)

// Place is where a rib is: what film its faces have.
type Place int

// In the steam, or out of the box.
const (
	InBox Place = iota
	OutOfBox
)

// Assumed is what is taken for granted about a rib's wood and its film, each
// with the range that the bounds allow for.
type Assumed struct {
	Section          wood.Section
	Material         wood.Material
	FilmWPerM2K      float64 // in the steam with some air, 2 K below boiling; default DefaultFilm
	BoilingC         float64 // where the box stands, °C: air in the steam changes the film; 0: it is the same in whatever air
	FilmFactor       float64 // known within this factor either way, at least 1
	DiffusivityShare float64 // known within this share either way, 0 to 0.5
	OutFilmWPerM2K   float64 // out of the box; default DefaultOutFilm, known within a factor of two
}

// Defaults for Assumed. The film in steam with some air is unknown within a
// factor of two until a witness is fitted; the diffusivities that the Wood
// Handbook's measured heating times imply lie within a tenth of the default.
const (
	DefaultFilm             = 300.0
	DefaultFilmFactor       = 2.0
	DefaultDiffusivityShare = 0.1
	DefaultOutFilm          = 80.0
	outFilmFactor           = 2.0
)

// Default returns the defaults for a section of green white oak.
func Default(s wood.Section) Assumed {
	return Assumed{
		Section: s, Material: wood.WhiteOak,
		FilmWPerM2K: DefaultFilm, FilmFactor: DefaultFilmFactor, DiffusivityShare: DefaultDiffusivityShare,
		OutFilmWPerM2K: DefaultOutFilm,
	}
}

// ladder holds the lengths of the steps that Until looks ahead by.
var ladder = [...]time.Duration{
	2 * time.Second, 4 * time.Second, 8 * time.Second, 16 * time.Second, 32 * time.Second, 64 * time.Second,
}

// Model is the conduction of one rib section under all bounds, for every film that
// it meets. Ribs of one section share it. It makes what it needs when it is first
// asked and remembers the last step's length, so it belongs to one goroutine.
type Model struct {
	section  wood.Section
	material [Bounds]wood.Material // in the box
	films    [Bounds]films
	in       [Bounds][]*conduction // one per rung; nil: not asked for yet
	out      [Bounds]*conduction
}

// conduction is one section behind one film.
type conduction struct {
	bar   *wood.Bar
	last  time.Duration
	step  wood.Step
	ahead *[len(ladder)]wood.Step // nil: nobody has looked ahead yet
}

// NewModel returns the model for what is assumed; errors wrap wood.ErrRange.
func NewModel(a Assumed) (*Model, error) {
	if !(a.FilmFactor >= 1 && a.FilmFactor <= 10) || !(a.DiffusivityShare >= 0 && a.DiffusivityShare <= 0.5) {
		return nil, fmt.Errorf("film factor %g (1 to 10), diffusivity share %g (0 to 0.5): %w",
			a.FilmFactor, a.DiffusivityShare, wood.ErrRange)
	}
	m := &Model{section: a.Section}
	// In the box a strong film and quick wood make the upper bound; out of it they
	// lose heat and make the lower one.
	slow, quick := a.material(-a.DiffusivityShare), a.material(a.DiffusivityShare)
	err := errors.Join(
		m.inBox(Low, slow, a.FilmWPerM2K/a.FilmFactor, a.BoilingC),
		m.inBox(Best, a.Material, a.FilmWPerM2K, a.BoilingC),
		m.inBox(High, quick, a.FilmWPerM2K*a.FilmFactor, a.BoilingC),
		m.outOfBox(Low, quick, a.OutFilmWPerM2K*outFilmFactor),
		m.outOfBox(Best, a.Material, a.OutFilmWPerM2K),
		m.outOfBox(High, slow, a.OutFilmWPerM2K/outFilmFactor),
	)
	if err != nil {
		return nil, err
	}
	return m, nil
}

// material is the wood with another share of diffusivity.
func (a *Assumed) material(share float64) wood.Material {
	m := a.Material
	m.DiffusivityM2PerS *= 1 + share
	return m
}

// inBox sets one bound in the steam and tries the ends of its ladder: what holds
// for them holds between.
func (m *Model) inBox(b Bound, material wood.Material, filmWPerM2K, boilingC float64) error {
	ladder, err := newFilms(filmWPerM2K, boilingC)
	if err != nil {
		return err
	}
	m.material[b], m.films[b] = material, ladder
	m.in[b] = make([]*conduction, len(ladder.perM2K))
	_, errHot := wood.NewBar(m.section, material, ladder.perM2K[0])
	_, errCold := wood.NewBar(m.section, material, ladder.perM2K[len(ladder.perM2K)-1])
	return errors.Join(errHot, errCold)
}

func (m *Model) outOfBox(b Bound, material wood.Material, filmWPerM2K float64) error {
	bar, err := wood.NewBar(m.section, material, filmWPerM2K)
	m.out[b] = &conduction{bar: bar}
	return err
}

// at returns the conduction where a rib is, in the box on a rung of its films.
func (m *Model) at(p Place, b Bound, rung int) *conduction {
	if p == OutOfBox {
		return m.out[b]
	}
	if m.in[b][rung] == nil {
		bar, err := wood.NewBar(m.section, m.material[b], m.films[b].perM2K[rung])
		if err != nil {
			panic("soak: a film between two that were tried: " + err.Error())
		}
		m.in[b][rung] = &conduction{bar: bar}
	}
	return m.in[b][rung]
}

// stepOf returns the step of length d, made anew only when d changes.
func (c *conduction) stepOf(d time.Duration) *wood.Step {
	if c.last != d {
		c.step, c.last = c.bar.Step(d), d
	}
	return &c.step
}

// stepsAhead returns the steps that Until looks ahead by.
func (c *conduction) stepsAhead() *[len(ladder)]wood.Step {
	if c.ahead == nil {
		c.ahead = new([len(ladder)]wood.Step)
		for i, d := range ladder {
			c.ahead[i] = c.bar.Step(d)
		}
	}
	return c.ahead
}
