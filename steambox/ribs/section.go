package ribs

import (
	"cmp"
	"slices"
)

// Section is what blanks have in common: one stick, one width and thickness. A blank
// of one section can take the place of any rib of it that is no longer.
type Section struct {
	Stick      string  // empty: not said
	WidthM     float64 // the widest of its ribs; 0: not said
	ThicknessM float64 // the thickest of its ribs; 0: not said
}

// How far two ribs may be apart and still be sawn alike: measured blanks scatter
// by that much (common practice, no source).
const (
	alikeThicknessM = 0.0005
	alikeWidthM     = 0.001
)

// bySection parts a table into groups of indices sawn alike: sticks in the order
// of their names, thick before thin, wide before narrow, long before short.
func bySection(table []Rib) [][]int {
	all := make([]int, len(table))
	for i := range all {
		all[i] = i
	}
	var groups [][]int
	for _, stick := range part(all, func(a, b int) bool { return table[a].Stick != table[b].Stick },
		func(a, b int) int { return cmp.Compare(table[a].Stick, table[b].Stick) }) {
		for _, thick := range part(stick, apart(table, Rib.thickness, alikeThicknessM), falling(table, Rib.thickness)) {
			groups = append(groups, part(thick, apart(table, Rib.width, alikeWidthM), falling(table, Rib.width))...)
		}
	}
	for _, g := range groups {
		slices.SortStableFunc(g, falling(table, Rib.length))
	}
	return groups
}

func (r Rib) length() float64    { return r.LengthM }
func (r Rib) thickness() float64 { return r.ThicknessM }
func (r Rib) width() float64     { return r.WidthM }

// part sorts indices and cuts them wherever two neighbours differ.
func part(all []int, differ func(a, b int) bool, order func(a, b int) int) [][]int {
	slices.SortStableFunc(all, order)
	var groups [][]int
	for first, i := 0, 1; i <= len(all); i++ {
		if i == len(all) || differ(all[i-1], all[i]) {
			groups = append(groups, all[first:i])
			first = i
		}
	}
	return groups
}

// falling orders ribs by a measure, greatest first.
func falling(table []Rib, of func(Rib) float64) func(a, b int) int {
	return func(a, b int) int { return cmp.Compare(of(table[b]), of(table[a])) }
}

// apart reports whether b is less than a by more than two ribs sawn alike are.
func apart(table []Rib, of func(Rib) float64, alike float64) func(a, b int) bool {
	return func(a, b int) bool { return of(table[a])-of(table[b]) > alike }
}

// sectionOf returns what the ribs of a group have in common.
func sectionOf(table []Rib, group []int) Section {
	s := Section{Stick: table[group[0]].Stick}
	for _, i := range group {
		s.WidthM, s.ThicknessM = max(s.WidthM, table[i].WidthM), max(s.ThicknessM, table[i].ThicknessM)
	}
	return s
}
