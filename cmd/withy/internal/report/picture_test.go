package report_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/report"
	"withy/steambox"
	"withy/steambox/measure"
)

// drawn is an element of an SVG picture.
type drawn struct {
	XMLName     xml.Name
	Path        string  `xml:"d,attr"`
	Fill        string  `xml:"fill,attr"`
	Stroke      string  `xml:"stroke,attr"`
	Dashes      string  `xml:"stroke-dasharray,attr"`
	StrokeWidth float64 `xml:"stroke-width,attr"`
	CX          float64 `xml:"cx,attr"`
	CY          float64 `xml:"cy,attr"`
	X           float64 `xml:"x,attr"`
	Y           float64 `xml:"y,attr"`
	Anchor      string  `xml:"text-anchor,attr"`
	Size        float64 `xml:"font-size,attr"`
	Transform   string  `xml:"transform,attr"`
	Text        string  `xml:",chardata"`
}

type elements struct {
	ViewBox string  `xml:"viewBox,attr"`
	All     []drawn `xml:",any"`
}

// picture is a session's picture with the SVG of the same.
func picture(t *testing.T, r *report.Report) (image.Image, elements) {
	t.Helper()
	var b bytes.Buffer
	if err := r.WritePNG(&b, time.UTC, measure.Metric); err != nil {
		t.Fatal(err)
	}
	painted, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	var svg elements
	if err := xml.Unmarshal([]byte(r.PictureSVG(time.UTC, measure.Metric)), &svg); err != nil {
		t.Fatal(err)
	}
	return painted, svg
}

const scale = report.PictureWide / (report.DrawingWide + 2*report.PictureMargin)

// pixel is where a place of the drawing is on the picture.
func pixel(x, y float64) image.Point {
	return image.Pt(int((x+report.PictureMargin)*scale), int((y+report.PictureMargin)*scale))
}

// near reports whether some pixel around one has about a colour that is written #rrggbb.
func near(painted image.Image, at image.Point, colour string) bool {
	var want color.RGBA
	fmt.Sscanf(colour, "#%02x%02x%02x", &want.R, &want.G, &want.B)
	off := func(a uint32, b uint8) float64 { return math.Abs(float64(a>>8) - float64(b)) }
	for y := at.Y - 1; y <= at.Y+1; y++ {
		for x := at.X - 1; x <= at.X+1; x++ {
			if r, g, b, _ := painted.At(x, y).RGBA(); off(r, want.R)+off(g, want.G)+off(b, want.B) < 90 {
				return true
			}
		}
	}
	return false
}

// ink is which share of a box is dark.
func ink(painted image.Image, box image.Rectangle) float64 {
	dark := 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if color.GrayModel.Convert(painted.At(x, y)).(color.Gray).Y < 100 {
				dark++
			}
		}
	}
	return float64(dark) / float64(box.Dx()*box.Dy())
}

// points are the corners of a path.
func points(t *testing.T, path string) [][2]float64 {
	t.Helper()
	var out [][2]float64
	for _, each := range strings.FieldsFunc(path, func(r rune) bool { return r == 'M' || r == 'L' || r == 'Z' }) {
		var p [2]float64
		if _, err := fmt.Sscan(each, &p[0], &p[1]); err != nil {
			t.Fatalf("%q of %.40q: %v", each, path, err)
		}
		out = append(out, p)
	}
	return out
}

func pictureDay(t *testing.T) *report.Report {
	t.Helper()
	d := newDay(6)
	d.box.Ribs[5].Label = "the foot brace"
	d.warm()
	for i, outcome := range []string{"supple", "stiff", "cracked", "", "supple", "supple"} {
		d.soak(d.box.Ribs[i].Label, outcome)
		d.air(20*time.Second, 98, 70) // the door is open
	}
	d.tell(steambox.Event{Kind: steambox.Refilled, Litres: 1.5})
	d.air(5*time.Minute, 60, 50)
	r, _ := d.report(t)
	return r
}

