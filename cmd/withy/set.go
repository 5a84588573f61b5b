package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"

	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/onefile"
	"withy/cmd/withy/internal/table"
	"withy/cmd/withy/internal/web"
	"withy/steambox"
	"withy/steambox/measure"
)

// setFile is where the data folder keeps what was set on the page.
const setFile = "set.json"

// overlay is what was set on the page: it goes before the configuration file.
type overlay struct {
	Values map[string]any      `json:"values"` // by key, as encoding/json reads them
	Ribs   []steambox.Rib      `json:"ribs"`   // nil: the file's
	Bends  []steambox.TestBend `json:"bends"`  // nil: the file's
}

// loadOverlay reads what was set; nothing was where there is no file.
func loadOverlay(data string) (overlay, error) {
	var o overlay
	text, err := os.ReadFile(filepath.Join(data, setFile))
	if errors.Is(err, fs.ErrNotExist) {
		return overlay{}, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &o)
	}
	if err != nil {
		return overlay{}, fmt.Errorf("%s: %w", filepath.Join(data, setFile), err)
	}
	return o, nil
}

// keep writes it, whole on the card or not at all.
func (o *overlay) keep(data string) error {
	text, err := json.MarshalIndent(o, "", "\t")
	if err != nil {
		return err
	}
	return keepFile(data, setFile, text)
}

// keepFile puts a file into the data folder at one stroke.
func keepFile(data, name string, text []byte) error {
	return onefile.Write(filepath.Join(data, name), text, 0o600)
}

// apply puts what was set into the place of what the file says. All mistakes come
// together, and then nothing is changed.
func (o *overlay) apply(b *steambox.Box, u *measure.Units) error {
	now, units := *b, *u
	var mistakes []error
	for _, key := range slices.Sorted(maps.Keys(o.Values)) {
		if err := enter(&now, &units, key, o.Values[key]); err != nil {
			mistakes = append(mistakes, err)
		}
	}
	if b.Boiler.SwitchL == 0 { // since then the switch was taken off its line
		now.Boiler.SwitchL = 0
	}
	if o.Ribs != nil {
		now.Ribs = o.Ribs
	}
	if o.Bends != nil {
		now.TestBends = o.Bends
	}
	if len(mistakes) == 0 {
		mistakes = append(mistakes, now.Check())
	}
	if err := errors.Join(mistakes...); err != nil {
		return err
	}
	*b, *u = now, units
	return nil
}

// unitsKey is the one key that is no part of the box.
const unitsKey = "units"

// enter checks one value and puts it where it belongs.
func enter(b *steambox.Box, u *measure.Units, key string, v any) error {
	if key == unitsKey {
		s, _ := v.(string)
		if !slices.Contains(measure.All, measure.Units(s)) {
			return fmt.Errorf("%s: %v is not one of %s", key, shown(v), strings.Join(texts(measure.All), ", "))
		}
		*u = measure.Units(s)
		return nil
	}
	o, ok := offered(key)
	if !ok {
		return fmt.Errorf("%s: there is no such key, or it is set in the configuration file only", key)
	}
	v, err := o.check(v)
	if err != nil {
		return err
	}
	o.put(b, v)
	return nil
}

// settingPage is what the page sets: it checks it, has the daemon take it, and keeps it
// in the data folder. It implements web.Settings.
type settingPage struct {
	daemon    *daemon.Daemon
	door      *door.Door
	data      string // its folder
	base      steambox.Box
	baseUnits measure.Units
	told      map[string]bool // keys that stand in the configuration file

	calibrator *calibrator // nil: none
	mu         sync.Mutex
	set        overlay
	last       string // id of the change that made it so
}

// withOverlay puts what was set on the page into the box that the daemon is to begin
// with. What can't be used is a trouble, and is left where it is.
func withOverlay(p *settingPage, b *steambox.Box, u *measure.Units) (trouble string) {
	p.base, p.baseUnits = *b, *u
	set, err := loadOverlay(p.data)
	if err == nil {
		err = set.apply(b, u)
	}
	if err != nil {
		return fmt.Sprintf("What was set on the page can't be used; what the configuration says is in use. %v", err)
	}
	p.set = set
	return ""
}

