package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/metrics"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/steambox/measure"
	"withy/steambox/rehearsal"
)

// asleep is a source that yields nothing: what changes is what requests changed.
type asleep struct{}

func (asleep) Read(ctx context.Context) (sensor.Sweep, error) {
	<-ctx.Done()
	return sensor.Sweep{}, ctx.Err()
}
func (asleep) Now() time.Duration { return time.Minute }
func (asleep) Boot() string       { return "asleep" }

// face is a whole daemon behind its HTTP face, with what can be changed through it.
type face struct {
	http.Handler
	set    *settingPage
	rec    *record.Record
	door   *door.Door
	tokens map[door.Role]string
	doc    map[string]any
}

func newFace(t testing.TB) *face {
	t.Helper()
	data := t.TempDir()
	rec, err := record.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	way, err := door.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	f := &face{set: &settingPage{data: data, door: way}, rec: rec, door: way, tokens: map[door.Role]string{}}
	world, err := rehearsal.New("good", 1)
	if err != nil {
		t.Fatal(err)
	}
	box, units := stage.Settings(world), measure.Metric
	if trouble := withOverlay(f.set, &box, &units); trouble != "" {
		t.Fatal(trouble)
	}
	d, err := daemon.New(daemon.Options{Box: box, Source: asleep{}, Record: rec, Units: units, Speed: 1})
	if err != nil {
		t.Fatal(err)
	}
	f.set.daemon = d
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		<-ended
		rec.Close()
	})
	f.let(t)
	f.Handler = web.New(d, f.set, metrics.Handler(d), web.Entry{Hosts: []string{"box.lan"}, Door: way}, slog.New(slog.DiscardHandler))
	text := f.ask(f.request("GET", "/api/openapi.json", "", door.Crew)).Body.Bytes()
	if err := json.Unmarshal(text, &f.doc); err != nil {
		t.Fatal(err)
	}
	return f
}

// let lets a device of each role in, where there is none: it may have been sent away, or
// have erased all.
func (f *face) let(t testing.TB) {
	t.Helper()
	for _, role := range []door.Role{door.View, door.Crew} {
		if _, ok := f.door.Knows(f.tokens[role]); ok {
			continue
		}
		var err error
		if f.tokens[role], err = f.door.Let("device", role); err != nil {
			t.Fatal(err)
		}
	}
}

// request is one from elsewhere.
func (f *face) request(method, target, body string, role door.Role) *http.Request {
	r := httptest.NewRequest(method, "https://box.lan/", strings.NewReader(body))
	path, query, _ := strings.Cut(target, "?")
	r.URL = &url.URL{Scheme: "https", Host: "box.lan", Path: path, RawQuery: query}
	r.RequestURI, r.RemoteAddr = target, "192.168.4.7:50000"
	r.Header.Set("Content-Type", "application/json")
	if token := f.tokens[role]; token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	return r
}

func (f *face) ask(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	f.ServeHTTP(w, r)
	return w
}

// moved is another text whenever something may have changed: a newer view, file or key.
func (f *face) moved() string {
	info, err := os.Stat(filepath.Join(f.set.data, setFile))
	if err != nil {
		return fmt.Sprint(f.set.daemon.View().Seq, f.door.Keys())
	}
	return fmt.Sprint(f.set.daemon.View().Seq, f.door.Keys(), info.ModTime(), info.Size())
}