// Every line, dot and label of the drawing is where its SVG has it.
func TestPicture(t *testing.T) {
	painted, svg := picture(t, pictureDay(t))
	var wide, high float64
	if _, err := fmt.Sscanf(svg.ViewBox, "0 0 %g %g", &wide, &high); err != nil {
		t.Fatal(err)
	}
	if size := painted.Bounds().Size(); size.X != report.PictureWide || math.Abs(float64(size.Y)-(high+2*report.PictureMargin)*scale) > 2 {
		t.Errorf("%v pixels for %g to %g", size, wide, high)
	}
	seen := map[string]int{}
	for i, e := range svg.All {
		switch {
		case e.XMLName.Local == "circle":
			want := e.Fill
			if !near(painted, pixel(e.CX, e.CY), want) {
				t.Errorf("no dot of %s at %g, %g", want, e.CX, e.CY)
			}
			seen["dot"]++
		case e.XMLName.Local == "text":
			box := labelBox(t, e)
			if share := ink(painted, box); share < .04 || share > .6 {
				t.Errorf("%q: %.3f of its place is dark", e.Text, share)
			}
			seen["label"]++
		case e.Stroke == "#000000" || e.Stroke == "#007a80" || e.Stroke == "#8a5a1e":
			missed, all := 0, points(t, e.Path)
			if e.Dashes != "" {
				all = all[:1] // every dash begins where its line does
			}
			for _, p := range all {
				if !near(painted, pixel(p[0], p[1]), e.Stroke) {
					missed++
				}
			}
			if missed > 0 && !covered(svg.All[i+1:], all) {
				t.Errorf("element %d, %s %g wide: %d of %d corners are not there", i, e.Stroke, e.StrokeWidth, missed, len(all))
			}
			seen["line"]++
		}
	}
	if seen["dot"] < 12 || seen["label"] < 30 || seen["line"] < 20 {
		t.Errorf("seen %v", seen)
	}
	// Between the drawings, and outside them, there is nothing.
	for y := range painted.Bounds().Dy() {
		for _, x := range []int{0, 20, report.PictureWide - 20, report.PictureWide - 1} {
			if painted.At(x, y) != (color.RGBA{255, 255, 255, 255}) {
				t.Fatalf("%d, %d is %v", x, y, painted.At(x, y))
			}
		}
	}
}

// covered reports whether a later shape with a filling lies on one of the corners.
func covered(later []drawn, corners [][2]float64) bool {
	for _, e := range later {
		for _, p := range corners {
			if e.XMLName.Local == "circle" && math.Hypot(e.CX-p[0], e.CY-p[1]) < 8 {
				return true
			}
		}
	}
	return false
}

// labelBox is about where a label's letters are.
func labelBox(t *testing.T, e drawn) image.Rectangle {
	t.Helper()
	wide := .45 * e.Size * float64(len([]rune(e.Text)))
	if e.Transform != "" {
		var x, y float64
		if _, err := fmt.Sscanf(e.Transform, "translate(%g %g)", &x, &y); err != nil {
			t.Fatal(err)
		}
		return image.Rectangle{pixel(x, y), pixel(x+.7*e.Size, y+wide)}
	}
	left := map[string]float64{"start": 0, "middle": wide / 2, "end": wide}[e.Anchor]
	return image.Rectangle{pixel(e.X-left, e.Y-.7*e.Size), pixel(e.X-left+wide, e.Y)}
}

// A picture of nothing still says what it is of.
func TestPictureOfNothing(t *testing.T) {
	r, _ := newDay(3).report(t)
	painted, svg := picture(t, r)
	if len(svg.All) < 2 || painted.Bounds().Dy() < 100 || painted.Bounds().Dy() > 1000 {
		t.Errorf("%d elements, %v", len(svg.All), painted.Bounds())
	}
	if !strings.Contains(r.PictureSVG(time.UTC, measure.Metric), "No rib was bent.") {
		t.Error("says nothing")
	}
}

// What is too long for the picture is cut off at its edge.
func TestPictureOfLongNames(t *testing.T) {
	d := newDay(40)
	d.box.Boat = strings.Repeat("W", 200)
	d.warm()
	for i := range 40 {
		d.box.Ribs[i].Label = fmt.Sprint(strings.Repeat("漢W", 50), i)
		d.soak(d.box.Ribs[i].Label, "stiff")
	}
	r, _ := d.report(t)
	if painted, _ := picture(t, r); painted.Bounds().Dx() != report.PictureWide {
		t.Errorf("%v", painted.Bounds())
	}
}

// The lines are where the labels of the axes say: while the ends were at 99 and 96 °C,
// their lines stand at 4/5 and 1/5 of the way from 95 to 100.
func TestCourseAxes(t *testing.T) {
	painted, svg := picture(t, pictureDay(t))
	at := map[string]drawn{}
	for _, e := range svg.All {
		if _, there := at[e.Text]; e.XMLName.Local == "text" && !there {
			at[e.Text] = e
		}
	}
	low, high := at["95 °C"].Y, at["100 °C"].Y
	from, to := at["09:40"].X, at["09:50"].X
	if low == 0 || high == 0 || from == 0 || to == 0 {
		t.Fatalf("axes without labels: %v", at)
	}
	const baseline = 5 // a label stands so much below its line
	// The box warmed up from 09:05 to 09:45; then it was opened after each rib only.
	x := from + (to-from)*.4 // 09:44
	for celsius, colour := range map[float64]string{99: "#000000", 96: "#8a5a1e"} {
		y := low + (high-low)*(celsius-95)/5 - baseline
		found := false
		for beside := 0.0; beside < 12 && !found; beside++ { // a broken line is 3 apart
			found = near(painted, pixel(x+beside, y), colour)
		}
		if !found {
			t.Errorf("no line at %g °C, %.0f, %.0f", celsius, x, y)
		}
	}
}
