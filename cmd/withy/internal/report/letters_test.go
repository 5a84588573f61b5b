package report

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"os"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// lastLetter is behind all that the font has.
const lastLetter = 0xFFFF

// The letters are the font's, as the library reads it. WITHY_LETTERS=1 writes the file anew.
func TestLetters(t *testing.T) {
	want := packLetters(t)
	if os.Getenv("WITHY_LETTERS") != "" {
		if err := os.WriteFile("letters.gz", want, 0o666); err != nil {
			t.Fatal(err)
		}
		t.Skip("written")
	}
	if got, want := unpacked(t, letters), unpacked(t, want); !bytes.Equal(got, want) {
		t.Errorf("letters.gz has %d bytes, the font gives %d; or they differ", len(got), len(want))
	}
	for _, r := range "AÄé°½²–…→ЖΩ0\uFFFD" {
		if _, ok := alphabet()[r]; !ok {
			t.Errorf("%q is missing", r)
		}
	}
}

// The width of a text is the sum of what the font says of its letters.
func TestTextWide(t *testing.T) {
	f := parsed(t)
	var buffer sfnt.Buffer
	want := 0.0
	for _, r := range "Rib 7 at 99 °C" {
		i, err := f.GlyphIndex(&buffer, r)
		if err != nil {
			t.Fatal(err)
		}
		advance, err := f.GlyphAdvance(&buffer, i, fixed.I(2048), font.HintingNone)
		if err != nil {
			t.Fatal(err)
		}
		want += float64(advance) / 64 / 2048 * 15
	}
	if got := textWide("Rib 7 at 99 °C", 15); got < want-.1 || got > want+.1 {
		t.Errorf("%.2f wide, by the font %.2f", got, want)
	}
	if textWide("漢", 15) != textWide(string(missing), 15) {
		t.Error("a letter that is missing takes no room")
	}
}

func parsed(t *testing.T) *sfnt.Font {
	t.Helper()
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func unpacked(t *testing.T, file []byte) []byte {
	t.Helper()
	in, err := gzip.NewReader(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if _, err := out.ReadFrom(in); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// packLetters makes the file of the font.
func packLetters(t *testing.T) []byte {
	t.Helper()
	f := parsed(t)
	var buffer sfnt.Buffer
	var text []byte
	last := rune(0)
	for r := ' '; r <= lastLetter; r++ {
		i, err := f.GlyphIndex(&buffer, r)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 && r != missing {
			continue
		}
		text = binary.AppendUvarint(text, uint64(r-last))
		text = packLetter(t, text, f, i)
		last = r
	}
	var out bytes.Buffer
	w, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func packLetter(t *testing.T, text []byte, f *sfnt.Font, i sfnt.GlyphIndex) []byte {
	t.Helper()
	var buffer sfnt.Buffer
	size := fixed.I(em)
	advance, err := f.GlyphAdvance(&buffer, i, size, font.HintingNone)
	if err != nil {
		t.Fatal(err)
	}
	segments, err := f.LoadGlyph(&buffer, i, size, nil)
	if err != nil {
		t.Fatal(err)
	}
	var outlines, points int
	var packed, line []byte
	x, y := 0, 0
	put := func(p fixed.Point26_6, bends int) {
		toX, toY := p.X.Round(), p.Y.Round()
		line = binary.AppendVarint(line, int64((toX-x)*2+bends))
		line = binary.AppendVarint(line, int64(toY-y))
		x, y, points = toX, toY, points+1
	}
	flush := func() {
		if points > 0 {
			packed = append(binary.AppendUvarint(packed, uint64(points)), line...)
			outlines++
		}
		line, points = nil, 0
	}
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			flush()
			put(s.Args[0], 0)
		case sfnt.SegmentOpLineTo:
			put(s.Args[0], 0)
		case sfnt.SegmentOpQuadTo:
			put(s.Args[0], 1)
			put(s.Args[1], 0)
		default:
			t.Fatalf("a curve of another kind: %v", s.Op)
		}
	}
	flush()
	text = binary.AppendUvarint(text, uint64(advance.Round()))
	return append(binary.AppendUvarint(text, uint64(outlines)), packed...)
}
