package record

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"time"

	"withy/steambox"
	"withy/steambox/boiler"
)

// A batch's body is its samples one after the other, each told by how it differs
// from the one before; the first differs from nothing, at the time of the row.
//
//	1 byte   level, door<<2, bit 4: the number of probes is another
//	varint   step of the elapsed time less the step before it, ns
//	varint   wall time less elapsed time, less the same before, ns
//	uvarint  number of probes, if bit 4 is set
//	per probe:
//	uvarint  change of the temperature as zigzag<<1, bit 0: the fault is another
//	uvarint  if so, the fault: 0 none, 1 the first that the body names …;
//	         one more than it has named: a new name follows, uvarint and bytes
//
// All arithmetic wraps round, so every value comes back.

const (
	contactBits = 2
	contactMask = 1<<contactBits - 1
	otherCount  = 1 << (2 * contactBits)
)

// errBatch is wrapped by every error about a batch that makes no sense.
var errBatch = errors.New("batch of samples")

// batch is samples on their way into one row of the file.
type batch struct {
	n    int
	at   time.Duration // of the first sample
	wall int64         // of the first sample, ns
	body []byte
	last sampleState
}

// sampleState is what the next sample of a body is told against.
type sampleState struct {
	at, step, skew int64
	probes         []steambox.ProbeSample
	faults         []string
}

func newState(at time.Duration, wall int64) sampleState {
	return sampleState{at: int64(at), skew: wall - int64(at)}
}

// add adds a sample to the body. It fails only on a contact that is none.
func (b *batch) add(at time.Duration, wall int64, s steambox.Sample) error {
	if !isContact(s.Level) || !isContact(s.Door) {
		return fmt.Errorf("%w: level %d, door %d", errBatch, int(s.Level), int(s.Door))
	}
	if b.n == 0 {
		b.at, b.wall, b.last = at, wall, newState(at, wall)
	}
	b.n++
	l := &b.last
	flags := byte(s.Level) | byte(s.Door)<<contactBits
	if len(s.Probes) != len(l.probes) {
		flags |= otherCount
	}
	step, skew := int64(at)-l.at, wall-int64(at)
	b.body = append(b.body, flags)
	b.body = binary.AppendVarint(b.body, step-l.step)
	b.body = binary.AppendVarint(b.body, skew-l.skew)
	l.at, l.step, l.skew = int64(at), step, skew
	if flags&otherCount != 0 {
		b.body = binary.AppendUvarint(b.body, uint64(len(s.Probes)))
		l.resize(len(s.Probes))
	}
	for i, p := range s.Probes {
		b.addProbe(&l.probes[i], p)
	}
	return nil
}

func (b *batch) addProbe(last *steambox.ProbeSample, p steambox.ProbeSample) {
	change := int64(p.MilliC) - int64(last.MilliC)
	code := zigzag(change) << 1
	same := p.Fault == last.Fault
	*last = p
	if same {
		b.body = binary.AppendUvarint(b.body, code)
		return
	}
	b.body = binary.AppendUvarint(b.body, code|1)
	if p.Fault == "" {
		b.body = binary.AppendUvarint(b.body, 0)
		return
	}
	i := slices.Index(b.last.faults, p.Fault)
	if i >= 0 {
		b.body = binary.AppendUvarint(b.body, uint64(i)+1)
		return
	}
	b.last.faults = append(b.last.faults, p.Fault)
	b.body = binary.AppendUvarint(b.body, uint64(len(b.last.faults)))
	b.body = binary.AppendUvarint(b.body, uint64(len(p.Fault)))
	b.body = append(b.body, p.Fault...)
}

// resize makes room for n probes; new ones start at 0 °C without a fault.
func (l *sampleState) resize(n int) {
	if n <= len(l.probes) {
		l.probes = l.probes[:n]
		return
	}
	l.probes = append(l.probes, make([]steambox.ProbeSample, n-len(l.probes))...)
}

func isContact(c boiler.Contact) bool { return c >= boiler.Unknown && c <= boiler.Open }

func zigzag(x int64) uint64   { return uint64(x<<1) ^ uint64(x>>63) }
func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// unbatch reads a body back, sample by sample.
type unbatch struct {
	body []byte
	last sampleState
}

// more reports whether there is another sample.
func (u *unbatch) more() bool { return len(u.body) > 0 }

// next returns the next sample and its times. Its errors wrap errBatch.
func (u *unbatch) next() (at time.Duration, wall int64, s steambox.Sample, err error) {
	l := &u.last
	r := reader{rest: u.body}
	flags := r.byte()
	l.step += r.varint()
	l.at += l.step
	l.skew += r.varint()
	s.Level, s.Door = boiler.Contact(flags&contactMask), boiler.Contact(flags>>contactBits&contactMask)
	if !isContact(s.Level) || !isContact(s.Door) || flags >= otherCount<<1 {
		r.fail("flags %#x", flags)
	}
	if flags&otherCount != 0 {
		// A probe takes a byte at least: more than are left is nonsense.
		l.resize(int(r.uvarint(uint64(len(r.rest)))))
	}
	for i := range l.probes {
		l.probe(&r, &l.probes[i])
	}
	if r.err != nil {
		return 0, 0, s, r.err
	}
	u.body = r.rest
	s.Probes = slices.Clone(l.probes)
	return time.Duration(l.at), l.at + l.skew, s, nil
}

// probe reads one probe into p, which holds what it said before.
func (l *sampleState) probe(r *reader, p *steambox.ProbeSample) {
	code := r.uvarint(1<<35 - 1)
	milli := int64(p.MilliC) + unzigzag(code>>1)
	if milli != int64(int32(milli)) {
		r.fail("temperature of %d m°C", milli)
	}
	p.MilliC = int32(milli)
	if code&1 == 0 {
		return
	}
	switch i := int(r.uvarint(uint64(len(l.faults)) + 1)); {
	case r.err != nil:
	case i == 0:
		p.Fault = ""
	case i <= len(l.faults):
		p.Fault = l.faults[i-1]
	default:
		p.Fault = r.text()
		l.faults = append(l.faults, p.Fault)
	}
}

// reader reads numbers; after the first error it gives zeros.
type reader struct {
	rest []byte
	err  error
}

func (r *reader) fail(format string, a ...any) {
	if r.err == nil {
		r.err = fmt.Errorf("%w: %s", errBatch, fmt.Sprintf(format, a...))
	}
	r.rest = nil
}

func (r *reader) byte() byte {
	if len(r.rest) == 0 {
		r.fail("cut short")
		return 0
	}
	b := r.rest[0]
	r.rest = r.rest[1:]
	return b
}

func (r *reader) varint() int64 {
	x, n := binary.Varint(r.rest)
	if n <= 0 {
		r.fail("bad number")
		return 0
	}
	r.rest = r.rest[n:]
	return x
}

// uvarint reads a number from 0 to most.
func (r *reader) uvarint(most uint64) uint64 {
	x, n := binary.Uvarint(r.rest)
	if n <= 0 || x > most {
		r.fail("bad number")
		return 0
	}
	r.rest = r.rest[n:]
	return x
}

func (r *reader) text() string {
	n := r.uvarint(uint64(len(r.rest)))
	if n > uint64(len(r.rest)) { // the length itself took a byte of them
		r.fail("cut short")
		return ""
	}
	s := string(r.rest[:n])
	r.rest = r.rest[n:]
	return s
}
