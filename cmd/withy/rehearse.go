package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/crew"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/sensor/rehearsed"
	"withy/steambox"
	"withy/steambox/rehearsal"
	"withy/steambox/soak"
)

// rehearseFlags are the verb's flags.
type rehearseFlags struct {
	data, listen, scenario string
	seed                   uint64
	speed                  float64
	alone                  bool
}

func newRehearse() *cobra.Command {
	var f rehearseFlags
	cmd := &cobra.Command{
		Use:   "rehearse",
		Short: "The same program on a rehearsal box: no hardware, no configuration",
		Long: "Runs the daemon on a box that is reckoned instead of built: boiler, steam, leaks, door, wood and\n" +
			"a crew of one. Prints where the page is. What you press on the page happens in the box too.",
		Example: "  withy rehearse\n  withy rehearse --scenario boils-dry --speed 60\n  withy rehearse --scenario list",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if f.scenario == "list" {
				return listScenarios(cmd)
			}
			return f.run(cmd)
		},
	}
	cmd.Flags().StringVar(&f.data, "data", "", "folder of the record; not given: one that is thrown away")
	cmd.Flags().StringVar(&f.listen, "listen", defaultListen, "where the page is served, HOST:PORT")
	cmd.Flags().StringVar(&f.scenario, "scenario", "good", "what happens; list names them")
	cmd.Flags().Uint64Var(&f.seed, "seed", 9, "which of the boxes, boilers, sticks and crews")
	cmd.Flags().Float64Var(&f.speed, "speed", 20, fmt.Sprintf("how many times as fast as life (more than 0, at most %d)", rehearsed.MaxSpeed))
	cmd.Flags().BoolVar(&f.alone, "alone", false, "no crew: you load and pull, on the page")
	return cmd
}

// defaultListen is where the page is when nothing else is said: this machine only.
const defaultListen = "127.0.0.1:8017"

func listScenarios(cmd *cobra.Command) error {
	w := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
	for _, s := range rehearsal.Scenarios() {
		fmt.Fprintf(w, "%s\t%s\n", s.Name, s.What)
	}
	return w.Flush()
}

func (f *rehearseFlags) check() error {
	var errs []error
	known := func(s rehearsal.Scenario) bool { return s.Name == f.scenario }
	if !slices.ContainsFunc(rehearsal.Scenarios(), known) {
		errs = append(errs, fmt.Errorf("--scenario %q: not one of them; --scenario list names them", f.scenario))
	}
	if !(f.speed > 0 && f.speed <= rehearsed.MaxSpeed) {
		errs = append(errs, fmt.Errorf("--speed %g: more than 0, at most %d", f.speed, rehearsed.MaxSpeed))
	}
	if _, _, err := net.SplitHostPort(f.listen); err != nil {
		errs = append(errs, fmt.Errorf("--listen %q: HOST:PORT, such as %s", f.listen, defaultListen))
	}
	return errors.Join(errs...)
}

func (f *rehearseFlags) run(cmd *cobra.Command) error {
	if err := f.check(); err != nil {
		return err
	}
	if f.data == "" {
		dir, err := os.MkdirTemp("", "withy-rehearsal-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		f.data = dir
	}
	log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	listener, err := listen(f.listen)
	if err != nil {
		return err
	}
	defer listener.Close()
	rec, troubles := openRecord(f.data, log)
	if rec != nil {
		defer rec.Close()
	}
	box, world, err := f.box()
	if err != nil {
		return err
	}
	defer box.Close()
	stage := &stage{box: box, file: filepath.Join(f.data, worldFile), log: log}
	d, err := daemon.New(daemon.Options{
		Box: rehearsalBox(world), Source: box, Record: rec, Speed: f.speed, Troubles: troubles,
		Done: stage.follow, Log: log,
	})
	if err != nil {
		return err
	}
	url := "http://" + listener.Addr().String()
	fmt.Fprintf(cmd.OutOrStdout(), "Rehearsal %q, %g times as fast as life. The page is at %s/\nStop with Ctrl-C.\n", f.scenario, f.speed, url)
	beside := []func(context.Context){stage.save}
	if !f.alone {
		beside = append(beside, func(ctx context.Context) { crew.New(url, box, log).Run(ctx, f.glance()) })
	}
	return serve(cmd.Context(), d, listener, nil, log, beside...)
}

// glance is how often the crew looks at the box: twice a second of its time, but
// no more than a hundred times a second of ours.
func (f *rehearseFlags) glance() time.Duration {
	return max(10*time.Millisecond, time.Duration(float64(500*time.Millisecond)/f.speed))
}

// worldFile is where a rehearsal keeps its box in the data folder.
const worldFile = "rehearsal-box.json"

// box returns the box that the data folder holds, of the same scenario and seed
// or not: a killed rehearsal goes on. Else it makes one.
func (f *rehearseFlags) box() (*rehearsed.Box, *rehearsal.World, error) {
	world, err := rehearsal.New(f.scenario, f.seed)
	if err != nil {
		return nil, nil, err
	}
	text, err := os.ReadFile(filepath.Join(f.data, worldFile))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		boot := fmt.Sprintf("rehearsal-%s-%d-%d", f.scenario, f.seed, time.Now().UnixMilli())
		box, err := rehearsed.New(world, boot, f.speed)
		return box, world, err
	case err != nil:
		return nil, nil, err
	}
	box, err := rehearsed.Load(text, f.speed)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", filepath.Join(f.data, worldFile), err)
	}
	if box.Scenario() != f.scenario {
		return nil, nil, fmt.Errorf("--scenario %s: %s holds a rehearsal of %q; take another --data", f.scenario, f.data, box.Scenario())
	}
	return box, world, nil
}

