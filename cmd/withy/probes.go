package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"log/slog"
	"math"
	"slices"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/calibration"
	"withy/sensor"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// probesFlags are the flags of the verb.
type probesFlags struct {
	config, root, data *string
	json               *bool
	units              unitsFlag
}

func newProbes() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "probes [--config FILE | --w1-root DIR]",
		Short: "The probes on this board, what they read, and how far that can be relied on",
		Long: "Lists every 1-wire thermometer that the kernel shows, and those that a configuration names and the\n" +
			"kernel doesn't; then what else the kernel shows that may be one. With none, or one that can't be read, it exits with 1.",
		Example: "  withy probes\n  withy probes --config /etc/withy/withy.yaml --json\n  withy probes tell",
		Args:    cobra.NoArgs,
	}
	f := &probesFlags{
		config: cmd.Flags().String("config", "", "the configuration file: names the probes and where their calibration lies"),
		root:   cmd.Flags().String("w1-root", sensor.DefaultW1Root, "where the kernel lists the 1-wire devices"),
		data:   cmd.Flags().String("data", "", "folder of the record; not given: what the configuration says"),
		json:   cmd.Flags().Bool("json", false, "print one JSON document"),
		units:  newUnitsFlag(cmd),
	}
	cmd.MarkFlagsMutuallyExclusive("config", "w1-root")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error { return f.run(cmd) }
	cmd.AddCommand(newCalibrate(), newSurvey(), newTell())
	return cmd
}

func (f *probesFlags) run(cmd *cobra.Command) error {
	s := settings{Data: cmp.Or(*f.data, defaults().Data)}
	s.Sensors.W1Root = *f.root
	if *f.config != "" {
		var err error
		if s, err = readSettings(*f.config, *f.data); err != nil {
			return err
		}
	}
	var err error
	if s.Units, err = f.units.choose(s.Units); err != nil {
		return err
	}
	if *f.json {
		s.Units = measure.Metric
	}
	kept, err := calibration.Load(s.Data)
	if err != nil {
		fmt.Fprintln(cmd.ErrOrStderr(), words.DamagedCalibration(err))
	}
	readings, err := readAll(cmd.Context(), s)
	if err != nil {
		return err
	}
	now := time.Now()
	rows := []probeRow{} // none is [] in JSON, too
	for _, r := range readings {
		rows = append(rows, newProbeRow(s, kept, r, now))
	}
	if err := f.print(cmd.OutOrStdout(), rows, s.Units); err != nil {
		return err
	}
	if !*f.json {
		others := sensor.DiscoverOthers(cmp.Or(s.Sensors.IIORoot, sensor.DefaultIIORoot), cmp.Or(s.Sensors.HwmonRoot, sensor.DefaultHwmonRoot))
		listOthers(cmd.OutOrStdout(), s, others)
	}
	if len(rows) == 0 || slices.ContainsFunc(rows, func(r probeRow) bool { return r.Fault != "" }) {
		return errWrong
	}
	return nil
}

// listOthers names what else the kernel lists and the settings don't.
func listOthers(out io.Writer, s settings, ids []string) {
	ids = slices.DeleteFunc(ids, func(id string) bool {
		named := append(slices.Clone(s.Sensors.Probes), s.Meter)
		return slices.ContainsFunc(named, func(name string) bool { return sensor.SameProbe(name, id) })
	})
	if len(ids) > 0 {
		fmt.Fprintln(out, "\nThe kernel also lists, by the names that a configuration has for them:")
	}
	for _, id := range ids {
		fmt.Fprintln(out, "  "+id)
	}
}

// How long every probe is given to be read, eight of them one after the other, and one
// that is faulty to get over it; and how often it is looked whether they have.
const (
	heardFor  = 8 * time.Second
	faultFor  = 2 * time.Second
	heardEach = 200 * time.Millisecond
)

