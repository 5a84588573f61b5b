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
	Group       Group
	Title       string
	Priority    Priority
	Sound       Sound
	OnDelay     time.Duration // how long it must be so before it is raised
	OffDelay    time.Duration // how long it must not be so before it is cleared
	Deadband    Deadband
	Latching    bool
	MostOff     time.Duration // for how long it may be put off; 0: not at all
	HiddenBy    []ID          // while one of these is so, this one is not shown
	Unless      string        // what else keeps it from being so
	Cause       string
	Consequence string
	Within      time.Duration // how soon the steps are wanted
	// Do returns at most three steps for the crew, by the boiler's kind.
	Do func(k boiler.Kind) []string
	// Turns are what is said instead once things have come to that: the first that is so.
	Turns []Turn
	// Of lists what the alarm can be on; nil: only the box.
	Of func(s *steambox.Status) []string
	// When reports whether it is so.
	When func(s *steambox.Status, last Subject) bool
}

// Turn is what an alarm that is up says once things have turned: the same alarm still, so
// that whoever has heard it need not hear it again.
type Turn struct {
	When        func(s *steambox.Status, on string) bool
	Title       string
	Cause       string
	Consequence string
	Do          func(k boiler.Kind) []string
}

// Group is a kind of upset. The first alarm of one is marked until all of its group are
// normal again.
type Group string

// The groups: water and heat, which fail together; the box with the ribs in it; what
// they are watched by.
const (
	TheBoiler Group = "boiler"
	TheBox    Group = "box"
	TheWatch  Group = "watch"
)

// Deadband is what the limit of an alarm that is so is moved by, so that it does not
// come and go; or why there is none.
type Deadband struct {
	By   float64
	Unit string
	None string
}

// Subject is what an alarm is on, whether it was so at the last look, and what its
// limit is moved by therefore.
type Subject struct {
	On   string
	So   bool
	Band float64
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
	Unreached   ID = "unreached"
	NoBeat      ID = "no-heartbeat"
	Unwatched   ID = "unwatched"
	SlowWarmUp  ID = "slow-warm-up"
	NotKept     ID = "not-kept"
	BoardHot    ID = "board-hot"
	CardFull    ID = "card-full"
)

// always returns the same steps for every kind of boiler.
func always(steps ...string) func(boiler.Kind) []string {
	return func(boiler.Kind) []string { return steps }
}

