package steambox_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/rehearsal"
)

// stage is a rehearsal world with a session that watches it and a crew that does
// what it is told, a second at a time.
type stage struct {
	t     testing.TB
	world *rehearsal.World
	*steambox.Session
	beside *steambox.Session // a second one that sees and is told the same, or nil
	n      int
	busy   time.Duration
	kettle time.Duration
	wires  func(*steambox.Sample) // what the wires make of a sample; nil: nothing
	called func() bool            // whether the kettle is called for; nil: as the water stands
	ribs   map[string]rehearsal.Rib
}

func newStage(t testing.TB, scenario string, seed uint64, film func(*steambox.Box)) *stage {
	t.Helper()
	w, err := rehearsal.New(scenario, seed)
	if err != nil {
		t.Fatal(err)
	}
	b := steambox.DefaultBox()
	b.LengthM, b.PressurePa, b.Measured = float64(w.Length()), w.AmbientPa(), true
	b.ShopC, b.WoodC = float64(w.ShopC()), float64(w.ShopC())
	for _, p := range w.Probes() {
		b.Probes = append(b.Probes, steambox.BoxProbe{Name: p.Name, XM: float64(p.X), LagS: 10, Calibrated: true})
	}
	plate := w.Boiler()
	b.Boiler.PowerW, b.Boiler.FullL, b.Boiler.SwitchL, b.Boiler.Gas = plate.PowerW, plate.CapacityL, plate.LevelL, plate.Kind == "gas"
	b.Learn, b.Window = false, steambox.Window{Soft: 2.5, Target: 3, Over: 9}
	s := &stage{t: t, world: w, ribs: map[string]rehearsal.Rib{}}
	for _, r := range rehearsal.Plan() {
		s.ribs[r.Label] = r
		b.Ribs = append(b.Ribs, steambox.Rib{Label: r.Label, LengthM: float64(r.Length), ThicknessM: float64(r.Thickness),
			WidthM: float64(r.Width), StationM: float64(r.Station)})
	}
	if film != nil {
		film(&b)
	}
	s.Session = session(t, b)
	s.tell(steambox.Event{Kind: steambox.Filled, Litres: w.WaterL()})
	return s
}

// watchBeside begins a second session of the same box, but with another film: the
// crew goes by the first.
func (s *stage) watchBeside(filmWPerM2, factor float64) {
	s.t.Helper()
	b := s.Box()
	b.Wood.FilmWPerM2, b.Wood.FilmFactor = filmWPerM2, factor
	s.beside = session(s.t, b)
	if err := s.beside.Do(0, steambox.Event{Kind: steambox.Filled, ID: "0", Litres: s.world.WaterL()}); err != nil {
		s.t.Fatal(err)
	}
}

func (s *stage) tell(e steambox.Event) {
	s.t.Helper()
	s.n++
	e.ID = fmt.Sprint(s.n)
	for _, x := range s.sessions() {
		if err := x.Do(s.world.Elapsed(), e); err != nil {
			s.t.Fatalf("%s: %v", e.Kind, err)
		}
	}
}

// sessions are those that watch: the crew's first.
func (s *stage) sessions() []*steambox.Session {
	if s.beside == nil {
		return []*steambox.Session{s.Session}
	}
	return []*steambox.Session{s.Session, s.beside}
}

// second lets one second go by and lets the session see it.
func (s *stage) second() {
	s.world.Step(time.Second)
	m := steambox.Sample{Level: boiler.Open}
	if s.world.LevelClosed() {
		m.Level = boiler.Closed
	}
	for _, p := range s.world.Probes() {
		one := steambox.ProbeSample{MilliC: int32(math.Round(float64(p.Temp) * 1000))}
		if !p.OK || p.PowerOn {
			one = steambox.ProbeSample{Fault: "absent"}
		}
		m.Probes = append(m.Probes, one)
	}
	if s.wires != nil {
		s.wires(&m)
	}
	for _, x := range s.sessions() {
		x.Sample(s.world.Elapsed(), m)
	}
}

// patience is how long the crew waits for a box that wind or gaps keep from being level,
// before it starts all the same.
const patience = 45 * time.Minute