// readAll reads once every probe that the kernel lists or the settings name.
func readAll(ctx context.Context, s settings) ([]sensor.Reading, error) {
	ids, err := s.allProbes()
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	cfg := s.probesOnly(ids)
	cfg.Period, cfg.MaxAge = heardEach, heardFor
	board, err := sensor.NewBoard(cfg, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, err
	}
	defer board.Close()
	ctx, cancel := context.WithTimeout(ctx, heardFor)
	defer cancel()
	began := board.Now()
	var last sensor.Sweep
	for {
		sweep, err := board.Read(ctx)
		if err != nil {
			return last.Probes, nil // time is up
		}
		last = sweep
		if !slices.ContainsFunc(sweep.Probes, func(r sensor.Reading) bool { return unsettled(r, sweep.At-began) }) {
			return last.Probes, nil
		}
	}
}

// probesOnly says how to read probes and nothing else of the board.
func (s *settings) probesOnly(ids []string) sensor.Config {
	c := s.Sensors
	return sensor.Config{W1Root: c.W1Root, IIORoot: c.IIORoot, HwmonRoot: c.HwmonRoot, Elements: c.Elements, Probes: ids}
}

// unsettled reports whether a probe has not had its turn yet, or may still get over
// its fault.
func unsettled(r sensor.Reading, since time.Duration) bool {
	return r.Fault != nil && (r.Fault.Kind == sensor.Pending || since < faultFor)
}

// probeRow is what the verb says of one probe. What isn't known is left out.
type probeRow struct {
	ID         string   `json:"id"`
	Name       string   `json:"name,omitempty"` // by the configuration
	Bits       int      `json:"resolution_bits,omitempty"`
	ReadingC   *float64 `json:"reading_c,omitempty"`
	CorrectedC *float64 `json:"corrected_c,omitempty"`
	Fault      string   `json:"fault,omitempty"` // its kind
	Calibrated string   `json:"calibrated,omitempty"`
	AgeDays    *float64 `json:"calibrated_days_ago,omitempty"`
	Says       string   `json:"says"`
}

func newProbeRow(s settings, kept calibration.Kept, r sensor.Reading, now time.Time) probeRow {
	row := probeRow{ID: r.Probe, Says: words.NotCalibrated}
	row.Bits, _ = sensor.Resolution(cmp.Or(s.Sensors.W1Root, sensor.DefaultW1Root), r.Probe)
	byHand := false
	for _, p := range s.Box.Probes {
		if p.ID == r.Probe {
			row.Name, byHand = p.Name, p.Calibrated
		}
	}
	p := kept.Probe(r.Probe)
	line, known := p.Line()
	switch {
	case known:
		days := math.Max(0, now.Sub(p.BoilAt).Hours()/24)
		row.Calibrated, row.AgeDays = p.BoilAt.Format(time.RFC3339), &days
		row.Says = words.CalibratedAgo(days, p.In, s.Units)
	case byHand:
		row.Says = words.CalibratedByHand
	}
	if r.Fault != nil {
		row.Fault, row.Says = r.Fault.Kind.String(), remedy(r)
		return row
	}
	reads := float64(r.Temp)
	row.ReadingC = &reads
	if known {
		corrected := line.Correct(reads)
		row.CorrectedC = &corrected
	}
	return row
}

func (f *probesFlags) print(out io.Writer, rows []probeRow, u measure.Units) error {
	if *f.json {
		return printJSON(out, rows)
	}
	if len(rows) == 0 {
		fmt.Fprintln(out, words.NoProbes)
		return nil
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, r := range rows {
		bits, reads := "", "-"
		if r.Bits > 0 {
			bits = fmt.Sprintf("%d bit", r.Bits)
		}
		if r.ReadingC != nil {
			reads = u.Temperature(*r.ReadingC, 2)
		}
		if r.CorrectedC != nil {
			reads += ", so " + u.Temperature(*r.CorrectedC, 2)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", cmp.Or(r.Name, "-"), r.ID, bits, reads, r.Says)
	}
	return w.Flush()
}
