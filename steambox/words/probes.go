package words

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"withy/steambox/calibrate"
	"withy/steambox/measure"
)

// What is said of a probe by how well it is known.
const (
	NotCalibrated    = "not calibrated: the ends can't be told apart"
	CalibratedByHand = "calibrated by hand, in the configuration"
	NoProbes         = "No probe is to be seen: is one plugged in, and is the overlay there (dtoverlay=w1-gpio in the boot configuration)?"
)

// CalibratedAgo says how old a probe's calibration is and how well the truth was
// known then.
func CalibratedAgo(days float64, t calibrate.Truth, u measure.Units) string {
	ago := "today"
	switch n := math.Floor(days); {
	case n == 1:
		ago = "yesterday"
	case n > 1:
		ago = fmt.Sprintf("%.0f days ago", n)
	}
	return fmt.Sprintf("calibrated %s, boiling known within %s", ago, u.Difference(float64(t.WithinK), 1))
}

// DamagedCalibration says that records of calibrations can't be read.
func DamagedCalibration(err error) string {
	return fmt.Sprintf("A calibration on record can't be read; the newest good one counts. %v", err)
}

// NoBarometer says that the barometer can't be read.
func NoBarometer(err error) string {
	return fmt.Sprintf("The barometer can't be read; boiling is reckoned from the altitude. %v", err)
}

// Bath says where the tips go, together.
func Bath(t calibrate.Truth, u measure.Units) string {
	switch t.Place {
	case calibrate.Ice:
		return "Tie the tips together and put them into crushed ice with a little water. Stir now and then; keep the joints dry."
	case calibrate.Steam:
		return "Let the tips cool in the shed's air, apart from one another, and begin. Then put them all at one stroke into steam that is there already, and leave them there."
	case calibrate.Box:
		return "Tie the tips together at rib height while the box is cold, and begin in the last minutes of warm-up. Leave the vent and drain open. " + boilsAt(t, u)
	}
	return "Tie the tips together and hang them into an open pot at a rolling boil: tips only, the cable joints dry, not on the bottom. " + boilsAt(t, u)
}

// BathCautions says what to beware of where the tips are. Common practice, no source.
func BathCautions(t calibrate.Truth) []string {
	switch t.Place {
	case calibrate.Ice:
		return nil
	case calibrate.Steam:
		return []string{"Steam scalds: long gloves or tongs, and never reach over it."}
	case calibrate.Box:
		return []string{"Steam scalds: never reach into the hot box for them. Heat off first, stand to the hinge side, let the steam out; dry gloves."}
	}
	return []string{
		"Boiling water scalds: stand the pot where nobody knocks it over, keep the cables clear of the flame, and take the tips by tongs or dry gloves.",
		"A burner stands outdoors or with the doors open, and is never left alone.",
	}
}

func boilsAt(t calibrate.Truth, u measure.Units) string {
	from := "by the altitude, so the weather may move it by " + u.Difference(1, 0)
	if t.Source == calibrate.Barometer {
		from = "by the barometer"
	}
	return fmt.Sprintf("Boiling here: %s, %s (%s).", u.Temperature(float64(t.C), 2), from, u.Pressure(t.PressurePa))
}

// NotThere says that the tips rest, but not yet where they should.
func NotThere(t calibrate.Truth) string {
	switch t.Place {
	case calibrate.Ice:
		return "They rest, but not in ice. Waiting."
	case calibrate.Box:
		return "They rest, but the box is not near boiling. Waiting."
	}
	return "They rest, but not in boiling water. Waiting."
}

// Bathed says that a bath is done.
func Bathed(t calibrate.Truth) string {
	if t.Place == calibrate.Ice {
		return "Done, take them out."
	}
	return "Done, take them out with tongs."
}

// What is said of a calibration on the page.
const (
	TipsOut          = "What they read is not taken for the box until they hang in it again."
	KeepingThem      = "Found. It is being kept."
	KeptAndInUse     = "Kept, and in use."
	KeptForThePot    = "Kept. It counts once they have been in boiling water too."
	KeptForLater     = "Kept, but not in use yet: it is from the next start on."
	RibWentIn        = "A rib went in, so it was stopped. Nothing is kept of this."
	RibIsIn          = "A rib is in the box: the probes are needed there. Calibrate once the box is empty."
	CalibrationGoes  = "A calibration is going on already: stop that one first."
	NoCalibrationNow = "No calibration is going on, and the probes hang in the box."
)

// WatchingTips says what is waited for.
func WatchingTips(t calibrate.Truth) string {
	if t.Place == calibrate.Steam {
		return "The tips are watched until all have risen and come to rest. Nothing need be pressed."
	}
	return "The tips are watched until all have been at rest for three minutes. Nothing need be pressed."
}

// NotAtRest says that the tips never rested where they should, in the time they had.
func NotAtRest(limitS float64) string {
	return fmt.Sprintf("Not at rest there after %s. Nothing is kept of this.", Clock(limitS))
}

// CantKeep says why a calibration can't be kept.
func CantKeep(err error) string {
	return fmt.Sprintf("A calibration can't be kept here: %v.", err)
}