// List returns all that can be set, with what is in use.
func (p *settingPage) List() []web.Setting {
	p.mu.Lock()
	defer p.mu.Unlock()
	v := p.daemon.View()
	units := web.Setting{Key: unitsKey, Group: unitsKey, Says: "Units on the page", Kind: "word", Words: texts(measure.All), Value: string(v.Units), From: p.from(unitsKey)}
	out := []web.Setting{units}
	for i := range offers {
		s := offers[i].Setting
		s.Value, s.From = offers[i].get(v.Box), p.from(s.Key)
		out = append(out, s)
	}
	return out
}

// from says where the value of a key that is in use comes from.
func (p *settingPage) from(key string) string {
	if _, ok := p.set.Values[key]; ok {
		return "page"
	}
	if p.told[key] {
		return "file"
	}
	return "default"
}

// Set sets values by their keys; nil takes back what was set.
func (p *settingPage) Set(ctx context.Context, id string, values map[string]any) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	next := overlay{Values: maps.Clone(p.set.Values), Ribs: p.set.Ribs, Bends: p.set.Bends}
	if next.Values == nil {
		next.Values = map[string]any{}
	}
	var mistakes []string
	trial, tried := p.base, p.baseUnits
	for key, v := range values {
		switch _, known := offered(key); {
		case v == nil && (known || key == unitsKey):
			delete(next.Values, key)
		case key == "boiler.switch_l" && p.base.Boiler.SwitchL == 0:
			mistakes = append(mistakes, key+": no float switch is fitted; board.level in the configuration file names its line")
		default:
			if err := enter(&trial, &tried, key, v); err != nil {
				mistakes = append(mistakes, err.Error())
				continue
			}
			next.Values[key] = v
		}
	}
	if len(mistakes) > 0 {
		slices.Sort(mistakes)
		return &web.MistakesError{All: mistakes}
	}
	// What is in use now is what the next start makes of it: one key may go before another,
	// as a barometer does before a height.
	whole, units := p.base, p.baseUnits
	if err := next.apply(&whole, &units); err != nil {
		return &web.MistakesError{All: strings.Split(err.Error(), "\n")}
	}
	return p.take(ctx, id, next, units, func(b *steambox.Box) {
		for key := range values {
			if o, ok := offered(key); ok {
				o.carry(b, &whole)
			}
		}
	})
}

// take has the daemon take a change, and keeps it. One that the daemon has had before is
// kept only where nothing came after it.
func (p *settingPage) take(ctx context.Context, id string, next overlay, units measure.Units, change func(*steambox.Box)) error {
	taken := id == p.last
	err := p.daemon.Set(ctx, id, func(b *steambox.Box) error {
		taken = true
		change(b)
		if err := b.Check(); err != nil {
			return &web.MistakesError{All: strings.Split(err.Error(), "\n")}
		}
		return nil
	}, units)
	if err != nil && !errors.Is(err, daemon.ErrNotKept) {
		return err
	}
	if !taken {
		return err
	}
	p.set, p.last = next, id
	return errors.Join(err, next.keep(p.data))
}

// recalibrate puts what is on record of the probes in use.
func (p *settingPage) recalibrate(ctx context.Context, id string, kept calibration.Kept) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	kept.Apply(&p.base)
	return p.daemon.Set(ctx, id, func(b *steambox.Box) error {
		kept.Apply(b)
		return b.Check()
	}, p.daemon.View().Units)
}

// Calibrator returns what calibrates the probes; nil where nothing does.
func (p *settingPage) Calibrator() web.Calibrator {
	if p.calibrator == nil {
		return nil
	}
	return p.calibrator
}

