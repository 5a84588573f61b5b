package measure

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// LongestMM is the longest length that ParseLength takes, in millimetres. What a
// rib may be is for others to say.
const LongestMM = 1e6

// ParseLength reads a length as somebody types it and returns it in millimetres. A
// unit that is typed counts (mm, cm, m, in, ft and the marks ' and "); without one it
// is millimetres or, with US, inches. Inches and feet may have a fraction, down to
// 64ths: 37 5/16, 37-5/16, 37.3125, 3' 1 5/16", 3 ft 1½.
//
// The error is a sentence for the one who typed it, without what was typed.
func ParseLength(text string, units Units) (mm float64, err error) {
	r := reader{left: strings.TrimSpace(typed.Replace(strings.ToLower(text)))}
	if r.left == "" {
		return 0, errors.New("empty; a length belongs here, such as " + example(units))
	}
	sign := 1.0
	if rest, found := strings.CutPrefix(r.left, "-"); found {
		sign, r.left = -1, strings.TrimSpace(rest)
	}
	first, err := r.quantity(units)
	if err != nil {
		return 0, err
	}
	mm = first.mm()
	if first.unit == "ft" && r.left != "" {
		rest, err := r.quantity(US)
		if err != nil {
			return 0, err
		}
		if rest.unit != "in" || rest.number >= 12 || first.number != math.Trunc(first.number) {
			return 0, errors.New("after whole feet come inches, less than 12: 3 ft 1 5/16 in")
		}
		mm += rest.mm()
	}
	switch {
	case r.left != "":
		return 0, fmt.Errorf("%q is too much: one length belongs here, such as %s", r.left, example(units))
	case mm > LongestMM:
		return 0, fmt.Errorf("longer than %.0f m", LongestMM/1000)
	case mm == 0:
		return 0, nil // and never -0
	}
	return sign * mm, nil
}

func example(u Units) string {
	if u == US {
		return "37 5/16"
	}
	return "948"
}

// typed makes one spelling of what keyboards make of marks, dashes and fractions.
var typed = strings.NewReplacer(
	"\u00a0", " ", "\u202f", " ", "\t", " ", "−", "-", "–", "-", "⁄", "/",
	"''", "\"", "″", "\"", "”", "\"", "“", "\"", "′", "'", "’", "'", "‘", "'",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
)

// unitMM is how many millimetres each unit has, by the name it has here.
var unitMM = map[string]float64{"mm": 1, "cm": 10, "m": 1000, "in": mmPerInch, "ft": 1000 * mPerFoot}

// unitNames are the spellings of the units.
var unitNames = map[string]string{
	"mm": "mm", "cm": "cm", "m": "m", "\"": "in", "in": "in", "in.": "in", "inch": "in", "inches": "in",
	"'": "ft", "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft",
}

// quantity is a number with its unit.
type quantity struct {
	number float64
	unit   string
}

func (q quantity) mm() float64 { return q.number * unitMM[q.unit] }

// reader takes a text apart from its beginning.
type reader struct{ left string }

// quantity reads a number, a fraction or both, and a unit; without a unit it is that of u.
func (r *reader) quantity(u Units) (q quantity, err error) {
	if q.number, err = r.number(); err != nil {
		return q, err
	}
	fraction := strings.HasPrefix(r.left, "/") // the number was the upper one
	if fraction {
		q.number, err = r.parts(q.number, r.left[1:])
	} else if upper, rest, found := strings.Cut(r.left, "/"); found && digits(strings.TrimSpace(upper)) {
		fraction = true
		if q.number != math.Trunc(q.number) {
			return q, errors.New("decimals or a fraction, not both")
		}
		var part float64
		part, err = r.parts(atoi(strings.TrimSpace(upper)), rest)
		q.number += part
	}
	if err != nil {
		return q, err
	}
	if q.unit, err = r.unit(u); err != nil {
		return q, err
	}
	if fraction && q.unit != "in" && q.unit != "ft" {
		return q, fmt.Errorf("a fraction goes with inches: 37 5/16 in, or a decimal point in %s", q.unit)
	}
	return q, nil
}

// skip goes on past n bytes and the spaces or the dash that join what follows, as in
// 37-5/16 and 3'-1".
func (r *reader) skip(n int) {
	r.left = strings.TrimLeft(r.left[n:], " ")
	if len(r.left) > 1 && r.left[0] == '-' && digits(r.left[1:2]) {
		r.left = r.left[1:]
	}
}

// number reads digits with at most one decimal point.
func (r *reader) number() (x float64, err error) {
	end := 0
	for end < len(r.left) && (r.left[end] >= '0' && r.left[end] <= '9' || r.left[end] == '.') {
		end++
	}
	text := r.left[:end]
	if strings.HasPrefix(r.left[end:], ",") {
		return 0, errors.New("a comma can be read in two ways: write a decimal point, and nothing between thousands")
	}
	x, err = strconv.ParseFloat(text, 64)
	if err != nil || len(text) > 16 {
		return 0, errors.New("not a number; a length is written like 948, 37.5 or 37 5/16 in")
	}
	r.skip(end)
	return x, nil
}

// parts reads the lower number of a fraction from what is left and returns what the
// fraction comes to.
func (r *reader) parts(upper float64, left string) (float64, error) {
	r.left = strings.TrimLeft(left, " ")
	of, err := r.number()
	if err != nil {
		return 0, err
	}
	if of != math.Trunc(of) || of < 2 || of > finest || int(of)&(int(of)-1) != 0 {
		return 0, fmt.Errorf("%g below the stroke: an inch is in halves, 4ths, 8ths, 16ths, 32nds or 64ths", of)
	}
	if upper != math.Trunc(upper) || upper >= of {
		return 0, fmt.Errorf("%g/%g: above the stroke belongs a whole number below %g", upper, of, of)
	}
	return upper / of, nil
}

// unit reads a unit's name; there may be none.
func (r *reader) unit(u Units) (string, error) {
	end := strings.IndexFunc(r.left, func(c rune) bool { return strings.ContainsRune(" -0123456789", c) })
	if end < 0 {
		end = len(r.left)
	}
	name := r.left[:end]
	if name == "" {
		if u == US {
			return "in", nil
		}
		return "mm", nil
	}
	unit, known := unitNames[name]
	if !known {
		return "", fmt.Errorf("%q is no unit here: mm, cm, m, in or ft", name)
	}
	r.skip(len(name))
	return unit, nil
}

func digits(s string) bool {
	return s != "" && len(s) < 4 && strings.IndexFunc(s, func(c rune) bool { return c < '0' || c > '9' }) < 0
}

func atoi(s string) float64 {
	n, _ := strconv.Atoi(s) // digits, and few
	return float64(n)
}
