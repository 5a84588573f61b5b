package rehearsal

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"withy/steambox/unit"
)

// slots is how many ribs the box takes.
const slots = 4

// What the crew cannot do.
var (
	ErrUnknown = errors.New("unknown")           // no such scenario, slot or rib
	ErrTaken   = errors.New("taken")             // the slot holds a rib, or the rib is in the box
	ErrEmpty   = errors.New("empty")             // the slot holds no rib
	ErrSpent   = errors.New("bent or broken")    // the rib is done with
	ErrSize    = errors.New("size out of range") // the rib does not go into the box
)

// SetFire lights or puts out the fire: burner or element.
func (w *World) SetFire(on bool) { w.s.Kettle.Fire = on }

// Refill pours litres of water at a temperature into the boiler; what does not
// fit overflows. Water colder than the boil stops it until it has caught up.
func (w *World) Refill(litres float64, temp unit.Celsius) {
	if unit.Finite(litres) && unit.Finite(float64(temp)) {
		w.s.Kettle.pour(litres, float64(temp))
	}
}

// OpenDoor opens the door for a while, or for longer if it is open.
func (w *World) OpenDoor(d time.Duration) {
	w.s.DoorUntil = max(w.s.DoorUntil, w.s.Elapsed+d)
}

// DoorOpen tells whether the door is open.
func (w *World) DoorOpen() bool { return w.s.Elapsed < w.s.DoorUntil }

// Load opens the door and lays a rib into a slot, pushed home to the steam end. A
// rib that has been out goes on from the heat it still has; a new one comes from
// the shop. A rib is known by its label.
//
// Errors wrap ErrUnknown, ErrTaken, ErrSpent or ErrSize; the door stays shut then.
func (w *World) Load(slot int, rib Rib) error {
	if err := w.mayLoad(slot, rib); err != nil {
		return fmt.Errorf("load %s: %w", rib.Label, err)
	}
	p := w.find(rib.Label)
	if p == nil {
		p = w.cut(rib)
		w.s.Pieces = append(w.s.Pieces, p)
	}
	p.Slot, p.Resting = slot, false
	w.OpenDoor(w.doorFor())
	return nil
}

func (w *World) mayLoad(slot int, rib Rib) error {
	p := w.find(rib.Label)
	switch {
	case slot < 0 || slot >= slots:
		return fmt.Errorf("slot %d: %w", slot, ErrUnknown)
	case w.in(slot) != nil:
		return fmt.Errorf("slot %d: %w", slot, ErrTaken)
	case p != nil && p.Slot != outside:
		return ErrTaken
	case p != nil && p.Spent:
		return ErrSpent
	case rib.Label == "":
		return ErrUnknown
	case !rib.fits():
		return ErrSize
	}
	return nil
}

// Discard throws a rib away that is done with, so that a new blank may have its label: that
// of another boat.
func (w *World) Discard(label string) {
	w.s.Pieces = slices.DeleteFunc(w.s.Pieces, func(p *piece) bool { return p.Rib.Label == label && p.Spent && p.Slot == outside })
}

// fits tells whether the rib goes into a slot and is wood enough to follow.
func (r Rib) fits() bool {
	within := func(x unit.Metre, lo, hi float64) bool { return float64(x) >= lo && float64(x) <= hi }
	return within(r.Length, 0.1, boxM) && within(r.Thickness, 0.002, 0.06) && within(r.Width, 0.002, 0.12)
}

// cut makes a rib of its stick, a little unlike its neighbours. An unknown stick
// gets a window of its own.
func (w *World) cut(r Rib) *piece {
	if w.s.Windows[r.Stick] == nil {
		v := drawWindow(w.s.Dice)
		w.s.Windows[r.Stick] = &v
	}
	moisture := w.s.Dice.normal(w.s.MoisturePct, 2)
	diffusivity := w.s.Diffusivity * w.s.Dice.normal(1, 0.01)
	return newPiece(r, greenOak(moisture, diffusivity), w.s.ShopC)
}

// Pull opens the door and takes the rib out of a slot. Errors wrap ErrUnknown or
// ErrEmpty; the door stays shut then.
func (w *World) Pull(slot int) (Rib, error) {
	if slot < 0 || slot >= slots {
		return Rib{}, fmt.Errorf("pull slot %d: %w", slot, ErrUnknown)
	}
	p := w.in(slot)
	if p == nil {
		return Rib{}, fmt.Errorf("pull slot %d: %w", slot, ErrEmpty)
	}
	p.Slot = outside
	w.OpenDoor(w.doorFor())
	return p.Rib, nil
}

// Bend bends a rib that has been pulled, and draws what happens from the true
// exposures near both its ends, how hard its bend is and what its wood hides. A
// rib whose core has cooled below 60 °C behaves as an underdone one. A stiff rib
// may go back into the box; a supple or a cracked one is done with.
//
// Errors wrap ErrUnknown, ErrTaken (it is in the box) or ErrSpent.
func (w *World) Bend(rib string) (Outcome, error) {
	p := w.find(rib)
	switch {
	case p == nil:
		return Outcome{}, fmt.Errorf("bend %s: %w", rib, ErrUnknown)
	case p.Slot != outside:
		return Outcome{}, fmt.Errorf("bend %s: in the box: %w", rib, ErrTaken)
	case p.Spent:
		return Outcome{}, fmt.Errorf("bend %s: %w", rib, ErrSpent)
	}
	ends, coldest := p.ends()
	o := w.s.Windows[p.Rib.Stick].bend(w.s.Dice, ends, p.Rib.Bend, coldest < bendAboveC)
	p.Spent = o.Result != Stiff
	return o, nil
}

func (w *World) doorFor() time.Duration {
	return time.Duration(w.s.DoorS * float64(time.Second))
}

// find returns the rib of that label, nil when none was ever loaded.
func (w *World) find(label string) *piece {
	for _, p := range w.s.Pieces {
		if p.Rib.Label == label {
			return p
		}
	}
	return nil
}

// in returns the rib in a slot, or nil.
func (w *World) in(slot int) *piece {
	for _, p := range w.s.Pieces {
		if p.Slot == slot {
			return p
		}
	}
	return nil
}
