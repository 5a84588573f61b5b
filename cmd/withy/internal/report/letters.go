package report

import (
	"bytes"
	"compress/gzip"
	_ "embed" // of the letters
	"encoding/binary"
	"fmt"
	"io"
	"sync"
)

// letters are the outlines that a picture's labels are painted with: those of Go Regular,
// which has Latin, Greek and Cyrillic letters. They are kept like this because the font
// and the library that reads it are 370 kB in the program, these are 30. TestLetters makes the file, and
// fails when it is another than the font's. Its licence is letters.LICENSE.
//
//go:embed letters.gz
var letters []byte

// em is how many steps of an outline are as long as the letters are high.
const em = 512

// letter is a letter's outline around a baseline, and how far behind it the next begins,
// in steps.
type letter struct {
	outlines [][]point
	advance  float64
}

// missing stands in the place of what there is no letter for.
const missing = '\uFFFD'

// alphabet are all letters. In the file each is its number less that of the one before,
// its advance, how many outlines it has and of each how many points: numbers as
// binary.AppendUvarint writes them. A point is how far it is from the one before, as
// binary.AppendVarint writes it; x is doubled, and one more where the line only bends
// towards the point and goes to the next.
var alphabet = sync.OnceValue(func() map[rune]letter {
	all, err := readLetters(letters)
	if err != nil {
		panic("report: letters.gz: " + err.Error()) // it is part of the program
	}
	return all
})

func readLetters(file []byte) (map[rune]letter, error) {
	unpacked, err := gzip.NewReader(bytes.NewReader(file))
	if err != nil {
		return nil, err
	}
	text, err := io.ReadAll(unpacked)
	if err != nil {
		return nil, err
	}
	in := bytes.NewReader(text)
	count := func() int {
		n, failed := binary.ReadUvarint(in)
		if failed != nil {
			err = failed
		}
		return int(n)
	}
	step := func() int {
		n, failed := binary.ReadVarint(in)
		if failed != nil {
			err = failed
		}
		return int(n)
	}
	all := map[rune]letter{}
	for at := rune(0); in.Len() > 0; {
		at += rune(count())
		l := letter{advance: float64(count())}
		x, y := 0, 0
		next := func() (to point, bends bool) {
			doubled := step()
			x, y = x+doubled>>1, y+step()
			return point{float64(x), float64(y)}, doubled&1 == 1
		}
		for range count() {
			var line []point
			for left := count(); left > 0 && err == nil; left-- {
				to, bends := next()
				if bends {
					end, _ := next()
					left--
					line = append(line, curve(line[len(line)-1], to, end)...)
				} else {
					line = append(line, to)
				}
			}
			l.outlines = append(l.outlines, line)
		}
		if err != nil {
			return nil, fmt.Errorf("letter %q: %w", at, err)
		}
		all[at] = l
	}
	return all, nil
}

// curve is a quadratic curve as lines, without its beginning.
func curve(from, by, to point) []point {
	const parts = 6
	var out []point
	for i := 1; i <= parts; i++ {
		t := float64(i) / parts
		a, b, c := (1-t)*(1-t), 2*t*(1-t), t*t
		out = append(out, point{a*from.x + b*by.x + c*to.x, a*from.y + b*by.y + c*to.y})
	}
	return out
}

// outlinesOf are those of a text of some size that begins at 0, 0, and how wide it is.
func outlinesOf(text string, size float64) (outlines [][]point, wide float64) {
	for _, r := range text {
		l, ok := alphabet()[r]
		if !ok {
			l = alphabet()[missing]
		}
		for _, line := range l.outlines {
			sized := make([]point, len(line))
			for i, p := range line {
				sized[i] = point{wide + p.x*size/em, p.y * size / em}
			}
			outlines = append(outlines, sized)
		}
		wide += l.advance * size / em
	}
	return outlines, wide
}

func textWide(text string, size float64) float64 {
	_, wide := outlinesOf(text, size)
	return wide
}
