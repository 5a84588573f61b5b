package words

import (
	"fmt"
	"slices"
	"strings"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/measure"
)

// RigLine is one item of the rig check in words.
type RigLine struct {
	Item  steambox.RigItem  `json:"item"`
	State steambox.RigState `json:"state"`
	Title string            `json:"title"`
	Says  string            `json:"says"`            // how it is
	Do    []string          `json:"do"`              // what to do about it; empty when it is in order
	Ask   string            `json:"ask,omitempty"`   // what a person says who has looked; absent where the box sees it by itself
	Sound string            `json:"sound,omitempty"` // by which it is tried
}

// asked is what is said of an item that only a person can tell.
type asked struct {
	title, says, ask string
	do               []string
}

// rigAsked are those items. Cautions are common practice, no source.
var rigAsked = map[steambox.RigItem]asked{
	steambox.RigKettle: {"Kettle", "It brings the water that goes in while the boiler boils.", "Full and within reach", []string{
		"Fill it, stand it where you need not cross the path between box and boat, and boil it once."}},
	steambox.RigTank: {"Closed tank", "It spits live steam if it is opened hot.", "It stays shut until it is cold", []string{
		"Fill it for the whole run, or plan a break: the plan says when.",
		"See that its relief valve moves freely and that the hose can’t kink."}},
	steambox.RigElectricity: {"Electricity", "Boiler or kettle draws from the mains, in steam, on a wet floor.", "Tried: it trips", []string{
		"Press the test button of the breaker that trips for leakage (RCD, GFCI) on the boiler’s circuit: it must trip.",
		"Leads overhead, no joint in the wet; this board is fed from another circuit than the boiler.",
		"Follow your local code, and a licensed electrician for anything behind the plug."}},
	steambox.RigBurner: {"Burner", "An open flame eats the air and lights what stands near.", "Outside, and watched", []string{
		"Stand it outdoors or with the doors open, on something that doesn’t burn.",
		"Nothing that burns within an arm’s length; an extinguisher where you can reach it. Never leave it alone."}},
	steambox.RigVent: {"Vent and drain", "A box that can’t breathe builds pressure.", "Both are open", []string{
		"Blow through the vent and the drain. No rags in either, whatever the temperatures say.",
		"Let the hose fall all the way: a sag fills with water and shuts it."}},
	steambox.RigScald: {"Cold water", "Steam scalds before you see it.", "Within reach", []string{
		"Running cold water, or a bucket, near the door: a scald wants twenty minutes of it.",
		"Long gloves and sleeves. Stand to the hinge side: steam first, then reach in."}},
	steambox.RigBuzzer: {"Sounder", "It is the alarm: it must be heard at the boat with everything running.", "Heard it at the boat", []string{
		"Stand at the boat with the burner roaring, and have it sounded."}},
	steambox.RigPhone: {"Phone", "It may sleep or be on a call; the sounder stays the alarm.", "It sounds too", []string{
		"Open this page on it, turn its sound on, and have it sounded."}},
	steambox.RigMessage: {"Messages", "They reach you away from the box, as long as the network does; the sounder stays the alarm.", "It arrived", []string{
		"Send a message, and look whether it arrives where it should."}},
	steambox.RigTablet: {"Screen", "It stands where you look up from the boat.", "On its own battery", []string{
		"On its battery, not on a charger in the wet; out of the plume; far view tried from the boat."}},
	steambox.RigMarks: {"Marks", "The mark says which end lay at the door, so which way round a rib goes in.", "Every blank is marked", []string{
		"A stroke of wax crayon on one end of every blank, and its number.",
		"Load it with the mark towards you."}},
	steambox.RigGunwales: {"Gunwales", "Port and starboard change hands when she lies upside down.", "Taped", []string{
		"Red tape on the port gunwale, green on the starboard one, where you see it from where you stand."}},
	steambox.RigBoat: {"How she lies", "The boat is drawn as you see her from this screen.", "It is drawn as she lies", []string{
		"Set keel up or down and where her bow points, for this screen."}},
}

