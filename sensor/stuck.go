package sensor

import "time"

// A probe that doesn't hear the convert command answers with its previous
// value and a good CRC. So a value that never moves may be old; but in steady
// steam a good probe stands still too, and at the start the door end stays
// at the shed's temperature while the steam end rises. It is called stuck only
// when it has given the very same value for stillHot (below warmMilli:
// stillCold) and another probe has gone awayMilli from where it was at the beginning
// of that time and stayed away for awayTime. A door opened in between
// is back within that.
const (
	warmMilli = 40000
	stillHot  = 2 * time.Minute
	stillCold = 10 * time.Minute
	awayMilli = 10000
	awayTime  = 30 * time.Second
)

// stillness is how long a probe has given one value, and what the others did
// meanwhile.
type stillness struct {
	since  time.Duration
	others map[string]*departure
}

// departure is how far another probe has gone since then.
type departure struct {
	from  int // its value at the beginning, thousandths of a degree
	away  bool
	since time.Duration // when it went away
	last  time.Duration // when it was last seen
}

// watch enters a new value of the probe of t into its own stillness and that
// of every other probe. t.last is still the value before.
func (j *Judge) watch(t *track, s Sample) {
	if t.last == nil || t.last.Milli != s.Milli || s.At-t.last.At > nearTime {
		t.still = j.begin(t, s)
	}
	for _, other := range j.probes {
		if other != t && other.last != nil {
			other.still.see(s)
		}
	}
}

// begin starts the stillness of a probe's new value, with the others where they
// are.
func (j *Judge) begin(t *track, s Sample) stillness {
	st := stillness{since: s.At, others: map[string]*departure{}}
	for name, other := range j.probes {
		if other != t && other.last != nil && s.At-other.last.At <= nearTime {
			st.others[name] = &departure{from: other.last.Milli, last: other.last.At}
		}
	}
	return st
}

// see follows another probe's value.
func (st *stillness) see(s Sample) {
	d := st.others[s.Probe]
	if d == nil {
		d = &departure{from: s.Milli}
		st.others[s.Probe] = d
	}
	away := distance(d.from, s.Milli) >= awayMilli
	if away && !d.away {
		d.since = s.At
	}
	d.away, d.last = away, s.At
}

// stuck returns the fault of a probe that has stood still while another one
// moved, nil for any other.
func (j *Judge) stuck(t *track, s Sample) *Fault {
	need := stillHot
	if s.Milli < warmMilli {
		need = stillCold
	}
	still := s.At - t.still.since
	if still < need {
		return nil
	}
	for name, d := range t.still.others {
		if d.away && d.last-d.since >= awayTime && s.At-d.last <= nearTime {
			return faultf(Stuck, "%s for %s while %s moved", s, still.Round(time.Second), name)
		}
	}
	return nil
}
