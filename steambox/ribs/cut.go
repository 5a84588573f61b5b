package ribs

import (
	"cmp"
	"math"
	"slices"
)

// Blanks are the blanks of one length in a lot.
type Blanks struct {
	LengthM float64
	Ribs    []string // labels of the ribs that they are for, in the table's order
	Spares  int      // how many are spares besides
}

// Count returns how many there are to cut.
func (b Blanks) Count() int { return len(b.Ribs) + b.Spares }

// Lot is what is sawn from one stick to one section.
type Lot struct {
	Section
	Blanks []Blanks // longest first
	Count  int      // blanks in all
	TotalM float64  // of all lengths, end to end, without the saw's kerf
}

// CutList returns the lots for a table and its spares, sticks in the order of their
// names, thick before thin. Each blank is its rib's length and allowM more at either
// end; lengths that agree to the tenth of a millimetre are one entry. The table must
// have passed Check.
func CutList(table []Rib, spares []Spare, allowM float64) []Lot {
	var lots []Lot
	for _, group := range bySection(table) {
		lot := Lot{Section: sectionOf(table, group)}
		slices.Sort(group)
		for _, i := range group {
			b := lot.of(table[i].LengthM + 2*allowM)
			b.Ribs = append(b.Ribs, table[i].Label)
		}
		for _, s := range spares {
			if s.Section == lot.Section {
				lot.of(s.LengthM+2*allowM).Spares++
			}
		}
		slices.SortFunc(lot.Blanks, func(a, b Blanks) int { return cmp.Compare(b.LengthM, a.LengthM) })
		for _, b := range lot.Blanks {
			lot.Count += b.Count()
			lot.TotalM += float64(b.Count()) * b.LengthM
		}
		lots = append(lots, lot)
	}
	return lots
}

// of returns the lot's blanks of a length, which it begins if there are none.
func (l *Lot) of(lengthM float64) *Blanks {
	lengthM = math.Round(lengthM*1e4) / 1e4
	at := slices.IndexFunc(l.Blanks, func(b Blanks) bool { return b.LengthM == lengthM })
	if at < 0 {
		at = len(l.Blanks)
		l.Blanks = append(l.Blanks, Blanks{LengthM: lengthM})
	}
	return &l.Blanks[at]
}
