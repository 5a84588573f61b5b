package alert

// input is what moves an alarm from one state to another.
type input string

const (
	raise  input = "raise"   // it is so, and has been for the whole of its delay
	over   input = "over"    // it is not so, for the whole of the other delay
	again  input = "again"   // it is high and was heard, but is so still
	heard  input = "heard"   // somebody heard it
	putOff input = "put off" // somebody wants to be reminded later
	timeUp input = "time up" // that later is now
	reset  input = "reset"   // somebody says that it is over
	hide   input = "hide"    // a stronger alarm speaks for it
	show   input = "show"    // none does
	gone   input = "gone"    // what it was on is gone
)

// inputs is all of them.
var inputs = []input{raise, over, again, heard, putOff, timeUp, reset, hide, show, gone}

// The states that nobody is shown. What a hidden alarm is about goes on being watched.
const (
	normal State = ""
	hidden State = "hidden"
)

// moves is the life of an alarm, after ISA-18.2 as quoted in public texts; what is not
// listed changes nothing. Out of off and of hidden the way leads by normal, from where
// what is still so is raised at once.
var moves = map[State]map[input]State{
	normal:  {raise: Raised, hide: hidden},
	Raised:  {over: Cleared, heard: HeardBy, putOff: Off, hide: hidden, gone: normal},
	HeardBy: {over: normal, again: Raised, putOff: Off, hide: hidden, gone: normal},
	Cleared: {raise: Raised, heard: normal, putOff: Off, hide: hidden, gone: normal},
	Latched: {raise: Raised, reset: normal, gone: normal},
	Off:     {putOff: Off, timeUp: normal, gone: normal},
	hidden:  {show: normal, gone: normal},
}

// next returns the state after an input. An alarm that latches waits for a reset where
// another would be normal: once it is over and heard.
func next(from State, in input, latching bool) State {
	to, ok := moves[from][in]
	switch {
	case !ok:
		return from
	case latching && to == normal && (in == over || in == heard):
		return Latched
	}
	return to
}
