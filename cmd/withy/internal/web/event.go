package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/schema"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

const (
	mostBody = 8 << 10          // bytes of an event
	toStore  = 10 * time.Second // how long storing one may take
)

// Press is the press of a key on a page.
type Press struct {
	ID   string `json:"id"` // made by the client; one that is sent twice counts once
	Does string `json:"does"`
}

// pressed takes a press.
func (s *server) pressed(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var p Press
	if err := strictly(body, &p); err != nil || !validID(p.ID) || !slices.Contains(view.Presses, p.Does) {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("A press is an id of 1 to %d characters and does, one of %s.", mostID, strings.Join(view.Presses, ", ")))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), toStore)
	defer cancel()
	answer, err := s.box.Press(ctx, p.Does, p.ID)
	if err != nil {
		s.untaken(w, err)
		return
	}
	text, err := json.Marshal(answer)
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The answer can't be written out.", err)
		return
	}
	send(w, http.StatusOK, "application/json", text)
}

// Sounded is a sound that somebody wants to hear.
type Sounded struct {
	ID    string      `json:"id"` // made by the client; one that is sent twice counts once
	Sound alert.Sound `json:"sound"`
}

// sounds lists what can be tried.
var sounds = []alert.Sound{alert.ReadySoon, alert.Pull, alert.Kettle, alert.Danger}

// sounded makes a sound.
func (s *server) sounded(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var want Sounded
	if err := strictly(body, &want); err != nil || !validID(want.ID) || !slices.Contains(sounds, want.Sound) {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("A sound is an id of 1 to %d characters and sound, one of %s.", mostID, strings.Join(texts(sounds...), ", ")))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), toStore)
	defer cancel()
	if err := s.box.Try(ctx, want.Sound, want.ID); err != nil {
		s.untaken(w, err)
		return
	}
	sendOK(w)
}

// Next asks for another log.
type Next struct {
	ID  string `json:"id"`            // made by the client; one that is sent twice counts once
	Out bool   `json:"out,omitempty"` // ribs that lie in the box were pulled just now
}

// next begins another log.
func (s *server) next(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var want Next
	if err := strictly(body, &want); err != nil || !validID(want.ID) {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("Another log is an id of 1 to %d characters, and out, true where the ribs in the box have been pulled.", mostID))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), toStore)
	defer cancel()
	if err := s.box.Next(ctx, want.ID, want.Out); err != nil {
		s.untaken(w, err)
		return
	}
	sendOK(w)
}

// Message asks for a test message.
type Message struct {
	ID string `json:"id"` // made by the client; one that is sent twice counts once
}

// Messaged is what became of a test message.
type Messaged struct {
	Outputs []view.Tried `json:"outputs"` // empty where there is none
}

// toReach is how long a test message may take.
const toReach = 20 * time.Second

// messaged sends a test message by each output.
func (s *server) messaged(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var want Message
	if err := strictly(body, &want); err != nil || !validID(want.ID) {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("A test message is an id of 1 to %d characters.", mostID))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), toReach)
	defer cancel()
	text, err := json.Marshal(Messaged{s.box.Message(ctx, want.ID)})
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The answer can't be written out.", err)
		return
	}
	send(w, http.StatusOK, asJSON, text)
}

// strictly reads one JSON object that has no other fields than those of to.
func strictly(body []byte, to any) error {
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	return d.Decode(to)
}

// mostID is the longest id that a client may make, in bytes.
const mostID = 200

func validID(id string) bool { return id != "" && len(id) <= mostID }

func sendOK(w http.ResponseWriter) { send(w, http.StatusOK, asJSON, []byte(`{"ok":true}`)) }

// told takes an event that the crew told.
func (s *server) told(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	e, mistakes := readEvent(body)
	if len(mistakes) > 0 {
		refuse(w, http.StatusBadRequest, "This event can't be read: "+strings.Join(mistakes, "; ")+".", mistakes...)
		return
	}
	s.store(w, r, e)
}

