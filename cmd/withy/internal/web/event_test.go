package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"withy/alert"
	"withy/steambox"
)

func tell(s *shelf, body string) (int, Problem) {
	w := ask(serve(s), "POST", "/api/event", body, "Content-Type", "application/json")
	var p Problem
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
		panic(err)
	}
	return w.Code, p
}

func TestEventIsTold(t *testing.T) {
	s := newShelf()
	status, _ := tell(s, `{"id":"a1","kind":"refilled","litres":1.5,"temp_c":96,"by":"page"}`)
	want := steambox.Event{ID: "a1", Kind: steambox.Refilled, Litres: 1.5, TempC: 96, By: "page"}
	if status != 200 || !slices.Equal(s.done, []steambox.Event{want}) {
		t.Errorf("got %d and %+v, want %+v", status, s.done, want)
	}
}

// Every mistake is named, and nothing reaches the box.
func TestMalformedEvents(t *testing.T) {
	for body, want := range map[string][]string{
		``:                             {"the body is not one JSON object"},
		`[]`:                           {"the body is not one JSON object"},
		`{"id":`:                       {"the body is not JSON from byte"},
		`{"id":"1","kind":"break"} {}`: {"more follows"},
		`{"id":"1","kind":"filled","litres":NaN}`:         {"the body is not JSON from byte"},
		`{"id":"1","kind":"filled","litres":1e999}`:       {"litres: must be a number"},
		`{"id":"1","kind":"filled","litres":"4"}`:         {"litres: must be a number"},
		`{"id":"1","kind":"filled","litres":null}`:        {"litres: must be a number"},
		`{"id":"1","kind":"heat","on":1}`:                 {"on: must be true or false"},
		`{"id":7,"kind":"break"}`:                         {"id: must be text"},
		`{"id":"1","kind":"break","id":"2"}`:              {`"id": given twice`},
		`{"id":"1","kind":"break","Id":"2"}`:              {`"Id": an event has no such field`},
		`{"id":"1","kind":"break","colour":"red","on":3}`: {`"colour": an event has no such field`, "on: must be"},
		`{"kind":"loaded","rib":"7","mark":"up"}`:         {"id: 1 to", "slot: missing", "mark: does not belong", `mark: "up" is not one of`},
		`{"id":"1","kind":"sung"}`:                        {`kind: "sung"`},
		`{"id":"1","kind":"filled","litres":-2}`:          {"litres:"},
		`{"id":"1","kind":"board","text":"hot"}`:          {"finds that out by itself"},
	} {
		s := newShelf()
		status, p := tell(s, body)
		if status != 400 || len(s.done) != 0 || len(p.Mistakes) != len(want) {
			t.Errorf("%s: %d %+v, want 400 with %q", body, status, p, want)
		}
		for i := range min(len(want), len(p.Mistakes)) {
			if !strings.Contains(p.Mistakes[i], want[i]) || !strings.Contains(p.Error, want[i]) {
				t.Errorf("%s: mistake %q, want %q", body, p.Mistakes[i], want[i])
			}
		}
	}
}

func TestEventTooLong(t *testing.T) {
	for _, n := range []int{mostBody, 2 << 20} {
		s := newShelf()
		status, p := tell(s, `{"id":"1","kind":"note","text":"`+strings.Repeat("a", n)+`"}`)
		if status != 413 || !strings.Contains(p.Error, "8192") || len(s.done) != 0 {
			t.Errorf("%d bytes: %d %+v", n, status, p)
		}
	}
}

func TestEventIsJSON(t *testing.T) {
	for _, kind := range []string{"", "text/plain", "application/x-www-form-urlencoded"} {
		if w := ask(serve(newShelf()), "POST", "/api/event", `{}`, "Content-Type", kind); w.Code != 415 {
			t.Errorf("%q: %d", kind, w.Code)
		}
	}
}

func TestEventNotTaken(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
		says   string
	}{
		{&steambox.RefusedError{Why: "Slot B is empty."}, 409, "Slot B is empty."},
		{fmt.Errorf("do: %w", &steambox.RefusedError{Why: "Slot B is empty."}), 409, "Slot B is empty."},
		{errors.New("sqlite: database is locked"), 503, "That could not be written down. Tell it again."},
	} {
		s := newShelf()
		s.refusal = c.err
		if status, p := tell(s, `{"id":"1","kind":"pulled","slot":"B"}`); status != c.status || p.Error != c.says {
			t.Errorf("%v: %d %q, want %d %q", c.err, status, p.Error, c.status, c.says)
		}
	}
}

