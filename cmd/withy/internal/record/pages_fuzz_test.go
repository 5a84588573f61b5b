package record

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"withy/steambox"
)

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

// Whatever stands in a write-ahead file, reading through it ends, with no panic, and every page
// that it is said to have lies in it; with its checksums made right too.
func FuzzWAL(f *testing.F) {
	file := make([]byte, walHeaderSize+2*frameSize)
	f.Add(file, true)
	binary.BigEndian.PutUint32(file, walMagic+1)
	binary.BigEndian.PutUint32(file[walHeaderSize+4:], 1)
	copy(file[walHeaderSize+frameHeader+100:], []byte{9, 5, 7, 0, 1, 1, 1, 12, 1, 0, 0, 0, 0})
	f.Add(file, true)
	f.Add(file[:len(file)-1], false)
	f.Add(file[:walHeaderSize-1], false)
	path := filepath.Join(f.TempDir(), "wal")
	f.Fuzz(func(t *testing.T, file []byte, sound bool) {
		if sound {
			makeSound(file)
		}
		must(t, os.WriteFile(path, file, 0o600))
		w, err := openWAL(path)
		must(t, err)
		defer w.close()
		n := 0
		for _, page := range w.pages() {
			if _, err := page.read(); err != nil {
				t.Error(err)
			}
			n++
		}
		if whole := max(0, len(file)-walHeaderSize) / frameSize; n > whole || sound && whole > 0 && n != whole {
			t.Errorf("%d of %d pages", n, whole)
		}
		for _, r := range w.tail {
			for _, err := range r.unpack() {
				damagedOrGood(t, err)
			}
		}
	})
}

// makeSound gives a write-ahead file its magic number, salts and checksums.
func makeSound(file []byte) {
	if len(file) < walHeaderSize {
		return
	}
	binary.BigEndian.PutUint32(file, walMagic)
	put := func(b []byte, s [2]uint32) [2]uint32 {
		binary.BigEndian.PutUint32(b, s[0])
		binary.BigEndian.PutUint32(b[4:], s[1])
		return s
	}
	sum := put(file[24:], walSum(binary.LittleEndian, [2]uint32{}, file[:24]))
	for frame := file[walHeaderSize:]; len(frame) >= frameSize; frame = frame[frameSize:] {
		copy(frame[8:16], file[16:24])
		sum = put(frame[16:], walSum(binary.LittleEndian, walSum(binary.LittleEndian, sum, frame[:8]), frame[frameHeader:frameSize]))
	}
}

// damagedOrGood fails where an error doesn't say that something is damaged.
func damagedOrGood(t *testing.T, err error) {
	t.Helper()
	if err != nil && !errors.Is(err, ErrDamaged) {
		t.Error(err)
	}
}

// Whatever a row of the record holds, its checksum right, it is entries that can be exported, or
// damage.
func FuzzRow(f *testing.F) {
	event, err := json.Marshal(steambox.Event{ID: "1", Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	must(f, err)
	var b batch
	at, wall, s := secondOf(55)
	must(f, b.add(at, nanos(wall), s))
	f.Add(rowEvent, int64(at), nanos(wall), event)
	f.Add(rowClock, int64(at), nanos(wall), []byte(`{"boot":"b","origin":-3}`))
	f.Add(rowSamples, int64(at), nanos(wall), b.body)
	f.Add(rowEvent, int64(-1), int64(1<<62), []byte(`{"kind":"filled","litres":1e308,"box":{}}`))
	f.Fuzz(func(t *testing.T, kind int, at, wall int64, body []byte) {
		w := row{position: 1<<seqBits + 1, kind: kind, at: time.Duration(at), wall: wall, body: body}
		for e, err := range w.summed().unpack() {
			damagedOrGood(t, err)
			if err != nil {
				return
			}
			if _, err := marshal(lineOf(e)); err != nil {
				t.Errorf("%v of %+v", err, e)
			}
		}
	})
}
