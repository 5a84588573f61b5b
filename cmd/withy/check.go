package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"withy/alert"
	"withy/cmd/withy/internal/boxes"
	"withy/sensor"
	"withy/steambox/measure"
	"withy/steambox/words"
)

func newCheck() *cobra.Command {
	var name string
	var asJSON, lift bool
	var units unitsFlag
	cmd := &cobra.Command{
		Use:   "check --config FILE",
		Short: "Read the configuration and try everything that it names",
		Long: "Reports every mistake in the configuration at once. If there is none it reads each probe and\n" +
			"switch and sounds the buzzer, and says what it found and what to do.",
		Example: "  withy check --config /etc/withy/withy.yaml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := readSettings(name, "")
			if err == nil {
				s.Units, err = units.choose(s.Units)
			}
			if err = errors.Join(err, s.Mistook); err != nil {
				return err
			}
			if asJSON {
				s.Units = measure.Metric
			}
			var ask io.Writer
			if lift {
				ask = cmd.ErrOrStderr()
			}
			found, err := try(cmd.Context(), s, ask)
			if err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			return reportFound(cmd.OutOrStdout(), name, found, asJSON)
		},
	}
	configFlag(cmd, &name)
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	cmd.Flags().BoolVar(&lift, "lift", false, "ask for the float to be lifted, in a cold boiler, and see that the switch turns both ways")
	units = newUnitsFlag(cmd)
	return cmd
}

// found is what check says of one thing.
type found struct {
	What string `json:"what"`
	Name string `json:"name"`
	OK   bool   `json:"ok"`
	Says string `json:"says"`
}

// tryFor is how long check listens: two readings of every probe and the level
// switch's hold.
const tryFor = 6 * time.Second

// try reads everything that the settings name. Whoever reads ask is asked to lift the
// float; nil asks nobody.
func try(ctx context.Context, s settings, ask io.Writer) ([]found, error) {
	quiet := slog.New(slog.DiscardHandler)
	board, err := sensor.NewBoard(s.Sensors, quiet)
	if err != nil {
		return nil, err
	}
	defer board.Close()
	var last sensor.Sweep
	listening, cancel := context.WithTimeout(ctx, tryFor)
	defer cancel()
	for listening.Err() == nil {
		if sweep, err := board.Read(listening); err == nil {
			last = sweep
		}
	}
	out := tryProbes(s, last)
	for _, l := range board.Lines() {
		out = append(out, lineFound(l))
	}
	if ask != nil && s.Sensors.Level.Line != "" {
		fmt.Fprintln(ask, words.LiftFloat(liftFor.Seconds()))
		out = append(out, tryFloat(ctx, board))
	}
	if s.Meter != "" {
		out = append(out, tryBarometer(&s))
	}
	if s.Buzzer.Line != "" {
		out = append(out, tryBuzzer(s.Buzzer, quiet))
	}
	if s.Lamp.Line != "" {
		out = append(out, tryLamp(s.Lamp, quiet))
	}
	out = append(out, tryOutputs(ctx, s, quiet)...)
	out = append(out, tryShop(ctx, s.Shop, quiet)...)
	return append(out, unfitted(s)...), nil
}

// tryShop asks the other boxes; this one may well not run while it is checked.
func tryShop(ctx context.Context, s boxes.Shop, log *slog.Logger) []found {
	s.Boxes = slices.DeleteFunc(slices.Clone(s.Boxes), func(b boxes.Listed) bool { return b.Number == s.Number })
	var out []found
	for i, err := range boxes.New(s, nil, log).Try(ctx) {
		f := found{What: "box", Name: fmt.Sprintf("%d %s", s.Boxes[i].Number, s.Boxes[i].At), OK: err == nil, Says: "answers"}
		var stranger *boxes.StrangerError
		switch {
		case errors.Is(err, boxes.ErrName), errors.Is(err, boxes.ErrClosed), errors.As(err, &stranger):
			f.Says = err.Error()
		case err != nil:
			f.Says = "does not answer: is it on, and does its page.listen let the others in? " + err.Error()
		}
		f.Says += inTheClear(s.Boxes[i].At, s.Boxes[i].Secret)
		out = append(out, f)
	}
	return out
}

func tryProbes(s settings, sweep sensor.Sweep) []found {
	var out []found
	for i, p := range s.Box.Probes {
		f := found{What: "probe", Name: p.Name + " " + p.ID, OK: true}
		switch r := sweep.Probes[i]; {
		case r.Fault != nil:
			f.OK, f.Says = false, remedy(r)
		case !p.Calibrated:
			f.Says = s.Units.Temperature(float64(r.Temp), 1) + "; " + words.NotCalibrated
		default:
			f.Says = s.Units.Temperature(float64(r.Temp), 1)
		}
		out = append(out, f)
	}
	return out
}

func lineFound(l sensor.LineState) found {
	f := found{What: "switch", Name: l.Input + " " + l.Line, OK: true, Says: l.Contact.String()}
	if l.Input == "level" || strings.HasPrefix(l.Input, "float ") {
		f.Says += map[sensor.Contact]string{
			sensor.Closed: ": there is water above it", sensor.Open: ": low water, or a cut wire",
		}[l.Contact]
	}
	if l.Err != nil {
		f.OK, f.Says = false, lineRemedy(l.Err)
	}
	return f
}

