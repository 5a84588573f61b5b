package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/web"
	"withy/sensor/rehearsed"
	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/rehearsal"
)

// setBox is a rehearsal's daemon with what can be set at it, in a data folder.
func setBox(t *testing.T, data string) *settingPage {
	t.Helper()
	world, err := rehearsal.New("good", 1)
	if err != nil {
		t.Fatal(err)
	}
	box, err := rehearsed.New(world, "set", 1)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := record.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	p, b, units := &settingPage{data: data}, stage.Settings(world), measure.Metric
	troubles := []string{}
	if trouble := withOverlay(p, &b, &units); trouble != "" {
		troubles = append(troubles, trouble)
	}
	d, err := daemon.New(daemon.Options{Box: b, Source: box, Record: rec, Units: units, Speed: 1, Troubles: troubles})
	if err != nil {
		t.Fatal(err)
	}
	p.daemon = d
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); _ = d.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		<-done
		box.Close()
		rec.Close()
	})
	return p
}

func (p *settingPage) value(t *testing.T, key string) web.Setting {
	t.Helper()
	all := p.List()
	i := slices.IndexFunc(all, func(s web.Setting) bool { return s.Key == key })
	if i < 0 {
		t.Fatalf("%s is not offered", key)
	}
	return all[i]
}

// Every offer gives back what is put there, and its own value is one that it takes.
func TestOffers(t *testing.T) {
	box := steambox.DefaultBox()
	box.Name, box.Boat = "box", "boat"
	for i := range offers {
		o := &offers[i]
		v := o.get(&box)
		if list, ok := v.([]string); ok { // as JSON has it
			var told []any
			for _, s := range list {
				told = append(told, s)
			}
			v = told
		}
		if v == "" && o.None {
			v = o.Words[0]
		}
		taken, err := o.check(v)
		if err != nil {
			t.Errorf("the default: %v", err)
			continue
		}
		b := box
		o.put(&b, taken)
		if got := o.get(&b); !reflect.DeepEqual(got, taken) {
			t.Errorf("%s: put %v, got %v", o.Key, taken, got)
		}
		if o.Group == "" || o.Says == "" {
			t.Errorf("%s: nothing says what it is", o.Key)
		}
	}
	for _, key := range []string{"place.altitude_m", "box.length_mm", "kettle.carry", "run.crew"} {
		if _, ok := offered(key); !ok {
			t.Errorf("%s is not offered", key)
		}
	}
}

