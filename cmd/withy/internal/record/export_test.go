package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"withy/steambox"
)

func TestExportImport(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	lived := live(t, r, 100)
	must(t, r.Moved(Clock{Boot: "boot-2", Origin: time.Minute}, morning))
	lived = append(lived, Entry{Seq: int64(len(lived)) + 1, At: lived[len(lived)-1].At, Wall: morning, Clock: &Clock{Boot: "boot-2", Origin: time.Minute}})
	var out bytes.Buffer
	must(t, r.Export(&out, id))
	for line := range bytes.SplitSeq(bytes.TrimSpace(out.Bytes()), []byte("\n")) {
		if !json.Valid(line) {
			t.Fatalf("%s", line)
		}
	}
	t.Logf("%.600s", out.String()[strings.Index(out.String(), "\n"):])

	s, entries, err := Import(&out)
	must(t, err)
	same(t, s, Session{ID: id, Began: morning, Box: testBox()})
	same(t, collect(t, entries), lived)
}

func anyEvent() *rapid.Generator[steambox.Event] {
	text := rapid.OneOf(rapid.Just(""), rapid.String())
	return rapid.Custom(func(t *rapid.T) steambox.Event {
		return steambox.Event{
			ID:   rapid.StringN(1, 20, -1).Draw(t, "id"),
			Kind: rapid.SampledFrom(steambox.Kinds).Draw(t, "kind").Kind,
			Rib:  text.Draw(t, "rib"), Slot: text.Draw(t, "slot"), Outcome: text.Draw(t, "outcome"), Where: text.Draw(t, "where"),
			Mark: text.Draw(t, "mark"), Alarm: text.Draw(t, "alarm"), Text: text.Draw(t, "text"), By: text.Draw(t, "by"),
			Litres: rapid.Float64Range(0, 500).Draw(t, "litres"), TempC: rapid.Float64Range(0, 100).Draw(t, "temp"), On: rapid.Bool().Draw(t, "on"),
		}
	})
}

func TestLineRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := Entry{
			Seq: rapid.Int64Min(1).Draw(t, "seq"), At: time.Duration(rapid.Int64().Draw(t, "at")),
			Wall: wallTime(rapid.Int64().Draw(t, "wall")),
		}
		switch rapid.IntRange(0, 2).Draw(t, "sort") {
		case 0:
			s := anySample().Draw(t, "sample")
			e.Sample = &s
		case 1:
			ev := anyEvent().Draw(t, "event")
			e.Event = &ev
		case 2:
			e.Clock = &Clock{rapid.String().Draw(t, "boot"), time.Duration(rapid.Int64().Draw(t, "origin")), rapid.Bool().Draw(t, "undated")}
		}
		b, err := marshal(lineOf(e))
		if err != nil {
			t.Fatal(err)
		}
		var l entryLine
		if err := strict(b, &l); err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		got, err := l.entry()
		if err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		alike(t, got, e)
	})
}

const (
	goodHead = `{"kind":"session","version":1,"id":"2026-11-25-1","wall":"2026-11-25T08:30:00Z","box":{"name":"b"}}` + "\n"
	goodLine = `{"seq":1,"elapsed_s":0.25,"wall":"2026-11-25T08:30:00Z","kind":"sample","probes":[{"temp_c":-0.062}],"level":"open","door":"unknown"}` + "\n"
)

