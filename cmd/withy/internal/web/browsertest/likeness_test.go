package browsertest

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// What is kept of a picture is one point for each four by four of its pixels, or for more
// where it is large, each colour in steps of 8: letters stay letters, and a file small.
const (
	times  = 4
	most   = 80_000 // points
	coarse = 8
)

// Another release of Debian may draw letters a little further to one side, thicker or
// thinner. The points of such pictures are like one at or beside their place, with no
// colour further apart than alike, of 255. A letter has next to no hue, so that one may be
// less apart. In TestPicturesTell letters that are placed or drawn otherwise make at most
// 0.04 % of the points unlike, and the least of what must not be gone, the mark of a call
// that is not sure on a desktop's screen, 0.12 %; a panel, an edge or a colour 0.2 % and more.
const (
	alike      = 80
	alikeHue   = 24
	mostUnlike = 0.0008 // of all points
)

// unlike marks the points of two pictures that have none alike at or beside their place
// in the other, and tells which share they are. Pictures of other sizes have nothing alike.
func unlike(a, b *image.RGBA) (marked *image.Gray, share float64) {
	marked = image.NewGray(a.Rect)
	if a.Rect != b.Rect {
		return marked, 1
	}
	n := 0
	for y := range a.Rect.Dy() {
		for x := range a.Rect.Dx() {
			if !beside(a.RGBAAt(x, y), b, x, y) || !beside(b.RGBAAt(x, y), a, x, y) {
				marked.SetGray(x, y, color.Gray{Y: 255})
				n++
			}
		}
	}
	return marked, float64(n) / float64(a.Rect.Dx()*a.Rect.Dy())
}

// beside reports whether a picture has a point like c at a place or next to it.
func beside(c color.RGBA, in *image.RGBA, x, y int) bool {
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if (image.Point{X: x + dx, Y: y + dy}).In(in.Rect) && like(c, in.RGBAAt(x+dx, y+dy)) {
				return true
			}
		}
	}
	return false
}

// like reports whether nobody would tell two colours from each other.
func like(a, b color.RGBA) bool {
	hue := func(c color.RGBA) [2]int { return [2]int{int(c.R) - int(c.G), int(c.B) - int(c.G)} }
	ha, hb := hue(a), hue(b)
	return apart(a, b) <= alike && max(ha[0]-hb[0], hb[0]-ha[0]) <= alikeHue && max(ha[1]-hb[1], hb[1]-ha[1]) <= alikeHue
}

// apart is the largest difference in a colour.
func apart(a, b color.RGBA) int {
	most := 0
	for _, d := range []int{int(a.R) - int(b.R), int(a.G) - int(b.G), int(a.B) - int(b.B)} {
		most = max(most, d, -d)
	}
	return most
}

// reduced is what is kept of a picture.
func reduced(full *image.RGBA) *image.RGBA {
	area := full.Rect.Dx() * full.Rect.Dy()
	out := shrunk(full, max(times, math.Ceil(math.Sqrt(float64(area)/most))))
	for i := range out.Pix {
		if i%4 != 3 { // not what covers
			out.Pix[i] = out.Pix[i]/coarse*coarse + coarse/2
		}
	}
	return out
}

// shrunk makes one point of so many by so many pixels: their mean.
func shrunk(full *image.RGBA, by float64) *image.RGBA {
	size := full.Rect.Size()
	out := image.NewRGBA(image.Rect(0, 0, int(float64(size.X)/by), int(float64(size.Y)/by)))
	at := func(point int) int { return int(float64(point) * by) }
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			var sum [3]int
			n := 0
			for py := at(y); py < at(y+1); py++ {
				for px := at(x); px < at(x+1); px++ {
					c := full.RGBAAt(px, py)
					sum[0], sum[1], sum[2], n = sum[0]+int(c.R), sum[1]+int(c.G), sum[2]+int(c.B), n+1
				}
			}
			out.SetRGBA(x, y, color.RGBA{R: uint8(sum[0] / n), G: uint8(sum[1] / n), B: uint8(sum[2] / n), A: 255})
		}
	}
	return out
}

// compare fails where a picture is not the one that is kept by that name, and says where
// both lie beside each other.
func compare(t *testing.T, name string, full *image.RGBA) {
	t.Helper()
	file := filepath.Join("testdata", "pictures", name+".png")
	got := reduced(full)
	if dir := os.Getenv("WITHY_PICTURES_FULL"); dir != "" {
		write(t, filepath.Join(dir, name+".png"), full)
	}
	if os.Getenv("WITHY_PICTURES") != "" {
		write(t, file, paletted(got))
		return
	}
	want := read(t, file)
	marked, share := unlike(got, want)
	if share <= mostUnlike {
		return
	}
	dir, err := os.MkdirTemp("", "withy-pictures-")
	if err != nil {
		t.Fatal(err)
	}
	for of, picture := range map[string]image.Image{"got": full, "got-small": got, "want-small": want, "difference": marked} {
		write(t, filepath.Join(dir, name+"-"+of+".png"), picture)
	}
	t.Errorf("%s: %.2f %% of it is not as it was, at most %.2f: got, want and difference are in %s", name, 100*share, 100*mostUnlike, dir)
}

// paletted is the same picture in a file half as long, where it has few colours.
func paletted(picture *image.RGBA) image.Image {
	var colours color.Palette
	known := map[color.RGBA]bool{}
	for y := range picture.Rect.Dy() {
		for x := range picture.Rect.Dx() {
			if c := picture.RGBAAt(x, y); !known[c] {
				known[c], colours = true, append(colours, c)
			}
		}
	}
	if len(colours) > 256 {
		return picture
	}
	out := image.NewPaletted(picture.Rect, colours)
	draw.Draw(out, out.Rect, picture, image.Point{}, draw.Src)
	return out
}

func write(t *testing.T, file string, picture image.Image) {
	t.Helper()
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, picture); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, file string) *image.RGBA {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("no picture is kept yet: %v", err)
	}
	return decode(t, b)
}

func decode(t *testing.T, b []byte) *image.RGBA {
	t.Helper()
	picture, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	out := image.NewRGBA(image.Rectangle{Max: picture.Bounds().Size()})
	draw.Draw(out, out.Rect, picture, picture.Bounds().Min, draw.Src)
	return out
}
