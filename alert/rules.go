package alert

import (
	"slices"
	"time"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/unit"
)

// Rule is one kind of alarm: when it is so, and all that the crew must know of it.
type Rule struct {
	ID          ID
	Title       string
	Priority    Priority
	Sound       Sound
	OnDelay     time.Duration // how long it must be so before it is raised
	OffDelay    time.Duration // how long it must not be so before it is cleared
	Latching    bool
	HiddenBy    []ID // while one of these is so, this one is not raised
	Consequence string
	// Do returns at most three steps for the crew, by the boiler's kind.
	Do func(k boiler.Kind) []string
	// Of lists what the alarm can be on; nil: only the box.
	Of func(s *steambox.Status) []string
	// When reports whether it is so. active says whether it was so at the last
	// look, for the deadband.
	When func(s *steambox.Status, on string, active bool) bool
}

// The alarms of the first set.
const (
	Pressure    ID = "pressure"
	BoilerDry   ID = "boiler-dry"
	SteamLost   ID = "steam-lost"
	DryNow      ID = "dry-now"
	WaterLow    ID = "water-low"
	DrySoon     ID = "dry-soon"
	Blind       ID = "blind"
	ProbeFailed ID = "probe-failed"
	SwitchLost  ID = "switch-lost"
	BothCold    ID = "both-cold"
	ColdEnd     ID = "cold-end"
	RibOver     ID = "rib-overdone-soon"
)

// always returns the same steps for every kind of boiler.
func always(steps ...string) func(boiler.Kind) []string {
	return func(boiler.Kind) []string { return steps }
}