// rehearsalBox is the configuration that a builder with the rehearsal's box would
// write.
func rehearsalBox(w *rehearsal.World) steambox.Box {
	b := steambox.DefaultBox()
	boat, plate := rehearsal.TheBoat(), w.Boiler()
	b.Name, b.Boat, b.Rehearsal = boat.Shop, boat.Name, true
	b.LengthM, b.PressurePa, b.Measured = float64(w.Length()), w.AmbientPa(), true
	b.ShopC, b.WoodC = float64(w.ShopC()), float64(w.ShopC())
	for _, p := range w.Probes() {
		b.Probes = append(b.Probes, steambox.BoxProbe{Name: p.Name, XM: float64(p.X), LagS: 10, Calibrated: w.Calibrated()})
	}
	b.Boiler.PowerW, b.Boiler.FullL, b.Boiler.SwitchL, b.Boiler.Gas = plate.PowerW, plate.CapacityL, plate.LevelL, plate.Kind == "gas"
	b.Boiler.BareL = min(b.Boiler.BareL, plate.LevelL/2)
	b.Window = testBends(w, boat.Stick)
	for _, r := range rehearsal.Plan() {
		b.Ribs = append(b.Ribs, steambox.Rib{
			Label: r.Label, LengthM: float64(r.Length), ThicknessM: float64(r.Thickness), WidthM: float64(r.Width),
			StationM: float64(r.Station), Bend: string(r.Bend), Stick: r.Stick,
		})
	}
	return b
}

// testBends is the window that the builder found with test bends the day before:
// the stick's own, with the target a quarter above what is soft.
func testBends(w *rehearsal.World, stick string) steambox.Window {
	found := steambox.DefaultBox().Window
	if hidden, ok := w.Window(stick); ok {
		found.Soft, found.Over = soak.Exposure(math.Exp(hidden.LnSoft)), soak.Exposure(math.Exp(hidden.LnOver))
		found.Target = min(1.25*found.Soft, (found.Soft+found.Over)/2)
	}
	return found
}

// stage is the rehearsal's world behind the daemon: what anybody tells the daemon
// happens to it too, and it is kept so that a killed rehearsal can go on.
type stage struct {
	box  *rehearsed.Box
	file string
	log  *slog.Logger
	mu   sync.Mutex // one writer of the file at a time
}

// follow does to the box what was told.
func (s *stage) follow(e steambox.Event) {
	var err error
	switch e.Kind {
	case steambox.Loaded:
		err = s.load(e)
	case steambox.Pulled:
		err = s.box.Pull(slotIndex(e.Slot))
	case steambox.Refilled:
		err = s.refill(e)
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

// slotIndex counts a slot's letter from A.
func slotIndex(letter string) int { return int(strings.ToUpper(letter)[0] - 'A') }

func (s *stage) load(e steambox.Event) error {
	plan := rehearsal.Plan()
	i := slices.IndexFunc(plan, func(r rehearsal.Rib) bool { return r.Label == e.Rib })
	if i < 0 {
		i = 0
		plan[i].Label = e.Rib
	}
	return s.box.Load(slotIndex(e.Slot), plan[i])
}

// refill pours what was told, boiling unless told otherwise.
func (s *stage) refill(e steambox.Event) error {
	fitter := s.box.Fitter()
	litres, c := e.Litres, e.TempC
	if litres == 0 {
		litres = fitter.PourL
	}
	if c == 0 {
		c = 96
	}
	s.box.Refill(litres, c)
	return nil
}

// saveEvery is how often the box is kept.
const saveEvery = 5 * time.Second

// save keeps the box every so often until ctx is done.
func (s *stage) save(ctx context.Context) {
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
func (s *stage) keep() {
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

// openRecord opens the record; without one the watch goes on and people are told.
func openRecord(dir string, log *slog.Logger) (*record.Record, []string) {
	rec, err := record.Open(dir)
	if err == nil {
		return rec, nil
	}
	log.Warn("no record is kept", "data", dir, "err", err)
	return nil, []string{"No record is kept: " + recordTrouble(err)}
}

// recordTrouble says what is wrong with the record in a sentence for people.
func recordTrouble(err error) string {
	switch {
	case errors.Is(err, record.ErrNewer):
		return "it was written by a newer version of this program."
	case errors.Is(err, record.ErrDamaged):
		return "its file is damaged."
	case errors.Is(err, record.ErrUnwritable):
		return "its folder can't be written to."
	}
	return "its folder can't be used."
}
