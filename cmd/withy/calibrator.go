package main

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/web"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// sensors is what a daemon reads.
type sensors interface {
	sweeps
	Now() time.Duration
	Boot() string
}

// calibrator calibrates the probes of a running box. It stands between the sensors and the
// daemon: it sees every sweep, and where the tips lie in a pot or in ice it hands them on
// as out to be calibrated, so that nobody takes the pot for the box. The daemon's Source
// and web.Calibrator are what it implements.
type calibrator struct {
	sensors
	settings *settingPage
	carry    func(calibrate.Place) // carries the tips of a rehearsal there, "" back; nil on a board
	found    chan *attempt         // what is to be kept; at most one

	mu  sync.Mutex
	at  time.Duration // of the last sweep
	now *attempt      // nil: none since the program began
}

// attempt is one calibration. Once it is over it stays to be looked at.
type attempt struct {
	id, ended string // of the requests that began it and ended it
	bath      *calibrate.Bath
	state     web.CalibrationState
	why       string        // where the state alone doesn't say it
	out       bool          // the tips are out of the box
	over      time.Duration // when it was over, on the clock of the sweeps
}

// How long a calibration on the page may take, and how long after it the tips count as out
// of the box where neither they nor anybody tells that they are back.
const (
	bathLasts  = 45 * time.Minute
	backWithin = 10 * time.Minute
)

func newCalibrator(from sensors, settings *settingPage) *calibrator {
	c := &calibrator{sensors: from, settings: settings, found: make(chan *attempt, 1)}
	settings.calibrator = c
	return c
}

// Read waits for the next sweep, and takes from it what is not of the box.
func (c *calibrator) Read(ctx context.Context) (sensor.Sweep, error) {
	sweep, err := c.sensors.Read(ctx)
	if err == nil {
		c.take(&sweep)
	}
	return sweep, err
}

func (c *calibrator) take(sweep *sensor.Sweep) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = sweep.At
	a := c.now
	if a == nil || a.state != web.CalibrationGoes && !a.out {
		return
	}
	a.bath.Take(momentOf(sweep.At.Seconds(), a.readings(sweep), sweep.Door))
	switch {
	case ribIn(c.settings.daemon.View().Status.Slots):
		c.end(a, web.CalibrationStopped, words.RibWentIn)
		a.out = false
	case a.state == web.CalibrationGoes:
		c.judge(a)
	case a.out && a.state != web.CalibrationKeeps && (a.bath.Left() || sweep.At-a.over > backWithin):
		a.out = false
	}
	if a.out {
		holdBack(sweep)
	}
}

// readings are those of the attempt's probes, in its order.
func (a *attempt) readings(sweep *sensor.Sweep) []sensor.Reading {
	var out []sensor.Reading
	for _, tip := range a.bath.Tips() {
		i := slices.IndexFunc(sweep.Probes, func(r sensor.Reading) bool { return r.Probe == tip.ID })
		if i < 0 {
			out = append(out, sensor.Reading{Probe: tip.ID, Fault: &sensor.Fault{Kind: sensor.Absent}})
			continue
		}
		out = append(out, sweep.Probes[i])
	}
	return out
}

// holdBack says of every probe that it is out to be calibrated.
func holdBack(sweep *sensor.Sweep) {
	sweep.Probes = slices.Clone(sweep.Probes)
	for i := range sweep.Probes {
		sweep.Probes[i].Fault = &sensor.Fault{Kind: sensor.Calibrating}
	}
}

func ribIn(slots []steambox.Slot) bool {
	return slices.ContainsFunc(slots, func(s steambox.Slot) bool { return s.Rib != "" })
}

// judge ends the attempt as its bath has.
func (c *calibrator) judge(a *attempt) {
	switch a.bath.State() {
	case calibrate.Found:
		c.end(a, web.CalibrationKeeps, "")
		c.found <- a // there is room: only one goes on at a time, until it is kept
	case calibrate.Doubted:
		c.end(a, web.CalibrationDoubted, "")
	case calibrate.Late:
		c.end(a, web.CalibrationLate, "")
	}
}

