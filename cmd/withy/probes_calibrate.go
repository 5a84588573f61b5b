package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/calibration"
	"withy/sensor"
	"withy/steambox/calibrate"
	"withy/steambox/words"
)

// calibrateFlags are the flags of the verb.
type calibrateFlags struct {
	limits           limits
	config, data     string
	also             []string
	inBox, ice, step *bool
	pressurePa       *float64
	timeout          *time.Duration
	units            unitsFlag
}

func newCalibrate() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "calibrate --config FILE",
		Short: "Find out how far the probes are off, in boiling water",
		Long: "Walks through it: the tips of all probes tied together in an open pot at a rolling boil, or\n" +
			"(--in-box) at rib height in the last minutes of warm-up. It waits until they rest, takes the boiling\n" +
			"point at the station's pressure, and keeps what is to be added to each as a dated record in the data\n" +
			"folder, which goes before the configuration from the next start on. No key need be pressed: it\n" +
			"sees where the tips are by what they read. --ice comes before the pot, --step after it; each is kept as\n" +
			"soon as it is done. What can't be true of sound probes is not kept.",
		Example: "  withy probes calibrate --config /etc/withy/withy.yaml\n" +
			"  withy probes calibrate --config withy.yaml --pressure-pa 99800 --ice --step",
		Args: cobra.NoArgs,
	}
	f := &calibrateFlags{limits: limits{flags: cmd.Flags()}}
	configFlag(cmd, &f.config)
	cmd.Flags().StringVar(&f.data, "data", "", "folder of the record; not given: what the configuration says")
	cmd.Flags().StringSliceVar(&f.also, "probe", nil, "id of a probe beside those of the configuration, such as one for a survey")
	f.inBox = cmd.Flags().Bool("in-box", false, "in the box instead of a pot: air among the steam makes it less exact")
	f.ice = cmd.Flags().Bool("ice", false, "in melting ice first")
	f.step = cmd.Flags().Bool("step", false, "afterwards from the shed's air into steam: how slowly they follow")
	f.pressurePa = f.limits.number("pressure-pa", 101325, 50e3, 110e3, "air pressure here, pascal, by a barometer; not given: what the configuration says")
	f.timeout = cmd.Flags().Duration("timeout", 45*time.Minute, "longest that each of these may take (1s to 6h)")
	f.units = newUnitsFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error { return f.run(cmd) }
	return cmd
}

