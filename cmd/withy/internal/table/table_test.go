package table_test

import (
	"strings"
	"testing"

	"withy/cmd/withy/internal/table"
)

// What spreadsheets and tired people make of a table is refused in words that say what to
// do: semicolons and decimal commas as in half of Europe, RFC 4180's quotation marks left
// open, a picture taken for a table.
func TestWhatSpreadsheetsWrite(t *testing.T) {
	columns := table.Columns{Required: []string{"rib", "length_mm"}}
	for _, c := range []struct{ text, says string }{
		{"rib;length_mm\n1;943\n", "ribs:1: the columns stand apart by semicolons or tabs: save the table with commas between the columns, and points in the numbers"},
		{"rib\tlength_mm\n1\t943\n", "ribs:1: the columns stand apart by semicolons or tabs: save the table with commas between the columns, and points in the numbers"},
		{"rib,length_mm\n1,943,5\n", "ribs:2: 3 cells where the first line has 2; is a comma meant for a decimal point?"},
		{"rib,length_mm\n1\n", "ribs:2: 1 cell where the first line has 2"},
		{"rib,length_mm\n\"1,943\n", `ribs:2: a quotation mark (") stands in the middle of a cell, or has no second one`},
		{"rib,length_mm\n1,943\n2,\"94,3\n", `ribs:3: a quotation mark (") stands in the middle of a cell, or has no second one`},
		{"rib,length_mm\n1,9\"43\n", `ribs:2: a quotation mark (") stands in the middle of a cell, or has no second one`},
		{"rib,\"length_mm\n1,943\n", `ribs:1: a quotation mark (") stands in the middle of a cell, or has no second one`},
		{"\x89PNG\r\n\x1a\n\x00\x00", "ribs: not a CSV file, or not in UTF-8: save the table as CSV (UTF-8)"},
		{"PK\x03\x04\x14\x00\x06\x00", "ribs: not a CSV file, or not in UTF-8: save the table as CSV (UTF-8)"},
	} {
		f, err := table.Read("ribs", strings.NewReader(c.text), columns)
		if err == nil {
			err = f.Err()
		}
		if err == nil || err.Error() != c.says {
			t.Errorf("%q: %v, not %s", c.text, err, c.says)
		}
	}
}