// Doubt says why a calibration is not kept, of a probe by its name; empty for all.
func Doubt(t calibrate.Truth, d calibrate.Doubt, name string, u measure.Units) string {
	do := "Is it a rolling boil, and is the pressure that of this place?"
	switch t.Place {
	case calibrate.Ice:
		do = "Is there ice left, and is it stirred?"
	case calibrate.Box:
		do = "Is the box at the end of its warm-up, and is the pressure that of this place?"
	}
	switch d.Kind {
	case calibrate.WakesUp:
		return fmt.Sprintf("%s gives %s to the digit: what it wakes up with, not what it measures. Check its supply wire.", name, u.Temperature(85, 0))
	case calibrate.NotTogether:
		return "One tip rose well before the other: they do not hang together. Tie them together."
	case calibrate.TooWide:
		return fmt.Sprintf("The probes are %s apart: sound ones are not. Do their tips touch, all at one depth?", u.Difference(d.K, 1))
	}
	way := "above"
	if d.K < 0 {
		way = "below"
	}
	return fmt.Sprintf("%s is %s %s what it should read. %s", name, u.Difference(math.Abs(d.K), 1), way, do)
}

// What is said in the course of a calibration or a survey.
const (
	NothingKept = "Nothing is kept of this."
	Stopped     = "Stopped. What was kept before stays as it is."
	NoneWarmed  = "None rose by itself. Hold the tip of one alone in a warm hand; --timeout gives it longer."
	OtherWay    = "The probes are swapped: the one named for the door end behaves as the steam end. Change them over, or their ids in the configuration."
	StepNow     = "Now let the tips cool in the shed's air, apart from one another. Then put them all into the steam at one stroke and leave them there."
)

// LiftFloat asks for the float switch to be tried, within so many seconds.
func LiftFloat(withinS float64) string {
	return fmt.Sprintf("Lift the float by hand, hold it for five seconds, let it sink for five more: %s. Only in a cold boiler; a hot one is proven when you fill it.", Clock(withinS))
}

// What came of it.
const (
	FloatProven = "turned both ways: proven"
	FloatStuck  = "did not turn both ways: is it free to move, and is its wire on the line that the configuration names?"
)

// WarmOne asks for a probe to be warmed; left is how many have not been named.
func WarmOne(left int) string {
	if left == 1 {
		return "Take the last one in your hand."
	}
	return fmt.Sprintf("Take one in your hand: %d to go.", left)
}

// Held names the probe that somebody is warming.
func Held(name string) string { return "That is " + name + "." }

// Late says that a stage took longer than it was given.
func Late(limitS float64) string {
	return fmt.Sprintf("Not at rest after %s; --timeout gives it longer.", Clock(limitS))
}

// Lag says how slowly a probe follows, or why that can't be told.
func Lag(name string, s calibrate.Step, err error) string {
	switch {
	case errors.Is(err, calibrate.ErrTooQuick):
		return name + " follows faster than it is read: nothing to undo. Its lag stays as it was."
	case errors.Is(err, calibrate.ErrNotSharp):
		return name + " did not rise as after one step: put it in at one stroke, into steam that is there already."
	case err != nil:
		return fmt.Sprintf("%s: its lag can't be told: %v.", name, err)
	}
	return fmt.Sprintf("%s follows in %.1f seconds (63 %% of the way).", name, s.TauS)
}

// CarryTo says where the carried probe goes next.
func CarryTo(atM float64, slot string, u measure.Units) string {
	where := u.Length(atM, 0) + " from the steam end's probe"
	if slot != "" {
		where = "slot " + slot + ", " + where
	}
	return "Put the carried probe at " + where + ", at rib height. Shut the door. Then press Enter."
}

// ByItself says how long is waited where nobody can press Enter.
func ByItself(s float64) string {
	return fmt.Sprintf("Nobody to press Enter: the probe has %s to get there.", Clock(s))
}

// SurveyNeeds says why a survey can't be made.
func SurveyNeeds(names []string) string {
	return fmt.Sprintf("Not calibrated: %s. A survey compares probes with one another: calibrate all three first, in one pot (`withy probes calibrate`).", list(names))
}

// CantSurvey says what made a place of no use, from the error of its share.
func CantSurvey(err error, s calibrate.Spot, u measure.Units) string {
	if errors.Is(err, calibrate.ErrEndsAlike) {
		apart := u.Difference(math.Abs(s.SteamC-s.DoorC), 2)
		return fmt.Sprintf("Nothing can be placed between the ends: they are %s apart, less than the probes can tell. A straight line is as good.", apart)
	}
	return fmt.Sprintf("The carried probe reads what no place between the ends has: %s, between %s and %s. Does it lie in the inlet's jet, or outside?",
		u.Temperature(s.C, 2), u.Temperature(s.SteamC, 2), u.Temperature(s.DoorC, 2))
}

// list joins names as one says them.
func list(names []string) string {
	last := len(names) - 1
	if last < 1 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:last], ", ") + " and " + names[last]
}
