package daemon

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// source is what is read: a board's sensors, or the rehearsal box's.
type source interface {
	Read(context.Context) (sensor.Sweep, error)
	Now() time.Duration
	Boot() string
}

// player makes a sound, without waiting for it.
type player interface{ Play(alert.Sound) }

// shower shows a light, without waiting for it.
type shower interface{ Show(alert.Light) }

// teller tells people away from the box, without waiting for it.
type teller interface {
	Hand(*view.View)
	Standing() []view.Output
	Try(ctx context.Context, box string) []view.Tried
}

// letter lets in the phone that asks, when the board's button is pressed.
type letter interface {
	Asked() bool
	Press() (name string, err error)
}

// Options is what a daemon is made of.
type Options struct {
	Box      steambox.Box
	Source   source
	Record   *record.Record            // nil: nothing is kept
	Unkept   bool                      // something ought to be kept and can't be: an alarm
	Sounds   player                    // nil: silence
	Lamp     shower                    // nil: none
	Outputs  teller                    // nil: none
	Ails     func() []steambox.Ailment // what is wrong with the board now; nil: nobody knows
	Door     letter                    // nil: nobody is let in by a button
	Buttons  map[string]string
	Floats   []float64            // litres left when each of the source's floats turns
	Speed    float64              // of the rehearsal; 1 on a board
	Units    measure.Units        // that people see
	Number   int                  // painted on the box; 0: the only one
	Troubles []string             // known before the start: what is wrong with the settings, the record
	Done     func(steambox.Event) // told of each event once it counts; nil: nobody
	Wall     func() time.Time     // what the wall clock shows; nil: the machine's
	Timed    func() bool          // whether that is known to be right; nil: it is
	Swept    func()               // told of sweeps that were folded and published: see senses; nil: nobody
	Log      *slog.Logger
}

// Daemon runs one box. Its methods may be called by any goroutine.
type Daemon struct {
	Options
	fold     *Fold
	origin   time.Duration // the source's clock at elapsed 0
	id       string        // of the session on record
	sounder  alert.Sounder
	started  time.Time
	shot     time.Duration // elapsed time of the last snapshot
	now      atomic.Pointer[published]
	commands chan command
	senses   senses
	sound    view.Sounding
	tried    string // id of the sound that somebody tried last
	nextID   string // id by which this session was begun, where somebody wanted another
	lateness atomic.Int64
	floats   []sensor.Contact // what each float said last
	pressed  pressed          // the last press that was taken
	answer   view.Answer      // to it

	messages   messages // the last test message
	epoch      int64    // what the wall clock showed when the source's clock stood at 0, ns
	undated    bool     // the wall clock was not known to be right since the board was started
	off        off      // how long the board was off, while that isn't known
	writer     writer
	late       []late      // what the record has not answered
	lost       bool        // the record can't be written
	correcting *correction // nil: none is under way
	copies     chan corrected
	erasing    bool // the record is being erased
	erasures   chan erased
}

// published is a view and the channel that tells of the next one.
type published struct {
	view *view.View
	next chan struct{}
}

// command is an event on its way to the loop.
type command struct {
	event steambox.Event
	press string      // what a key does; "" for an event
	try   alert.Sound // a sound to be tried; Silent for an event
	set   *change     // of the settings; nil for an event
	anew  *anew       // what is begun with after all was erased; nil for an event
	next  *next       // of another log; nil for an event
	done  chan error
}

// ErrNotKept says that something counts, but could not be stored.
var ErrNotKept = errors.New("the record can't be written")

// New returns a daemon that goes on with the record's unfinished session if there
// is one, else with a new one. It publishes its first view before it returns.
func New(o Options) (*Daemon, error) {
	d := &Daemon{Options: o, commands: make(chan command), copies: make(chan corrected, 1), erasures: make(chan erased, 1), started: time.Now()}
	if d.Wall == nil {
		d.Wall = time.Now
	}
	if d.Log == nil {
		d.Log = slog.New(slog.DiscardHandler)
	}
	if d.Timed == nil {
		d.Timed = func() bool { return true }
	}
	d.undated = !d.Timed()
	if err := d.begin(); err != nil {
		return nil, err
	}
	d.retime()
	d.now.Store(&published{view: &view.View{}, next: make(chan struct{})})
	d.publish()
	return d, nil
}