// end ends an attempt that goes on.
func (c *calibrator) end(a *attempt, state web.CalibrationState, why string) {
	if a.state != web.CalibrationGoes {
		return
	}
	a.bath.Stop()
	a.state, a.why, a.over = state, why, c.at
	if c.carry != nil {
		c.carry("")
	}
}

// Run keeps what is found, until ctx is done.
func (c *calibrator) Run(ctx context.Context) {
	for {
		select {
		case a := <-c.found:
			state, why := c.keep(ctx, a)
			c.mu.Lock()
			a.state, a.why = state, why
			c.mu.Unlock()
		case <-ctx.Done():
			return
		}
	}
}

// keep keeps how far the probes are off, and puts it in use.
func (c *calibrator) keep(ctx context.Context, a *attempt) (state web.CalibrationState, says string) {
	data := c.settings.data
	r := calibration.Record{Steps: lagsOf(a.bath)}
	if len(r.Steps) == 0 {
		r.Bath = &calibration.Bath{Truth: a.bath.Truth(), Probes: a.bath.Offsets()}
	}
	if _, err := calibration.Save(data, r, time.Now()); err != nil {
		return web.CalibrationFailed, words.CantKeep(err)
	}
	kept, _ := calibration.Load(data) // a damaged one was told of at the start
	if err := c.settings.recalibrate(ctx, a.id, kept); err != nil && !errors.Is(err, daemon.ErrNotKept) {
		return web.CalibrationKept, words.KeptForLater
	}
	for _, o := range a.bath.Offsets() {
		if kept.Probe(o.ID).Boil == nil {
			return web.CalibrationKept, words.KeptForThePot
		}
	}
	return web.CalibrationKept, words.KeptAndInUse
}

// Calibrate begins a calibration. It implements web.Calibrator.
func (c *calibrator) Calibrate(id string, place calibrate.Place) error {
	v := c.settings.daemon.View()
	truth, err := truthAt(place, v.Box)
	if err == nil {
		err = calibration.Ready(c.settings.data)
	}
	if err != nil {
		return &steambox.RefusedError{Why: words.CantKeep(err)}
	}
	ids := make([]string, len(v.Box.Probes))
	for i, p := range v.Box.Probes {
		ids[i] = idOf(p)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case c.now != nil && c.now.id == id:
		return nil
	case c.now != nil && (c.now.state == web.CalibrationGoes || c.now.state == web.CalibrationKeeps):
		return &steambox.RefusedError{Why: words.CalibrationGoes}
	case ribIn(v.Status.Slots):
		return &steambox.RefusedError{Why: words.RibIsIn}
	}
	c.now = &attempt{id: id, bath: calibrate.NewBath(truth, ids, bathLasts.Seconds()), state: web.CalibrationGoes, out: place != calibrate.Box}
	if c.carry != nil {
		c.carry(place)
	}
	return nil
}

// truthAt is what tips in a place are truly at, where the box stands.
func truthAt(place calibrate.Place, b *steambox.Box) (calibrate.Truth, error) {
	if place == calibrate.Ice {
		return calibrate.Melting(), nil
	}
	source := calibrate.Altitude
	if b.Measured {
		source = calibrate.Barometer
	}
	return calibrate.Boiling(place, b.PressurePa, source)
}

// EndCalibration stops the one that goes on, or takes the word that the tips hang in the
// box again. It implements web.Calibrator.
func (c *calibrator) EndCalibration(id string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	a := c.now
	switch {
	case a != nil && a.ended == id:
		return nil
	case a != nil && a.state == web.CalibrationGoes:
		c.end(a, web.CalibrationStopped, words.Stopped)
	case a != nil && a.out && a.state != web.CalibrationKeeps:
		a.out = false
	default:
		return &steambox.RefusedError{Why: words.NoCalibrationNow}
	}
	a.ended = id
	return nil
}