func (f *calibrateFlags) run(cmd *cobra.Command) error {
	s, err := readSettings(f.config, f.data)
	units, wrong := f.units.choose(s.Units)
	err = errors.Join(err, wrong, f.limits.check(), extraProbes(s, f.also), checkLasts("timeout", *f.timeout, time.Second, 6*time.Hour))
	if err != nil {
		return err
	}
	if err := s.weather(); err != nil {
		fmt.Fprintln(cmd.ErrOrStderr(), words.NoBarometer(err))
	}
	truth, err := f.truth(s)
	if err != nil {
		return err
	}
	if err := calibration.Ready(s.Data); err != nil {
		return fmt.Errorf("--data %s: %w", s.Data, err)
	}
	ids := slices.Concat(s.Sensors.Probes, f.also)
	board, err := sensor.NewBoard(walkBoard(s, ids), slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	defer board.Close()
	w := calibrating{
		watch: newWatch(board, cmd.OutOrStdout(), probeNames(s, ids), *f.timeout, units),
		ids:   ids, data: s.Data, now: time.Now, truth: truth, ice: *f.ice, step: *f.step,
	}
	return w.run(cmd.Context())
}

// truth is the boiling point here.
func (f *calibrateFlags) truth(s settings) (calibrate.Truth, error) {
	place := calibrate.Pot
	if *f.inBox {
		place = calibrate.Box
	}
	if f.limits.flags.Changed("pressure-pa") {
		return calibrate.Boiling(place, *f.pressurePa, calibrate.Barometer)
	}
	return truthAt(place, &s.Box)
}

// probeNames are what people call the probes; those the configuration doesn't name go by
// their ids.
func probeNames(s settings, ids []string) []string {
	names := slices.Clone(ids)
	for i := range s.Box.Probes {
		names[i] = s.Box.Probes[i].Name
	}
	return names
}

// calibrating is a calibration under way.
type calibrating struct {
	*watch
	ids       []string
	data      string // where the records go
	now       func() time.Time
	truth     calibrate.Truth
	ice, step bool
}

// run walks through what was asked for. Each part is kept as soon as it is done.
func (w *calibrating) run(ctx context.Context) error {
	if w.ice {
		if err := w.bathe(ctx, calibrate.Melting()); err != nil {
			return err
		}
	}
	if err := w.bathe(ctx, w.truth); err != nil {
		return err
	}
	if w.step {
		return w.follow(ctx)
	}
	return nil
}

// bathe waits until the probes rest in one place, and keeps how far each is off.
func (w *calibrating) bathe(ctx context.Context, t calibrate.Truth) error {
	for _, says := range append(words.BathCautions(t), words.Bath(t, w.units)) {
		fmt.Fprintln(w.out, says)
	}
	bath, err := w.atRest(ctx, t)
	if err != nil {
		return w.explain(ctx, err)
	}
	for _, d := range bath.Doubts() {
		fmt.Fprintln(w.out, words.Doubt(t, d, w.nameOf(d.ID), w.units))
	}
	if bath.State() == calibrate.Doubted {
		fmt.Fprintln(w.out, words.NothingKept)
		return errWrong
	}
	if err := w.print(bath.Offsets()); err != nil {
		return err
	}
	if err := w.keep(w.data, calibration.Record{Bath: &calibration.Bath{Truth: t, Probes: bath.Offsets()}}, w.now()); err != nil {
		return err
	}
	fmt.Fprintln(w.out, words.Bathed(t))
	return nil
}

// atRest waits until the probes rest, near where they should be.
func (w *calibrating) atRest(ctx context.Context, t calibrate.Truth) (*calibrate.Bath, error) {
	w.stage()
	bath, told := calibrate.NewBath(t, w.ids, w.limitS), false
	for bath.State() == calibrate.Watched {
		if err := w.next(ctx, calibrate.Calm); err != nil {
			return nil, err
		}
		bath.Take(momentOf(w.atS, w.latest, w.door))
		if bath.Away() && !told {
			told = true
			fmt.Fprintln(w.out, words.NotThere(t))
		}
	}
	return bath, nil
}

// momentOf is what probes and the door say, for a bath.
func momentOf(atS float64, probes []sensor.Reading, door sensor.Contact) calibrate.Moment {
	m := calibrate.Moment{AtS: atS, DoorOpen: door == sensor.Open}
	for _, r := range probes {
		m.Said = append(m.Said, calibrate.Said{Sample: calibrate.Sample{AtS: r.At.Seconds(), C: float64(r.Temp)}, Silent: r.Fault != nil})
	}
	return m
}

func (w *calibrating) nameOf(id string) string {
	if i := slices.Index(w.ids, id); i >= 0 {
		return w.names[i]
	}
	return ""
}

func (w *calibrating) print(offsets []calibrate.Offset) error {
	table := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
	for i, o := range offsets {
		fmt.Fprintf(table, "%s\tread %s\tadd %s\t(for the mean of all: %s)\n", w.names[i],
			w.units.Temperature(o.ReadC, 2), w.units.Offset(o.OffK, 2), w.units.Offset(o.BesideK, 2))
	}
	return table.Flush()
}

// follow watches the probes go from the shed's air into steam, and keeps how slowly
// each follows.
func (w *calibrating) follow(ctx context.Context) error {
	fmt.Fprintln(w.out, words.StepNow)
	w.stage()
	step := calibrate.NewBath(calibrate.Truth{Place: calibrate.Steam}, w.ids, w.limitS)
	for step.State() == calibrate.Watched {
		if err := w.next(ctx, calibrate.Arrived); err != nil {
			return w.explain(ctx, err)
		}
		step.Take(momentOf(w.atS, w.latest, w.door))
	}
	for i, f := range step.Steps() {
		fmt.Fprintln(w.out, words.Lag(w.names[i], f.Step, f.Err))
	}
	lags := lagsOf(step)
	if len(lags) == 0 {
		fmt.Fprintln(w.out, words.NothingKept)
		return errWrong
	}
	if err := w.keep(w.data, calibration.Record{Steps: lags}, w.now()); err != nil {
		return err
	}
	if len(lags) < len(w.names) {
		return errWrong
	}
	return nil
}

// lagsOf returns the lags that a step has shown.
func lagsOf(step *calibrate.Bath) []calibration.Lag {
	var out []calibration.Lag
	for _, f := range step.Steps() {
		if f.Err == nil {
			out = append(out, calibration.Lag{ID: f.ID, TauS: f.TauS})
		}
	}
	return out
}
