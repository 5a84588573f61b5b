package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/calibration"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/unit"
	"withy/steambox/words"
)

// surveyFlags are the flags of the verb.
type surveyFlags struct {
	config, data   string
	probe, at      *string
	slots          *bool
	slotAt         *float64
	limits         limits
	timeout, carry *time.Duration
	units          unitsFlag
}

func newSurvey() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "survey --config FILE --at-mm 300,600,900",
		Short: "Find out how the air changes along the box, with a third probe carried through it",
		Long: "For a box with two probes, hot and steady. At each place, measured from the steam end's probe, it waits\n" +
			"until the carried probe and both ends rest, and takes how far the air there stands from the one\n" +
			"end's temperature to the other's. With --slots it then asks for each slot, half way along the box or at\n" +
			"--slot-at-mm, and takes how much hotter or cooler it is. All three probes must have been calibrated,\n" +
			"and the ends must differ by more than they can tell. The result is kept as a dated record and goes\n" +
			"before the configuration's survey from the next start on.",
		Example: "  withy probes survey --config /etc/withy/withy.yaml --at-mm 300,600,900,1200 --slots",
		Args:    cobra.NoArgs,
	}
	f := &surveyFlags{limits: limits{flags: cmd.Flags()}}
	configFlag(cmd, &f.config)
	cmd.Flags().StringVar(&f.data, "data", "", "folder of the record; not given: what the configuration says")
	f.at = cmd.Flags().String("at-mm", "", "places from the steam end's probe, rising, mm, such as 300,600,900")
	_ = cmd.MarkFlagRequired("at-mm") // fails only for a flag that does not exist
	f.probe = cmd.Flags().String("probe", "", "id of the carried probe; not given: the one on the board that the configuration doesn't name")
	f.slots = cmd.Flags().Bool("slots", false, "each slot too")
	f.slotAt = f.limits.number("slot-at-mm", 0, 0, 20000, "where along a slot, mm; 0: half way between the probes")
	f.carry = cmd.Flags().Duration("carry", time.Minute, "time to get to the next place where nobody can press Enter (1s to 1h)")
	f.timeout = cmd.Flags().Duration("timeout", 30*time.Minute, "longest that each place may take (1s to 6h)")
	f.units = newUnitsFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error { return f.run(cmd) }
	return cmd
}