// Calibration is how the newest stands. It implements web.Calibrator.
func (c *calibrator) Calibration() web.Calibration {
	v := c.settings.daemon.View()
	kept, _ := calibration.Load(c.settings.data) // a damaged one was told of at the start
	c.mu.Lock()
	defer c.mu.Unlock()
	out := web.Calibration{State: web.CalibrationOff, Says: []string{}, Places: placesFor(v.Box, v.Units), Probes: []web.CalibratedProbe{}}
	for _, p := range v.Box.Probes {
		known := web.CalibratedProbe{Name: p.Name, Says: words.NotCalibrated}
		if was := kept.Probe(idOf(p)); was.Boil != nil {
			known.Says = words.CalibratedAgo(max(0, time.Since(was.BoilAt).Hours()/24), was.In, v.Units)
		} else if p.Calibrated {
			known.Says = words.CalibratedByHand
		}
		out.Probes = append(out.Probes, known)
	}
	if c.now == nil {
		return out
	}
	a := c.now
	out.State, out.Place, out.Out, out.SinceS = a.state, a.bath.Truth().Place, a.out, a.bath.SinceS()
	out.Says = a.says(v.Units, func(id string) string { return nameOf(v.Box, id) })
	offsets, steps := a.bath.Offsets(), a.bath.Steps()
	for i, tip := range a.bath.Tips() { // as many as the box has: other probes take a new start
		p := &out.Probes[i]
		p.Rests = tip.Rests
		switch {
		case a.state == web.CalibrationKept && steps != nil:
			if steps[i].Err == nil {
				p.FollowsS = &steps[i].TauS
			}
		case offsets != nil:
			p.TempC = &offsets[i].ReadC
		case tip.Read && !tip.Silent:
			p.TempC = &tip.C
		}
		if a.state == web.CalibrationKept && offsets != nil {
			p.AddK = &offsets[i].OffK
		}
	}
	return out
}

// placesFor are the places for the tips, each with how it is done and what to beware of.
func placesFor(b *steambox.Box, u measure.Units) []web.CalibrationPlace {
	out := []web.CalibrationPlace{}
	for _, place := range append(slices.Clip(calibrate.Places), calibrate.Steam) {
		if t, err := truthAt(place, b); err == nil {
			out = append(out, web.CalibrationPlace{Place: place, Says: append([]string{words.Bath(t, u)}, words.BathCautions(t)...)})
		}
	}
	return out
}

// idOf is what a probe is called in sweeps and records.
func idOf(p steambox.BoxProbe) string { return cmp.Or(p.ID, p.Name) }

func nameOf(b *steambox.Box, id string) string {
	i := slices.IndexFunc(b.Probes, func(p steambox.BoxProbe) bool { return idOf(p) == id })
	return b.Probes[i].Name
}

// says is how an attempt stands, in sentences.
func (a *attempt) says(u measure.Units, nameOf func(id string) string) []string {
	t := a.bath.Truth()
	var out []string
	switch a.state {
	case web.CalibrationGoes:
		out = []string{words.Bath(t, u), words.WatchingTips(t)}
		if a.bath.Away() {
			out = append(out, words.NotThere(t))
		}
		out = append(out, words.BathCautions(t)...)
	case web.CalibrationKeeps:
		out = []string{words.KeepingThem}
	case web.CalibrationKept:
		out = append([]string{a.why, words.Bathed(t)}, a.followed(nameOf)...)
	case web.CalibrationDoubted:
		for _, d := range a.bath.Doubts() {
			out = append(out, words.Doubt(t, d, nameOf(d.ID), u))
		}
		out = append(append(out, a.followed(nameOf)...), words.NothingKept)
	case web.CalibrationLate:
		out = []string{words.NotAtRest(bathLasts.Seconds())}
	default:
		out = []string{a.why}
	}
	if a.out {
		out = append(out, words.TipsOut)
	}
	return out
}

// followed is how each probe followed, where the attempt was a step.
func (a *attempt) followed(nameOf func(id string) string) []string {
	var out []string
	for _, f := range a.bath.Steps() {
		out = append(out, words.Lag(nameOf(f.ID), f.Step, f.Err))
	}
	return out
}
