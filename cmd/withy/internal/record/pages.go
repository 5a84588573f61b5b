package record

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
)

// How SQLite lays its files out, as far as it is read here without SQLite: the pages
// of tables, and the write-ahead file.
//
// Source: SQLite documentation, "Database File Format", sections 1.6, 2.1 and 4.1 to
// 4.3.
const (
	fileHeader    = 100 // bytes before the first page's own header
	leafPage      = 0x0d
	leafHeader    = 8
	walHeaderSize = 32
	frameHeader   = 24
	frameSize     = frameHeader + pageSize
	walMagic      = 0x377f0682 // or one more, by the order of the bytes that are summed
)

// image is a page as it stands somewhere.
type image struct {
	file *os.File
	at   int64
}

func (i image) read() ([]byte, error) {
	page := make([]byte, pageSize)
	_, err := i.file.ReadAt(page, i.at)
	return page, err
}

// wal is a write-ahead file.
type wal struct {
	file    *os.File
	frames  []int  // that are of the present, counted from 0
	damaged string // what is wrong with it; "" for nothing
	tail    []row
}

// openWAL reads through the write-ahead file at path; one that isn't there has no
// frames. SQLite takes a file for ended where a frame's checksum is wrong, whatever
// comes after it: here that is damage. A last frame that is wrong, or none that
// ends the last write, is what a power cut leaves: tail is the rows that are sound in what
// there is of that write.
func openWAL(path string) (*wal, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return &wal{}, nil
	}
	if err != nil {
		return nil, err
	}
	w := &wal{file: f}
	if err := w.readThrough(); err != nil {
		f.Close()
		return nil, err
	}
	return w, nil
}

func (w *wal) close() {
	if w.file != nil {
		w.file.Close()
	}
}

func (w *wal) readThrough() error {
	head := make([]byte, walHeaderSize)
	if _, err := io.ReadFull(w.file, head); err != nil {
		return nil // nothing was ever written behind so short a header
	}
	var order binary.ByteOrder = binary.LittleEndian
	magic := binary.BigEndian.Uint32(head)
	if magic == walMagic+1 {
		order = binary.BigEndian
	}
	sum := walSum(order, [2]uint32{}, head[:24])
	if magic&^1 != walMagic || sum != stored(head[24:]) {
		w.damaged = "the beginning of its write-ahead file is damaged"
	}
	salts := head[16:24]
	frame := make([]byte, frameSize)
	last := -1     // the frame that is wrong
	ended := false // where the present frames end, if nothing is damaged
	for i := 0; ; i++ {
		n, err := w.file.ReadAt(frame, walHeaderSize+int64(i)*frameSize)
		if n < frameSize {
			return ioError(err) // a write that was cut off before it was acknowledged
		}
		if i == 0 && w.damaged != "" {
			salts = bytes.Clone(frame[8:16])
		}
		sum = walSum(order, walSum(order, sum, frame[:8]), frame[frameHeader:])
		salted, summed := bytes.Equal(frame[8:16], salts), sum == stored(frame[16:])
		sum = stored(frame[16:])
		// What comes after the end is of an earlier time: it has other salts, and each
		// follows from the one before, but the first.
		if !salted && (!summed || ended) {
			ended = true
			continue
		}
		if last >= 0 && w.damaged == "" { // something comes after it
			w.damaged = fmt.Sprintf("page %d of its write-ahead file is damaged", last+1)
		}
		w.tail = append(w.tail, soundRows(bytes.Clone(frame[frameHeader:]))...)
		if !salted || !summed || ended {
			last = i
		} else if committed := binary.BigEndian.Uint32(frame[4:]) != 0; committed {
			w.tail = nil // SQLite has all up to here
		}
		ended = false
		w.frames = append(w.frames, i)
	}
}

// soundRows returns the rows of entries on a page that are sound, in no order.
func soundRows(page []byte) []row {
	alone := func(uint32) ([]byte, bool) { return nil, false }
	var rows []row
	for number, record := range stray(page, alone) {
		if w, ok := entryOf(number, columns(record)); ok && w.sum != noSum {
			rows = append(rows, w)
		}
	}
	return rows
}

// ioError is err, unless it only says that a file ends.
func ioError(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// pages returns the pages in the file in the order in which they were written, with
// their numbers.
func (w *wal) pages() iter.Seq2[uint32, image] {
	return func(yield func(uint32, image) bool) {
		var head [4]byte
		for _, i := range w.frames {
			at := walHeaderSize + int64(i)*frameSize
			if _, err := w.file.ReadAt(head[:], at); err != nil {
				return
			}
			if !yield(binary.BigEndian.Uint32(head[:]), image{w.file, at + frameHeader}) {
				return
			}
		}
	}
}

func stored(b []byte) [2]uint32 {
	return [2]uint32{binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])}
}

// walSum goes on with the checksum of a write-ahead file: section 4.2.
func walSum(order binary.ByteOrder, s [2]uint32, b []byte) [2]uint32 {
	for ; len(b) >= 8; b = b[8:] {
		s[0] += order.Uint32(b) + s[1]
		s[1] += order.Uint32(b[4:]) + s[0]
	}
	return s
}

// chain returns a page by its number.
type chain func(uint32) ([]byte, bool)

