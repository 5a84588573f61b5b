package record

import (
	"cmp"
	"math"
	"slices"

	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

// Trace returns a session's samples from fromS to toS seconds, both included, as
// at most most points, and all its events between. Where there are more samples,
// it keeps of each stretch of time those with the least and the greatest
// temperature of each probe, one that failed and one with another level; points
// are samples that were taken, never a mean. A bound may be infinite.
// Samples that are still pending are not in it.
//
// Errors wrap ErrUnknown or ErrDamaged.
func (r *Record) Trace(id string, fromS, toS float64, most int) (view.Trace, error) {
	t, err := r.trace(id, fromS, toS, max(1, most))
	if err != nil {
		return view.Trace{}, failure(r.path, err)
	}
	return t, nil
}

func (r *Record) trace(id string, fromS, toS float64, most int) (view.Trace, error) {
	n, err := number(r.reads, id)
	if err != nil {
		return view.Trace{}, err
	}
	s, _, err := header(r.reads, n)
	if err != nil {
		return view.Trace{}, err
	}
	last, err := lastEntry(r.reads, n)
	if err != nil {
		return view.Trace{}, err
	}
	fromS, toS = max(fromS, 0), min(toS, last.At.Seconds())
	first, err := r.seek(n, fromS)
	if err != nil {
		return view.Trace{}, err
	}
	t := newTracer(len(s.Box.Probes), fromS, toS, most)
	for e, err := range unpackAll(rowsFrom(r.reads, n, first)) {
		if err != nil {
			return view.Trace{}, err
		}
		atS := e.At.Seconds()
		if atS > toS {
			break
		}
		if atS >= fromS {
			t.add(atS, e)
		}
	}
	return t.finish(), nil
}

// seek returns the position of the last row of session n that begins no later
// than fromS.
func (r *Record) seek(n int64, fromS float64) (int64, error) {
	at := int64(min(fromS*1e9, math.MaxInt64/2))
	var first int64
	err := r.reads.QueryRow(`SELECT coalesce((SELECT position FROM entry WHERE position BETWEEN ?1 AND ?2 AND at < ?3
		ORDER BY position DESC LIMIT 1), ?1)`, position(n, 1), position(n, seqMask), at).Scan(&first)
	return first, err
}

// tracer gathers a trace, one stretch of time after the other.
type tracer struct {
	out     view.Trace
	most    int // points in a stretch
	fromS   float64
	widthS  float64 // of a stretch
	stretch stretch
	number  int // of the stretch, from fromS
}

// newTracer splits the time so that the stretches' points make most in all.
func newTracer(probes int, fromS, toS float64, most int) *tracer {
	each := min(most, 2*probes+2)
	t := &tracer{most: each, fromS: fromS, widthS: (toS - fromS) / float64(most/each)}
	t.out = view.Trace{ElapsedS: []float64{}, Probes: make([][]*float64, probes), Level: []int{}, Events: []view.TraceEvent{}}
	for i := range t.out.Probes {
		t.out.Probes[i] = []*float64{}
	}
	t.stretch.extremes = make([]extremes, probes)
	return t
}

// add adds an entry, in the order of time.
func (t *tracer) add(atS float64, e Entry) {
	if e.Event != nil {
		t.out.Events = append(t.out.Events, view.TraceEvent{ElapsedS: atS, Event: *e.Event})
	}
	if e.Sample == nil {
		return
	}
	if n := t.index(atS); n > t.number {
		t.flush()
		t.number = n
	}
	t.stretch.add(point{atS, e.Sample}, t.most)
}

// index returns in which stretch a time is; the last includes its end.
func (t *tracer) index(atS float64) int {
	if t.widthS <= 0 {
		return 0
	}
	return int(math.Ceil((atS-t.fromS)/t.widthS)) - 1
}

// flush puts the points of a stretch out.
func (t *tracer) flush() {
	for _, p := range t.stretch.points(t.most) {
		t.out.ElapsedS = append(t.out.ElapsedS, p.atS)
		t.out.Level = append(t.out.Level, int(p.s.Level))
		for i := range t.out.Probes {
			t.out.Probes[i] = append(t.out.Probes[i], p.tempC(i))
		}
	}
	t.stretch.clear()
}

func (t *tracer) finish() view.Trace {
	t.flush()
	return t.out
}

// point is a sample at its time.
type point struct {
	atS float64
	s   *steambox.Sample
}

func (p point) failed(probe int) bool {
	return probe >= len(p.s.Probes) || p.s.Probes[probe].Fault != ""
}

func (p point) tempC(probe int) *float64 {
	if p.failed(probe) {
		return nil
	}
	c := float64(p.s.Probes[probe].MilliC) / 1000
	return &c
}

// extremes are the samples with the least and the greatest temperature of one
// probe, nothing as long as it gave none.
type extremes struct{ least, greatest point }

func (x *extremes) add(probe int, p point) {
	if p.failed(probe) {
		return
	}
	c := p.s.Probes[probe].MilliC
	if x.least.s == nil || c < x.least.s.Probes[probe].MilliC {
		x.least = p
	}
	if x.greatest.s == nil || c > x.greatest.s.Probes[probe].MilliC {
		x.greatest = p
	}
}

// stretch is the samples of a stretch of time, or what is kept of too many.
type stretch struct {
	n        int
	all      []point // the first ones, as many as may be put out
	extremes []extremes
	failed   point // the first in which a probe failed
	level    point // the first with another level than the first of all
}

func (s *stretch) clear() {
	clear(s.extremes)
	*s = stretch{all: s.all[:0], extremes: s.extremes}
}

func (s *stretch) add(p point, most int) {
	s.n++
	if len(s.all) < most {
		s.all = append(s.all, p)
	}
	for i := range s.extremes {
		s.extremes[i].add(i, p)
		if s.failed.s == nil && p.failed(i) {
			s.failed = p
		}
	}
	if s.level.s == nil && p.s.Level != s.all[0].s.Level {
		s.level = p
	}
}

// points returns at most most points of the stretch in the order of time.
func (s *stretch) points(most int) []point {
	if s.n <= most {
		return s.all
	}
	var kept []point
	keep := func(p point) {
		known := slices.ContainsFunc(kept, func(q point) bool { return q.s == p.s })
		if p.s != nil && !known && len(kept) < most {
			kept = append(kept, p)
		}
	}
	keep(s.failed)
	keep(s.level)
	for _, x := range s.extremes {
		keep(x.greatest)
		keep(x.least)
	}
	slices.SortStableFunc(kept, func(a, b point) int { return cmp.Compare(a.atS, b.atS) })
	return kept
}
