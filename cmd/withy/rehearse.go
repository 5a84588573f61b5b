package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/crew"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/sensor/rehearsed"
	"withy/steambox/rehearsal"
)

// rehearseFlags are the verb's flags.
type rehearseFlags struct {
	data, listen, scenario, shop string
	seed                         uint64
	speed                        float64
	alone                        bool
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
	around, err := readShop(f.shop)
	if err != nil {
		return err
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
	units, err := f.units.choose("")
	if err != nil {
		return err
	}
	behind := stage.New(box, filepath.Join(f.data, worldFile), log)
	settings, told := &settingPage{data: f.data}, stage.Settings(world)
	if trouble := withOverlay(settings, &told, &units); trouble != "" {
		troubles = append(troubles, trouble)
	}
	d, err := daemon.New(daemon.Options{
		Box: told, Source: box, Record: rec, Units: units, Speed: f.speed, Troubles: troubles,
		Done: behind.Follow, Log: log,
	})
	if err != nil {
		return err
	}
	url := "http://" + listener.Addr().String()
	fmt.Fprintf(cmd.OutOrStdout(), "Rehearsal %q, %g times as fast as life. The page is at %s/\nStop with Ctrl-C.\n", f.scenario, f.speed, url)
	beside := []func(context.Context){behind.Keep}
	if !f.alone {
		beside = append(beside, func(ctx context.Context) { crew.New(url, box, log).Run(ctx, f.glance()) })
	}
	return serve(cmd.Context(), d, settings, listener, nil, around, log, beside...)
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
