package record

import "testing"

// Whatever stands on a page, reading rows from it ends, and with no panic.
func FuzzPage(f *testing.F) {
	f.Add(make([]byte, pageSize), uint32(1))
	page := make([]byte, pageSize)
	copy(page, []byte{leafPage, 0, 0, 0, 1, 0, 100, 0, 0, 100})
	copy(page[100:], []byte{9, 5, 7, 0, 1, 1, 1, 12, 1, 0, 0, 0, 0})
	f.Add(page, uint32(2))
	f.Fuzz(func(t *testing.T, page []byte, number uint32) {
		if len(page) != pageSize {
			return
		}
		again := func(uint32) ([]byte, bool) { return page, true }
		n := 0
		for row, record := range cells(number, page, again) {
			entryOf(row, columns(record))
			n++
		}
		for row, record := range stray(page, again) {
			soundSession(row, columns(record))
			n++
		}
		if n > 2*pageSize {
			t.Errorf("%d rows on one page", n)
		}
	})
}
