// Package calibration keeps what calibrating the probes and surveying the box came
// to: dated records in the data folder, one small JSON file each. A new record
// never changes an old one, and what a newer one says of a probe counts.
package calibration

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"withy/cmd/withy/internal/onefile"
	"withy/sensor"
	"withy/steambox/calibrate"
	"withy/steambox/profile"
	"withy/steambox/unit"
)

// Record is what one walk through a calibration or a survey found. Only what was
// tried is set.
type Record struct {
	Made   time.Time `json:"made"` // by the board's clock; rising from record to record
	Bath   *Bath     `json:"bath,omitempty"`
	Steps  []Lag     `json:"steps,omitempty"`
	Survey *Survey   `json:"survey,omitempty"`
}

// Bath is what probes read together where the truth is known.
type Bath struct {
	calibrate.Truth
	Probes []calibrate.Offset `json:"probes"`
}

// Lag is how slowly one probe follows.
type Lag struct {
	ID   string  `json:"id"`
	TauS float64 `json:"tau_s"`
}

// Survey is what a probe carried along the box found. It holds for the box with
// these two probes in these places and these slots.
type Survey struct {
	SteamID     string         `json:"steam_id"`
	DoorID      string         `json:"door_id"`
	EndsM       [2]unit.Metre  `json:"ends_m"` // from the steam end's probe
	Carried     string         `json:"carried_id"`
	Knots       []profile.Knot `json:"knots"`
	ShareWithin []float64      `json:"share_within"` // half width of each knot's share
	Slots       []string       `json:"slots,omitempty"`
	OffsetsK    []float64      `json:"slot_offset_k,omitempty"` // one a slot
}

// check returns all that makes a record one not to be relied on.
func (r *Record) check() error {
	var errs []error
	if r.Made.IsZero() {
		errs = append(errs, errors.New("made: no date"))
	}
	if r.Bath == nil && len(r.Steps) == 0 && r.Survey == nil {
		errs = append(errs, errors.New("neither bath, steps nor survey"))
	}
	if r.Bath != nil {
		errs = append(errs, r.Bath.check())
	}
	for i, l := range r.Steps {
		errs = append(errs, checkID(l.ID), within(fmt.Sprintf("steps[%d].tau_s", i), l.TauS, 0, 120))
	}
	if r.Survey != nil {
		errs = append(errs, r.Survey.check())
	}
	return errors.Join(errs...)
}

// Between which levels water boils where boxes stand, at 50 to 110 kPa, °C.
const leastBoilC, mostBoilC = 81, 103

// check keeps what is read together with where it was read: a line through a boil that
// was none would be far off at 100 °C.
func (b *Bath) check() error {
	lo, hi, off := float64(leastBoilC), float64(mostBoilC), calibrate.MaxOffK
	var errs []error
	switch b.Place {
	case calibrate.Pot, calibrate.Box:
	case calibrate.Ice:
		lo, hi, off = 0, 0, calibrate.MaxIceOffK
	default:
		errs = append(errs, fmt.Errorf("bath.place: %q is not pot, box or ice", b.Place))
	}
	errs = append(errs, within("bath.true_c", float64(b.C), lo, hi))
	for i, p := range b.Probes {
		key := fmt.Sprintf("bath.probes[%d]", i)
		errs = append(errs, checkID(p.ID), within(key+".off_k", p.OffK, -off, off),
			within(key+".read_c", p.ReadC, lo-off, hi+off))
	}
	return errors.Join(errs...)
}

// checkID returns a mistake in the id of a probe. Those of a rehearsal have none, and go by
// their names, which are plain words.
func checkID(id string) error {
	if id != "" && strings.Trim(id, "abcdefghijklmnopqrstuvwxyz") == "" {
		return nil
	}
	return sensor.CheckProbe(id)
}

func (s *Survey) check() error {
	_, err := profile.New(profile.Shape{X: s.EndsM[:], Survey: s.Knots})
	errs := []error{err}
	if n := len(s.OffsetsK); n != len(s.Slots) {
		errs = append(errs, fmt.Errorf("survey.slot_offset_k: %d offsets for %d slots", n, len(s.Slots)))
	}
	for i, k := range s.OffsetsK {
		errs = append(errs, within(fmt.Sprintf("survey.slot_offset_k[%d]", i), k, -10, 10))
	}
	return errors.Join(errs...)
}

// within returns a mistake when a number is out of its range.
func within(key string, x, lo, hi float64) error {
	if x >= lo && x <= hi {
		return nil
	}
	return fmt.Errorf("%s: %g is outside %g to %g", key, x, lo, hi)
}

// folder is where the records lie in the data folder.
const folder = "calibration"

// Save keeps a record made at a moment: whole and on the card, or not at all. A
// clock that has gone back since the newest record doesn't make this one the
// older. It returns the file's name.
func Save(data string, r Record, at time.Time) (string, error) {
	kept, _ := Load(data) // a damaged one stands in nobody's way
	r.Made = at.UTC().Truncate(time.Second)
	if n := len(kept.all); n > 0 && !r.Made.After(kept.all[n-1].Made) {
		r.Made = kept.all[n-1].Made.Add(time.Second)
	}
	if err := r.check(); err != nil {
		return "", err
	}
	text, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return "", err
	}
	dir, err := makeFolder(data)
	if err != nil {
		return "", err
	}
	name := filepath.Join(dir, r.Made.Format("20060102T150405Z")+".json")
	return name, onefile.Write(name, append(text, '\n'), 0o644)
}

// Ready returns an error when nothing could be kept in a data folder, before anybody
// has stood at a pot for it. It makes the folder where there is none.
func Ready(data string) error {
	dir, err := makeFolder(data)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, "new-*")
	if err != nil {
		return err
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}

// Erase deletes all records of a data folder.
func Erase(data string) error { return os.RemoveAll(filepath.Join(data, folder)) }

// makeFolder makes the folder of the records and returns its path. The daemon may be
// another user than the one who calibrates, and must read them.
func makeFolder(data string) (string, error) {
	dir := filepath.Join(data, folder)
	return dir, os.MkdirAll(dir, 0o755)
}

// maxBytes is the largest file that is read as a record.
const maxBytes = 1 << 20

// Load reads the records of a data folder. One that is damaged is left out and
// told of in the error, with which the rest can be used all the same. A folder
// without records is not an error.
func Load(data string) (Kept, error) {
	dir := filepath.Join(data, folder)
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return Kept{}, nil
	}
	if err != nil {
		return Kept{}, err
	}
	var k Kept
	var errs []error
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".json") {
			continue
		}
		r, err := read(filepath.Join(dir, e.Name()))
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", filepath.Join(dir, e.Name()), err))
			continue
		}
		k.all = append(k.all, r)
	}
	slices.SortStableFunc(k.all, func(a, b Record) int { return a.Made.Compare(b.Made) })
	return k, errors.Join(errs...)
}

func read(name string) (Record, error) {
	info, err := os.Stat(name)
	if err != nil {
		return Record{}, err
	}
	if info.Size() > maxBytes {
		return Record{}, fmt.Errorf("%d MiB; a record has at most 1 MiB", info.Size()>>20)
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return Record{}, err
	}
	var r Record
	if err := json.Unmarshal(text, &r); err != nil {
		return Record{}, err
	}
	return r, r.check()
}
