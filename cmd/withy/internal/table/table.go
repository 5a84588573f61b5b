// Package table reads the CSV files that people make: RFC 4180 with a header
// line, columns in any order, unknown ones refused by name, and every mistake
// reported at once with file, line and column.
package table

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"withy/steambox/unit"
)

// MaxBytes is the largest file that is read: 64 MiB, three months of samples each second.
const MaxBytes = 64 << 20

// maxMistakes is how many mistakes are reported before the rest is only counted.
const maxMistakes = 20

// Columns says what a file may hold.
type Columns struct {
	Required, Optional []string
}

// Row is one line of the file by column name.
type Row struct {
	file    *File
	Line    int
	columns map[string]int
	cells   []string
}

// File is a file being read; it collects the mistakes found in it.
type File struct {
	Name     string
	Rows     []Row
	mistakes []error
	more     int
}

// Open reads the file called name whole. Errors name what is wrong; where lines
// could be read, File is returned too so that the caller can find more.
func Open(name string, c Columns) (*File, error) {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s: a folder, not a CSV file", name)
	case info.Size() > MaxBytes:
		return nil, fmt.Errorf("%s: %d MiB; a file of at most %d MiB is read", name, info.Size()>>20, MaxBytes>>20)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return Read(name, io.LimitReader(f, MaxBytes), c)
}

// Read is Open from a reader; name stands in the messages.
func Read(name string, r io.Reader, c Columns) (*File, error) {
	f := &File{Name: name}
	reader := csv.NewReader(r)
	reader.FieldsPerRecord = -1
	reader.ReuseRecord = false
	header, err := reader.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: empty; the first line names the columns: %s", name, strings.Join(c.Required, ","))
	} else if err != nil {
		return nil, f.unread(err)
	}
	switch first := strings.Join(header, ","); {
	case !utf8.ValidString(first) || strings.ContainsRune(first, 0):
		return nil, fmt.Errorf("%s: not a CSV file, or not in UTF-8: save the table as CSV (UTF-8)", name)
	case len(header) == 1 && strings.ContainsAny(first, ";\t"):
		return nil, fmt.Errorf("%s:1: the columns stand apart by semicolons or tabs: save the table with commas between the columns, and points in the numbers", name)
	}
	columns := f.header(header, c)
	if f.mistakes != nil {
		return nil, f.Err()
	}
	f.read(reader, columns, len(header))
	return f, nil
}

// header checks the first line.
func (f *File) header(cells []string, c Columns) map[string]int {
	columns := map[string]int{}
	known := slices.Concat(c.Required, c.Optional)
	for i, cell := range cells {
		name := strings.TrimSpace(strings.TrimPrefix(cell, "\ufeff"))
		switch _, twice := columns[name]; {
		case twice:
			f.Mistake(1, name, "named twice")
		case !slices.Contains(known, name):
			f.Mistake(1, name, "not a column here; known are %s", strings.Join(known, ", "))
		}
		columns[name] = i
	}
	for _, name := range c.Required {
		if _, ok := columns[name]; !ok {
			f.Mistake(1, name, "missing; required are %s", strings.Join(c.Required, ", "))
		}
	}
	return columns
}

func (f *File) read(reader *csv.Reader, columns map[string]int, width int) {
	for {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil { // and then there may be no first cell to ask for its place
			f.add(f.unread(err))
			return
		}
		line, _ := reader.FieldPos(0)
		switch {
		case len(cells) > width:
			f.add(fmt.Errorf("%s:%d: %s where the first line has %d; is a comma meant for a decimal point?", f.Name, line, counted(len(cells)), width))
			continue
		case len(cells) < width:
			f.add(fmt.Errorf("%s:%d: %s where the first line has %d", f.Name, line, counted(len(cells)), width))
			continue
		}
		f.Rows = append(f.Rows, Row{file: f, Line: line, columns: columns, cells: cells})
	}
}

// counted says how many cells there are.
func counted(cells int) string {
	if cells == 1 {
		return "1 cell"
	}
	return fmt.Sprintf("%d cells", cells)
}

// unread says why a line can't be taken apart. All that can be wrong with one is a
// quotation mark.
func (f *File) unread(err error) error {
	bad := new(csv.ParseError)
	if !errors.As(err, &bad) {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	return fmt.Errorf("%s:%d: a quotation mark (\") stands in the middle of a cell, or has no second one", f.Name, bad.StartLine)
}

// Mistake records one mistake at a line and column.
func (f *File) Mistake(line int, column, format string, a ...any) {
	f.add(fmt.Errorf("%s:%d: column %q: %s", f.Name, line, column, fmt.Sprintf(format, a...)))
}

func (f *File) add(err error) {
	if len(f.mistakes) == maxMistakes {
		f.more++
		return
	}
	f.mistakes = append(f.mistakes, err)
}

// Err returns all mistakes so far as one error, a line each; nil if there are none.
func (f *File) Err() error {
	all := f.mistakes
	if f.more > 0 {
		all = append(slices.Clone(all), fmt.Errorf("%s: and %d more mistakes", f.Name, f.more))
	}
	return errors.Join(all...)
}

// Text returns a cell without surrounding blanks; "" where the column is absent.
func (r *Row) Text(column string) string {
	i, ok := r.columns[column]
	if !ok {
		return ""
	}
	return strings.TrimSpace(r.cells[i])
}

// Number returns a cell as a number from lo to hi, both included. An empty or
// absent cell is no number and no mistake; anything else that isn't one is a mistake.
func (r *Row) Number(column string, lo, hi float64) (x float64, ok bool) {
	text := r.Text(column)
	if text == "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil || !unit.Finite(x):
		r.file.Mistake(r.Line, column, "%q is not a number", text)
		return 0, false
	case x < lo || x > hi:
		r.file.Mistake(r.Line, column, "%g is outside %g to %g", x, lo, hi)
		return 0, false
	}
	return x, true
}

// Required is Number where an empty cell is a mistake too.
func (r *Row) Required(column string, lo, hi float64) float64 {
	if r.Text(column) == "" {
		r.file.Mistake(r.Line, column, "empty; a number from %g to %g belongs here", lo, hi)
		return 0
	}
	x, _ := r.Number(column, lo, hi)
	return x
}
