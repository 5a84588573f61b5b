package view

// What a button at the box, a pedal at the boat or a key on a page can be set to
// do. While an alarm sounds, any of them says that it was heard.
const (
	PressNext    = "next"    // what the next call asks: pulled, or loaded
	PressHeard   = "heard"   // nothing else
	PressSupple  = "supple"  // so the rib that was pulled last bent
	PressStiff   = "stiff"   // or so
	PressCracked = "cracked" // or so
	PressKettle  = "kettle"  // the kettle was put on
	PressStop    = "stop"    // a break; again: back
)

// PressPair is what only a button on the board can be set to do: let in the phone that
// asks. Any other does so too when it is held for five seconds while one asks.
const PressPair = "pair"

// Presses lists what a button can do.
var Presses = []string{PressNext, PressHeard, PressSupple, PressStiff, PressCracked, PressKettle, PressStop}

// Answer is what is said to the last press.
type Answer struct {
	N     uint64  `json:"n"` // rises by one with every answer
	Says  string  `json:"says,omitempty"`
	UndoS float64 `json:"undo_s,omitempty"` // for so long the same button says no to it
}