// Ribs returns the rib table in use.
func (p *settingPage) Ribs() []byte {
	ribs := p.daemon.View().Box.Ribs
	rows := [][]string{{"rib", "length_mm", "thickness_mm", "width_mm", "station_mm", "stick", "boat", "bend", "meant"}}
	for _, r := range ribs {
		meant := ""
		if r.Meant {
			meant = "yes"
		}
		rows = append(rows, []string{
			r.Label, inMM(r.LengthM), inMM(r.ThicknessM), inMM(r.WidthM), inMM(r.StationM), r.Stick, r.Boat, r.Bend, meant,
		})
	}
	return asTable(rows)
}

// Bends returns the test bends in use.
func (p *settingPage) Bends() []byte {
	rows := [][]string{{"exposure_min", "outcome", "stick", "thickness_mm", "bend", "where"}}
	for _, b := range p.daemon.View().Box.TestBends {
		thickness := ""
		if b.ThicknessM > 0 {
			thickness = inMM(b.ThicknessM)
		}
		rows = append(rows, []string{
			strconv.FormatFloat(float64(b.Bend.Cool), 'g', -1, 64), string(b.Bend.Outcome), b.Stick, thickness, string(b.Bend.Difficulty), string(b.Bend.Where),
		})
	}
	return asTable(rows)
}

// inMM writes metres as millimetres, to the hundredth.
func inMM(m float64) string {
	return strconv.FormatFloat(math.Round(m*1e5)/100, 'f', -1, 64)
}

// asTable writes rows without the columns in which no row has anything.
func asTable(rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for _, row := range rows {
		var cells []string
		for column, cell := range row {
			if slices.ContainsFunc(rows[1:], func(r []string) bool { return r[column] != "" }) || column < 2 {
				cells = append(cells, cell)
			}
		}
		_ = w.Write(cells) // a buffer takes all
	}
	w.Flush()
	return b.Bytes()
}

// TablesSet reports which tables were set on the page.
func (p *settingPage) TablesSet() (ribs, bends bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.set.Ribs != nil, p.set.Bends != nil
}

// SetRibs puts a rib table in the place of the one in use; nil, the file's.
func (p *settingPage) SetRibs(ctx context.Context, id string, text []byte) (int, error) {
	if text == nil {
		return p.takeRibs(ctx, id, nil)
	}
	f, err := table.Read("ribs", bytes.NewReader(text), ribColumns)
	var ribs []steambox.Rib
	if err == nil {
		ribs, err = ribsOf(f, p.daemon.View().Box.Common)
	}
	if err == nil && len(ribs) == 0 {
		err = errors.New("ribs: no rib in it")
	}
	if err != nil {
		return 0, &web.MistakesError{All: strings.Split(err.Error(), "\n")}
	}
	return p.takeRibs(ctx, id, ribs)
}

func (p *settingPage) takeRibs(ctx context.Context, id string, ribs []steambox.Rib) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	next := p.set
	next.Ribs = ribs
	if ribs == nil {
		ribs = p.base.Ribs
	}
	return len(ribs), p.take(ctx, id, next, p.daemon.View().Units, func(b *steambox.Box) { b.Ribs = ribs })
}

// SetBends puts other test bends in the place of those in use; a table without any takes
// them all away, and nil puts back the file's.
func (p *settingPage) SetBends(ctx context.Context, id string, text []byte) (int, error) {
	if text == nil {
		return p.takeBends(ctx, id, nil)
	}
	f, err := table.Read("bends", bytes.NewReader(text), bendColumns)
	var sticks []triedStick
	if err == nil {
		sticks, err = sticksOf(f)
	}
	bends := []steambox.TestBend{}
	if err == nil {
		var told []steambox.TestBend
		told, err = byTheirHeat("bends", sticks)
		bends = append(bends, told...)
	}
	if err != nil {
		return 0, &web.MistakesError{All: strings.Split(err.Error(), "\n")}
	}
	return p.takeBends(ctx, id, bends)
}

func (p *settingPage) takeBends(ctx context.Context, id string, bends []steambox.TestBend) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	next := p.set
	next.Bends = bends
	if bends == nil {
		bends = p.base.TestBends
	}
	return len(bends), p.take(ctx, id, next, p.daemon.View().Units, func(b *steambox.Box) { b.TestBends = bends })
}