// state is all that a request may change.
func (f *face) state(t testing.TB) string {
	t.Helper()
	v := f.set.daemon.View()
	set, err := os.ReadFile(filepath.Join(f.set.data, setFile))
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	sessions, err := f.rec.Sessions()
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(map[string]any{
		"status": v.Status, "box": v.Box, "units": v.Units, "alarms": v.Alarms, "sounds": v.Sound, "session": v.Session,
		"set": string(set), "record": sessions, "keys": f.door.Keys(),
	})
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// maker makes requests from the API's description, most of them bad.
type maker struct {
	*rand.Rand
	schemas map[string]any
}

// junk is what is put where something else belongs.
var junk = []any{nil, true, false, 0.0, -1.0, 1.5, 1e308, -1e308, 9007199254740993.0, "", "x", "\x00", "\u202e", strings.Repeat("9", 400), "../../etc/passwd",
	"'; DROP TABLE session; --", "<script>alert(1)</script>", "NaN", "1e999", []any{}, []any{nil}, map[string]any{}, map[string]any{"a": map[string]any{}}}

func pick[T any](m *maker, all []T) T { return all[m.IntN(len(all))] }

// value makes something that is as a schema wants it, but for one in ten.
func (m *maker) value(schema map[string]any) any {
	if m.IntN(10) == 0 {
		return pick(m, junk)
	}
	if ref, ok := schema["$ref"].(string); ok {
		return m.value(m.schemas[strings.TrimPrefix(ref, "#/components/schemas/")].(map[string]any))
	}
	if words, ok := schema["enum"].([]any); ok {
		return pick(m, words)
	}
	switch schema["type"] {
	case "object":
		return m.object(schema)
	case "number", "integer":
		return float64(m.IntN(40)) / pick(m, []float64{1, 1, 8, -1})
	case "boolean":
		return m.IntN(2) == 0
	}
	return pick(m, []string{"1", "2", "7", "A", "B", "x1", "mark", strconv.Itoa(m.IntN(1e6))})
}

func (m *maker) object(schema map[string]any) any {
	out := map[string]any{}
	properties, _ := schema["properties"].(map[string]any)
	allowed := slices.Sorted(maps.Keys(properties))
	if kinds, ok := schema["oneOf"].([]any); ok && m.IntN(5) > 0 { // an event: mostly the fields of its kind
		kind := pick(m, kinds).(map[string]any)
		own := kind["properties"].(map[string]any)
		allowed = slices.DeleteFunc(allowed, func(name string) bool { return own[name] == false })
		out["kind"] = own["kind"].(map[string]any)["const"]
	}
	required, _ := schema["required"].([]any)
	for _, name := range allowed {
		if out[name] == nil && (slices.Contains(required, any(name)) || m.IntN(3) > 0) && m.IntN(20) > 0 {
			out[name] = m.value(properties[name].(map[string]any))
		}
	}
	if properties == nil { // of settings, by their keys
		for range m.IntN(4) {
			out[pick(m, offers).Key] = pick(m, []any{1.0, 100.0, 0.0, "90s", "oak", []any{"A", "B"}, true, pick(m, junk)})
		}
	}
	if m.IntN(20) == 0 {
		out[pick(m, []string{"", "box", "Kind", "__proto__", "id ", strings.Repeat("k", 300)})] = pick(m, junk)
	}
	return out
}

// spoil damages a body.
func (m *maker) spoil(body []byte) []byte {
	switch m.IntN(8) {
	case 0:
		return body[:m.IntN(len(body)+1)]
	case 1:
		return append(body, pick(m, []string{"}", "{}", "\x00", " null", ","})...)
	case 2:
		for range 1 + m.IntN(3) {
			if len(body) > 0 {
				body[m.IntN(len(body))] = byte(m.IntN(256))
			}
		}
		return body
	case 3:
		return bytes.Repeat(pick(m, [][]byte{{'['}, []byte(`{"a":`), {' '}, {0xff}}), pick(m, []int{1, 100, 9000, 70000}))
	case 4:
		return bytes.Replace(body, []byte(`"id"`), []byte(`"id":"twice","id"`), 1)
	}
	return body
}

// table makes a CSV, good or bad.
func (m *maker) table() []byte {
	columns := []string{"rib", "length_mm", "exposure_min", "outcome", "stick", "bend", "thickness_mm", "meant", "soak_s", "nonsense"}
	cells := []string{"1", "2", "900", "1100.5", "-1", "1e9", "NaN", "supple", "stiff", "cracked", "hard", "yes", "", "\"", "a\"b", "é", "\x00", "1;2"}
	m.Shuffle(len(columns), func(i, j int) { columns[i], columns[j] = columns[j], columns[i] })
	width := 1 + m.IntN(5)
	lines := []string{strings.Join(columns[:width], ",")}
	if m.IntN(3) == 0 {
		lines[0], width = pick(m, []string{"rib,length_mm", "exposure_min,outcome"}), 2
	}
	for range m.IntN(30) {
		row := make([]string, max(0, width+m.IntN(3)-1))
		for i := range row {
			row[i] = pick(m, cells)
		}
		lines = append(lines, strings.Join(row, ","))
	}
	return []byte(strings.Join(lines, pick(m, []string{"\n", "\r\n", "\r"})))
}

// query makes the parameters of an operation.
func (m *maker) query(op map[string]any) string {
	values := url.Values{}
	params, _ := op["parameters"].([]any)
	for _, p := range params {
		p := p.(map[string]any)
		for range m.IntN(3) {
			if p["in"] == "query" {
				values.Add(p["name"].(string), pick(m, []string{"0", "1", "2", "-1", "1e400", "NaN", "0x10", "", "x", "5001", strings.Repeat("1", 300), "2026-01-01-1", "%", "\x00"}))
			}
		}
	}
	if m.IntN(8) == 0 {
		values.Add("nonsense", "1")
	}
	if m.IntN(20) == 0 {
		return values.Encode() + "&%zz=%"
	}
	return values.Encode()
}

// operation is one of the description.
type operation struct {
	method, path string
	of           map[string]any
}

func (f *face) operations() (out []operation) {
	paths := f.doc["paths"].(map[string]any)
	for _, path := range slices.Sorted(maps.Keys(paths)) {
		methods := paths[path].(map[string]any)
		for _, method := range slices.Sorted(maps.Keys(methods)) {
			out = append(out, operation{strings.ToUpper(method), path, methods[method].(map[string]any)})
		}
	}
	return out
}

// make makes a request of an operation.
func (f *face) make(m *maker, op operation) (*http.Request, string) {
	body, kind := []byte{}, "application/json"
	if asked, ok := op.of["requestBody"].(map[string]any); ok {
		content := asked["content"].(map[string]any)
		if media, ok := content["application/json"].(map[string]any); ok {
			body, _ = json.Marshal(m.value(media["schema"].(map[string]any)))
		} else {
			body, kind = m.table(), "text/csv"
		}
		body = m.spoil(body)
	}
	path := op.path
	if path == "/{asset}" {
		path = pick(m, []string{"/x", "/../go.mod", "/..%2f..%2fetc%2fpasswd", "/index.html", "/\x00", "//x"})
	}
	r := f.request(op.method, path+"?"+m.query(op.of), string(body), pick(m, []door.Role{door.Nobody, door.View, door.Crew, door.Crew, door.Crew, door.Crew}))
	r.Header.Set("Content-Type", kind)
	if m.IntN(15) == 0 {
		r.Header.Set("Content-Type", pick(m, []string{"", "text/plain", "application/x-www-form-urlencoded", "application/json; charset=\xff", "a/b/c", "text/csv"}))
	}
	if m.IntN(20) == 0 {
		r.Header.Set("Authorization", pick(m, []string{"", "Bearer ", "Bearer x", "Basic eDp5"}))
	}
	if m.IntN(30) == 0 {
		r.Header.Set("Origin", "https://evil.example")
	}
	if m.IntN(40) == 0 {
		r.Host = "evil.example"
	}
	return r, string(body)
}

// badRequests is how many are made.
const badRequests = 12_000

// Whatever is asked, the answer is one that is described, none is a failure inside, and
// a refused request has changed nothing.
func TestBadRequests(t *testing.T) {
	f := newFace(t)
	m := &maker{Rand: rand.New(rand.NewPCG(7, 7)), schemas: f.doc["components"].(map[string]any)["schemas"].(map[string]any)}
	ops := slices.DeleteFunc(f.operations(), func(op operation) bool {
		return op.path == "/api/events" || op.path == "/healthz" // the one has no end, the other is right that nothing is sensed here
	})
	taken, refused, before, moved := map[string]int{}, map[int]int{}, f.state(t), f.moved()
	for n := range badRequests {
		op := ops[n%len(ops)]
		if op.method == "GET" && n/len(ops)%8 != 0 { // most of them at what can change something
			op = pick(m, slices.DeleteFunc(slices.Clone(ops), func(o operation) bool { return o.method == "GET" }))
		}
		r, body := f.make(m, op)
		w := f.ask(r)
		name := fmt.Sprintf("%d: %s %s %.300q", n, op.method, r.RequestURI, body)
		if w.Code >= 500 {
			t.Fatalf("%s: %d %s", name, w.Code, w.Body)
		}
		if _, described := op.of["responses"].(map[string]any)[strconv.Itoa(w.Code)]; !described && w.Code != 421 && w.Code != 404 && w.Code != 307 && w.Code != 403 {
			t.Errorf("%s: %d is not described", name, w.Code)
		}
		if w.Code < 400 {
			taken[op.method+" "+op.path]++
			if op.method != "GET" {
				f.let(t)
				before, moved = f.state(t), f.moved()
			}
			continue
		}
		refused[w.Code]++
		var p web.Problem
		if strings.HasPrefix(w.Header().Get("Content-Type"), "application/json") && (json.Unmarshal(w.Body.Bytes(), &p) != nil || p.Error == "") {
			t.Errorf("%s: %d %q is no problem in a sentence", name, w.Code, w.Body)
		}
		if now := f.moved(); now == moved && n%100 != 0 { // the record, too, is looked at now and then
			continue
		}
		if after := f.state(t); after != before {
			t.Fatalf("%s: %d, and it has changed\n%s\nto\n%s", name, w.Code, before, after)
		}
		moved = f.moved()
	}
	t.Logf("refused %v, taken %v", refused, taken)
	all := 0
	for _, n := range refused {
		all += n
	}
	if all < 10_000 && !testing.Short() {
		t.Errorf("only %d were bad", all)
	}
	for _, status := range []int{400, 401, 403, 409, 413, 415, 421} {
		if refused[status] == 0 {
			t.Errorf("none was answered %d", status)
		}
	}
	if taken["POST /api/event"] == 0 || taken["POST /api/settings"] == 0 {
		t.Errorf("nothing good was among them: %v", taken)
	}
}
