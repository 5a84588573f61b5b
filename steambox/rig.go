package steambox

import (
	"slices"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/unit"
)

// RigItem is one thing of the rig check, which is walked through before the first
// rib. Nothing waits for it.
type RigItem string

// The items, in the order of the walk: what costs most time to put right first.
const (
	RigPlace       RigItem = "place"       // where it boils at this height and pressure
	RigProbes      RigItem = "probes"      // each reads, and was calibrated
	RigEnds        RigItem = "ends"        // the probes hang at the ends that they are named for
	RigSwitch      RigItem = "switch"      // the float was seen low and high
	RigWater       RigItem = "water"       // how much was filled is told
	RigKettle      RigItem = "kettle"      // full, and boiled once already
	RigTank        RigItem = "tank"        // a closed tank is not opened hot
	RigElectricity RigItem = "electricity" // the breaker for leakage was tried
	RigBurner      RigItem = "burner"      // outdoors or with doors open, and attended
	RigVent        RigItem = "vent"        // vent and drain are open
	RigScald       RigItem = "cold-water"  // for a scald, within reach
	RigBuzzer      RigItem = "buzzer"      // heard at the boat
	RigPhone       RigItem = "phone"       // the other page makes a sound
	RigMessage     RigItem = "message"     // somebody away from the box got a test message
	RigTablet      RigItem = "tablet"      // on its battery, leads overhead
	RigMarks       RigItem = "marks"       // a mark on one end of every blank
	RigGunwales    RigItem = "gunwales"    // port and starboard can be told
	RigBoat        RigItem = "boat"        // how she lies is set on this page
)

// RigItems lists all of them in their order.
var RigItems = []RigItem{
	RigPlace, RigProbes, RigEnds, RigSwitch, RigWater, RigKettle, RigTank, RigElectricity, RigBurner, RigVent,
	RigScald, RigBuzzer, RigPhone, RigMessage, RigTablet, RigMarks, RigGunwales, RigBoat,
}

// RigTold are those that the box can't find out by itself.
var RigTold = func() (out []string) {
	for _, item := range RigItems {
		if !slices.Contains([]RigItem{RigProbes, RigEnds, RigSwitch, RigWater}, item) {
			out = append(out, string(item))
		}
	}
	return out
}()

// RigState is how far an item is.
type RigState string

// Open has neither been seen nor told; wrong is what the box itself contradicts.
const (
	RigOpen  RigState = "open"
	RigGood  RigState = "good"
	RigWrong RigState = "wrong"
)

// RigNow is one item now. Seen says that the box finds it out by itself, so that
// nobody can tell it.
type RigNow struct {
	Item  RigItem  `json:"item"`
	State RigState `json:"state"`
	Seen  bool     `json:"seen"`
}

// rig is what was seen and told of the rig check.
type rig struct {
	Told   []RigItem
	Low    bool // the float switch was seen open
	High   bool // and closed
	Began  [2]bool
	FirstC [2]float64       // of each end
	Above  [2]int           // readings in a row that were far above it
	Rose   [2]time.Duration // when an end had risen far; 0: it hasn't
}

// check enters that an item was looked at and found in order, or not any more.
func (r *rig) check(item RigItem, good bool) {
	i := slices.Index(r.Told, item)
	switch {
	case good && i < 0:
		r.Told = append(r.Told, item)
	case !good && i >= 0:
		r.Told = slices.Delete(slices.Clone(r.Told), i, i+1)
	}
}

// An end has risen when two readings in a row are so far above its first; the probes
// hang the wrong way round when the door end did so before the steam end by more than
// two probes' lags may differ. The figures are calibrate.Swapped's.
const (
	roseK    = 40
	roseRow  = 2
	roseLead = 30 * time.Second
)

// watch takes in what tells of the rig at a sample.
func (r *rig) watch(s *Session, at time.Duration, level boiler.Contact) {
	r.Low, r.High = r.Low || level == boiler.Open, r.High || level == boiler.Closed
	for _, e := range unit.Ends {
		probe := 0
		if e == unit.DoorEnd {
			probe = len(s.box.Probes) - 1
		}
		if r.Rose[e] > 0 || s.Probes[probe].Fault != "" {
			continue
		}
		c := s.measuredC(probe)
		if !r.Began[e] {
			r.Began[e], r.FirstC[e] = true, c
		}
		if r.Above[e]++; c < r.FirstC[e]+roseK {
			r.Above[e] = 0
		}
		if r.Above[e] >= roseRow {
			r.Rose[e] = max(at, 1)
		}
	}
}

// rigNow lists the items that this box has.
func (s *Session) rigNow() []RigNow {
	var out []RigNow
	for _, item := range RigItems {
		if !s.has(item) {
			continue
		}
		out = append(out, RigNow{Item: item, State: s.rigState(item), Seen: !slices.Contains(RigTold, string(item))})
	}
	return out
}

func (s *Session) rigState(item RigItem) RigState {
	good := slices.Contains(s.Rig.Told, item)
	switch item {
	case RigProbes:
		return s.rigProbes()
	case RigEnds:
		return s.rigEnds()
	case RigSwitch:
		return s.rigSwitch()
	case RigWater:
		good = s.Water.Known
	}
	if good {
		return RigGood
	}
	return RigOpen
}

// has reports whether an item concerns this box.
func (s *Session) has(item RigItem) bool {
	b := &s.box.Boiler
	burner := b.Gas || b.Ring != ""
	switch item {
	case RigEnds:
		return len(s.box.Probes) > 1
	case RigSwitch:
		return b.SwitchL > 0
	case RigKettle:
		return b.Kind == boiler.OpenPot && s.box.Kettle.Litres > 0
	case RigTank:
		return b.Kind == boiler.ClosedTank
	case RigBurner:
		return burner
	case RigMessage:
		return s.box.Away
	case RigElectricity:
		return !burner || s.box.Kettle.PowerW > 0
	}
	return true
}

// rigProbes is wrong while one can't be read, and open while one is as it was bought or
// out to be calibrated.
func (s *Session) rigProbes() RigState {
	state := RigGood
	for i := range s.box.Probes {
		switch fault := s.Probes[i].Fault; {
		case fault == OutToCalibrate:
			state = RigOpen
		case !s.Began || fault != "":
			return RigWrong
		case !s.box.Probes[i].Calibrated:
			state = RigOpen
		}
	}
	return state
}

// rigEnds goes by which end rose first.
func (s *Session) rigEnds() RigState {
	steam, door := s.Rig.Rose[unit.SteamEnd], s.Rig.Rose[unit.DoorEnd]
	switch {
	case door > 0 && (steam == 0 && s.At-door >= roseLead || steam > 0 && steam-door >= roseLead):
		return RigWrong
	case steam > 0 && (door == 0 && s.At-steam >= roseLead || door > 0 && door-steam >= roseLead):
		return RigGood
	}
	return RigOpen
}

// rigSwitch is wrong while the switch can't be read.
func (s *Session) rigSwitch() RigState {
	switch {
	case s.Began && s.Water.Reads == boiler.Unknown:
		return RigWrong
	case s.Water.Proven || s.Rig.Low && s.Rig.High:
		return RigGood
	}
	return RigOpen
}