// crew answers the calls, one rib in hand at a time, and boils the kettle when the
// water calls for it. It returns the rib that it pulled.
func (s *stage) crew() (pulled string) {
	now, st := s.world.Elapsed(), s.Signals()
	s.water(now, st.Water)
	if now == patience && st.Phase == steambox.Warming {
		s.tell(steambox.Event{Kind: steambox.Start})
	}
	if now < s.busy || now%(5*time.Second) != 0 {
		return ""
	}
	for _, c := range s.Status().Calls {
		switch {
		case c.InS == nil || *c.InS > 0:
		case c.Do == steambox.LoadCall:
			if err := s.world.Load(int(c.Slot[0]-'A'), s.ribs[c.Rib]); err != nil {
				s.t.Fatal(err)
			}
			s.tell(steambox.Event{Kind: steambox.Loaded, Rib: c.Rib, Slot: c.Slot})
			s.busy = now + s.world.Delay(rehearsal.Swap)
			return ""
		case c.Do == steambox.PullCall:
			if _, err := s.world.Pull(int(c.Slot[0] - 'A')); err != nil {
				s.t.Fatal(err)
			}
			s.tell(steambox.Event{Kind: steambox.Pulled, Slot: c.Slot})
			s.busy = now + s.world.Delay(rehearsal.Fit)
			return c.Rib
		}
	}
	return ""
}

func (s *stage) water(now time.Duration, w steambox.WaterNow) {
	f := s.world.Fitter()
	lead := time.Duration(w.LeadS * float64(time.Second))
	switch {
	case s.kettle > 0 && now >= s.kettle:
		s.world.Refill(f.PourL, f.PourTemp)
		s.tell(steambox.Event{Kind: steambox.Refilled, Litres: f.PourL, TempC: float64(f.PourTemp)})
		s.kettle = 0
	case !f.Refills || s.kettle > 0:
	case s.called == nil && w.DryLoS != nil && *w.DryLoS < 2*w.LeadS && w.Boiling:
		s.kettle = now + lead
	case s.called != nil && s.called():
		s.kettle = now + lead + s.world.Delay(rehearsal.Pour)
		s.tell(steambox.Event{Kind: steambox.KettleOn})
	}
}

// untilBare lets the box boil with nobody there to refill it, until the element is
// bare: how long before that the dry warning came, 0 if it didn't.
func (s *stage) untilBare() time.Duration {
	called := time.Duration(0)
	for range 4 * 3600 {
		s.second()
		w := s.Signals().Water
		if called == 0 && w.Boiling && w.DryLoS != nil && *w.DryLoS <= w.LeadS {
			called = s.world.Elapsed()
		}
		if s.world.WaterL() <= s.Box().Boiler.BareL {
			break
		}
	}
	if called == 0 {
		return 0
	}
	return s.world.Elapsed() - called
}

// The dry warning comes no later than the kettle's lead before the truth, wherever
// the fill was told.
func TestKettleCalledInTime(t *testing.T) {
	for _, scenario := range []string{"boils-dry", "switch-stuck"} {
		s := newStage(t, scenario, 2, nil)
		lead := s.Box().Kettle.Lead(99)
		before := s.untilBare()
		if before < lead {
			t.Errorf("%s: called %v before the element was bare, lead %v", scenario, before, lead)
		}
		t.Logf("%s: called %v before the element was bare; the kettle takes %v", scenario, before, lead.Round(time.Second))
	}
}

// In a run where everything is told as it happens nothing is asked, and a pull that
// nobody tells is asked about nearly always.
func TestDoorOfTheRehearsal(t *testing.T) {
	for seed := range uint64(3) {
		s := newStage(t, "good", seed, nil)
		pulls, asked, silent, slot := 0, 0, time.Duration(0), ""
		for s.world.Elapsed() < 70*time.Minute {
			s.second()
			st := s.Status()
			if silent == 0 && st.Proposal != nil {
				t.Fatalf("seed %d: asked %+v though all was told", seed, st.Proposal)
			}
			c := first(t, st)
			due := c.Do == steambox.PullCall && c.InS != nil && *c.InS == 0
			switch now := s.world.Elapsed(); {
			case silent > 0 && now-silent == 30*time.Second:
				if p := st.Proposal; p != nil && p.Slot == slot {
					asked++
				}
				s.tell(steambox.Event{Kind: steambox.Pulled, Slot: slot})
				silent = 0
			case silent > 0:
			case due && st.Bent.Untold > 3 && st.QuietS > 30: // pulled, and not told
				slot = c.Slot
				if _, err := s.world.Pull(int(slot[0] - 'A')); err != nil {
					t.Fatal(err)
				}
				pulls, silent = pulls+1, now
			default:
				s.crew()
			}
		}
		t.Logf("seed %d: %d pulls untold, %d asked about", seed, pulls, asked)
		if pulls < 5 || asked < pulls*8/10 {
			t.Errorf("seed %d: %d of %d untold pulls were asked about", seed, asked, pulls)
		}
	}
}