// Rules is the catalogue, the most urgent first. Delays and deadbands that name
// no source are common practice.
var Rules = []Rule{
	{
		ID: Pressure, Title: "Pressure in the box", Priority: High, Sound: Danger,
		OnDelay: 30 * time.Second, OffDelay: time.Minute, Latching: true,
		Consequence: "Steam hotter than water boils here means the vent is blocked: the door can burst open and scald.",
		Do:          always("Keep away from the door.", "Heat off.", "When it no longer blows, clear the vent and the drain."),
		When: func(s *steambox.Status, _ string, active bool) bool {
			return s.OverK > s.PressureK-deadband(active, 0.5)
		},
	},
	{
		ID: BoilerDry, Title: "Boiler dry", Priority: High, Sound: Danger,
		OnDelay: 20 * time.Second, OffDelay: time.Minute, Latching: true,
		Consequence: "A bare element or pot burns out and can start a fire; the ribs in the box are lost.",
		Do:          always("Heat off.", "Don't fill.", "Let it cool, then fill."),
		When: func(s *steambox.Status, _ string, _ bool) bool {
			if s.HeatOff || s.Phase == steambox.Cold {
				return false
			}
			return s.Water.Switch == "open" && fallen(s) || s.Water.DryHiS != nil && *s.Water.DryHiS <= 0 && s.Water.Boiling
		},
	},
	{
		ID: SteamLost, Title: "Steam lost", Priority: High, Sound: Danger,
		OnDelay: 20 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry},
		Consequence: "Both ends are falling: the ribs cool, and the boiler may be dry though its switch says otherwise.",
		Do: func(k boiler.Kind) []string {
			return []string{"Heat off first; don't pull the hose.", "Look: water, flame or cut-out, kinked or sagging hose.", dryStep(k)}
		},
		When: steamLost,
	},
	{
		ID: DryNow, Title: "Dry now", Priority: High, Sound: Danger,
		OnDelay: 10 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry},
		Consequence: "The boiler may run dry before a kettle put on now has boiled.",
		Do:          refillSteps("Pour in what is hot now.", "Nothing hot? Heat off before it runs dry."),
		When: func(s *steambox.Status, _ string, active bool) bool {
			return drySoonerThan(s, s.Water.LeadS+deadband(active, 60))
		},
	},
	{
		ID: WaterLow, Title: "Water low", Priority: High, Sound: Kettle,
		OnDelay: 10 * time.Second, OffDelay: 30 * time.Second, HiddenBy: []ID{BoilerDry, DryNow},
		Consequence: "The water has sunk to the switch.",
		Do:          refillSteps("Kettle on now.", "Pour it in boiling, through the funnel, face away."),
		When: func(s *steambox.Status, _ string, _ bool) bool {
			return s.Water.Switch == "open" && !s.HeatOff && s.Phase != steambox.Cold
		},
	},
	{
		ID: DrySoon, Title: "Time for the kettle", Priority: Medium, Sound: Kettle,
		OnDelay: 10 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry, DryNow, WaterLow},
		Consequence: "The water lasts about twice as long as the kettle takes.",
		Do:          refillSteps("Kettle on now.", "Pour it in boiling between two pulls."),
		When: func(s *steambox.Status, _ string, active bool) bool {
			// Earlier than need be if the call would fall on a pull.
			between := s.Water.KettleInS != nil && (active || *s.Water.KettleInS <= soonS) && !s.HeatOff
			return between || drySoonerThan(s, 2*s.Water.LeadS+deadband(active, 120))
		},
	},
	{
		ID: Blind, Title: "No probe can be read", Priority: Medium, Sound: Look,
		OnDelay: 10 * time.Second, OffDelay: 5 * time.Second,
		Consequence: "Nothing is known of the box; calls are guesses from here on.",
		Do:          always("Time by the clock, keep to one port, one starboard.", "Check the plug and the cable."),
		When: func(s *steambox.Status, _ string, _ bool) bool {
			return !slices.ContainsFunc(s.Probes, func(p steambox.ProbeAt) bool { return p.TempC != nil || p.Fault == steambox.OutToCalibrate })
		},
	},
	{
		ID: ProbeFailed, Title: "Probe failed", Priority: Medium, Sound: Look,
		OnDelay: 10 * time.Second, OffDelay: 5 * time.Second, HiddenBy: []ID{Blind},
		Consequence: "That end is only guessed from the other.",
		Do:          always("Check its plug and cable.", "Keep to one port, one starboard."),
		Of: func(s *steambox.Status) []string {
			names := make([]string, len(s.Probes))
			for i, p := range s.Probes {
				names[i] = p.Name
			}
			return names
		},
		When: func(s *steambox.Status, on string, _ bool) bool {
			i := slices.IndexFunc(s.Probes, func(p steambox.ProbeAt) bool { return p.Name == on })
			return i >= 0 && s.Probes[i].TempC == nil && s.Probes[i].Fault != steambox.OutToCalibrate
		},
	},
	{
		ID: SwitchLost, Title: "Water switch can't be read", Priority: Medium, Sound: Look,
		OnDelay: 15 * time.Second, OffDelay: 5 * time.Second,
		Consequence: "Nothing warns by itself when the water sinks; what is left is only reckoned.",
		Do:          always("Look at the water yourself, and tell its level.", "Check the switch's plug and wire."),
		When: func(s *steambox.Status, _ string, _ bool) bool {
			return s.Water.SwitchL > 0 && s.Water.Switch == "unknown"
		},
	},
	{
		ID: BothCold, Title: "Both ends cold", Priority: Medium, Sound: Look,
		OnDelay: 3 * time.Minute, OffDelay: 2 * time.Minute, HiddenBy: []ID{BoilerDry, SteamLost},
		Consequence: "The ribs take much longer than the plan says.",
		Do:          always("More heat, or load fewer at once.", "Look for gaps round the door.", "Leave the vent and drain open."),
		When: func(s *steambox.Status, _ string, active bool) bool {
			ends, ok := ends(s)
			return ok && inUse(s) && max(ends[0], ends[1]) < s.BoilingC-5+deadband(active, 1)
		},
	},
	{
		ID: ColdEnd, Title: "One end cold", Priority: Medium, Sound: Look,
		OnDelay: 2 * time.Minute, OffDelay: 2 * time.Minute, HiddenBy: []ID{BoilerDry, SteamLost, Blind, ProbeFailed},
		Consequence: "One end of every rib stays stiff and may crack.",
		Do:          always("Loading too fast? Wait one interval.", "Look for gaps round the door.", "Leave the vent and drain open."),
		When: func(s *steambox.Status, _ string, active bool) bool {
			k := max(s.GradientK, -s.GradientK)
			return inUse(s) && k > s.ColdEndK-deadband(active, 1)
		},
	},
	{
		ID: RibOver, Title: "Rib will not wait much longer", Priority: Medium, Sound: Look,
		OffDelay: 5 * time.Second, HiddenBy: []ID{Pressure},
		Consequence: "Its hotter end turns brittle.",
		Do:          always("Pull it and bend it gently.", "No time? Open the door a hand's width and let the box cool."),
		Of: func(s *steambox.Status) []string {
			var ribs []string
			for _, slot := range s.Slots {
				if slot.Rib != "" {
					ribs = append(ribs, slot.Rib)
				}
			}
			return ribs
		},
		When: func(s *steambox.Status, on string, _ bool) bool {
			i := slices.IndexFunc(s.Slots, func(x steambox.Slot) bool { return x.Rib == on })
			return i >= 0 && s.Slots[i].OverShare >= overSoon
		},
	},
}