// Rules is the catalogue, the most urgent first. Delays and deadbands that name
// no source are common practice.
var Rules = []Rule{
	{
		ID: Pressure, Group: TheBox, Title: "Pressure in the box", Priority: High, Sound: Danger,
		OnDelay: 30 * time.Second, OffDelay: time.Minute, Latching: true,
		Deadband:    Deadband{By: 0.5, Unit: "K"},
		Unless:      "nothing",
		Cause:       "The vent or the drain is blocked, by a rag, by ice or by a rib.",
		Consequence: "Steam hotter than water boils here means the vent is blocked: the door can burst open and scald.",
		Within:      3 * time.Minute,
		Do:          always("Keep away from the door.", "Heat off.", "When it no longer blows, clear the vent and the drain."),
		When: func(s *steambox.Status, last Subject) bool {
			return s.OverK > s.PressureK-last.Band
		},
	},
	{
		ID: BoilerDry, Group: TheBoiler, Title: "Boiler dry", Priority: High, Sound: Danger,
		OnDelay: 20 * time.Second, OffDelay: time.Minute, Latching: true,
		Deadband:    Deadband{None: "it stays until it is heard and reset"},
		Unless:      "the heat was told off, or the box is cold",
		Cause:       "The boiler has boiled dry, or may have by all that is known.",
		Consequence: "A bare element or pot burns out and can start a fire; the ribs in the box are lost.",
		Within:      time.Minute,
		Do:          always("Heat off.", "Don't fill.", "Let it cool, then fill."),
		When: func(s *steambox.Status, _ Subject) bool {
			if s.HeatOff || s.Phase == steambox.Cold {
				return false
			}
			return s.Water.Switch == "open" && fallen(s) || s.Water.DryHiS != nil && *s.Water.DryHiS <= 0 && s.Water.Boiling
		},
	},
	{
		ID: SteamLost, Group: TheBoiler, Title: "Steam lost", Priority: High, Sound: Danger,
		OnDelay: 20 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry},
		Deadband:    Deadband{None: "it stays until the box is hot again"},
		Unless:      "the box is not in use: heat told off, or the last rib out with water for certain; or water told to be cold is heating up",
		Cause:       "No steam comes: flame out, cut-out open, hose off or full of water, or cold water poured in.",
		Consequence: "Both ends are falling: the ribs cool, and the boiler may be dry though its switch says otherwise.",
		Within:      3 * time.Minute,
		Do: func(k boiler.Kind) []string {
			return []string{"Heat off first; don't pull the hose.", "Look: water, flame or cut-out, kinked or sagging hose.", dryStep(k)}
		},
		When: steamLost,
	},
	{
		ID: DryNow, Group: TheBoiler, Title: "Dry now", Priority: High, Sound: Danger,
		OnDelay: 10 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry},
		Deadband:    Deadband{By: 60, Unit: "s"},
		Unless:      "the heat was told off, the water does not boil, or a kettle told on will be in time",
		Cause:       "Nothing was poured in, or less than has boiled off.",
		Consequence: "The boiler may run dry before a kettle put on now has boiled.",
		Within:      3 * time.Minute,
		Do:          refillSteps("Pour in what is hot now.", "Nothing hot? Heat off before it runs dry."),
		Turns:       []Turn{noMoreToSteam("Dry now", "The boiler may run dry with nothing left to steam.")},
		When: func(s *steambox.Status, last Subject) bool {
			return drySoonerThan(s, pourInS(&s.Water)+last.Band)
		},
	},
	{
		ID: WaterLow, Group: TheBoiler, Title: "Water low", Priority: High, Sound: Kettle,
		OnDelay: 10 * time.Second, OffDelay: 30 * time.Second, HiddenBy: []ID{BoilerDry, DryNow},
		Deadband: Deadband{None: "the switch has its own"}, MostOff: 5 * time.Minute,
		Unless:      "the heat was told off, or the box is cold",
		Cause:       "The water has boiled down to the switch; a broken wire reads the same.",
		Consequence: "The water has sunk to the switch.",
		Within:      5 * time.Minute,
		Do:          refillSteps("Kettle on now.", "Pour it in boiling, through the funnel, face away."),
		Turns:       []Turn{noMoreToSteam("Water low", "The water has sunk to the switch, and nothing is left to steam.")},
		When: func(s *steambox.Status, _ Subject) bool {
			return s.Water.Switch == "open" && !s.HeatOff && s.Phase != steambox.Cold
		},
	},
	{
		ID: DrySoon, Group: TheBoiler, Title: "Time for the kettle", Priority: Medium, Sound: Kettle,
		OnDelay: 10 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry, DryNow, WaterLow},
		Deadband: Deadband{By: 120, Unit: "s"}, MostOff: 5 * time.Minute,
		Unless:      "the heat was told off, or the water does not boil",
		Cause:       "The water boils away as it should.",
		Consequence: "The water lasts about twice as long as the kettle takes.",
		Within:      6 * time.Minute,
		Do:          refillSteps("Kettle on now.", "Pour it in boiling between two pulls."),
		Turns:       []Turn{noMoreToSteam("The boiler still boils", "The water boils away with nothing left to steam.")},
		When: func(s *steambox.Status, last Subject) bool {
			// Earlier than need be if the call would fall on a pull.
			between := s.Water.KettleInS != nil && (last.So || *s.Water.KettleInS <= soonS) && !s.HeatOff
			return between || drySoonerThan(s, 2*s.Water.LeadS+last.Band)
		},
	},
	{
		ID: Blind, Group: TheWatch, Title: "No probe can be read", Priority: Medium, Sound: Look,
		OnDelay: 10 * time.Second, OffDelay: 30 * time.Second,
		Deadband: Deadband{None: "a probe answers or it does not"}, MostOff: 10 * time.Minute,
		Unless:      "nothing",
		Cause:       "The cable, its plug or its supply is gone; or every probe is.",
		Consequence: "Nothing is known of the box; calls are guesses from here on.",
		Within:      5 * time.Minute,
		Do:          always("Time by the clock, keep to one port, one starboard.", "Check the plug and the cable."),
		When: func(s *steambox.Status, _ Subject) bool {
			return !slices.ContainsFunc(s.Probes, func(p steambox.ProbeAt) bool { return p.TempC != nil || p.Fault == steambox.OutToCalibrate })
		},
	},
	{
		ID: ProbeFailed, Group: TheWatch, Title: "Probe failed", Priority: Medium, Sound: Look,
		OnDelay: 10 * time.Second, OffDelay: time.Minute, HiddenBy: []ID{Blind},
		Deadband: Deadband{None: "a probe answers or it does not"}, MostOff: 30 * time.Minute,
		Unless:      "nothing",
		Cause:       "Its plug is out, its cable is broken or wet, or the probe is dead.",
		Consequence: "That end is only guessed from the other.",
		Within:      10 * time.Minute,
		Do:          always("Check its plug and cable.", "Keep to one port, one starboard."),
		Of: func(s *steambox.Status) []string {
			names := make([]string, len(s.Probes))
			for i, p := range s.Probes {
				names[i] = p.Name
			}
			return names
		},
		When: func(s *steambox.Status, last Subject) bool {
			i := slices.IndexFunc(s.Probes, func(p steambox.ProbeAt) bool { return p.Name == last.On })
			return i >= 0 && s.Probes[i].TempC == nil && s.Probes[i].Fault != steambox.OutToCalibrate
		},
	},
	{
		ID: SwitchLost, Group: TheWatch, Title: "Water switch can't be read", Priority: Medium, Sound: Look,
		OnDelay: 15 * time.Second, OffDelay: time.Minute,
		Deadband: Deadband{None: "the switch can be read or not"}, MostOff: 30 * time.Minute,
		Unless:      "there is no switch",
		Cause:       "Its wire or its plug is off, or the board cannot read the pin.",
		Consequence: "Nothing warns by itself when the water sinks; what is left is only reckoned.",
		Within:      10 * time.Minute,
		Do:          always("Look at the water yourself, and tell its level.", "Check the switch's plug and wire."),
		When: func(s *steambox.Status, _ Subject) bool {
			return s.Water.SwitchL > 0 && s.Water.Switch == "unknown"
		},
	},
	{
		ID: BothCold, Group: TheBoiler, Title: "Both ends cold", Priority: Medium, Sound: Look,
		OnDelay: 3 * time.Minute, OffDelay: 2 * time.Minute, HiddenBy: []ID{BoilerDry, SteamLost},
		Deadband: Deadband{By: 1, Unit: "K"}, MostOff: 15 * time.Minute,
		Unless:      "the box is not in use, or an end cannot be read",
		Cause:       "Too little steam for the ribs and the gaps there are.",
		Consequence: "The ribs take much longer than the plan says.",
		Within:      15 * time.Minute,
		Do:          always("More heat, or load fewer at once.", "Look for gaps round the door.", "Leave the vent and drain open."),
		When: func(s *steambox.Status, last Subject) bool {
			ends, ok := ends(s)
			return ok && inUse(s) && max(ends[0], ends[1]) < s.BoilingC-5+last.Band
		},
	},
	{
		ID: ColdEnd, Group: TheBox, Title: "One end cold", Priority: Medium, Sound: Look,
		OnDelay: 2 * time.Minute, OffDelay: 2 * time.Minute, HiddenBy: []ID{BoilerDry, SteamLost, Blind, ProbeFailed},
		Deadband: Deadband{By: 1, Unit: "K"}, MostOff: 30 * time.Minute,
		Unless:      "the box is not in use, or the ends are only guessed",
		Cause:       "Air comes in at that end, or ribs were loaded fast one after another.",
		Consequence: "One end of every rib stays stiff and may crack.",
		Within:      15 * time.Minute,
		Do:          always("Loading too fast? Wait one interval.", "Look for gaps round the door.", "Leave the vent and drain open."),
		When: func(s *steambox.Status, last Subject) bool {
			k := max(s.GradientK, -s.GradientK)
			return inUse(s) && k > s.ColdEndK-last.Band
		},
	},
	{
		ID: RibOver, Group: TheBox, Title: "Rib will not wait much longer", Priority: Medium, Sound: Look,
		OnDelay: 15 * time.Second, OffDelay: 5 * time.Second, HiddenBy: []ID{Pressure},
		Deadband: Deadband{None: "the heat that a rib has taken only grows"}, MostOff: 2 * time.Minute,
		Unless:      "it was pulled",
		Cause:       "It stayed in past its time.",
		Consequence: "Its hotter end turns brittle.",
		Within:      time.Minute,
		Do:          always("Pull it and bend it gently.", "No time? Open the door a hand's width and let the box cool."),
		Turns: []Turn{{
			When:        hadTooMuch,
			Title:       "Rib had too much heat",
			Cause:       "It stayed in past its time.",
			Consequence: "Its hotter end may be brittle already.",
			Do:          always("Pull it and bend it gently: it may crack.", "Have a spare at hand."),
		}},
		Of: func(s *steambox.Status) []string {
			var ribs []string
			for _, slot := range s.Slots {
				if slot.Rib != "" {
					ribs = append(ribs, slot.Rib)
				}
			}
			return ribs
		},
		When: func(s *steambox.Status, last Subject) bool { return overShare(s, last.On) >= overSoon },
	},
	{
		ID: Unreached, Group: TheWatch, Title: "Nobody away from the box was told", Priority: Medium, Sound: Look,
		OffDelay: 5 * time.Second,
		Deadband: Deadband{None: "it can be told or not"}, MostOff: 30 * time.Minute,
		Unless:      "no alarm is to be told away from the box",
		Cause:       "The network is down, or the server that it sends to.",
		Consequence: "An alarm could not be sent; only the box itself sounds.",
		Within:      10 * time.Minute,
		Do:          always("Stay where you can hear the box.", "Look at the network, and at the server that it sends to."),
		Of:          func(s *steambox.Status) []string { return s.Unreached },
		When: func(s *steambox.Status, last Subject) bool {
			return slices.Contains(s.Unreached, last.On)
		},
	},
	{
		ID: NoBeat, Group: TheWatch, Title: "The watcher outside hears nothing", Priority: Low, Sound: Look,
		OffDelay: 5 * time.Second,
		Deadband: Deadband{None: "it can be told or not"}, MostOff: 30 * time.Minute,
		Unless:      "no watcher outside is set",
		Cause:       "The network is down, or the watcher.",
		Consequence: "Whoever it calls may think that the board is dead, and would not hear if it were.",
		Within:      30 * time.Minute,
		Do:          always("Tell who is called that all is well.", "Look at the network when there is time."),
		Of:          func(s *steambox.Status) []string { return s.NoBeat },
		When: func(s *steambox.Status, last Subject) bool {
			return slices.Contains(s.NoBeat, last.On)
		},
	},
	{
		ID: Unwatched, Group: TheWatch, Title: "Nobody watched for a while", Priority: Medium, Sound: Look,
		OffDelay:    30 * time.Second,
		Deadband:    Deadband{None: "it is said for five minutes"},
		Unless:      "the box is cold and empty",
		Cause:       "The board was without power, or the program was started again.",
		Consequence: "What the water and the ribs did meanwhile was not seen; how long ribs will wait is not sure.",
		Within:      5 * time.Minute,
		Do:          always("Look at the water yourself, and tell its level.", "A rib that is due? Pull it and try it.", "Look at the board's plug and supply."),
		When: func(s *steambox.Status, _ Subject) bool {
			inside := slices.ContainsFunc(s.Slots, func(x steambox.Slot) bool { return x.Rib != "" })
			return s.GapAgoS != nil && *s.GapAgoS < unwatchedS && (inside || s.Phase != steambox.Cold)
		},
	},
	{
		ID: SlowWarmUp, Group: TheBox, Title: "The box warms up slowly", Priority: Low, Sound: Look,
		OnDelay: time.Minute, OffDelay: time.Minute, HiddenBy: []ID{BoilerDry, SteamLost, DryNow, Blind, ProbeFailed},
		Deadband: Deadband{None: "the time since it began only grows"}, MostOff: 30 * time.Minute,
		Unless:      "the heat was told off, or somebody said to start all the same",
		Cause:       "The heat is low, the box loses more than it gets, or one end stands in the wind.",
		Consequence: "Ribs go in later, and the water boils away meanwhile.",
		Within:      30 * time.Minute,
		Do:          always("More heat, if there is more.", "Look for gaps round the door.", "Leave the vent and drain open."),
		When: func(s *steambox.Status, _ Subject) bool {
			return !s.HeatOff && s.WarmingS > slowS
		},
	},
	{
		ID: NotKept, Group: TheWatch, Title: "The log can't be kept", Priority: Medium, Sound: Look,
		OnDelay: 10 * time.Second, OffDelay: 30 * time.Second,
		Deadband: Deadband{None: "it can be written or not"}, MostOff: 30 * time.Minute,
		Unless:      "no log is kept at all",
		Cause:       "The card is full, worn out or write-protected.",
		Consequence: "The watch goes on, but what happens now is forgotten if the board stops.",
		Within:      10 * time.Minute,
		Do:          always("Write down what goes in and comes out, and when.", "Leave the board on until the last rib is out.", "Then put another card in."),
		When:        ailing(steambox.Unkept),
	},
	{
		ID: BoardHot, Group: TheWatch, Title: "The board is hot", Priority: Medium, Sound: Look,
		OnDelay: time.Minute, OffDelay: 2 * time.Minute,
		Deadband: Deadband{By: 3, Unit: "K"}, MostOff: 30 * time.Minute,
		Unless:      "the board does not say how hot it is",
		Cause:       "It lies too close to the box or the burner, in the sun, or shut in.",
		Consequence: "It slows itself down, and may stop watching.",
		Within:      15 * time.Minute,
		Do:          always("Move it away from the heat, out of the plume.", "Let air to it."),
		When:        ailing(steambox.TooHot),
	},
	{
		ID: CardFull, Group: TheWatch, Title: "The card is nearly full", Priority: Low, Sound: Look,
		OnDelay: time.Minute, OffDelay: 5 * time.Minute, HiddenBy: []ID{NotKept},
		Deadband: Deadband{By: 50, Unit: "MB"}, MostOff: 30 * time.Minute,
		Unless:      "no log is kept at all",
		Cause:       "Old logs, or something else on the card, take its room.",
		Consequence: "Before long the log can't be kept.",
		Within:      time.Hour,
		Do:          always("Finish the day first.", "Then copy old logs off the card and delete them."),
		When:        ailing(steambox.Full),
	},
}

