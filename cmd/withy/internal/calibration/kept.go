package calibration

import (
	"cmp"
	"slices"
	"time"

	"withy/steambox"
	"withy/steambox/calibrate"
)

// Kept is all records of a folder, oldest first. The zero Kept has none.
type Kept struct {
	all []Record
}

// Probe is what is known of one probe, each part from the newest record that has
// it. What was never tried is nil.
type Probe struct {
	Boil   *calibrate.Offset // in the pot or the box
	BoilAt time.Time
	In     calibrate.Truth // where that was
	Ice    *calibrate.Offset
	TauS   *float64
}

// Probe returns what is known of a probe.
func (k Kept) Probe(id string) Probe {
	var p Probe
	for _, r := range k.all {
		if r.Bath != nil {
			p.take(r, id)
		}
		for _, l := range r.Steps {
			if l.ID == id {
				p.TauS = &l.TauS
			}
		}
	}
	return p
}

func (p *Probe) take(r Record, id string) {
	i := slices.IndexFunc(r.Bath.Probes, func(o calibrate.Offset) bool { return o.ID == id })
	switch {
	case i < 0:
	case r.Bath.Place == calibrate.Ice:
		p.Ice = &r.Bath.Probes[i]
	default:
		p.Boil, p.BoilAt, p.In = &r.Bath.Probes[i], r.Made, r.Bath.Truth
	}
}

// Line returns what to add to the probe's readings; ok is false while it was never
// boiled.
func (p Probe) Line() (line calibrate.Line, ok bool) {
	if p.Boil == nil {
		return line, false
	}
	return calibrate.Through(*p.Boil, p.Ice), true
}

// Apply puts what the records know of a box in the place of what its configuration
// says. Ice without boiling changes nothing. A probe of a rehearsal has no id and goes by
// its name.
func (k Kept) Apply(b *steambox.Box) {
	b.Probes = slices.Clone(b.Probes) // others may be reading the ones that were there
	for i := range b.Probes {
		p := k.Probe(cmp.Or(b.Probes[i].ID, b.Probes[i].Name))
		if line, ok := p.Line(); ok {
			b.Probes[i].OffsetK, b.Probes[i].IceK, b.Probes[i].Calibrated = line.OffsetK, line.IceK, true
		}
		if p.TauS != nil {
			b.Probes[i].LagS = *p.TauS
		}
	}
	for _, r := range k.all {
		if r.Survey != nil {
			r.Survey.apply(b)
		}
	}
}

// apply enters a survey into the box it was made in, and into no other.
func (s *Survey) apply(b *steambox.Box) {
	if len(b.Probes) != 2 {
		return
	}
	steam, door := b.Probes[0], b.Probes[1]
	if steam.ID != s.SteamID || door.ID != s.DoorID || steam.XM != float64(s.EndsM[0]) || door.XM != float64(s.EndsM[1]) {
		return
	}
	b.Survey = s.Knots
	if len(s.Slots) > 0 && slices.Equal(s.Slots, b.Slots) {
		b.SlotK = s.OffsetsK
	}
}
