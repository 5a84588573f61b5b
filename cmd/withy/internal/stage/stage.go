// Package stage is the world behind a rehearsal: the settings of its box, and the
// box that does what anybody tells the daemon.
package stage

import (
	"cmp"
	"context"
	"log/slog"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"withy/sensor/rehearsed"
	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/rehearsal"
	"withy/steambox/soak"
	"withy/steambox/window"
)

// Settings is the configuration that a builder with the rehearsal's box would
// write.
func Settings(w *rehearsal.World) steambox.Box {
	b := steambox.DefaultBox()
	boat, plate := rehearsal.TheBoat(), w.Boiler()
	b.Name, b.Boat, b.Rehearsal = boat.Shop, boat.Name, true
	b.LengthM, b.PressurePa, b.Measured = float64(w.Length()), w.AmbientPa(), true
	shop := math.Round(10*float64(w.ShopC())) / 10 // as a thermometer on the wall says it
	b.ShopC, b.WoodC = shop, shop
	for _, p := range w.Probes() {
		b.Probes = append(b.Probes, steambox.BoxProbe{Name: p.Name, XM: float64(p.X), LagS: 10, Calibrated: w.Calibrated()})
	}
	b.Boiler.PowerW, b.Boiler.FullL, b.Boiler.SwitchL, b.Boiler.Gas = plate.PowerW, plate.CapacityL, plate.LevelL, plate.Kind == "gas"
	b.Boiler.BareL = min(b.Boiler.BareL, plate.LevelL/2)
	b.TestBends = testBends(w, boat.Stick)
	for _, r := range rehearsal.Plan() {
		b.Ribs = append(b.Ribs, steambox.Rib{
			Label: r.Label, LengthM: float64(r.Length), ThicknessM: float64(r.Thickness), WidthM: float64(r.Width),
			StationM: float64(r.Station), Bend: string(r.Bend), Stick: r.Stick,
		})
	}
	return b
}

// tried are the test bends that the builder made the day before, in minutes at
// 100 °C: three in one firing and two more.
var tried = []soak.Exposure{1.4, 2.6, 5, 3.6, 8}

// tight is the share of the window that the tightest bend of a boat, at which test
// pieces are bent, loses at either side.
const tight = 0.2

// testBends is how they came out of the hidden window, each as most pieces would.
func testBends(w *rehearsal.World, stick string) []steambox.TestBend {
	hidden, ok := w.Window(stick)
	if !ok {
		return nil
	}
	loses := tight * (hidden.LnOver - hidden.LnSoft)
	var out []steambox.TestBend
	for _, e := range tried {
		outcome := window.Supple
		switch ln := math.Log(float64(e)); {
		case ln < hidden.LnSoft+loses:
			outcome = window.Stiff
		case ln > hidden.LnOver-loses:
			outcome = window.Cracked
		}
		out = append(out, steambox.TestBend{Stick: stick, Bend: window.Bend{Cool: e, Hot: e, Outcome: outcome, Difficulty: window.Hard}})
	}
	return out
}

// Stage is the rehearsal's world behind the daemon: what anybody tells the daemon
// happens to it too, and it is kept so that a killed rehearsal can go on.
type Stage struct {
	box  *rehearsed.Box
	file string
	log  *slog.Logger
	mu   sync.Mutex // one writer of the file at a time
}

// New returns the stage of a box, kept in a file.
func New(box *rehearsed.Box, file string, log *slog.Logger) *Stage {
	return &Stage{box: box, file: file, log: log}
}

// Follow does to the box what was told.
func (s *Stage) Follow(e steambox.Event) {
	var err error
	switch e.Kind {
	case steambox.Loaded:
		err = s.load(e)
	case steambox.Pulled:
		err = s.box.Pull(slotIndex(e.Slot))
	case steambox.Refilled:
		s.refill(e)
	case steambox.Heat:
		s.box.SetFire(e.On)
	default:
		return
	}
	if err != nil {
		s.log.Warn("the rehearsal box would not", "kind", string(e.Kind), "err", err)
	}
	s.keep()
}

// Carry carries the tips of the probes to where they are calibrated, "" back to their
// ends.
func (s *Stage) Carry(place calibrate.Place) {
	s.box.CarryTips(map[calibrate.Place]rehearsal.Tips{
		calibrate.Pot: rehearsal.InAPot, calibrate.Box: rehearsal.TiedInTheBox, calibrate.Ice: rehearsal.InIce, calibrate.Steam: rehearsal.IntoSteam,
	}[place])
}

// slotIndex counts a slot's letter from A.
func slotIndex(letter string) int { return int(strings.ToUpper(letter)[0] - 'A') }

func (s *Stage) load(e steambox.Event) error {
	plan := rehearsal.Plan()
	i := slices.IndexFunc(plan, func(r rehearsal.Rib) bool { return r.Label == e.Rib })
	if i < 0 {
		i = 0
		plan[i].Label = e.Rib
	}
	s.box.Discard(e.Rib) // another boat's rib has the same number
	return s.box.Load(slotIndex(e.Slot), plan[i])
}

// pouredC is how hot a kettle that has boiled still is over the funnel, °C (common
// practice, no source).
const pouredC = 96

// refill pours what was told, boiling unless told otherwise.
func (s *Stage) refill(e steambox.Event) {
	s.box.Refill(cmp.Or(e.Litres, s.box.Fitter().PourL), cmp.Or(e.TempC, pouredC))
}

// saveEvery is how often the box is kept.
const saveEvery = 5 * time.Second

// Keep keeps the box every so often until ctx is done.
func (s *Stage) Keep(ctx context.Context) {
	tick := time.NewTicker(saveEvery)
	defer tick.Stop()
	defer s.keep()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			s.keep()
		}
	}
}

// keep writes the box to its file, whole or not at all.
func (s *Stage) keep() {
	s.mu.Lock()
	defer s.mu.Unlock()
	text, err := s.box.Save()
	if err == nil {
		if err = os.WriteFile(s.file+".new", text, 0o600); err == nil {
			err = os.Rename(s.file+".new", s.file)
		}
	}
	if err != nil {
		s.log.Warn("the rehearsal box can't be kept", "err", err)
	}
}
