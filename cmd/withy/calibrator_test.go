package main

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/stage"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/sensor/rehearsed"
	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/measure"
	"withy/steambox/rehearsal"
)

// calibrated is a rehearsal whose probes are as bought, up to 2 K off, with what
// calibrates them: the world that a test looks behind.
type calibrated struct {
	*calibrator
	t    *testing.T
	data string
	rec  *record.Record
}

// newCalibrated runs one at a thousand times the pace of life, in a box that has been
// heated for so long.
func newCalibrated(t *testing.T, heated time.Duration) *calibrated {
	t.Helper()
	world, err := rehearsal.New("good", 9)
	if err != nil {
		t.Fatal(err)
	}
	world.Uncalibrate()
	world.Step(heated)
	box, err := rehearsed.New(world, t.Name(), 1000)
	if err != nil {
		t.Fatal(err)
	}
	data := t.TempDir()
	rec, err := record.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	behind := stage.New(box, filepath.Join(data, worldFile), nil)
	p, b, units := &settingPage{data: data}, stage.Settings(world), measure.Metric
	if trouble := withOverlay(p, &b, &units); trouble != "" {
		t.Fatal(trouble)
	}
	c := newCalibrator(box, p)
	c.carry = behind.Carry
	d, err := daemon.New(daemon.Options{Box: b, Source: c, Record: rec, Units: units, Speed: 1000})
	if err != nil {
		t.Fatal(err)
	}
	p.daemon = d
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{}, 2)
	go func() { _ = d.Run(ctx); done <- struct{}{} }()
	go func() { c.Run(ctx); done <- struct{}{} }()
	t.Cleanup(func() {
		cancel()
		<-done
		<-done
		box.Close()
		rec.Close()
	})
	return &calibrated{c, t, data, rec}
}

// until waits until it stands as wanted.
func (c *calibrated) until(what string, so func(web.Calibration) bool) web.Calibration {
	c.t.Helper()
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(2 * time.Millisecond) {
		if now := c.Calibration(); so(now) {
			return now
		}
	}
	c.t.Fatalf("never %s: %+v", what, c.Calibration())
	return web.Calibration{}
}

func is(states ...web.CalibrationState) func(web.Calibration) bool {
	return func(c web.Calibration) bool { return slices.Contains(states, c.State) }
}

func (c *calibrated) begin(id string, place calibrate.Place) {
	c.t.Helper()
	if err := c.Calibrate(id, place); err != nil {
		c.t.Fatal(err)
	}
}

// A pot beside a cold box: what the probes are off by is found, kept and in use, replayed
// alike, and the box is never taken to be as hot as the pot.
func TestCalibratePot(t *testing.T) {
	c := newCalibrated(t, 0)
	hottest := make(chan float64, 1)
	watching, stop := context.WithCancel(t.Context())
	go func() {
		most := math.Inf(-1)
		for watching.Err() == nil {
			v := c.settings.daemon.View()
			for _, p := range v.Status.Probes {
				if p.TempC != nil {
					most = max(most, *p.TempC)
				}
			}
			if slices.ContainsFunc(v.Alarms, func(a alert.Alarm) bool { return a.ID == alert.Blind || a.ID == alert.ProbeFailed }) {
				t.Errorf("alarms: %+v", v.Alarms)
				break
			}
			time.Sleep(time.Millisecond)
		}
		hottest <- most
	}()
	c.begin("a", calibrate.Pot)
	c.begin("a", calibrate.Pot) // sent twice
	if err := c.Calibrate("b", calibrate.Ice); !refused(err, "going on already") {
		t.Errorf("a second one: %v", err)
	}
	now := c.until("kept", is(web.CalibrationKept))
	if now.Place != calibrate.Pot || now.Says[0] != "Kept, and in use." || !strings.Contains(now.Probes[0].Says, "calibrated today") {
		t.Errorf("%+v", now)
	}
	box := *c.settings.daemon.View().Box
	on := kept(t, c.data)
	for i, p := range box.Probes {
		was := on.Probe(p.Name).Boil
		if was == nil || !p.Calibrated || p.OffsetK != was.OffK || *now.Probes[i].AddK != was.OffK || *now.Probes[i].TempC != was.ReadC {
			t.Fatalf("%+v is in use, %+v kept, %+v shown", p, was, now.Probes[i])
		}
		// The world boils at its own air pressure, which its settings know.
		if off := was.ReadC + was.OffK - c.settings.daemon.View().Status.BoilingC; math.Abs(off) > 0.001 || math.Abs(was.OffK) < 0.05 {
			t.Errorf("%s: %+v", p.Name, was)
		}
	}
	c.until("back in the box", func(now web.Calibration) bool { return !now.Out })
	stop()
	if most := <-hottest; most > 90 {
		t.Errorf("the box was taken to be at %.1f °C", most)
	}
	session, err := c.rec.Session(c.settings.daemon.View().Session)
	if err != nil {
		t.Fatal(err)
	}
	again, err := daemon.FoldAll(session.Box, c.rec.Entries(session.ID, 0))
	if err != nil {
		t.Fatal(err)
	}
	if got := again.Session.Box().Probes; !slices.Equal(got, box.Probes) {
		t.Errorf("replayed it has %+v", got)
	}
	if next := stageAgain(t, c.data); !next.Probes[0].Calibrated || next.Probes[0].OffsetK != box.Probes[0].OffsetK {
		t.Errorf("the next start has %+v", next.Probes)
	}
}