// Whatever the body, an event that is let through passes its own check and says
// what the body says.
func FuzzReadEvent(f *testing.F) {
	f.Add([]byte(`{"id":"1","kind":"loaded","rib":"7","slot":"C"}`))
	f.Add([]byte(`{"id":"1","kind":"heat","on":true}`))
	f.Add([]byte(`{"id":"1","kind":"filled","litres":4e0}`))
	f.Add([]byte(`{"id":"1","id":"2","x":[{}],"litres":1e999}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		e, mistakes := readEvent(body)
		if len(mistakes) > 0 {
			for _, m := range mistakes {
				if m == "" || len(m) > 400 {
					t.Errorf("mistake %q", m)
				}
			}
			return
		}
		if err := e.Check(); err != nil {
			t.Fatalf("let through: %v", err)
		}
		var plain steambox.Event
		if err := json.Unmarshal(body, &plain); err != nil || plain != e {
			t.Errorf("%s: read as %+v, is %+v (%v)", body, e, plain, err)
		}
	})
}

func TestPress(t *testing.T) {
	s := newShelf()
	post := func(body string) (int, string) {
		w := ask(serve(s), "POST", "/api/press", body, "Content-Type", "application/json")
		return w.Code, w.Body.String()
	}
	if code, text := post(`{"id":"k1","does":"cracked"}`); code != 200 || !strings.Contains(text, `"says":"Rib 7, cracked."`) || !slices.Equal(s.pressed, []string{"cracked k1"}) {
		t.Errorf("%d %s, %v", code, text, s.pressed)
	}
	for _, bad := range []string{`{"id":"k1","does":"open the vent"}`, `{"does":"next"}`, `{"id":"k1","does":"next","slot":"A"}`, `[]`, ``} {
		if code, text := post(bad); code != 400 || !strings.Contains(text, "next, heard, supple") {
			t.Errorf("%s: %d %s", bad, code, text)
		}
	}
}

func TestSound(t *testing.T) {
	s := newShelf()
	post := func(body string) (int, string) {
		w := ask(serve(s), "POST", "/api/sound", body, "Content-Type", "application/json")
		return w.Code, w.Body.String()
	}
	if code, text := post(`{"id":"s1","sound":"kettle"}`); code != 200 || !slices.Equal(s.tried, []Sounded{{"s1", alert.Kettle}}) {
		t.Errorf("%d %s, %v", code, text, s.tried)
	}
	for _, bad := range []string{`{"id":"s1","sound":"gong"}`, `{"id":"s1","sound":""}`, `{"sound":"pull"}`, `{"id":"s1","sound":"pull","loud":1}`, ``} {
		if code, text := post(bad); code != 400 || !strings.Contains(text, "ready soon, pull, kettle, danger") {
			t.Errorf("%s: %d %s", bad, code, text)
		}
	}
}

func TestNext(t *testing.T) {
	s := newShelf()
	post := func(body string) (int, string) {
		w := ask(serve(s), "POST", "/api/session", body, "Content-Type", "application/json")
		return w.Code, w.Body.String()
	}
	for _, good := range []string{`{"id":"n1"}`, `{"id":"n2","out":true}`} {
		if code, text := post(good); code != 200 {
			t.Errorf("%s: %d %s", good, code, text)
		}
	}
	if want := []Next{{"n1", false}, {"n2", true}}; !slices.Equal(s.nexts, want) {
		t.Errorf("%v, want %v", s.nexts, want)
	}
	for _, bad := range []string{`{"id":""}`, `{"id":"n1","out":"yes"}`, `{"id":"n1","now":true}`, ``, `[]`} {
		if code, text := post(bad); code != 400 || !strings.Contains(text, "Another log is") {
			t.Errorf("%s: %d %s", bad, code, text)
		}
	}
	s.refusal = &steambox.RefusedError{Why: "Rib 3 lies in the box."}
	if code, text := post(`{"id":"n3"}`); code != 409 || !strings.Contains(text, "Rib 3 lies in the box.") {
		t.Errorf("%d %s", code, text)
	}
}

func TestMessage(t *testing.T) {
	s := newShelf()
	post := func(body string) (int, string) {
		w := ask(serve(s), "POST", "/api/message", body, "Content-Type", "application/json")
		return w.Code, w.Body.String()
	}
	want := `{"outputs":[{"name":"phone","kind":"topic","ok":true},{"name":"shop","kind":"webhook","ok":false,"says":"shop.lan: no answer in time"}]}`
	if code, text := post(`{"id":"m1"}`); code != 200 || text != want || !slices.Equal(s.messages, []string{"m1"}) {
		t.Errorf("%d %s, %v", code, text, s.messages)
	}
	for _, bad := range []string{`{"id":""}`, `{"id":"m1","to":"phone"}`, ``, `[]`} {
		if code, text := post(bad); code != 400 || !strings.Contains(text, "A test message is") {
			t.Errorf("%s: %d %s", bad, code, text)
		}
	}
}

// Whether an output can be reached is found out by the box; nobody tells it.
func TestReachIsNotTold(t *testing.T) {
	s := newShelf()
	w := ask(serve(s), "POST", "/api/event", `{"id":"r1","kind":"reach","text":"phone"}`, "Content-Type", "application/json")
	if w.Code != 400 || !strings.Contains(w.Body.String(), "by itself") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}