// ailing is so while something ails the board; the board itself knows the deadband.
func ailing(a steambox.Ailment) func(*steambox.Status, Subject) bool {
	return func(s *steambox.Status, _ Subject) bool { return slices.Contains(s.Ails, a) }
}

// unwatchedS is for how long it is said that nobody watched, and slowS how long a box
// may take to warm up, from hand-warm until it is level. Common practice, no source.
const (
	unwatchedS = 300
	slowS      = 3600
)

// overSoon is the share of what is too much at which that is said.
const overSoon = 0.9

// overShare is how much of what is too much a rib in the box may have had; 0 where it is
// in none.
func overShare(s *steambox.Status, rib string) float64 {
	i := slices.IndexFunc(s.Slots, func(x steambox.Slot) bool { return x.Rib == rib })
	if i < 0 {
		return 0
	}
	return s.Slots[i].OverShare
}

// hadTooMuch is so once a rib may have had all of it.
func hadTooMuch(s *steambox.Status, rib string) bool { return overShare(s, rib) >= 1 }

// noMoreToSteam is what an alarm of the water says once the last rib is out: nobody is to
// put the kettle on for a box that nobody needs any more.
func noMoreToSteam(title, consequence string) Turn {
	return Turn{
		When: func(s *steambox.Status, _ string) bool {
			return len(s.Calls) > 0 && s.Calls[0].Do == steambox.DoneCall
		},
		Title:       title,
		Cause:       "The last rib is out, and the heat is still on.",
		Consequence: consequence,
		Do:          always("Every rib is out: heat off.", "No cold water in: let it cool."),
	}
}

