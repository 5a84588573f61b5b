package record

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"withy/steambox"
	"withy/steambox/boiler"
)

// The kinds of line that aren't kinds of event.
const (
	lineSession = "session"
	lineSample  = "sample"
	lineClock   = "clock"
)

// lineVersion is the version of the lines that Export writes.
const lineVersion = 1

// headLine is the first line of an export.
type headLine struct {
	Kind    string        `json:"kind" means:"That it is the first line: the session."`
	Version int           `json:"version" means:"Version of the lines."`
	ID      string        `json:"id" means:"Name of the session."`
	Wall    time.Time     `json:"wall" means:"When it began by the board's clock, which may have been wrong; UTC."`
	Box     *steambox.Box `json:"box" means:"The box as it was settled when the session began."`
}

// entryLine is every other line. An event's fields stand beside the others; its
// kind is the line's.
type entryLine struct {
	Seq     int64     `json:"seq" means:"Number of the entry, rising, from 1 on; some may be left out."`
	Elapsed *seconds  `json:"elapsed_s" means:"Time since the session began by a clock that no one can set, in seconds, to the nanosecond."`
	Wall    time.Time `json:"wall" means:"The same by the board's clock, which may have been wrong; UTC."`
	Kind    string    `json:"kind" means:"What the line tells."`
	*steambox.Event
	sampleFields
	clockFields
}

// sampleFields are those of a sample.
type sampleFields struct {
	Probes []probeLine `json:"probes,omitempty" means:"Probes as they were read, steam end first, in the order of the box's."`
	Level  string      `json:"level,omitempty" means:"The level switch: closed while there is water above it."`
	Door   string      `json:"door,omitempty" means:"The door's switch: closed while the door is."`
}

// clockFields are those of a clock.
type clockFields struct {
	Boot    string   `json:"boot,omitempty" means:"Which start of the board the clock belongs to."`
	Origin  *seconds `json:"origin_s,omitempty" means:"What that clock showed when the session began, in seconds, to the nanosecond."`
	Undated bool     `json:"undated,omitempty" means:"The board's clock was not known to be right."`
}

// probeLine is one probe in a sample's line, steam end first.
type probeLine struct {
	TempC milli  `json:"temp_c" means:"Its reading as it was made, neither offset nor lag undone, in °C, to the thousandth; 0 with a fault."`
	Fault string `json:"fault,omitempty" means:"Why it could not be read; absent of a good reading."`
}

// Export writes a session as JSON Lines: first the session with its box, then a
// line for every entry. Elapsed times and temperatures are exact decimals, so
// that Import gives back the same entries. Errors wrap ErrUnknown or ErrDamaged,
// or are those of w.
func (r *Record) Export(w io.Writer, id string) error {
	s, err := r.Session(id)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	err = writeLine(out, headLine{Kind: lineSession, Version: lineVersion, ID: s.ID, Wall: s.Began, Box: &s.Box})
	if err != nil {
		return err
	}
	for e, err := range r.Entries(id, 0) {
		if err != nil {
			return err
		}
		if err := writeLine(out, lineOf(e)); err != nil {
			return err
		}
	}
	return out.Flush()
}

func writeLine(out *bufio.Writer, line any) error {
	b, err := marshal(line)
	if err != nil {
		return err
	}
	_, err = out.Write(append(b, '\n'))
	return err
}

func lineOf(e Entry) entryLine {
	at := seconds(e.At)
	l := entryLine{Seq: e.Seq, Elapsed: &at, Wall: e.Wall}
	switch {
	case e.Event != nil:
		l.Kind, l.Event = string(e.Event.Kind), e.Event
	case e.Clock != nil:
		origin := seconds(e.Clock.Origin)
		l.Kind, l.clockFields = lineClock, clockFields{e.Clock.Boot, &origin, e.Clock.Undated}
	default:
		l.Kind, l.Level, l.Door = lineSample, e.Sample.Level.String(), e.Sample.Door.String()
		for _, p := range e.Sample.Probes {
			l.Probes = append(l.Probes, probeLine{milli(p.MilliC), p.Fault})
		}
	}
	return l
}

// entry is the inverse of lineOf.
func (l *entryLine) entry() (Entry, error) {
	if l.Elapsed == nil {
		return Entry{}, errors.New("elapsed_s: missing")
	}
	e := Entry{Seq: l.Seq, At: time.Duration(*l.Elapsed), Wall: l.Wall.UTC()}
	isSample, isClock := l.Kind == lineSample, l.Kind == lineClock
	switch {
	case l.Event != nil && (isSample || isClock):
		return e, fmt.Errorf("a %s with fields of an event", l.Kind)
	case !isSample && (l.Probes != nil || l.Level != "" || l.Door != ""):
		return e, fmt.Errorf("%s: with fields of a sample", l.Kind)
	case !isClock && l.clockFields != clockFields{}:
		return e, fmt.Errorf("%s: with fields of a clock", l.Kind)
	}
	var err error
	switch l.Kind {
	case lineSample:
		e.Sample, err = l.sample()
	case lineClock:
		e.Clock, err = l.clock()
	default:
		e.Event, err = l.event()
	}
	return e, err
}

func (l *entryLine) sample() (*steambox.Sample, error) {
	level, err := contact("level", l.Level)
	if err != nil {
		return nil, err
	}
	door, err := contact("door", l.Door)
	if err != nil {
		return nil, err
	}
	s := steambox.Sample{Level: level, Door: door}
	for _, p := range l.Probes {
		s.Probes = append(s.Probes, steambox.ProbeSample{MilliC: int32(p.TempC), Fault: p.Fault})
	}
	return &s, nil
}

func (l *entryLine) clock() (*Clock, error) {
	if l.Origin == nil {
		return nil, errors.New("origin_s: missing")
	}
	return &Clock{l.Boot, time.Duration(*l.Origin), l.Undated}, nil
}

func (l *entryLine) event() (*steambox.Event, error) {
	kind := steambox.Kind(l.Kind)
	if !slices.ContainsFunc(steambox.Kinds, func(k steambox.KindInfo) bool { return k.Kind == kind }) {
		return nil, fmt.Errorf("kind: %q is none", l.Kind)
	}
	if l.Event == nil {
		return nil, errors.New("id: missing")
	}
	l.Event.Kind = kind
	return l.Event, nil
}

// contact is the inverse of boiler.Contact's String.
func contact(key, word string) (boiler.Contact, error) {
	for c := boiler.Unknown; c <= boiler.Open; c++ {
		if c.String() == word {
			return c, nil
		}
	}
	return 0, fmt.Errorf("%s: %q is not unknown, closed or open", key, word)
}
