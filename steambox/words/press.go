package words

import (
	"fmt"
	"time"

	"withy/steambox"
)

// Pressed answers a press of a button aloud: which rib it took for what, or how long a
// round of a dry run was.
func Pressed(e steambox.Event, what string) string {
	switch e.Kind {
	case steambox.Pulled:
		return fmt.Sprintf("Rib %s is out of %s.", what, e.Slot)
	case steambox.Loaded:
		return fmt.Sprintf("Rib %s is in %s.", e.Rib, e.Slot)
	case steambox.Outcome:
		return fmt.Sprintf("Rib %s, %s.", e.Rib, e.Outcome)
	case steambox.KettleOn:
		return "The kettle is on."
	case steambox.Break:
		return "A break. Load no more."
	case steambox.Back:
		return "You are back."
	case steambox.Heard:
		return "Heard."
	case steambox.Round:
		return "Back after " + what + "."
	}
	return "Taken."
}

// What is said beside it.
const (
	PressForNo   = "Press again for no."
	TakenBack    = "Taken back."
	NothingToSay = "Nothing to say to that now."
)

// NotOff refuses to put an alarm off for longer than it may be; most 0: not at all.
func NotOff(most time.Duration) string {
	if most == 0 {
		return "This alarm can't be put off."
	}
	return fmt.Sprintf("This alarm can be put off for %.0f minutes at most.", most.Minutes())
}