// soonS is how soon a call between two pulls must be due to be raised: its own delay,
// and a sample or two.
const soonS = 12

// drySoonerThan reports whether the water may be gone within s seconds.
func drySoonerThan(s *steambox.Status, within float64) bool {
	return s.Water.Boiling && !s.HeatOff && s.Water.DryLoS != nil && *s.Water.DryLoS <= within
}

// A kettle that was told on and is not poured in so long after it should have boiled is
// forgotten: by then its call, at twice the lead, leaves three minutes of water, which is
// what the steps of DryNow are given. One that boils takes so long to be carried and
// poured (common practice, no source).
const (
	forgottenS = 180
	carriedS   = 90
)

// pourInS is how long it takes until hot water is in the boiler, from now: less once
// the kettle was told to be on.
func pourInS(w *steambox.WaterNow) float64 {
	if w.KettleS == nil || *w.KettleS > w.LeadS+forgottenS {
		return w.LeadS
	}
	return max(carriedS, w.LeadS-*w.KettleS)
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
func steamLost(s *steambox.Status, last Subject) bool {
	if !inUse(s) || heating(s.Water.Refill) {
		return false
	}
	if last.So {
		c, ok := ends(s)
		return ok && (s.FellFarK[0] > 3 && s.FellFarK[1] > 3 || max(c[0], c[1]) < s.BoilingC-s.ColdEndK)
	}
	return fallen(s)
}

// heatingS is how long a box takes to be hot again once the water boils.
const heatingS = 120

// heating reports whether water that was poured in cold, and told so, may not boil yet:
// then nobody must be told to turn the heat off.
func heating(r *steambox.RefillNow) bool { return r != nil && r.AgoS < r.BoilsHiS+heatingS }

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