// stageAgain is the box that a rehearsal in the same folder begins with.
func stageAgain(t *testing.T, data string) steambox.Box {
	t.Helper()
	world, err := rehearsal.New("good", 9)
	if err != nil {
		t.Fatal(err)
	}
	world.Uncalibrate()
	b := stage.Settings(world)
	k, err := calibration.Load(data)
	if err != nil {
		t.Fatal(err)
	}
	k.Apply(&b)
	return b
}

// Tied together in the hot box the readings go on, and nobody need say that they are back.
func TestCalibrateBox(t *testing.T) {
	c := newCalibrated(t, 40*time.Minute)
	c.begin("a", calibrate.Box)
	if now := c.Calibration(); now.Out {
		t.Errorf("%+v", now)
	}
	now := c.until("over", is(web.CalibrationKept, web.CalibrationDoubted, web.CalibrationLate))
	if now.State != web.CalibrationKept || now.Out {
		t.Errorf("%+v", now)
	}
}

// Ice alone is kept for the pot, and is stopped by nobody's word but the crew's.
func TestCalibrateIceAndStop(t *testing.T) {
	c := newCalibrated(t, 0)
	c.begin("a", calibrate.Ice)
	now := c.until("kept", is(web.CalibrationKept))
	if !now.Out || !strings.Contains(now.Says[0], "boiling water too") || c.settings.daemon.View().Box.Probes[0].OffsetK != 0 {
		t.Errorf("%+v", now)
	}
	c.begin("b", calibrate.Pot)
	for range 2 { // sent twice
		if err := c.EndCalibration("c"); err != nil {
			t.Fatal(err)
		}
	}
	if now := c.Calibration(); now.State != web.CalibrationStopped || !now.Out {
		t.Errorf("stopped: %+v", now)
	}
	if err := c.EndCalibration("d"); err != nil || c.Calibration().Out {
		t.Errorf("they hang in the box again: %v, %+v", err, c.Calibration())
	}
	if err := c.EndCalibration("e"); !refused(err, "No calibration") {
		t.Errorf("what is over was ended: %v", err)
	}
	if p := kept(t, c.data).Probe("steam"); p.Boil != nil || p.Ice == nil {
		t.Errorf("kept %+v", p)
	}
}

// A step from the shed's air into steam: how slowly each probe follows is found within a tenth
// of what the rehearsal's probes do, is kept and in use.
func TestCalibrateStep(t *testing.T) {
	c := newCalibrated(t, 0)
	c.begin("a", calibrate.Steam)
	now := c.until("kept", is(web.CalibrationKept))
	if now.Place != calibrate.Steam || now.Says[0] != "Kept, and in use." || !strings.HasPrefix(now.Says[2], "steam follows in ") {
		t.Errorf("%+v", now)
	}
	var hidden struct {
		World struct{ Probes []struct{ LagS float64 } }
	}
	text, err := c.sensors.(*rehearsed.Box).Save()
	if err == nil {
		err = json.Unmarshal(text, &hidden)
	}
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range c.settings.daemon.View().Box.Probes {
		is, truly := now.Probes[i], hidden.World.Probes[i].LagS
		if is.AddK != nil || is.FollowsS == nil || *is.FollowsS != p.LagS || math.Abs(p.LagS/truly-1) > 0.1 || p.Calibrated {
			t.Errorf("%+v is in use, %+v shown, truly %g s", p, is, truly)
		}
	}
	c.until("back in the box", func(now web.Calibration) bool { return !now.Out })
}

// A rib needs its probes: none is calibrated with one in, and one that goes in stops it.
func TestCalibrateWithRib(t *testing.T) {
	c := newCalibrated(t, 40*time.Minute)
	c.begin("a", calibrate.Pot)
	d := c.settings.daemon
	if err := d.Do(t.Context(), steambox.Event{ID: "in", Kind: steambox.Loaded, Rib: d.View().Box.Ribs[0].Label, Slot: "A"}); err != nil {
		t.Fatal(err)
	}
	now := c.until("stopped", is(web.CalibrationStopped))
	if now.Out || !strings.Contains(now.Says[0], "A rib went in") {
		t.Errorf("%+v", now)
	}
	if err := c.Calibrate("b", calibrate.Box); !refused(err, "A rib is in the box") {
		t.Errorf("with a rib in: %v", err)
	}
}

// One probe that is far off is doubted, by its name, and nothing is kept.
func TestCalibrateDoubted(t *testing.T) {
	c := newCalibrated(t, 0)
	c.begin("a", calibrate.Pot)
	c.mu.Lock()
	c.now.bath = calibrate.NewBath(calibrate.Truth{Place: calibrate.Pot, C: 93}, []string{"steam", "door"}, 2700)
	c.mu.Unlock()
	now := c.until("doubted", is(web.CalibrationDoubted))
	if !strings.HasPrefix(now.Says[0], "steam is ") || now.Probes[0].AddK != nil {
		t.Errorf("%+v", now)
	}
	if p := kept(t, c.data).Probe("steam"); p.Boil != nil {
		t.Errorf("kept %+v", p)
	}
}

func refused(err error, says string) bool {
	why := (*steambox.RefusedError)(nil)
	return errors.As(err, &why) && strings.Contains(why.Why, says)
}

// What the sensors call it is what the session knows it by.
func TestOutToCalibrate(t *testing.T) {
	if s := sensor.Calibrating.String(); s != steambox.OutToCalibrate {
		t.Errorf("%q", s)
	}
}