// Rig returns the rig check in words.
func Rig(s *steambox.Status, u measure.Units) []RigLine {
	out := make([]RigLine, len(s.Rig))
	for i, now := range s.Rig {
		line := RigLine{Item: now.Item, State: now.State}
		if a, ok := rigAsked[now.Item]; ok {
			line.Title, line.Says, line.Ask, line.Do = a.title, a.says, a.ask, a.do
		} else {
			rigSeen(&line, s, u)
		}
		if now.State == steambox.RigGood || line.Do == nil {
			line.Do = []string{}
		}
		if now.Item == steambox.RigBuzzer || now.Item == steambox.RigPhone {
			line.Sound = "pull"
		}
		out[i] = line
	}
	return out
}

// rigSeen fills in the items that depend on what the box sees.
func rigSeen(line *RigLine, s *steambox.Status, u measure.Units) {
	switch line.Item {
	case steambox.RigPlace:
		line.Title, line.Ask = "Where it boils", "That is right here"
		line.Says = fmt.Sprintf("Water boils here at %s, by the height or the air pressure that is set.", u.Temperature(s.BoilingC, 1))
		line.Do = []string{"If not, set the height above the sea or today’s air pressure."}
	case steambox.RigProbes:
		line.Title = "Probes"
		line.Says, line.Do = rigProbes(line.State, s, u)
	case steambox.RigEnds:
		line.Title = "Which probe hangs where"
		line.Says, line.Do = rigEnds(line.State)
	case steambox.RigSwitch:
		line.Title = "Float switch"
		line.Says, line.Do = rigSwitch(line.State)
	case steambox.RigWater:
		line.Title = "Water"
		line.Says, line.Do = rigWater(s, u)
	}
}

func rigProbes(state steambox.RigState, s *steambox.Status, u measure.Units) (string, []string) {
	switch state {
	case steambox.RigGood:
		return "All read, and all were calibrated.", nil
	case steambox.RigOpen:
		if slices.ContainsFunc(s.Probes, func(p steambox.ProbeAt) bool { return p.Fault == steambox.OutToCalibrate }) {
			return "They are out of the box, to be calibrated.", []string{"Hang them back in the box afterwards, each at its own end."}
		}
		return fmt.Sprintf("All read, but not all were calibrated: as bought they may be %s off near boiling, and the ends can’t be told apart.", u.Difference(2, 0)),
			[]string{"Tie their tips together in an open pot at a rolling boil, or at rib height for the last minutes of warm-up, and have them watched: “Calibrate the probes”."}
	}
	var silent []string
	for _, p := range s.Probes {
		if p.TempC == nil {
			silent = append(silent, p.Name)
		}
	}
	if len(silent) == 0 {
		return "Not all have been read yet.", []string{"Wait a moment."}
	}
	return "Nothing comes from: " + strings.Join(silent, ", ") + ".", []string{
		"See that the plug is home and dry.", "Try the probe on another lead; the others go on meanwhile."}
}

func rigEnds(state steambox.RigState) (string, []string) {
	switch state {
	case steambox.RigGood:
		return "The steam end rose first, as it must.", nil
	case steambox.RigWrong:
		return ProbesSwapped, []string{"Change the two probes over, at the box or in the settings, before the first rib."}
	}
	return "The box tells by itself when steam comes: the steam end rises first.", []string{"Heat on."}
}

// ProbesSwapped is said when the door's end grew hot first.
const ProbesSwapped = "The end called the door’s grew hot first: the probes hang the wrong way round, and every mark would be called to the wrong side."

func rigSwitch(state steambox.RigState) (string, []string) {
	switch state {
	case steambox.RigGood:
		return "It was seen low and high.", nil
	case steambox.RigWrong:
		return "It can’t be read.", []string{"See that its lead is on, and where the settings say.", "Without it: tell what you fill, and go by that."}
	}
	return "It has not moved yet. One that is stuck says there is water when there is none.", []string{
		"While it is cold: lift the float by hand and let it sink, once.", "Never in a hot boiler: there it is proven when you fill."}
}

func rigWater(s *steambox.Status, u measure.Units) (string, []string) {
	if w := s.Water; w.LeftL != nil {
		return u.Volume(*w.LeftL) + ", as told.", nil
	}
	do := "Fill it, and tell under Water how much is in it."
	if s.BoilerKind != boiler.OpenPot {
		do = "Fill it while it is cold, and tell under Water how much is in it."
	}
	return "Nobody has told how much is in it.", []string{do}
}
