package record

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
)

// maxLine is the longest line that Import reads, in bytes: the box of a boat with
// some thousand ribs.
const maxLine = 1 << 20

// Import reads what Export wrote: at once the session, the entries as they are
// asked for. A last line that has no end and makes no sense is a copy cut short:
// the entries end before it. Every other mistake ends them with an error that
// names the line; so does a sequence number that doesn't rise.
//
// The entries can be read once.
func Import(rd io.Reader) (Session, iter.Seq2[Entry, error], error) {
	in := &lines{in: bufio.NewReaderSize(rd, maxLine)}
	var head headLine
	switch err := in.next(&head); {
	case errors.Is(err, io.EOF):
		return Session{}, nil, errors.New("line 1: no session in it")
	case err != nil:
		return Session{}, nil, err
	case head.Kind != lineSession:
		return Session{}, nil, fmt.Errorf("line 1: kind %q; the first line must be the session", head.Kind)
	case head.Version != lineVersion:
		return Session{}, nil, fmt.Errorf("line 1: version %d; this program reads version %d", head.Version, lineVersion)
	case head.Box == nil:
		return Session{}, nil, errors.New("line 1: box: missing")
	}
	return Session{ID: head.ID, Began: head.Wall.UTC(), Box: *head.Box}, in.entries, nil
}

// lines reads JSON Lines.
type lines struct {
	in *bufio.Reader
	n  int // of the line that was read last
}

// entries returns the entries on the lines that are left.
func (l *lines) entries(yield func(Entry, error) bool) {
	last := int64(0)
	for {
		var line entryLine
		err := l.next(&line)
		if errors.Is(err, io.EOF) {
			return
		}
		var e Entry
		if err == nil {
			if e, err = line.entry(); err == nil && e.Seq <= last {
				err = fmt.Errorf("seq: %d after %d", e.Seq, last)
			}
			if err != nil {
				err = fmt.Errorf("line %d: %w", l.n, err)
			}
		}
		if err != nil {
			yield(Entry{}, err)
			return
		}
		last = e.Seq
		if !yield(e, nil) {
			return
		}
	}
}

// next reads the next line that isn't empty into to. It returns io.EOF at the
// end, whole or torn; other errors name the line.
func (l *lines) next(to any) error {
	for {
		line, err := l.in.ReadSlice('\n')
		l.n++
		torn := errors.Is(err, io.EOF)
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			return fmt.Errorf("line %d: longer than %d bytes", l.n, maxLine)
		case err != nil && !torn:
			return fmt.Errorf("line %d: %w", l.n, err)
		}
		line = bytes.TrimSpace(line)
		if len(line) == 0 {
			if torn {
				return io.EOF
			}
			continue
		}
		if torn && !json.Valid(line) {
			return io.EOF
		}
		if err := strict(line, to); err != nil {
			return fmt.Errorf("line %d: %w", l.n, err)
		}
		return nil
	}
}

// strict decodes one JSON value that has no fields but those of to.
func strict(line []byte, to any) error {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.DisallowUnknownFields()
	if err := dec.Decode(to); err != nil {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return errors.New("cut short") // an io.EOF would be taken for the end
		}
		return err
	}
	if dec.More() {
		return errors.New("more than one value on the line")
	}
	return nil
}
