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
	FilmWPerM2K      float64 // in the steam; default DefaultFilm
	FilmFactor       float64 // known within this factor either way, at least 1
	DiffusivityShare float64 // known within this share either way, 0 to 0.5
	OutFilmWPerM2K   float64 // out of the box; default DefaultOutFilm, known within a factor of two
}

// Defaults for Assumed. The film in steam with some air is unknown within a
// factor of two until a witness blank is fitted; the diffusivities that the Wood
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

// Model is the conduction of one rib section under all bounds. Ribs of one
// section share it. It remembers the last step's length, so it belongs to one
// goroutine.
type Model struct {
	bars  [2][Bounds]*wood.Bar
	moves [2][Bounds]wood.Move // into the box, out of it
	last  [2]time.Duration
	steps [2][Bounds]wood.Step
	ahead [len(ladder)][Bounds]wood.Step
}

// NewModel returns the model for what is assumed; errors wrap wood.ErrRange.
func NewModel(a Assumed) (*Model, error) {
	if !(a.FilmFactor >= 1 && a.FilmFactor <= 10) || !(a.DiffusivityShare >= 0 && a.DiffusivityShare <= 0.5) {
		return nil, fmt.Errorf("film factor %g (1 to 10), diffusivity share %g (0 to 0.5): %w",
			a.FilmFactor, a.DiffusivityShare, wood.ErrRange)
	}
	m := &Model{}
	var errs []error
	bar := func(p Place, b Bound, film, share float64) {
		material := a.Material
		material.DiffusivityM2PerS *= 1 + share
		made, err := wood.NewBar(a.Section, material, film)
		m.bars[p][b] = made
		errs = append(errs, err)
	}
	bar(InBox, Low, a.FilmWPerM2K/a.FilmFactor, -a.DiffusivityShare)
	bar(InBox, Best, a.FilmWPerM2K, 0)
	bar(InBox, High, a.FilmWPerM2K*a.FilmFactor, a.DiffusivityShare)
	// Out of the box a strong film and quick wood lose heat: they make the lower bound.
	bar(OutOfBox, Low, a.OutFilmWPerM2K*outFilmFactor, a.DiffusivityShare)
	bar(OutOfBox, Best, a.OutFilmWPerM2K, 0)
	bar(OutOfBox, High, a.OutFilmWPerM2K/outFilmFactor, -a.DiffusivityShare)
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	for b := range Bounds {
		in, out := m.bars[InBox][b], m.bars[OutOfBox][b]
		m.moves[InBox][b], m.moves[OutOfBox][b] = wood.NewMove(out, in), wood.NewMove(in, out)
		for i, d := range ladder {
			m.ahead[i][b] = in.Step(d)
		}
	}
	return m, nil
}

// stepsOf returns the steps of length d, made anew only when d changes.
func (m *Model) stepsOf(p Place, d time.Duration) *[Bounds]wood.Step {
	if m.last[p] != d {
		for b := range Bounds {
			m.steps[p][b] = m.bars[p][b].Step(d)
		}
		m.last[p] = d
	}
	return &m.steps[p]
}