// The ranges of the configuration file are those of the page: none of its keys is
// looked up in vain.
func TestSettlerKnowsItsOffers(t *testing.T) {
	source, err := os.ReadFile("settings.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, call := range []string{"r.within(\"", "r.lastsWithin(\""} {
		for part := range strings.SplitSeq(string(source), call) {
			key, _, ok := strings.Cut(part, "\"")
			if _, known := offered(key); ok && strings.Contains(key, ".") && !strings.ContainsAny(key, " \n") && !known {
				t.Errorf("%s is held to a range that there is not", key)
			}
		}
	}
}

func TestSetOnThePage(t *testing.T) {
	data := t.TempDir()
	p := setBox(t, data)
	err := p.Set(t.Context(), "a", map[string]any{
		"place.altitude_m": 1200.0, "box.slots": []any{"a", "B"}, "run.crew": "2m", "boiler.kind": "closed-tank", "units": "us", "wood.species": "red-oak",
	})
	if err != nil {
		t.Fatal(err)
	}
	b := p.daemon.View().Box
	if !(b.PressurePa > 87e3 && b.PressurePa < 88e3) || b.Measured || b.CrewS != 120 || b.Boiler.Kind != "closed-tank" || !slices.Equal(b.Slots, []string{"A", "B"}) || b.Wood.Species != "red-oak" {
		t.Errorf("the box is %+v", b)
	}
	if u := p.daemon.View().Units; u != measure.US {
		t.Errorf("the units are %s", u)
	}
	if s := p.value(t, "place.altitude_m"); s.Value != 1200.0 || s.From != "page" {
		t.Errorf("the height is %+v", s)
	}
	if s := p.value(t, "kettle.litres"); s.From != "default" {
		t.Errorf("the kettle is %+v", s)
	}
	was := p.base
	if err := p.Set(t.Context(), "b", map[string]any{"place.altitude_m": nil, "units": nil}); err != nil {
		t.Fatal(err)
	}
	if v := p.daemon.View(); v.Box.PressurePa != was.PressurePa || v.Box.Measured != was.Measured || v.Units != measure.Metric || v.Box.CrewS != 120 {
		t.Errorf("taken back, it is %+v in %s", v.Box, v.Units)
	}
}

// What is in use now is what the next start begins with, in whatever order height and
// pressure were told: a barometer's reading goes before the height, and without one the
// height counts.
func TestHeightAndPressure(t *testing.T) {
	p := setBox(t, t.TempDir())
	const high, asMeasured = 87.7e3, 95e3 // at 1200 m, by the standard atmosphere
	for i, step := range []struct {
		set    map[string]any
		wantPa float64
	}{
		{map[string]any{"place.altitude_m": 1200.0, "place.pressure_pa": asMeasured}, asMeasured},
		{map[string]any{"place.pressure_pa": 0.0}, high},
		{map[string]any{"place.pressure_pa": asMeasured, "place.altitude_m": 1200.0}, asMeasured},
		{map[string]any{"place.altitude_m": 1200.0}, asMeasured},
		{map[string]any{"place.pressure_pa": nil}, high},
		{map[string]any{"place.pressure_pa": asMeasured}, asMeasured},
		{map[string]any{"place.altitude_m": nil}, asMeasured},
		{map[string]any{"place.pressure_pa": nil}, p.base.PressurePa},
	} {
		if err := p.Set(t.Context(), fmt.Sprint(i), step.set); err != nil {
			t.Fatal(err)
		}
		now, next, units := p.daemon.View().Box, p.base, p.baseUnits
		if trouble := withOverlay(&settingPage{data: p.data}, &next, &units); trouble != "" {
			t.Fatal(trouble)
		}
		if math.Abs(now.PressurePa-step.wantPa) > 100 || now.PressurePa != next.PressurePa || now.Measured != next.Measured {
			t.Errorf("%d, %v: %.0f Pa (measured: %t), at the next start %.0f Pa (%t); want %.0f Pa",
				i, step.set, now.PressurePa, now.Measured, next.PressurePa, next.Measured, step.wantPa)
		}
	}
}

// All mistakes come together, each with its key and what is allowed, and nothing is set.
func TestSetMistakes(t *testing.T) {
	p := setBox(t, t.TempDir())
	before := *p.daemon.View().Box
	err := p.Set(t.Context(), "a", map[string]any{
		"place.altitude_m": 9000.0, "boiler.kind": "bucket", "kettle.carry": "90", "box.slots": []any{"A", "a"}, "boat.spares": 1.5,
		"window.learn": "yes", "boat.name": "", "page.listen": "x", "units": "yards", "box.inside_mm": "wide", "run.crew": "1s", "box.length_mm": nil,
	})
	wrong := (*web.MistakesError)(nil)
	if !errors.As(err, &wrong) {
		t.Fatalf("%v", err)
	}
	want := []string{
		"boat.name: \"\" is not a text of 1 to 60 letters on one line",
		"boat.spares: 1.5 is not a whole number",
		"boiler.kind: \"bucket\" is not one of open-pot, closed-tank, second-boiler, no-refill",
		"box.inside_mm: \"wide\" is not a number",
		"box.slots: number 2 is \"a\"; each needs a letter of its own",
		"kettle.carry: \"90\" is not a length of time with its unit, such as 90s or 5m",
		"page.listen: there is no such key, or it is set in the configuration file only",
		"place.altitude_m: 9000 is outside -500 to 5500",
		"run.crew: 1s is outside 5s to 3600s",
		"units: \"yards\" is not one of metric, us",
		"window.learn: \"yes\" is not true or false",
	}
	if !slices.Equal(wrong.All, want) {
		t.Errorf("the mistakes are\n%s", strings.Join(wrong.All, "\n"))
	}
	// One that only the whole box can tell.
	err = p.Set(t.Context(), "b", map[string]any{"boiler.bare_l": 4.0, "boiler.full_l": 3.0})
	if !errors.As(err, &wrong) || !strings.Contains(err.Error(), "boiler.bare_l: 4 is outside 0 to 3") {
		t.Errorf("%v", err)
	}
	if !reflect.DeepEqual(before, *p.daemon.View().Box) {
		t.Error("something was set all the same")
	}
}

// A table that was uploaded is what the box calls then, and the next start has it.
func TestRibsOnThePage(t *testing.T) {
	data := t.TempDir()
	p := setBox(t, data)
	n, err := p.SetRibs(t.Context(), "a", []byte("rib,length_mm,stick,meant\nbow,900,oak,\nmid,1200,oak,yes\n"))
	if n != 2 || err != nil {
		t.Fatal(n, err)
	}
	if calls := p.daemon.View().Status.Ribs; len(calls) != 2 || calls[0].Rib != "bow" {
		t.Errorf("the ribs are %+v", calls)
	}
	table := "rib,length_mm,thickness_mm,width_mm,station_mm,stick,meant\nbow,900,6.5,25,0,oak,\nmid,1200,6.5,25,1000,oak,yes\n"
	if got := string(p.Ribs()); got != table {
		t.Errorf("the table is\n%s", got)
	}
	if n, err := p.SetBends(t.Context(), "b", []byte("exposure_min,outcome,stick\n2.5,supple,oak\n")); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	if got := string(p.Bends()); got != "exposure_min,outcome,stick,bend\n2.5,supple,oak,middling\n" && got != "exposure_min,outcome,stick\n2.5,supple,oak\n" {
		t.Errorf("the bends are\n%s", got)
	}
	if n, err := p.SetBends(t.Context(), "c", []byte("exposure_min,outcome\n")); n != 0 || err != nil {
		t.Fatal(n, err)
	}
	set, err := loadOverlay(data)
	if err != nil || len(set.Ribs) != 2 || set.Bends == nil || len(set.Bends) != 0 {
		t.Errorf("kept is %+v, %v", set, err)
	}
	b, units := steambox.DefaultBox(), measure.Metric
	b.Name, b.Probes = "x", p.base.Probes
	if trouble := withOverlay(&settingPage{data: data}, &b, &units); trouble != "" || len(b.Ribs) != 2 {
		t.Errorf("at the next start: %q, %+v", trouble, b.Ribs)
	}
	for _, wrong := range []string{"", "rib\n1\n", "rib,length_mm\n", "rib,length_mm\n1,9\n1,1100\n"} {
		if _, err := p.SetRibs(t.Context(), "w"+wrong, []byte(wrong)); !errors.As(err, new(*web.MistakesError)) {
			t.Errorf("%q: %v", wrong, err)
		}
	}
	if _, err := p.SetBends(t.Context(), "s", []byte("soak_s,outcome\n300,supple\n")); !errors.As(err, new(*web.MistakesError)) {
		t.Errorf("a soak: %v", err)
	}
}

// What was set is taken back, and the file's tables are in use again, at once and at the
// next start.
func TestTablesTakenBack(t *testing.T) {
	data := t.TempDir()
	p := setBox(t, data)
	file, n := string(p.Ribs()), len(p.base.Ribs)
	for i, set := range []func() (int, error){
		func() (int, error) { return p.SetRibs(t.Context(), "a", []byte("rib,length_mm\nbow,900\n")) },
		func() (int, error) { return p.SetBends(t.Context(), "b", []byte("exposure_min,outcome\n")) },
		func() (int, error) { return p.SetRibs(t.Context(), "c", nil) },
		func() (int, error) { return p.SetBends(t.Context(), "d", nil) },
	} {
		got, err := set()
		if want := []int{1, 0, n, len(p.base.TestBends)}[i]; got != want || err != nil {
			t.Errorf("change %d: %d lines, %v; want %d", i, got, err, want)
		}
		ribs, bends := p.TablesSet()
		if want := [][2]bool{{true, false}, {true, true}, {false, true}, {false, false}}[i]; want != [2]bool{ribs, bends} {
			t.Errorf("change %d: set are %v, %v", i, ribs, bends)
		}
	}
	if got := string(p.Ribs()); got != file {
		t.Errorf("in use is\n%s", got)
	}
	if set, err := loadOverlay(data); err != nil || set.Ribs != nil || set.Bends != nil {
		t.Errorf("kept is %+v, %v", set, err)
	}
}

// A change whose answer got lost is sent again, maybe after another was made: that one
// stays. The last one, which may not have been kept, is kept then.
func TestLateChange(t *testing.T) {
	data := t.TempDir()
	p := setBox(t, data)
	set := func(id string, altitude float64) {
		t.Helper()
		if err := p.Set(t.Context(), id, map[string]any{"place.altitude_m": altitude}); err != nil {
			t.Fatal(err)
		}
	}
	set("a", 100)
	set("b", 200)
	set("a", 100)
	if err := os.Remove(filepath.Join(data, setFile)); err != nil {
		t.Fatal(err)
	}
	set("b", 200)
	kept, err := loadOverlay(data)
	if got := p.value(t, "place.altitude_m").Value; got != 200.0 || err != nil || kept.Values["place.altitude_m"] != 200.0 {
		t.Errorf("in use is %v, kept %v, %v", got, kept.Values, err)
	}
}

// A table that is longer than the box can reckon with in time is refused whole: what
// watches the box stood still for 18 s over 8,000 test bends.
func TestTooManyRibsAndBends(t *testing.T) {
	p := setBox(t, t.TempDir())
	before := *p.daemon.View().Box
	ribs, bends := "rib,length_mm\n", "exposure_min,outcome\n"
	for i := range steambox.MaxRibs {
		ribs += fmt.Sprintf("%d,900\n", i)
	}
	bends += strings.Repeat("2.5,supple\n", steambox.MaxTestBends)
	for id, set := range map[string]struct {
		table func(context.Context, string, []byte) (int, error)
		text  string
		says  string
	}{
		"ribs":  {p.SetRibs, ribs + "last,900\n", "boat.ribs: 501 is outside 0 to 500"},
		"bends": {p.SetBends, bends + "2.5,supple\n", "window.bends: 501 is outside 0 to 500"},
	} {
		if _, err := set.table(t.Context(), id, []byte(set.text)); !errors.As(err, new(*web.MistakesError)) || !strings.Contains(err.Error(), set.says) {
			t.Errorf("%s: %v", id, err)
		}
	}
	if !reflect.DeepEqual(before, *p.daemon.View().Box) {
		t.Error("something was set all the same")
	}
	if n, err := p.SetRibs(t.Context(), "fits", []byte(ribs)); n != steambox.MaxRibs || err != nil {
		t.Error(n, err)
	}
}

// What was set and can't be used is left where it is, and said.
func TestSetDamaged(t *testing.T) {
	for _, text := range []string{"{", `{"values":{"place.altitude_m":99999}}`, `{"values":{"no.such":1}}`, `{"ribs":[{"rib":""}]}`} {
		data := t.TempDir()
		name := filepath.Join(data, setFile)
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		p := setBox(t, data)
		troubles := p.daemon.View().Troubles
		if len(troubles) != 1 || !strings.HasPrefix(troubles[0], "What was set on the page can't be used") {
			t.Errorf("%s: %v", text, troubles)
		}
		if kept, _ := os.ReadFile(name); string(kept) != text {
			t.Errorf("%s became %s", text, kept)
		}
	}
}

// A level that was set for a switch doesn't bring it back once the file names no line for
// it: it would be an alarm that it can't be read.
func TestSetForASwitchThatIsGone(t *testing.T) {
	set := overlay{Values: map[string]any{"boiler.switch_l": 0.8, "run.crew": "3m"}}
	for fitted, want := range map[float64]float64{1.2: 0.8, 0: 0} {
		b, units := steambox.DefaultBox(), measure.Metric
		b.Probes = []steambox.BoxProbe{{Name: "steam"}}
		b.Boiler.SwitchL = fitted
		if err := set.apply(&b, &units); err != nil || b.Boiler.SwitchL != want || b.CrewS != 180 {
			t.Errorf("of %g l: %g l, %g s, %v; want %g l", fitted, b.Boiler.SwitchL, b.CrewS, err, want)
		}
	}
}

// A start with what was set goes on with the session, and the next session begins with it.
func TestSetAndStartedAgain(t *testing.T) {
	data := t.TempDir()
	t.Run("before", func(t *testing.T) {
		if err := setBox(t, data).Set(t.Context(), "a", map[string]any{"run.crew": "3m"}); err != nil {
			t.Fatal(err)
		}
	})
	p := setBox(t, data)
	deadline := time.Now().Add(10 * time.Second)
	for p.daemon.View().Box.CrewS != 180 && time.Now().Before(deadline) {
		time.Sleep(10 * time.Millisecond)
	}
	if s := p.value(t, "run.crew"); s.Value != "3m0s" || s.From != "page" {
		t.Errorf("after the start it is %+v", s)
	}
}

// What somebody sends is taken or refused by name, whatever it is.
func FuzzSet(f *testing.F) {
	f.Add("place.altitude_m", 1e308, "x")
	f.Add("box.level", 0.0, "-1h")
	f.Add("boat.name", -1.0, "\x00")
	f.Fuzz(func(t *testing.T, key string, x float64, text string) {
		b, units := steambox.DefaultBox(), measure.Metric
		for _, v := range []any{x, text, true, nil, []any{text, x}} {
			if err := enter(&b, &units, key, v); err != nil && !strings.HasPrefix(err.Error(), key+":") {
				t.Errorf("%v", err)
			}
		}
	})
}

// What is set is in use at once as the next start has it, whichever key it is.
func TestEverySettingIsCarried(t *testing.T) {
	p := setBox(t, t.TempDir())
	values := map[string]any{"boat.spares": 7.0, "wood.species": "beech", "wood.moisture_pct": 30.0, "box.slots": []any{"X", "Y"}}
	for i := range offers {
		o := &offers[i]
		if _, ok := values[o.Key]; ok || o.Key == "place.pressure_pa" {
			continue
		}
		v := o.get(&p.base)
		if o.Kind == "list" || o.Key == "boiler.switch_l" && p.base.Boiler.SwitchL == 0 {
			continue
		}
		values[o.Key] = v
	}
	if err := p.Set(t.Context(), "a", values); err != nil {
		t.Fatal(err)
	}
	now, next, units := p.daemon.View().Box, p.base, p.baseUnits
	if trouble := withOverlay(&settingPage{data: p.data}, &next, &units); trouble != "" {
		t.Fatal(trouble)
	}
	if now.Spares != 7 || now.Wood.Material == p.base.Wood.Material || !reflect.DeepEqual(now.Wood, next.Wood) {
		t.Errorf("in use are %d spares and %+v; the next start has %+v", now.Spares, now.Wood, next.Wood)
	}
}

// A file that is read anew counts at once, but for what was set on the page; one with a
// mistake changes nothing.
func TestReload(t *testing.T) {
	data := t.TempDir()
	p := setBox(t, data)
	if err := p.Set(t.Context(), "a", map[string]any{"run.crew": "3m"}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(data, "withy.yaml")
	write := func(text string) settings {
		t.Helper()
		probes := "probes: [{name: other, id: 28-000000000001}, {name: door, id: 28-000000000002, at_mm: 1500}]\n"
		if err := os.WriteFile(file, []byte(probes+text), 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := readSettings(file, data)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	was := p.daemon.View().Box.Probes
	first := write("units: us\nkettle: {litres: 3}\nrun: {crew: 20s}\n")
	if err := p.reload(t.Context(), first); err != nil {
		t.Fatal(err)
	}
	v := p.daemon.View()
	if v.Box.Kettle.Litres != 3 || v.Units != measure.US || v.Box.CrewS != 180 || !reflect.DeepEqual(v.Box.Probes, was) {
		t.Errorf("the kettle holds %g l, units %s, crew %g s, probes %+v", v.Box.Kettle.Litres, v.Units, v.Box.CrewS, v.Box.Probes)
	}
	if s := p.value(t, "kettle.litres"); s.From != "file" {
		t.Errorf("from %s", s.From)
	}
	wrong := write("kettle: {litres: 2}\n")
	wrong.Box.Boiler.FullL = -1
	if err := p.reload(t.Context(), wrong); err == nil || p.daemon.View().Box.Kettle.Litres != 3 {
		t.Errorf("%v, and the kettle holds %g l", err, p.daemon.View().Box.Kettle.Litres)
	}
	if second := write("kettle: {litres: 2}\n"); !fixed(first, second) {
		t.Error("a kettle takes a new start")
	}
	if second := write("page: {listen: 127.0.0.1:1}\n"); fixed(first, second) {
		t.Error("another port takes none")
	}
}