// sweepsWaiting is how many sweeps may wait while the loop writes to the record.
const sweepsWaiting = 16

// Run reads the source until ctx is done or the source ends. It flushes the
// record before it returns, and is called once.
func (d *Daemon) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	var reader sync.WaitGroup
	defer reader.Wait()
	defer cancel()
	sweeps := make(chan sensor.Sweep, sweepsWaiting)
	ended := make(chan error, 1)
	reader.Go(func() { ended <- d.read(ctx, sweeps) })
	defer d.keepLast()
	for {
		select {
		case sweep := <-sweeps:
			d.sweep(sweep)
		case c := <-d.commands:
			d.command(c)
		case made := <-d.copies:
			d.swap(made)
		case e := <-d.erasures:
			d.beginAnew(e)
		case err := <-ended:
			if ctx.Err() != nil {
				return nil
			}
			return fmt.Errorf("sensors: %w", err)
		case <-ctx.Done():
			return nil
		}
	}
}

func (d *Daemon) read(ctx context.Context, sweeps chan<- sensor.Sweep) error {
	for {
		sweep, err := d.Source.Read(ctx)
		if err != nil {
			return err
		}
		select {
		case sweeps <- sweep:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// snapshotEvery is how far apart snapshots are: a start has at most so much to
// fold again.
const snapshotEvery = 5 * time.Minute

// sweep takes what all sensors said.
func (d *Daemon) sweep(sweep sensor.Sweep) {
	d.followWall()
	at := max(0, sweep.At-d.origin)
	m := d.sample(sweep)
	d.keepSample(at, m)
	d.fold.Sample(at, m)
	d.note(steambox.Entry{At: at, Sample: &m})
	d.reach(sweep.At)
	d.ails(sweep.At)
	for _, p := range sweep.Presses {
		d.press(p)
	}
	d.sunk(sweep)
	switch {
	case d.erasing: // there is no session on record that could be kept or ended
	case d.fold.Session.Over() && !d.fold.Alarms.Held():
		d.finish(at)
	case at-d.shot >= snapshotEvery && d.writer.waiting() < mostJobs:
		_ = d.keepSoon(d.snapshot())
	}
	d.lateness.Store(int64(max(0, d.Source.Now()-sweep.At)))
	helpless := d.senses.take(time.Since(d.started), sweep)
	d.publish()
	if d.Swept != nil && !helpless {
		d.Swept()
	}
}

// sample turns a sweep into what the session knows, probe by probe by name.
func (d *Daemon) sample(sweep sensor.Sweep) steambox.Sample {
	m := steambox.Sample{Level: contact(sweep.Level), Door: contact(sweep.Door)}
	for _, p := range d.fold.Session.Box().Probes {
		one := steambox.ProbeSample{Fault: sensor.Absent.String()}
		i := slices.IndexFunc(sweep.Probes, func(r sensor.Reading) bool { return r.Probe == cmp.Or(p.ID, p.Name) })
		if i >= 0 {
			one = probeSample(sweep.Probes[i])
		}
		m.Probes = append(m.Probes, one)
	}
	return m
}

func probeSample(r sensor.Reading) steambox.ProbeSample {
	if r.Fault != nil {
		return steambox.ProbeSample{Fault: r.Fault.Kind.String()}
	}
	return steambox.ProbeSample{MilliC: int32(math.Round(float64(r.Temp) * 1000))}
}

func contact(c sensor.Contact) boiler.Contact {
	switch c {
	case sensor.Closed:
		return boiler.Closed
	case sensor.Open:
		return boiler.Open
	}
	return boiler.Unknown
}

// command takes what somebody told.
func (d *Daemon) command(c command) {
	switch {
	case c.press != "":
		err := d.pressFor(c.press, c.event.ID, "key", d.Source.Now())
		d.publish()
		d.reply(c, err)
	case c.try != alert.Silent:
		d.try(c)
	case c.anew != nil:
		d.erase(c)
	case c.next != nil:
		d.reply(c, d.begins(c.event.ID, *c.next))
	case c.set != nil:
		d.reply(c, d.set(c.event.ID, *c.set))
	case c.event.Corrects():
		d.correct(c)
	default:
		d.reply(c, d.do(c.event))
	}
}

// do enters an event and publishes what has come of it; a refused one changes
// nothing, and nothing is published.
func (d *Daemon) do(e steambox.Event) error {
	err := d.enter(e)
	if err == nil || errors.Is(err, ErrNotKept) {
		d.publish()
	}
	return err
}

// enter takes an event: checked, on disk, folded, in that order. One that can't be
// stored counts all the same, and ErrNotKept says that it wasn't; told again once it
// could be, it is well. One that can't wait to be stored either does not count: errFull.
func (d *Daemon) enter(e steambox.Event) error {
	if err := d.fold.Check(e); err != nil {
		return err
	}
	if d.fold.Session.Knows(e.ID) {
		return d.keepWaiting()
	}
	if d.erasing {
		return errBusy
	}
	if d.full() {
		return errFull
	}
	at := d.elapsed()
	kept := d.keepEvent(at, e)
	if err := d.fold.Do(at, e); err != nil {
		return err
	}
	d.note(steambox.Entry{At: at, Event: &e})
	d.told(e)
	return kept
}

// elapsed is the session's time now.
func (d *Daemon) elapsed() time.Duration {
	return max(d.fold.Session.Elapsed(), d.Source.Now()-d.origin)
}

// told lets be known that an event counts.
func (d *Daemon) told(e steambox.Event) {
	d.Log.Info("told", "kind", string(e.Kind), "rib", e.Rib, "slot", e.Slot, "of", e.Of, "by", e.By)
	if d.Done != nil {
		d.Done(e)
	}
}

// publish makes what is known now the view that everybody reads.
func (d *Daemon) publish() {
	was := d.now.Load()
	s, box := d.fold.Session.Status(), d.fold.Session.Box()
	alarms := d.fold.Alarms.Alarms(&s)
	d.makeSound(&s, alarms)
	if d.Lamp != nil {
		d.Lamp.Show(alert.LightOf(alarms))
	}
	v := &view.View{
		Seq: was.view.Seq + 1, Session: d.id, Number: d.Number, Wall: d.Wall().UTC(), Status: s, Alarms: alarms,
		Says: says(&s, alarms), StopSays: words.Stop(s.Stop), Asks: words.Proposed(s.Proposal), HullSays: words.Hulls(s.Hulls), Advice: words.Advice(&s, d.Units), Rig: words.Rig(&s, d.Units), Troubles: append([]string{}, d.Troubles...), Units: cmp.Or(d.Units, measure.Metric), Speed: d.Speed, Sound: d.sound, Answer: d.answer,
		Outputs: d.outputs(), Box: &box,
	}
	if d.Outputs != nil {
		d.Outputs.Hand(v)
	}
	d.now.Store(&published{view: v, next: make(chan struct{})})
	close(was.next)
}

// makeSound starts the sound that is due now, if one is.
func (d *Daemon) makeSound(s *steambox.Status, alarms []alert.Alarm) {
	sound := d.sounder.Next(time.Since(d.started), s, alarms)
	if sound == alert.Silent {
		return
	}
	d.play(sound)
}

// play starts a sound at the buzzer and on the pages.
func (d *Daemon) play(sound alert.Sound) {
	if d.Sounds != nil {
		d.Sounds.Play(sound)
	}
	d.sound = view.Sounding{N: d.sound.N + 1, Sound: sound}
}

// try makes a sound that somebody wants to hear.
func (d *Daemon) try(c command) {
	if d.tried != c.event.ID {
		d.tried = c.event.ID
		d.play(c.try)
		d.publish()
	}
	c.done <- nil
}

// says puts the calls into sentences. While there is pressure in the box nobody
// is called to the door.
func says(s *steambox.Status, alarms []alert.Alarm) []string {
	out := make([]string, len(s.Calls))
	for i, c := range s.Calls {
		switch {
		case alert.KeepAway(alarms) && (c.Do == steambox.PullCall || c.Do == steambox.LoadCall):
			out[i] = words.KeepAway
		case c.Do == steambox.DoneCall && s.HeatOff:
			out[i] = words.AllOutHeatOff
		default:
			out[i] = words.Call(c)
		}
	}
	return out
}

// View returns the newest view. It must not be changed.
func (d *Daemon) View() *view.View { return d.now.Load().view }

// Changed returns a channel that is closed once there is a newer view.
func (d *Daemon) Changed() <-chan struct{} { return d.now.Load().next }

// Do enters what the crew did. It returns once the event is on disk and counts.
func (d *Daemon) Do(ctx context.Context, e steambox.Event) error {
	return d.ask(ctx, command{event: e})
}

// Try makes a sound, so that it is known to be heard. The same id counts once.
func (d *Daemon) Try(ctx context.Context, sound alert.Sound, id string) error {
	return d.ask(ctx, command{try: sound, event: steambox.Event{ID: id}})
}

// change is what somebody wants to have set otherwise.
type change struct {
	box   func(*steambox.Box) error
	units measure.Units
}

// Set lets the box be otherwise from now on, as change makes it, and what people read be
// in units. An error of change is returned and nothing is set; so it is where the
// session can't take it now, by a *steambox.RefusedError.
func (d *Daemon) Set(ctx context.Context, id string, box func(*steambox.Box) error, units measure.Units) error {
	return d.ask(ctx, command{event: steambox.Event{ID: id}, set: &change{box, units}})
}

// set changes the box that there is, and the one that the next session begins with.
func (d *Daemon) set(id string, c change) error {
	if d.fold.Session.Knows(id) { // by now something else may have been set
		return d.keepWaiting()
	}
	now, next := d.fold.Session.Box(), d.Box
	if err := errors.Join(c.box(&now), c.box(&next)); err != nil {
		return err
	}
	err := d.enter(steambox.Event{ID: id, Kind: steambox.Set, Box: &now, By: "page"})
	if err == nil || errors.Is(err, ErrNotKept) {
		d.Box, d.Units = next, c.units
		d.publish()
	}
	return err
}

// ask hands a command to the loop and returns its answer.
func (d *Daemon) ask(ctx context.Context, c command) error {
	c.done = make(chan error, 1)
	select {
	case d.commands <- c:
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case err := <-c.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Trace returns a stretch of the session's past, at most so many moments.
func (d *Daemon) Trace(_ context.Context, fromS, toS float64, most int) (view.Trace, error) {
	session := d.View().Session
	if d.Record == nil || session == "" {
		return view.Trace{}, ErrNotKept
	}
	return d.Record.Trace(session, fromS, toS, most)
}

// Report returns the report of a session on record, "" for the one that goes on. The
// loop has no part in it. Errors wrap record.ErrUnknown where there is no such session,
// and ErrNotKept where nothing is kept.
func (d *Daemon) Report(ctx context.Context, session string) (*report.Report, error) {
	session = cmp.Or(session, d.View().Session)
	if d.Record == nil || session == "" {
		return nil, ErrNotKept
	}
	r, err := Report(ctx, d.Record, session)
	if err != nil {
		return nil, err
	}
	if !d.Timed() { // nobody has put right since what was labelled under this boot
		left, err := d.Record.Left(session)
		if err != nil {
			return nil, err
		}
		r.Undated = r.Undated || left.Clock.Boot == d.Source.Boot()
	}
	return r, nil
}

// Lateness returns how late the last sweep was folded.
func (d *Daemon) Lateness() time.Duration { return time.Duration(d.lateness.Load()) }

// trouble enters something wrong with the program itself, once.
func (d *Daemon) trouble(sentence string, err error) {
	d.Log.Warn("trouble", "what", sentence, "err", err)
	if !slices.Contains(d.Troubles, sentence) {
		d.Troubles = append(d.Troubles, sentence)
	}
}