// liftFor is how long the float is waited for. A switch counts as turned once it has been
// so for three to five seconds.
const liftFor = time.Minute

// tryFloat waits for the level switch to have been closed and open.
func tryFloat(ctx context.Context, board sweeps) found {
	ctx, cancel := context.WithTimeout(ctx, liftFor)
	defer cancel()
	seen := map[sensor.Contact]bool{}
	for !(seen[sensor.Open] && seen[sensor.Closed]) {
		sweep, err := board.Read(ctx)
		if err != nil {
			return found{"float", "level", false, words.FloatStuck}
		}
		seen[sweep.Level] = true
	}
	return found{"float", "level", true, words.FloatProven}
}

func tryBarometer(s *settings) found {
	f := found{What: "barometer", Name: s.Meter, OK: true}
	err := s.weather()
	if err == nil {
		f.Says = s.Units.Pressure(s.Box.PressurePa)
		return f
	}
	f.OK, f.Says = false, err.Error()
	if fault, ok := errors.AsType[*sensor.Fault](err); ok {
		f.Says = remedy(sensor.Reading{Probe: s.Meter, Fault: fault})
	}
	return f
}

// tryBuzzer sounds the call to pull.
func tryBuzzer(c sensor.OutputConfig, log *slog.Logger) found {
	return tryOutput(c, log, alert.Patterns[alert.Pull],
		found{What: "buzzer", Name: c.Line, OK: true, Says: "sounded: two pulses. Did you hear them?"})
}

// tryLamp flashes as for danger.
func tryLamp(c sensor.OutputConfig, log *slog.Logger) found {
	return tryOutput(c, log, slices.Repeat([]alert.Pulse{alert.Pulse(alert.Fast)}, 3),
		found{What: "lamp", Name: c.Line, OK: true, Says: "flashed three times. Did you see it?"})
}

// tryOutput switches an output, and returns f or why it could not.
func tryOutput(c sensor.OutputConfig, log *slog.Logger, pulses []alert.Pulse, f found) found {
	pin, err := sensor.OpenOutput(c, log)
	if err == nil {
		defer pin.Close()
		err = pin.Err()
	}
	if err != nil {
		f.OK, f.Says = false, lineRemedy(err)
		return f
	}
	for _, p := range pulses {
		_ = pin.Set(true) // a failure shows in Err
		time.Sleep(p.On)
		_ = pin.Set(false)
		time.Sleep(p.Off)
	}
	if err := pin.Err(); err != nil {
		f.OK, f.Says = false, lineRemedy(err)
	}
	return f
}

// unfitted says what there is none of, which is allowed but should be known.
func unfitted(s settings) []found {
	var out []found
	if s.Sensors.Level.Line == "" {
		out = append(out, found{"switch", "level", true, "none: tell each fill, the water is reckoned from it"})
	}
	if s.Buzzer.Line == "" {
		out = append(out, found{"buzzer", "", true, "none: only the page makes sounds"})
	}
	out = append(out, pageFound(s))
	if f, ok := setOnPage(s); ok {
		out = append(out, f)
	}
	if s.Damaged != nil {
		out = append(out, found{"calibration", s.Data, false, words.DamagedCalibration(s.Damaged)})
	}
	return out
}

// pageFound says how the page is served.
func pageFound(s settings) found {
	f := found{"page", s.Page.Listen, true, "plain, to this machine only"}
	switch c, err := s.Page.shown(s.Data); {
	case !s.Page.encrypted() && !s.Page.local():
		f.Says = "plain: whoever is on that network can read and change what is sent; for the board's own wireless network only"
	case err != nil:
		f.OK, f.Says = false, err.Error()
	case c != nil:
		f.Says = fmt.Sprintf("TLS by %s, until %s, SHA-256 %s", map[bool]string{true: "your certificate", false: "the board's own"}[s.Page.TLS == tlsFiles],
			c.Until().Format(time.DateOnly), c.Fingerprint())
	case s.Page.encrypted():
		f.Says = "TLS by the board's own certificate, which it makes when it starts"
	}
	return f
}

// setOnPage says what was set on the page and goes before the file.
func setOnPage(s settings) (found, bool) {
	set, err := loadOverlay(s.Data)
	if err == nil {
		err = set.apply(&s.Box, &s.Units)
	}
	keys := slices.Sorted(maps.Keys(set.Values))
	if set.Ribs != nil {
		keys = append(keys, "boat.ribs")
	}
	if set.Bends != nil {
		keys = append(keys, "window.bends")
	}
	switch {
	case err != nil:
		return found{"settings", filepath.Join(s.Data, setFile), false, "what was set on the page can't be used: " + err.Error()}, true
	case len(keys) == 0:
		return found{}, false
	}
	return found{"settings", filepath.Join(s.Data, setFile), true, "set on the page, and goes before this file: " + strings.Join(keys, ", ")}, true
}

func reportFound(out io.Writer, name string, all []found, asJSON bool) error {
	wrong := false
	for _, f := range all {
		wrong = wrong || !f.OK
	}
	if asJSON {
		if err := printJSON(out, all); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(out, "%s: no mistakes.\n", name)
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		for _, f := range all {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", map[bool]string{true: "ok", false: "WRONG"}[f.OK], f.What, f.Name, f.Says)
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	if wrong {
		return errWrong
	}
	return nil
}