// jsonBody returns a request's body, or refuses the request.
func jsonBody(w http.ResponseWriter, r *http.Request) (body []byte, ok bool) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		refuse(w, http.StatusUnsupportedMediaType, "It has to be JSON: set Content-Type to application/json.")
		return nil, false
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	if tooLong := (*http.MaxBytesError)(nil); errors.As(err, &tooLong) {
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("It may be %d bytes long at most.", mostBody))
		return nil, false
	}
	if err != nil {
		refuse(w, http.StatusBadRequest, "It did not arrive whole. Tell it again.")
		return nil, false
	}
	return body, true
}

// store hands an event on and says what became of it.
func (s *server) store(w http.ResponseWriter, r *http.Request, e steambox.Event) {
	ctx, cancel := context.WithTimeout(r.Context(), toStore)
	defer cancel()
	if err := s.box.Do(ctx, e); err != nil {
		s.untaken(w, err)
		return
	}
	sendOK(w)
}

// untaken says why what was told does not count.
func (s *server) untaken(w http.ResponseWriter, err error) {
	if refused := (*steambox.RefusedError)(nil); errors.As(err, &refused) {
		s.log.Info("refused", "why", refused.Why)
		refuse(w, http.StatusConflict, refused.Why)
		return
	}
	s.inside(w, http.StatusServiceUnavailable, "That could not be written down. Tell it again.", err)
}

// readEvent reads one event strictly and returns all that is wrong with it.
func readEvent(body []byte) (steambox.Event, []string) {
	var e steambox.Event
	given, err := members(body)
	if err != nil {
		return e, []string{err.Error()}
	}
	var mistakes []string
	fields := fieldsOf(&e)
	seen := map[string]bool{}
	for _, m := range given {
		field, ok := fields[m.name]
		switch {
		case !ok:
			mistakes = append(mistakes, quoted(m.name)+": an event has no such field")
		case seen[m.name]:
			mistakes = append(mistakes, quoted(m.name)+": given twice")
		case string(m.value) == "null" || json.Unmarshal(m.value, field.Interface()) != nil:
			mistakes = append(mistakes, m.name+": must be "+kindOf(field.Elem()))
		}
		seen[m.name] = true
	}
	if len(mistakes) > 0 {
		return e, mistakes
	}
	switch {
	case e.Kind == steambox.Set:
		return e, []string{"kind: what is set is told to /api/settings, /api/ribs or /api/bends"}
	case e.Kind.ByDaemon():
		return e, []string{"kind: the box finds that out by itself"}
	}
	return e, lines(e.Check())
}

// member is one name and value of an object.
type member struct {
	name  string
	value json.RawMessage
}

// members takes an object apart. Its errors are for the client to read.
func members(body []byte) ([]member, error) {
	d := json.NewDecoder(bytes.NewReader(body))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return nil, errors.New("the body is not one JSON object")
	}
	var out []member
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return nil, broken(d)
		}
		m := member{name: name.(string)} // the decoder refuses any other token here
		if err := d.Decode(&m.value); err != nil {
			return nil, broken(d)
		}
		out = append(out, m)
	}
	if _, err := d.Token(); err != nil {
		return nil, broken(d)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("more follows the JSON object")
	}
	return out, nil
}

func broken(d *json.Decoder) error {
	return fmt.Errorf("the body is not JSON from byte %d on", d.InputOffset())
}

// fieldsOf returns pointers to the fields of an event by their names in JSON.
func fieldsOf(e *steambox.Event) map[string]reflect.Value {
	v := reflect.ValueOf(e).Elem()
	out := make(map[string]reflect.Value, v.NumField())
	for i := range v.NumField() {
		out[schema.Key(v.Type().Field(i))] = v.Field(i).Addr()
	}
	delete(out, ownField)
	return out
}

// ownField is the field of an event that the crew does not tell: what is set has a way
// in of its own.
const ownField = "box"

// kindOf says what a field holds.
func kindOf(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Float64:
		return "a number"
	case reflect.Bool:
		return "true or false"
	}
	return "text"
}

// quoted returns a name that a client made up, fit to be shown.
func quoted(name string) string {
	const most = 40
	if r := []rune(name); len(r) > most {
		name = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", name)
}

// lines returns the mistakes that errors.Join has put on a line each.
func lines(err error) []string {
	if err == nil {
		return nil
	}
	return strings.Split(err.Error(), "\n")
}
