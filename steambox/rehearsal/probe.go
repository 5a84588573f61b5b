package rehearsal

import (
	"math"
	"time"

	"withy/steambox/unit"
)

// Probe is what one temperature probe says.
type Probe struct {
	Name    string       // "steam" or "door"
	X       unit.Metre   // from the steam end
	Temp    unit.Celsius // last reading, in sixteenths; nothing when OK is false
	OK      bool         // false while the probe does not answer
	PowerOn bool         // Temp is the 85 °C that the chip holds until it has measured
}

// A DS18B20 gives sixteenths of a kelvin, takes up to 750 ms for one and holds
// 85 °C after power-on (datasheet, "Operation—Measuring Temperature"). The noise
// is common practice, no source.
const (
	probeStep    = 1.0 / 16
	powerOnC     = 85.0
	probeNoiseK  = 0.03
	probeEvery   = time.Second
	powerOnFor   = 2 * time.Second
	calibratedK  = 0.2
	asBoughtK    = 2.0
	probeCount   = 2
	steamProbe   = 0
	doorProbe    = 1
	neverHappens = time.Duration(math.MaxInt64)
)

// probe is a probe with what it hides: where it is in error and how slow it is.
type probe struct {
	Shown   Probe
	OffsetK float64
	LagS    float64
	TipC    float64
	Dies    time.Duration // elapsed; neverHappens for a sound one
	Returns time.Duration
}

// follow lets the tip follow the gas for dt seconds.
func (p *probe) follow(dt, gasC float64) {
	p.TipC += (gasC - p.TipC) * (1 - math.Exp(-dt/p.LagS))
}

// measure takes a reading at the elapsed time now.
func (p *probe) measure(now time.Duration, d dice) {
	noisy := p.TipC + p.OffsetK + d.normal(0, probeNoiseK)
	p.Shown.OK, p.Shown.PowerOn = true, false
	p.Shown.Temp = unit.Celsius(math.Round(noisy/probeStep) * probeStep)
	switch {
	case now >= p.Dies && now < p.Returns:
		p.Shown.OK, p.Shown.Temp = false, 0
	case now >= p.Returns && now < p.Returns+powerOnFor:
		p.Shown.PowerOn, p.Shown.Temp = true, powerOnC
	}
}