// cells returns the rows of a table's page, by their numbers, as SQLite's records;
// chain finds the pages that long ones go on in. What makes no sense is left out.
func cells(number uint32, page []byte, chain chain) iter.Seq2[int64, []byte] {
	return func(yield func(int64, []byte) bool) {
		head := page
		if number == 1 {
			head = page[fileHeader:]
		}
		if head[0] != leafPage {
			return
		}
		many := int(binary.BigEndian.Uint16(head[3:]))
		pointers := head[leafHeader:]
		for i := range min(many, len(pointers)/2) {
			at := int(binary.BigEndian.Uint16(pointers[2*i:]))
			if at >= len(page) {
				continue
			}
			row, record, ok := cell(page[at:], chain)
			if ok && !yield(row, record) {
				return
			}
		}
	}
}

// stray returns what looks like a row anywhere on a page, whatever the page says of
// itself: a record whose first column is the row's number, which SQLite leaves empty.
func stray(page []byte, chain chain) iter.Seq2[int64, []byte] {
	const leastHeader, mostHeader = 7, 16 // of the tables that there are
	return func(yield func(int64, []byte) bool) {
		for at := range page {
			_, n := sqliteVarint(page[at:])
			_, m := sqliteVarint(page[at+n:])
			head := page[at+n+m:]
			if n == 0 || m == 0 || len(head) < leastHeader || head[0] < leastHeader || head[0] > mostHeader || head[1] != 0 {
				continue
			}
			row, record, ok := cell(page[at:], chain)
			if ok && !yield(row, record) {
				return
			}
		}
	}
}

// cell reads one row of a table's page: section 1.6.
func cell(b []byte, chain chain) (row int64, record []byte, ok bool) {
	size, n := sqliteVarint(b)
	if n == 0 || size > maxLine {
		return 0, nil, false
	}
	number, m := sqliteVarint(b[n:])
	if m == 0 {
		return 0, nil, false
	}
	b = b[n+m:]
	// How much of a long record stays on the page.
	const most = pageSize - 35
	const least = (pageSize-12)*32/255 - 23
	here := int(size)
	if here > most {
		here = least + (int(size)-least)%(pageSize-4)
		if here > most {
			here = least
		}
	}
	if here > len(b) || recordSize(b[:here]) != size {
		return 0, nil, false
	}
	if here == int(size) {
		return int64(number), b[:here], true
	}
	record = bytes.Clone(b[:here])
	if len(b) < here+4 {
		return 0, nil, false
	}
	been := map[uint32]bool{}
	for next := binary.BigEndian.Uint32(b[here:]); len(record) < int(size); {
		page, ok := chain(next)
		if !ok || been[next] {
			return 0, nil, false
		}
		been[next] = true
		next = binary.BigEndian.Uint32(page)
		record = append(record, page[4:min(pageSize, 4+int(size)-len(record))]...)
	}
	return int64(number), record, true
}

// sqliteVarint reads a number of 1 to 9 bytes, the highest bits first; 0 bytes say
// that there is none.
func sqliteVarint(b []byte) (x uint64, n int) {
	for n < min(len(b), 9) {
		c := b[n]
		n++
		if n == 9 {
			return x<<8 | uint64(c), n
		}
		x = x<<7 | uint64(c&0x7f)
		if c&0x80 == 0 {
			return x, n
		}
	}
	return 0, 0
}

// recordSize returns how long a record is by what its header says, 0 if that makes no
// sense.
func recordSize(record []byte) uint64 {
	size, n := sqliteVarint(record)
	if n == 0 || size < uint64(n) || size > uint64(len(record)) {
		return 0
	}
	total := size
	for types := record[n:size]; len(types) > 0; types = types[n:] {
		var kind uint64
		if kind, n = sqliteVarint(types); n == 0 || kind > 2*maxLine {
			return 0
		}
		if kind < uint64(len(numberSizes)) {
			total += uint64(numberSizes[kind])
		} else if kind >= 12 {
			total += (kind - 12) / 2
		}
	}
	return total
}

// numberSizes is how many bytes the numbers have, by their types.
var numberSizes = [...]int{0, 1, 2, 3, 4, 6, 8, 8}

// columns reads a record's values: nil, int64 or []byte, which a text is too.
// Section 2.1. A record that makes no sense has none.
func columns(record []byte) []any {
	size, n := sqliteVarint(record)
	if n == 0 || size < uint64(n) || size > uint64(len(record)) {
		return nil
	}
	types, body := record[n:size], record[size:]
	var out []any
	for len(types) > 0 {
		kind, n := sqliteVarint(types)
		if n == 0 {
			return nil
		}
		types = types[n:]
		value, rest, ok := column(kind, body)
		if !ok {
			return nil
		}
		out, body = append(out, value), rest
	}
	return out
}

func column(kind uint64, body []byte) (value any, rest []byte, ok bool) {
	switch {
	case kind == 0:
		return nil, body, true
	case kind == 8 || kind == 9:
		return int64(kind - 8), body, true
	case kind < uint64(len(numberSizes))-1 && numberSizes[kind] <= len(body):
		x := int64(int8(body[0]))
		for _, c := range body[1:numberSizes[kind]] {
			x = x<<8 | int64(c)
		}
		return x, body[numberSizes[kind]:], true
	case kind >= 12 && (kind-12)/2 <= uint64(len(body)):
		n := (kind - 12) / 2
		return body[:n], body[n:], true
	}
	return nil, nil, false
}
