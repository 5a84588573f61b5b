package alert

import "testing"

// Every state and every input: where it leads, for an alarm that does not latch, and
// after the bar for one that does where that is another place. The rows follow
// ISA-18.2's as quoted in public texts, in the words that people meet; "." is to stay.
func TestEveryStateAndInput(t *testing.T) {
	type row map[input]string
	want := map[State]row{
		normal:  {raise: "raised", over: ".", again: ".", heard: ".", putOff: ".", timeUp: ".", reset: ".", hide: "hidden", show: ".", gone: "."},
		Raised:  {raise: ".", over: "cleared", again: ".", heard: "heard", putOff: "off", timeUp: ".", reset: ".", hide: "hidden", show: ".", gone: ""},
		HeardBy: {raise: ".", over: "|latched", again: "raised", heard: ".", putOff: "off", timeUp: ".", reset: ".", hide: "hidden", show: ".", gone: ""},
		Cleared: {raise: "raised", over: ".", again: ".", heard: "|latched", putOff: "off", timeUp: ".", reset: ".", hide: "hidden", show: ".", gone: ""},
		Latched: {raise: "raised", over: ".", again: ".", heard: ".", putOff: ".", timeUp: ".", reset: "", hide: ".", show: ".", gone: ""},
		Off:     {raise: ".", over: ".", again: ".", heard: ".", putOff: ".", timeUp: "", reset: ".", hide: ".", show: ".", gone: ""},
		hidden:  {raise: ".", over: ".", again: ".", heard: ".", putOff: ".", timeUp: ".", reset: ".", hide: ".", show: "", gone: ""},
	}
	for state := range moves {
		if len(want[state]) != len(inputs) {
			t.Errorf("%q: %d inputs in the table of %d", state, len(want[state]), len(inputs))
		}
		for _, in := range inputs {
			to := want[state][in]
			plain, latching := State(to), State(to)
			switch {
			case to == ".":
				plain, latching = state, state
			case to == "|latched":
				plain, latching = normal, Latched
			}
			if got := next(state, in, false); got != plain {
				t.Errorf("%q, %s: %q, want %q", state, in, got, plain)
			}
			if got := next(state, in, true); got != latching {
				t.Errorf("%q, %s, latching: %q, want %q", state, in, got, latching)
			}
		}
	}
	if len(want) != len(moves) || len(moves) != len(States)+2 {
		t.Errorf("%d states in the table, %d in the machine, %d for people and two that are not shown", len(want), len(moves), len(States))
	}
}
