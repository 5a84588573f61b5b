// Package crew plays the fitter of a rehearsal. It knows the box only by what the
// daemon tells everybody over HTTP, and does what it does by telling the daemon,
// as a page's buttons do; only how a rib bends it learns from the box itself.
package crew

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/rehearsal"
)

// hands is what the crew does with wood and draws its habits from.
type hands interface {
	Bend(rib string) (rehearsal.Outcome, error)
	Delay(rehearsal.Task) time.Duration
	Fitter() rehearsal.Fitter
}

// Crew is one fitter. It belongs to the goroutine that runs it.
type Crew struct {
	line  *http.Client
	url   string
	hands hands
	log   *slog.Logger
	told  int

	agenda []job
	busy   bool            // a rib is in hand
	calls  map[string]bool // calls that are being answered
}

// job is something to be done at a moment of the box's time, in seconds.
type job struct {
	at float64
	do func(context.Context, *view.View) error
}

// New returns a crew that works with the daemon at url, which line reaches.
func New(line *http.Client, url string, h hands, log *slog.Logger) *Crew {
	return &Crew{line: line, url: url, hands: h, log: log, calls: map[string]bool{}}
}

// Run works until ctx is done, looking at the box every so often.
func (c *Crew) Run(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if v, err := c.look(ctx); err != nil {
			c.log.Debug("the crew can't see the box", "err", err)
		} else {
			c.work(ctx, v)
		}
	}
}

// look reads what the daemon tells everybody.
func (c *Crew) look(ctx context.Context) (*view.View, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, c.url+"/api/status", nil)
	if err != nil {
		return nil, err
	}
	answer, err := c.line.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("status: %s", answer.Status)
	}
	v := &view.View{}
	return v, json.NewDecoder(answer.Body).Decode(v)
}

// work does what is due and puts what is new on the agenda.
func (c *Crew) work(ctx context.Context, v *view.View) {
	now := v.Status.ElapsedS
	rest := c.agenda[:0]
	var due []job
	for _, j := range c.agenda {
		if j.at <= now {
			due = append(due, j)
		} else {
			rest = append(rest, j)
		}
	}
	c.agenda = rest
	for _, j := range due {
		if err := j.do(ctx, v); err != nil {
			c.log.Debug("the crew could not", "err", err)
		}
	}
	c.water(v)
	c.alarms(v)
	c.ribs(v)
}

// in puts something on the agenda, so long from now.
func (c *Crew) in(v *view.View, d time.Duration, do func(context.Context, *view.View) error) {
	c.agenda = append(c.agenda, job{v.Status.ElapsedS + d.Seconds(), do})
}

// once reports whether something named so is new, and remembers it.
func (c *Crew) once(name string) bool {
	if c.calls[name] {
		return false
	}
	c.calls[name] = true
	return true
}

// tell tells the daemon what was done.
func (c *Crew) tell(ctx context.Context, v *view.View, e steambox.Event) error {
	c.told++
	e.ID, e.By = fmt.Sprintf("crew-%s-%.0f-%d", v.Session, v.Status.ElapsedS, c.told), "rehearsal"
	body, err := json.Marshal(e)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, c.url+"/api/event", bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	answer, err := c.line.Do(r)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", e.Kind, answer.Status)
	}
	return nil
}

// firstFillL is what stands in the rehearsal's boiler at the start, as its maker
// has it.
const firstFillL = 4

// patience is how long the crew waits for a box that wind or gaps keep from being level,
// before it starts all the same.
const patience = 45 * time.Minute

// water tells the first fill, and puts the kettle on when it is called for.
func (c *Crew) water(v *view.View) {
	w := v.Status.Water
	if !w.Told && c.once("fill") {
		c.in(v, 0, func(ctx context.Context, v *view.View) error {
			return c.tell(ctx, v, steambox.Event{Kind: steambox.Filled, Litres: firstFillL})
		})
	}
	fitter := c.hands.Fitter()
	if !fitter.Refills || w.KettleS != nil || !called(v) || !c.once("kettle") {
		return
	}
	c.in(v, c.hands.Delay(rehearsal.React), func(ctx context.Context, v *view.View) error {
		boil := time.Duration(v.Status.Water.LeadS * float64(time.Second))
		c.in(v, boil+c.hands.Delay(rehearsal.Pour), func(ctx context.Context, v *view.View) error {
			delete(c.calls, "kettle")
			return c.tell(ctx, v, steambox.Event{Kind: steambox.Refilled, Litres: fitter.PourL, TempC: float64(fitter.PourTemp)})
		})
		return c.tell(ctx, v, steambox.Event{Kind: steambox.KettleOn})
	})
}