func TestImportMistakes(t *testing.T) {
	line := func(old, with string) string {
		return goodHead + goodLine + strings.Replace(strings.Replace(goodLine, `"seq":1`, `"seq":2`, 1), old, with, 1)
	}
	for _, c := range []struct{ name, in, want string }{
		{"nothing", "", "line 1: no session"},
		{"torn first line", goodHead[:30], "line 1: no session"},
		{"no session first", goodLine, "line 1"},
		{"newer version", strings.Replace(goodHead, ":1", ":2", 1), "line 1: version 2"},
		{"no box", strings.Replace(goodHead, `,"box":{"name":"b"}`, "", 1), "line 1: box"},
		{"not JSON", goodHead + goodLine + "{\"seq\":\n", "line 3: cut short"},
		{"unknown field", line(`"level"`, `"levels"`), `line 3: json: unknown field "levels"`},
		{"unknown kind", line(`"kind":"sample","probes":[{"temp_c":-0.062}],"level":"open","door":"unknown"`, `"kind":"bent","id":"x"`), "line 3: kind"},
		{"no id", line(`"kind":"sample","probes":[{"temp_c":-0.062}],"level":"open","door":"unknown"`, `"kind":"back"`), "line 3: id"},
		{"event in a sample", line(`"level"`, `"rib":"3","level"`), "line 3: a sample"},
		{"sample in an event", line(`"sample"`, `"loaded"`), "line 3: loaded"},
		{"clock in a sample", line(`"level"`, `"boot":"3","level"`), "line 3: sample"},
		{"no origin", line(`"kind":"sample","probes":[{"temp_c":-0.062}],"level":"open","door":"unknown"`, `"kind":"clock"`), "line 3: origin_s"},
		{"bad contact", line(`"open"`, `"wet"`), "line 3: level"},
		{"no level", line(`"level":"open",`, ``), "line 3: level"},
		{"too fine a temperature", line("-0.062", "-0.0625"), "line 3"},
		{"too hot", line("-0.062", "2147484"), "line 3"},
		{"exponent", line("0.25", "1e3"), "line 3"},
		{"too long ago", line("0.25", "9223372037"), "line 3"},
		{"no time", line(`"elapsed_s":0.25,`, ""), "line 3: elapsed_s"},
		{"two on a line", line("}\n", "} {}\n"), "line 3: more than one"},
		{"same number again", goodHead + goodLine + goodLine, "line 3: seq: 1 after 1"},
		{"endless line", goodHead + strings.Repeat("x", maxLine+1), "line 2: longer"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, entries, err := Import(strings.NewReader(c.in))
			if err == nil {
				for _, err = range entries {
				}
			}
			if err == nil || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("%v; want %s…", err, c.want)
			}
		})
	}
}

// However short the copy was cut, what is whole before the cut is read and the
// cut is no error.
func TestImportTornTail(t *testing.T) {
	all := goodHead + goodLine + strings.Replace(goodLine, `"seq":1`, `"seq":2`, 1)
	whole := len(goodLine) - 1 // of a line, the line's end may be missing
	for cut := len(goodHead); cut <= len(all); cut++ {
		_, entries, err := Import(strings.NewReader(all[:cut]))
		must(t, err)
		n := len(collect(t, entries))
		past := cut - len(goodHead)
		if want := past/len(goodLine) + past%len(goodLine)/whole; n != want {
			t.Fatalf("cut at %d: %d entries, want %d", cut, n, want)
		}
	}
}

func TestFixed(t *testing.T) {
	for x, want := range map[int64]string{
		0: "0", 1: "0.000000001", -1: "-0.000000001", 1e9: "1", -1500000000: "-1.5",
		math.MaxInt64: "9223372036.854775807", math.MinInt64: "-9223372036.854775808",
	} {
		if got := string(appendFixed(nil, x, 9)); got != want {
			t.Errorf("%d: %s, want %s", x, got, want)
		}
		if got, err := parseFixed(want, 9); got != x || err != nil {
			t.Errorf("%s: %d, %v", want, got, err)
		}
	}
	for _, s := range []string{"", "-", ".5", "1e9", "+1", "1.2.3", "9223372036.854775808", "-9223372036.854775809", "99999999999999999999", "0.0000000001", `"1"`, "null"} {
		if x, err := parseFixed(s, 9); err == nil {
			t.Errorf("%s: %d", s, x)
		}
	}
}

// What Import accepts it reads the same after it was written again.
func FuzzImport(f *testing.F) {
	f.Add([]byte(goodHead + goodLine))
	f.Add([]byte(goodHead + `{"seq":7,"elapsed_s":1,"wall":"2026-11-25T08:30:00+01:00","kind":"loaded","id":"a","rib":"3","slot":"A"}`))
	f.Add([]byte(goodHead + `{"seq":7,"elapsed_s":1,"wall":"2026-11-25T08:30:00Z","kind":"clock","boot":"b","origin_s":-3.5}`))
	f.Fuzz(func(t *testing.T, in []byte) {
		s, first, err := readAll(bytes.NewReader(in))
		if err != nil {
			return
		}
		var out bytes.Buffer
		b, err := marshal(headLine{Kind: lineSession, Version: lineVersion, ID: s.ID, Wall: s.Began, Box: &s.Box})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "%s\n", b)
		for _, e := range first {
			b, err := marshal(lineOf(e))
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&out, "%s\n", b)
		}
		_, second, err := readAll(&out)
		if err != nil {
			t.Fatal(err)
		}
		alike(t, second, first)
	})
}

func readAll(rd io.Reader) (Session, []Entry, error) {
	s, entries, err := Import(rd)
	if err != nil {
		return s, nil, err
	}
	var all []Entry
	for e, err := range entries {
		if err != nil {
			return s, nil, err
		}
		all = append(all, e)
	}
	return s, slices.Clip(all), nil
}