func (f *surveyFlags) run(cmd *cobra.Command) error {
	s, err := readSettings(f.config, f.data)
	if err != nil {
		return errors.Join(err, f.check())
	}
	atM, err1 := f.places(s)
	id, err2 := f.carried(s)
	var err3 error
	s.Units, err3 = f.units.choose(s.Units)
	if err := errors.Join(f.check(), err1, err2, err3); err != nil {
		return err
	}
	ids := append(slices.Clone(s.Sensors.Probes), id)
	kept, _ := calibration.Load(s.Data) // the damaged ones are told of below
	lines, missing := linesOf(s, kept, ids)
	if s.Damaged != nil {
		fmt.Fprintln(cmd.ErrOrStderr(), words.DamagedCalibration(s.Damaged))
	}
	if len(missing) > 0 {
		fmt.Fprintln(cmd.OutOrStdout(), words.SurveyNeeds(missing))
		return errWrong
	}
	if err := calibration.Ready(s.Data); err != nil {
		return fmt.Errorf("--data %s: %w", s.Data, err)
	}
	board, err := sensor.NewBoard(walkBoard(s, ids), slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	defer board.Close()
	w := f.surveying(s, ids, board, cmd.OutOrStdout())
	w.lines, w.atM, w.enter = lines, atM, enters(cmd.InOrStdin())
	return w.run(cmd.Context())
}

// check returns what is wrong with the flags by themselves.
func (f *surveyFlags) check() error {
	return errors.Join(f.limits.check(), checkLasts("timeout", *f.timeout, time.Second, 6*time.Hour),
		checkLasts("carry", *f.carry, time.Second, time.Hour))
}

// places reads where the probe is to be carried.
func (f *surveyFlags) places(s settings) ([]float64, error) {
	if len(s.Box.Probes) != 2 {
		return nil, fmt.Errorf("%s: probes: %d; a survey belongs to a box with two", f.config, len(s.Box.Probes))
	}
	lo, hi := 1000*s.Box.Probes[0].XM, 1000*s.Box.Probes[1].XM
	var out []float64
	var errs []error
	for text := range strings.SplitSeq(*f.at, ",") {
		mm, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		switch {
		case err != nil:
			errs = append(errs, fmt.Errorf("--at-mm %q: not a number", text))
		case !(mm > lo && mm < hi):
			errs = append(errs, fmt.Errorf("--at-mm %g: not between the probes, at %g and %g", mm, lo, hi))
		case len(out) > 0 && mm/1000 <= out[len(out)-1]:
			errs = append(errs, fmt.Errorf("--at-mm %g: list the places from the steam end", mm))
		}
		out = append(out, mm/1000)
	}
	if *f.slotAt != 0 && !(*f.slotAt > lo && *f.slotAt < hi) {
		errs = append(errs, fmt.Errorf("--slot-at-mm %g: not between the probes, at %g and %g", *f.slotAt, lo, hi))
	}
	return out, errors.Join(errs...)
}

// carried returns the id of the probe that is carried.
func (f *surveyFlags) carried(s settings) (string, error) {
	if *f.probe != "" {
		return *f.probe, extraProbes(s, []string{*f.probe})
	}
	listed, err := sensor.Discover(cmp.Or(s.Sensors.W1Root, sensor.DefaultW1Root))
	if err != nil {
		return "", fmt.Errorf("--probe: none given, and none is to be seen: %w", err)
	}
	listed = slices.DeleteFunc(listed, func(id string) bool { return slices.Contains(s.Sensors.Probes, id) })
	if len(listed) != 1 {
		return "", fmt.Errorf("--probe: not given, and the board has %d that the configuration doesn't name; plug in one, or name it", len(listed))
	}
	return listed[0], nil
}

// linesOf returns what to add to each probe's readings, and the names of those that were
// never calibrated.
func linesOf(s settings, kept calibration.Kept, ids []string) (lines []calibrate.Line, missing []string) {
	for i, id := range ids {
		line, ok := kept.Probe(id).Line()
		if i < len(s.Box.Probes) && s.Box.Probes[i].Calibrated {
			p := s.Box.Probes[i]
			line, ok = calibrate.Line{OffsetK: p.OffsetK, IceK: p.IceK}, true
		}
		if !ok {
			missing = append(missing, cmp.Or(nameAt(s, i), id))
		}
		lines = append(lines, line)
	}
	return lines, missing
}

func nameAt(s settings, i int) string {
	if i < len(s.Box.Probes) {
		return s.Box.Probes[i].Name
	}
	return ""
}

// enters returns a channel that hears each press of Enter, closed at the end of in. It
// listens for as long as the program runs.
func enters(in io.Reader) <-chan struct{} {
	pressed := make(chan struct{})
	go func() {
		defer close(pressed)
		for lines := bufio.NewScanner(in); lines.Scan(); {
			pressed <- struct{}{}
		}
	}()
	return pressed
}

// surveying is a survey under way.
type surveying struct {
	*watch
	ids    []string
	box    steambox.Box
	data   string // where the record goes
	now    func() time.Time
	atM    []float64
	slots  bool
	slotM  float64
	carryS float64
	enter  <-chan struct{} // nil, once nobody can press it
}

func (f *surveyFlags) surveying(s settings, ids []string, from sweeps, out io.Writer) *surveying {
	names := append(probeNames(s, s.Sensors.Probes), "carried")
	slotM := *f.slotAt / 1000
	if slotM == 0 {
		slotM = (s.Box.Probes[0].XM + s.Box.Probes[1].XM) / 2
	}
	return &surveying{
		watch: newWatch(from, out, names, *f.timeout, s.Units), ids: ids, box: s.Box, data: s.Data, now: time.Now,
		slots: *f.slots, slotM: slotM, carryS: f.carry.Seconds(),
	}
}

// run carries the probe from place to place. Only a survey that is whole is kept: half of
// one would push aside a better one.
func (w *surveying) run(ctx context.Context) error {
	found := calibration.Survey{
		SteamID: w.ids[0], DoorID: w.ids[1], Carried: w.ids[2],
		EndsM: [2]unit.Metre{unit.Metre(w.box.Probes[0].XM), unit.Metre(w.box.Probes[1].XM)},
	}
	var spots []calibrate.Spot
	for _, m := range w.atM {
		spot, err := w.spot(ctx, m, "")
		if err != nil {
			return err
		}
		share, within, err := spot.Share(steambox.CalibratedK)
		if err != nil {
			fmt.Fprintln(w.out, words.CantSurvey(err, spot, w.units))
			return errWrong
		}
		fmt.Fprintf(w.out, "%s: %s, share %.2f ± %.2f of the way from %s to %s\n", w.units.Length(m, 0), w.units.Temperature(spot.C, 2),
			share, within, w.units.Temperature(spot.SteamC, 2), w.units.Temperature(spot.DoorC, 2))
		spots = append(spots, spot)
		found.ShareWithin = append(found.ShareWithin, within)
	}
	var err error
	if found.Knots, err = calibrate.Knots(spots, steambox.CalibratedK); err != nil {
		return err
	}
	if w.slots {
		if err := w.eachSlot(ctx, &found); err != nil {
			return err
		}
	}
	return w.keep(w.data, calibration.Record{Survey: &found}, w.now())
}

// eachSlot carries the probe into each slot.
func (w *surveying) eachSlot(ctx context.Context, found *calibration.Survey) error {
	for _, slot := range w.box.Slots {
		spot, err := w.spot(ctx, w.slotM, slot)
		if err != nil {
			return err
		}
		k, err := calibrate.SlotOffset(spot, found.EndsM, found.Knots)
		if err != nil {
			return err
		}
		fmt.Fprintf(w.out, "slot %s: %s, %s\n", slot, w.units.Temperature(spot.C, 2), w.units.Offset(k, 2))
		found.Slots, found.OffsetsK = append(found.Slots, slot), append(found.OffsetsK, k)
	}
	return nil
}

// spot sends the probe to a place and waits until it and both ends rest there.
func (w *surveying) spot(ctx context.Context, atM float64, slot string) (calibrate.Spot, error) {
	fmt.Fprintln(w.out, words.CarryTo(atM, slot, w.units))
	err := w.arrive(ctx)
	w.stage()
	for err == nil {
		if err = w.next(ctx, calibrate.Carried); err != nil {
			break
		}
		if calibrate.Swapped(w.whole[0], w.whole[1], w.openedS) == calibrate.OtherWay {
			fmt.Fprintln(w.out, words.OtherWay)
			return calibrate.Spot{}, errWrong
		}
		if c, ok := w.rests(calibrate.Carried); ok {
			return calibrate.Spot{XM: atM, SteamC: c[0], DoorC: c[1], C: c[2]}, nil
		}
	}
	return calibrate.Spot{}, w.explain(ctx, err)
}

// arrive waits until somebody says that the probe is where it should be: by Enter, or by
// the time to get there where there is nobody.
func (w *surveying) arrive(ctx context.Context) error {
	w.stage()
	told := false
	for {
		if err := w.next(ctx, calibrate.Carried); err != nil {
			return err
		}
		select {
		case _, pressed := <-w.enter:
			if pressed {
				return nil
			}
			w.enter = nil
		default:
		}
		if w.enter != nil {
			continue
		}
		if !told {
			told = true
			fmt.Fprintln(w.out, words.ByItself(w.carryS))
		}
		if w.atS-w.beganS >= w.carryS {
			return nil
		}
	}
}