// called reports whether the kettle is called for.
func called(v *view.View) bool {
	for _, a := range v.Alarms {
		if (a.ID == alert.DrySoon || a.ID == alert.WaterLow || a.ID == alert.DryNow) && (a.State == alert.Raised || a.State == alert.HeardBy) {
			return true
		}
	}
	return false
}

// alarms hears what is up, and does the first thing that a dry boiler asks for.
func (c *Crew) alarms(v *view.View) {
	for _, a := range v.Alarms {
		if a.State != alert.Raised || !c.once(fmt.Sprint("alarm ", a.Key(), a.Count)) {
			continue
		}
		c.in(v, 2*c.hands.Delay(rehearsal.React), func(ctx context.Context, v *view.View) error {
			if a.ID == alert.BoilerDry || a.ID == alert.Pressure {
				if err := c.tell(ctx, v, steambox.Event{Kind: steambox.Heat}); err != nil {
					return err
				}
			}
			return c.tell(ctx, v, steambox.Event{Kind: steambox.Heard, Alarm: a.Key()})
		})
	}
}

// ribs answers the next call that is due, with one rib in hand at a time.
func (c *Crew) ribs(v *view.View) {
	if v.Status.Phase == steambox.Warming && v.Status.ElapsedS > patience.Seconds() && c.once("start") {
		c.in(v, c.hands.Delay(rehearsal.React), func(ctx context.Context, v *view.View) error {
			return c.tell(ctx, v, steambox.Event{Kind: steambox.Start})
		})
	}
	for _, call := range v.Status.Calls {
		switch {
		case call.Do == steambox.DoneCall && !c.busy && c.once("done"):
			c.in(v, time.Minute, func(ctx context.Context, v *view.View) error {
				return c.tell(ctx, v, steambox.Event{Kind: steambox.Heat})
			})
		case c.busy || call.InS == nil || *call.InS > 0 || v.Status.HeatOff:
		case call.Do == steambox.LoadCall:
			c.busy = true
			c.in(v, c.hands.Delay(rehearsal.React), func(ctx context.Context, v *view.View) error {
				c.busy = false
				return c.tell(ctx, v, steambox.Event{Kind: steambox.Loaded, Rib: call.Rib, Slot: call.Slot})
			})
		case call.Do == steambox.PullCall:
			c.busy = true
			c.in(v, c.hands.Delay(rehearsal.React), func(ctx context.Context, v *view.View) error {
				return c.pull(ctx, v, call)
			})
		}
	}
}

// pull pulls a rib, bends it, fits it, and only then has its hands free.
func (c *Crew) pull(ctx context.Context, v *view.View, call steambox.Call) error {
	if err := c.tell(ctx, v, steambox.Event{Kind: steambox.Pulled, Slot: call.Slot}); err != nil {
		c.busy = false
		return err
	}
	carry := c.hands.Delay(rehearsal.Carry)
	c.in(v, carry, func(ctx context.Context, v *view.View) error {
		bent, err := c.hands.Bend(call.Rib)
		if err != nil {
			return err
		}
		return c.tell(ctx, v, steambox.Event{Kind: steambox.Outcome, Rib: call.Rib, Outcome: string(bent.Result), Where: bent.Where})
	})
	c.in(v, carry+c.hands.Delay(rehearsal.Fit), func(ctx context.Context, v *view.View) error {
		c.busy = false
		return c.tell(ctx, v, steambox.Event{Kind: steambox.Fitted, Rib: call.Rib, Mark: call.Mark})
	})
	return nil
}
