package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"withy/alert"
	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/hail"
	"withy/cmd/withy/internal/upkeep"
	"withy/sensor"
	"withy/steambox/words"
)

func newRun() *cobra.Command {
	var name, data string
	cmd := &cobra.Command{
		Use:   "run --config FILE",
		Short: "The daemon, on the hardware",
		Long: "Reads the probes and the switches, says what to do next on the page and by the buzzer, and keeps\n" +
			"the record. A mistake in the configuration stops a first start; later the daemon goes on with the\n" +
			"last settings that were good and shows the mistake on the page. A SIGHUP has it read the file anew:\n" +
			"what concerns box, boiler, wood, boat and units counts at once, probes and lines from the next start.",
		Example: "  withy run --config /etc/withy/withy.yaml",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return runBoard(cmd, name, data) },
	}
	configFlag(cmd, &name)
	cmd.Flags().StringVar(&data, "data", "", "folder of the record; not given: what the configuration says")
	return cmd
}

func configFlag(cmd *cobra.Command, name *string) {
	cmd.Flags().StringVar(name, "config", "", "the configuration file")
	_ = cmd.MarkFlagRequired("config") // fails only for a flag that does not exist
}

func runBoard(cmd *cobra.Command, name, data string) error {
	log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
	s, troubles, err := lastGood(name, data)
	if err != nil {
		return err
	}
	for _, t := range troubles {
		log.Warn("settings", "trouble", t)
	}
	entrance, more, err := openEntrance(s.Page, s.Data, log)
	if err != nil {
		return err
	}
	defer entrance.Close()
	rec, unkept := openRecord(s.Data, log)
	more = append(more, unkept...)
	if s.Damaged != nil {
		more = append(more, words.DamagedCalibration(s.Damaged))
	}
	if rec != nil {
		defer rec.Close()
	}
	if s.Mistook != nil {
		more = append(more, words.NoOutput(s.Mistook))
	}
	good := s // without the weather of today
	if err := s.weather(); err != nil {
		more = append(more, words.NoBarometer(err))
	}
	board, err := sensor.NewBoard(s.Sensors, log)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	defer board.Close()
	settings := &settingPage{data: s.Data, told: s.Told}
	if trouble := withOverlay(settings, &s.Box, &s.Units); trouble != "" {
		more = append(more, trouble)
	}
	calibrator := newCalibrator(board, settings)
	o := daemon.Options{Box: s.Box, Source: calibrator, Record: rec, Unkept: rec == nil, Door: entrance.Door, Buttons: s.Does, Floats: s.Floats, Units: s.Units, Speed: 1, Timed: sensor.ClockKnown, Troubles: append(troubles, more...), Log: log}
	supervisor := newSupervisor(log)
	o.Swept = supervisor.Swept
	beside := []func(context.Context){tend(rec, s.Log, log), supervisor.run, calibrator.Run, reloads(name, data, settings, s, log)}
	if s.Buzzer.Line != "" {
		pin, err := sensor.OpenOutput(s.Buzzer, log)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		defer pin.Close()
		buzzer := alert.NewBuzzer(pin, func(err error) { log.Warn("buzzer", "err", err) })
		o.Sounds, beside = buzzer, append(beside, buzzer.Run)
	}
	if s.Lamp.Line != "" {
		pin, err := sensor.OpenOutput(s.Lamp, log)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		defer pin.Close()
		lamp := alert.NewLamp(pin, func(err error) { log.Warn("lamp", "err", err) })
		o.Lamp, beside = lamp, append(beside, lamp.Run)
	}
	hails := hail.New(outputsOf(s.Outputs), log)
	o.Outputs, beside = hails, append(beside, hails.Run)
	kept := ""
	if rec != nil {
		kept = s.Data
	}
	look := upkeep.New(kept)
	o.Ails, beside = look.Ails, append(beside, look.Run)
	d, err := daemon.New(o)
	if err != nil {
		return err
	}
	hails.Sensing = d.Healthy
	if len(troubles) == 0 {
		keepGood(good)
	}
	log.Info("page", "url", entrance.url)
	return serve(cmd.Context(), d, settings, entrance, s.Shop, log, beside...)
}

// goodFile is where the last settings that were good are kept in the data folder.
const goodFile = "settings.json"

// lastGood returns the settings of a configuration that is good. If it isn't, and there are settings that a board has started with, it returns
// those with what is wrong now as troubles.
func lastGood(name, data string) (settings, []string, error) {
	s, err := readSettings(name, data)
	s.Data = cmp.Or(s.Data, data, defaults().Data)
	if err == nil {
		return s, nil, nil
	}
	text, readErr := os.ReadFile(filepath.Join(s.Data, goodFile))
	if readErr != nil {
		return settings{}, nil, err
	}
	var good settings
	if json.Unmarshal(text, &good) != nil || good.Box.Check() != nil {
		return settings{}, nil, err
	}
	kept, damaged := calibration.Load(s.Data)
	kept.Apply(&good.Box)
	good.Damaged = damaged
	return good, []string{fmt.Sprintf("The settings have a mistake; the last good ones are in use. %v", err)}, nil
}

// keepGood keeps settings that the board has started with, for a later start: whole
// on the card or not at all. A folder that can't be written to is no reason not to
// watch; the record says so, on the page too.
func keepGood(s settings) {
	if text, err := json.Marshal(s); err == nil {
		_ = keepFile(s.Data, goodFile, text) // the record says so too
	}
}
