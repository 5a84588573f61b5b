// Package sheet is the plan of a day as it leaves the program: text for a terminal, a
// page to print, a document for programs.
//
// Whatever is planned is planned by package plan, and said by package words; here it
// is put in order and drawn.
package sheet

import (
	"withy/steambox/measure"
	"withy/steambox/plan"
)

// Day is a planned day and what it was planned from.
type Day struct {
	Plan  *plan.Plan
	Asked *plan.Asked
	Slots []string      // letters at the door, in order; nil: A, B and so on
	Units measure.Units // that the sheet is in; the document is metric always
}

// slot is the letter of a slot, counted from 0.
func (d Day) slot(i int) string {
	if i < len(d.Slots) {
		return d.Slots[i]
	}
	return string(rune('A' + i))
}
