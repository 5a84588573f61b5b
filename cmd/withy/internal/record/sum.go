package record

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
)

// castagnoli is the polynomial of the sums in the file.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

const sumSize = 4

// noSum stands for the checksum of a row that was written before there were any.
const noSum = -1

// sumOf returns the checksum of numbers and texts, with their lengths.
func sumOf(numbers []int64, texts ...[]byte) int64 {
	var head []byte
	for _, n := range numbers {
		head = binary.LittleEndian.AppendUint64(head, uint64(n))
	}
	for _, t := range texts {
		head = binary.LittleEndian.AppendUint64(head, uint64(len(t)))
	}
	sum := crc32.Checksum(head, castagnoli)
	for _, t := range texts {
		sum = crc32.Update(sum, castagnoli, t)
	}
	return int64(sum)
}

// summed returns a row with its checksum in it.
func (w row) summed() row {
	w.sum = sumOf([]int64{w.position, int64(w.kind), int64(w.at), w.wall}, w.body)
	return w
}

// check returns an error that wraps ErrDamaged if a row isn't what was written.
func (w row) check() error {
	if w.sum != noSum && w.sum != w.summed().sum {
		return fmt.Errorf("%w: wrong checksum", ErrDamaged)
	}
	return nil
}

// seal appends a checksum, for what is kept without one beside it.
func seal(body []byte) []byte {
	out := make([]byte, 0, len(body)+sumSize)
	return binary.LittleEndian.AppendUint32(append(out, body...), crc32.Checksum(body, castagnoli))
}

// unseal returns what was sealed, or an error wrapping ErrDamaged.
func unseal(sealed []byte) ([]byte, error) {
	n := len(sealed) - sumSize
	if n < 0 || binary.LittleEndian.Uint32(sealed[n:]) != crc32.Checksum(sealed[:n], castagnoli) {
		return nil, fmt.Errorf("%w: wrong checksum", ErrDamaged)
	}
	return sealed[:n], nil
}