// overSoon is the share of what is too much at which that is said.
const overSoon = 0.9

// soonS is how soon a call between two pulls must be due to be raised: its own delay,
// and a sample or two.
const soonS = 12

// deadband is what an active alarm's limit is moved by.
func deadband(active bool, by float64) float64 {
	if active {
		return by
	}
	return 0
}

// drySoonerThan reports whether the water may be gone within s seconds.
func drySoonerThan(s *steambox.Status, within float64) bool {
	return s.Water.Boiling && !s.HeatOff && s.Water.DryLoS != nil && *s.Water.DryLoS <= within
}

// inUse reports whether the box ought to be hot. When the last rib is out and
// there is water for certain, a box that cools has had its heat turned off.
func inUse(s *steambox.Status) bool {
	done := s.Bent.ToGo == 0 && s.Water.DryLoS != nil && *s.Water.DryLoS > 0
	return !s.HeatOff && !done && (s.Phase == steambox.Ready || s.Phase == steambox.Running || s.Phase == steambox.Cooling)
}

// ends returns both ends' temperatures if both were read.
func ends(s *steambox.Status) (c [2]float64, ok bool) {
	if len(s.Probes) == 0 {
		return c, false
	}
	for e, p := range map[unit.End]steambox.ProbeAt{unit.SteamEnd: s.Probes[0], unit.DoorEnd: s.Probes[len(s.Probes)-1]} {
		if p.TempC == nil {
			return c, false
		}
		c[e] = *p.TempC
	}
	return c, true
}

// steamLost reports both ends falling together with no door to explain it; once
// it is so it stays so until the box is hot again.
func steamLost(s *steambox.Status, _ string, active bool) bool {
	if !inUse(s) {
		return false
	}
	if active {
		c, ok := ends(s)
		return ok && (s.FellFarK[0] > 3 && s.FellFarK[1] > 3 || max(c[0], c[1]) < s.BoilingC-s.ColdEndK)
	}
	return fallen(s)
}

// fallen reports that both ends fell together with no door to explain it.
func fallen(s *steambox.Status) bool {
	far := s.FellK[0] > 10 && s.FellK[1] > 10
	return s.FellK[0] > 5 && s.FellK[1] > 5 && (s.QuietS > 60 || far)
}

func dryStep(k boiler.Kind) string {
	if k == boiler.ClosedTank {
		return "Dry? Don't open it hot. Let it cool."
	}
	return "Dry? Don't fill. Let it cool."
}

// refillSteps are an open pot's steps; the other kinds never pour.
func refillSteps(steps ...string) func(boiler.Kind) []string {
	return func(k boiler.Kind) []string {
		switch k {
		case boiler.ClosedTank:
			return []string{"Load no more; pull what is ready.", "Heat off. Wait till it no longer blows.", "Then cap, fill, and warm up again."}
		case boiler.SecondBoiler:
			return []string{"Light the second boiler now.", "Change over when it steams, then heat off here."}
		case boiler.NoRefill:
			return []string{"Load no more; pull what is ready.", "Heat off before it runs dry."}
		}
		return steps
	}
}
