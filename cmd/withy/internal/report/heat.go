package report

import (
	"fmt"
	"math"
	"unicode/utf8"

	"withy/steambox/measure"
	"withy/steambox/unit"
)

// Sizes of the drawing of the heat.
const (
	heatLeft, heatRight = 62.0, 988.0
	heatTop, heatHigh   = 10.0, 200.0
	mostRibWide         = 60.0 // for a rib
	dotR                = 5.0
)

// drawHeat draws the heat that both ends of each rib took, in the order of the pulls,
// before the window that was wanted of it then: so how the window moved shows too. It
// is nil where no rib was pulled.
func drawHeat(ribs []Rib, u measure.Units) *drawing {
	if len(ribs) == 0 {
		return nil
	}
	h := heat{ribs: ribs, wide: min(mostRibWide, (heatRight-heatLeft)/float64(len(ribs)))}
	for _, r := range ribs {
		h.mostMin = max(h.mostMin, float64(r.Wanted.Over), r.Heat[0].HiMin, r.Heat[1].HiMin)
	}
	h.scale()
	h.window()
	for i, r := range ribs {
		h.rib(h.x(i), r)
	}
	h.high = heatTop + heatHigh + h.below()
	h.says = "Heat taken by both ends of each rib in the order of the pulls, in minutes at " + u.HeatAt() + ", with the window that was wanted of it"
	return &h.drawing
}

type heat struct {
	drawing
	ribs    []Rib
	wide    float64 // for one rib
	mostMin float64 // of the scale
}

// x is the middle of the n-th rib's place.
func (h *heat) x(n int) float64 { return heatLeft + h.wide*(float64(n)+0.5) }

func (h *heat) y(minutes float64) float64 { return heatTop + heatHigh*(1-minutes/h.mostMin) }

// scale draws lines at round minutes, eight at most.
func (h *heat) scale() {
	step := math.Pow(10, math.Ceil(math.Log10(h.mostMin/8)))
	for _, part := range []float64{5, 2} {
		if h.mostMin/(step/part) <= 8 {
			step /= part
			break
		}
	}
	h.mostMin = step * math.Ceil(h.mostMin/step)
	for m := 0.0; m <= h.mostMin; m += step {
		h.line("grid", heatLeft, h.y(m), heatRight, h.y(m))
		h.text("end", heatLeft-6, h.y(m)+5, fmt.Sprintf("%g", math.Round(m*100)/100))
	}
}

// window draws what was wanted of each rib at its pull: from ready to too much.
func (h *heat) window() {
	for i, r := range h.ribs {
		x, target, over := h.x(i)-h.wide/2, h.y(float64(r.Wanted.Target)), h.y(float64(r.Wanted.Over))
		h.rect("good", x, over, h.wide, target-over)
		h.line("target", x, target, x+h.wide, target)
		h.line("over", x, over, x+h.wide, over)
	}
}

// rib draws both ends with their bounds, how it bent, and its label.
func (h *heat) rib(x float64, r Rib) {
	apart := min(8, h.wide/4)
	var at [2][2]float64
	for _, e := range unit.Ends {
		end := r.Heat[e]
		at[e] = [2]float64{x + apart*float64(2*int(e)-1), h.y(end.Min)}
		pen := "bound"
		if !r.Sure {
			pen = "unsure"
		}
		h.line(pen, at[e][0], h.y(end.LoMin), at[e][0], h.y(end.HiMin))
	}
	h.line("wood", at[0][0], at[0][1], at[1][0], at[1][1])
	radius := min(dotR, h.wide/4)
	h.dot("hot", at[unit.SteamEnd][0], at[unit.SteamEnd][1], radius)
	h.dot("cool", at[unit.DoorEnd][0], at[unit.DoorEnd][1], radius)
	foot := heatTop + heatHigh + 14
	switch r.Outcome {
	case "supple":
		h.dot("hot", x, foot, 3)
	case "stiff":
		h.line("mark", x-5, foot, x+5, foot)
	case "cracked":
		h.cross(x, foot, 5)
	default:
		h.text("middle", x, foot+5, "?")
	}
	if h.turnedLabels() {
		h.turned(x-4, foot+12, short(r.Rib))
	} else {
		h.text("middle", x, foot+24, short(r.Rib))
	}
}

// What a label takes, and how much of it is drawn.
const (
	letterWide   = 8.5
	longestLabel = 14
)

// short is as much of a label as is drawn.
func short(label string) string {
	if r := []rune(label); len(r) > longestLabel {
		return string(r[:longestLabel-1]) + "…"
	}
	return label
}

// letters is how long the longest label is.
func (h *heat) letters() int {
	most := 0
	for _, r := range h.ribs {
		most = max(most, utf8.RuneCountInString(short(r.Rib)))
	}
	return most
}

func (h *heat) turnedLabels() bool { return letterWide*float64(h.letters())+3 > h.wide }

// below is the room for outcomes and labels.
func (h *heat) below() float64 {
	if h.turnedLabels() {
		return 32 + letterWide*float64(h.letters())
	}
	return 46
}
