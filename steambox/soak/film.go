package soak

import (
	"errors"
	"fmt"
	"math"

	"withy/steambox/steam"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// Air in the steam hinders it: at a face where steam condenses the air stays
// behind, and the steam must find its way through it. In a vented box the share of
// air needs no probe of its own: saturated steam that stands below the boiling
// point has the pressure of its own temperature, and the rest is air.
//
// Two resistances lie in series between steam and wood, the box's own and the
// air's. The first is what nobody knows but a witness; the second changes along
// the box and is what makes its cooler end slower than its temperature says.

// someAirK is how far below boiling steam with some air stands: there a box's film
// is what Assumed says. It is 7 % of air (common practice for a box that is
// ready, no source).
const someAirK = 2.0

// coldestK is how far below boiling air may be and still get a film of its own;
// cooler air keeps that one. A rib in it is not soaking any more.
const coldestK = 35.0

// highestFilm stands for a box whose own resistance is nothing, W/m²K.
const highestFilm = 20000.0

// airPerSteam is the mass of a mole of dry air over that of a mole of steam.
const airPerSteam = 28.965 / 18.015

// hinderedFilm and hinderedPower are the film in W/m²K through steam with as much
// air by mass, and how quickly it falls with more.
//
// Source: Uchida, Oyama and Togo, Evaluation of post-incident cooling systems of
// light water reactors (1964): h = 380 (steam/air by mass)^0.7, still mixture, from
// 10 to 80 % of steam by mass; read in the wall condensation model of
// code_saturne. With less air than that it is carried on: it then says little,
// because the box's own resistance is the greater one.
const (
	hinderedFilm  = 380.0
	hinderedPower = 0.7
)

// hindrance returns the resistance of the air in saturated steam of c °C, in
// m²K/W, where water boils under boilPa pascal: 0 at boiling, and more the cooler.
func hindrance(boilPa, c float64) float64 {
	pa, err := steam.SaturationPressure(unit.Celsius(c))
	if err != nil || pa >= boilPa {
		return 0
	}
	return math.Pow((boilPa-pa)/pa*airPerSteam, hinderedPower) / hinderedFilm
}

// boilPressure returns the pressure under which water boils at boilingC °C, in
// pascal; errors wrap wood.ErrRange.
func boilPressure(boilingC float64) (float64, error) {
	pa, err := steam.SaturationPressure(unit.Celsius(boilingC))
	if err != nil || boilingC < 2*coldestK {
		return 0, fmt.Errorf("boiling at %g °C: %w (%g to 373.946)", boilingC, wood.ErrRange, 2*coldestK)
	}
	return pa, nil
}

// ownResistance returns what is left of a film, found in steam of c °C, without the
// air: the box's own resistance, in m²K/W.
func ownResistance(boilPa, filmWPerM2K, c float64) float64 {
	return max(1/filmWPerM2K-hindrance(boilPa, c), 1/highestFilm)
}

// inSomeAir returns the film in steam with some air of a box whose film was found to
// be filmWPerM2K in steam of c °C; with boilingC 0 they are the same.
func inSomeAir(filmWPerM2K, c, boilingC float64) (float64, error) {
	if boilingC == 0 {
		return filmWPerM2K, nil
	}
	boilPa, err := boilPressure(boilingC)
	if err != nil {
		return 0, err
	}
	return 1 / (ownResistance(boilPa, filmWPerM2K, c) + hindrance(boilPa, boilingC-someAirK)), nil
}

// hinderedC returns the temperature in °C of the steam whose air has a resistance:
// hindrance the other way round.
func hinderedC(boilPa, m2KPerW float64) (float64, error) {
	air := math.Pow(m2KPerW*hinderedFilm, 1/hinderedPower) / airPerSteam
	c, err := steam.BoilingPoint(boilPa / (1 + air))
	return float64(c), err
}

// filmRungs is how many films a ladder has. Between neighbours lie 2 % for the
// default film, which is less than ½ % of a soak's exposure.
const filmRungs = 64

// films is a ladder of film coefficients in equal ratios, from steam without air
// down to steam coldestK below boiling. A rib's wall series belongs to one film, so
// a point stays on a rung until its air has left it for good.
type films struct {
	perM2K []float64 // W/m²K, falling
	airC   []float64 // of the steam that has it, °C, falling
}

// newFilms returns the ladder of a box with a film in W/m²K someAirK below boiling;
// with boilingC 0 the film is the same in whatever air, and the ladder one rung.
func newFilms(filmWPerM2K, boilingC float64) (films, error) {
	if boilingC == 0 {
		return films{[]float64{filmWPerM2K}, []float64{0}}, nil
	}
	boilPa, err := boilPressure(boilingC)
	if err != nil {
		return films{}, err
	}
	own := ownResistance(boilPa, filmWPerM2K, boilingC-someAirK)
	most := own + hindrance(boilPa, boilingC-coldestK)
	f := films{make([]float64, filmRungs), make([]float64, filmRungs)}
	f.perM2K[0], f.airC[0] = 1/own, boilingC
	var errs error
	for i := 1; i < filmRungs; i++ {
		r := own * math.Pow(most/own, float64(i)/(filmRungs-1))
		f.perM2K[i] = 1 / r
		f.airC[i], err = hinderedC(boilPa, r-own)
		errs = errors.Join(errs, err)
	}
	return f, errs
}

// nearest returns the rung whose steam is nearest to c °C.
func (f *films) nearest(c float64) int {
	i := 0
	for i < len(f.airC)-1 && f.airC[i+1] >= c {
		i++
	}
	if i < len(f.airC)-1 && f.airC[i]-c > c-f.airC[i+1] {
		i++
	}
	return i
}

// patience is how many rungs the air must have gone from where a film is right
// before the film is changed: the door opens at every load and pull.
const patience = 2

// left reports whether steam of c °C is too far from rung i to keep it.
func (f *films) left(i int, c float64) bool {
	return i >= patience && c >= f.airC[i-patience] || i < len(f.airC)-patience && c <= f.airC[i+patience]
}
