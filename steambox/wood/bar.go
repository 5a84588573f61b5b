package wood

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// terms is the number of product modes of a section.
const terms = Modes * Modes

// Bar is a rectangular section of wood in air of one temperature, heated or
// cooled through a film on its four sides. It holds no temperatures: those are
// in a Field. A Bar is not changed once made and may be shared.
type Bar struct {
	width, thick Wall
	rate         [terms]float64 // decay of each product mode, 1/s
	share        [terms]float64 // what each mode takes of a uniform difference, at the centre
}

// Section is a rib's cross-section in metres.
type Section struct {
	WidthM, ThicknessM float64
}

// Limits of what NewBar accepts, in metres and W/(m² K).
const (
	MinSideM = 0.001
	MaxSideM = 0.3
	MinFilm  = 1.0
	MaxFilm  = 1e6
)

// NewBar returns the bar for a section, a material and a film coefficient in
// W/(m² K). All that is out of range is reported together, wrapping ErrRange.
func NewBar(s Section, m Material, filmWPerM2K float64) (*Bar, error) {
	var errs []error
	check := func(name string, x, lo, hi float64) {
		if !(x >= lo && x <= hi) {
			errs = append(errs, fmt.Errorf("%s %g: %w (%g to %g)", name, x, ErrRange, lo, hi))
		}
	}
	check("width in m", s.WidthM, MinSideM, MaxSideM)
	check("thickness in m", s.ThicknessM, MinSideM, MaxSideM)
	check("film coefficient in W/m²K", filmWPerM2K, MinFilm, MaxFilm)
	check("conductivity in W/mK", m.ConductivityWPerMK, 0.05, 5)
	check("diffusivity in m²/s", m.DiffusivityM2PerS, 2e-8, 2e-6)
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	b := &Bar{
		width: NewWall(filmWPerM2K * s.WidthM / 2 / m.ConductivityWPerMK),
		thick: NewWall(filmWPerM2K * s.ThicknessM / 2 / m.ConductivityWPerMK),
	}
	halfW, halfT := s.WidthM/2, s.ThicknessM/2
	for i := range terms {
		n, k := i/Modes, i%Modes
		zw, zt := b.width.Root[n]/halfW, b.thick.Root[k]/halfT
		b.rate[i] = m.DiffusivityM2PerS * (zw*zw + zt*zt)
		b.share[i] = b.width.Coef[n] * b.thick.Coef[k]
	}
	return b, nil
}

// Field is the temperature of one section as amplitudes of its bar's modes: the
// air's temperature less the wood's, in kelvin. The zero value is wood at the
// air's own temperature. A Field means nothing without the Bar it belongs to.
type Field [terms]float64

// Step is what a length of time does to a Field on one bar while the air's
// temperature runs along a straight line.
type Step struct {
	Seconds float64
	keep    [terms]float64 // e^(−λΔ)
	gain    [terms]float64 // c (1 − e^(−λΔ)) / (λΔ)
}

// Step returns the step of length d, d > 0.
func (b *Bar) Step(d time.Duration) Step {
	s := Step{Seconds: d.Seconds()}
	for i, rate := range b.rate {
		x := rate * s.Seconds
		s.keep[i] = math.Exp(-x)
		s.gain[i] = b.share[i] * -math.Expm1(-x) / x
	}
	return s
}

// Advance moves the field on by one step during which the air rises by riseK in
// a straight line, and returns the air's temperature less the core's at its end.
func (f *Field) Advance(s *Step, riseK float64) float64 {
	var even, odd float64
	for i := 0; i < terms; i += 2 {
		f[i] = f[i]*s.keep[i] + s.gain[i]*riseK
		f[i+1] = f[i+1]*s.keep[i+1] + s.gain[i+1]*riseK
		even += f[i]
		odd += f[i+1]
	}
	return even + odd
}

// Jump lets the air rise by riseK at once.
func (f *Field) Jump(b *Bar, riseK float64) {
	for i := range f {
		f[i] += b.share[i] * riseK
	}
}

// Core returns the air's temperature less the core's.
func (f *Field) Core() float64 {
	sum := 0.0
	for _, a := range f {
		sum += a
	}
	return sum
}

// At returns the air's temperature less the wood's at a place in the section: y
// across the width and z across the thickness, 0 at the centre and 1 at a face.
func (f *Field) At(b *Bar, y, z float64) float64 {
	sum := 0.0
	for i, a := range f {
		sum += a * math.Cos(b.width.Root[i/Modes]*y) * math.Cos(b.thick.Root[i%Modes]*z)
	}
	return sum
}

// Move carries fields from one bar to another of the same section, as when a rib
// leaves the steam and another film cools it.
type Move struct {
	width, thick [Modes][Modes]float64
}

// NewMove returns the move between two bars of one section.
func NewMove(from, to *Bar) Move {
	return Move{width: from.width.onto(&to.width), thick: from.thick.onto(&to.thick)}
}

// Apply carries f over. Each kept amplitude is right; what the cut-off ones held
// shows in a thin rib's core as up to 1 K after two seconds and 0.2 K after ten
// (TestInOutIn).
func (m *Move) Apply(f *Field) {
	var half, out Field
	for k := range Modes {
		for n := range Modes {
			for j := range Modes {
				half[k*Modes+j] += m.width[k][n] * f[n*Modes+j]
			}
		}
	}
	for k := range Modes {
		for j := range Modes {
			for n := range Modes {
				out[k*Modes+j] += m.thick[j][n] * half[k*Modes+n]
			}
		}
	}
	*f = out
}
