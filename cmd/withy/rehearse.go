package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/crew"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/stage"
	"withy/sensor/rehearsed"
	"withy/steambox/rehearsal"
	"withy/steambox/words"
)

// rehearseFlags are the verb's flags.
type rehearseFlags struct {
	data, listen, scenario, shop string
	seed                         uint64
	speed                        float64
	alone                        bool
	hosts                        []string
	tls                          string
	units                        unitsFlag
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
	cmd.Flags().StringSliceVar(&f.hosts, "hosts", nil, "names that the page is asked for by, beyond this machine")
	cmd.Flags().StringVar(&f.tls, "tls", tlsOwn, "own: beyond this machine by a certificate of its own; off: not at all")
	cmd.Flags().StringVar(&f.scenario, "scenario", "good", "what happens; list names them")
	cmd.Flags().Uint64Var(&f.seed, "seed", 9, "which of the boxes, boilers, sticks and crews")
	cmd.Flags().Float64Var(&f.speed, "speed", 20, fmt.Sprintf("how many times as fast as life (more than 0, at most %d)", rehearsed.MaxSpeed))
	cmd.Flags().BoolVar(&f.alone, "alone", false, "no crew: you load and pull, on the page")
	cmd.Flags().StringVar(&f.shop, "shop", "", "a configuration file whose shop: names several rehearsals, to be seen together at /shop")
	f.units = newUnitsFlag(cmd)
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
	_, err := f.units.choose("")
	errs := []error{err}
	known := func(s rehearsal.Scenario) bool { return s.Name == f.scenario }
	if !slices.ContainsFunc(rehearsal.Scenarios(), known) {
		errs = append(errs, fmt.Errorf("--scenario %q: not one of them; --scenario list names them", f.scenario))
	}
	if !(f.speed > 0 && f.speed <= rehearsed.MaxSpeed) {
		errs = append(errs, fmt.Errorf("--speed %g: more than 0, at most %d", f.speed, rehearsed.MaxSpeed))
	}
	for _, m := range f.page().mistakes() {
		errs = append(errs, fmt.Errorf("--%s: %s", m.key, m.says))
	}
	return errors.Join(errs...)
}

// page is how the page is served.
func (f *rehearseFlags) page() pageConfig {
	return pageConfig{Listen: f.listen, Hosts: f.hosts, TLS: f.tls}
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
	around, err := readShop(f.shop)
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	entrance, troubles, err := openEntrance(f.page(), f.data, log)
	if err != nil {
		return err
	}
	defer entrance.Close()
	rec, unkept := openRecord(f.data, log)
	troubles = append(troubles, unkept...)
	if rec != nil {
		defer rec.Close()
	}
	box, world, err := f.box()
	if err != nil {
		return err
	}
	defer box.Close()
	units, err := f.units.choose("")
	if err != nil {
		return err
	}
	behind := stage.New(box, filepath.Join(f.data, worldFile), log)
	settings, told := &settingPage{data: f.data}, stage.Settings(world)
	kept, damaged := calibration.Load(f.data)
	kept.Apply(&told)
	if damaged != nil {
		troubles = append(troubles, words.DamagedCalibration(damaged))
	}
	calibrator := newCalibrator(box, settings)
	calibrator.carry = behind.Carry
	if trouble := withOverlay(settings, &told, &units); trouble != "" {
		troubles = append(troubles, trouble)
	}
	d, err := daemon.New(daemon.Options{
		Box: told, Source: calibrator, Record: rec, Unkept: rec == nil, Units: units, Speed: f.speed, Troubles: troubles,
		Done: behind.Follow, Log: log,
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "Rehearsal %q, %g times as fast as life. The page is at %s\n", f.scenario, f.speed, entrance.url)
	if !f.page().local() {
		fmt.Fprintf(cmd.OutOrStdout(), "To pair a phone: withy pair --data %s\n", f.data)
	}
	fmt.Fprintln(cmd.OutOrStdout(), "Stop with Ctrl-C.")
	beside := []func(context.Context){behind.Keep, calibrator.Run, tend(rec, logConfig{}, log)}
	if !f.alone {
		beside = append(beside, func(ctx context.Context) { f.crew(entrance, box, log).Run(ctx, f.glance()) })
	}
	return serve(cmd.Context(), d, settings, entrance, around, log, beside...)
}

// crew is the rehearsal's fitter. Beyond this machine it comes in by the socket, as the
// verbs do.
func (f *rehearseFlags) crew(e *entrance, box *rehearsed.Box, log *slog.Logger) *crew.Crew {
	if f.page().local() {
		return crew.New(http.DefaultClient, strings.TrimSuffix(e.url, "/"), box, log)
	}
	return crew.New(door.Client(f.data), "http://box", box, log)
}

// glance is how often the crew looks at the box: twice a second of its time, but
// no more than a hundred times a second of ours.
func (f *rehearseFlags) glance() time.Duration {
	return max(10*time.Millisecond, time.Duration(float64(500*time.Millisecond)/f.speed))
}

// worldFile is where a rehearsal keeps its box in the data folder.
const worldFile = "rehearsal-box.json"

// box returns the box that the data folder holds, if it is of this
// scenario: a killed rehearsal goes on. Else it makes one.
func (f *rehearseFlags) box() (*rehearsed.Box, *rehearsal.World, error) {
	world, err := rehearsal.New(f.scenario, f.seed)
	if err != nil {
		return nil, nil, err
	}
	text, err := os.ReadFile(filepath.Join(f.data, worldFile))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		box, err := rehearsed.New(world, f.boot()+fmt.Sprint(time.Now().UnixMilli()), f.speed)
		return box, world, err
	case err != nil:
		return nil, nil, err
	}
	box, err := rehearsed.Load(text, f.speed)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", filepath.Join(f.data, worldFile), err)
	}
	if !strings.HasPrefix(box.Boot(), f.boot()) {
		return nil, nil, fmt.Errorf("--scenario %s --seed %d: %s holds a rehearsal of %q, or of another seed; take another --data", f.scenario, f.seed, f.data, box.Scenario())
	}
	return box, world, nil
}

// boot begins the boot id of a rehearsal of this scenario and seed.
func (f *rehearseFlags) boot() string { return fmt.Sprintf("rehearsal-%s-%d-", f.scenario, f.seed) }
