package words

import "fmt"

// What may be wrong with the log.
const (
	LogNewer      = "it was written by a newer version of this program. Nothing in it was changed."
	LogDamaged    = "its file is damaged."
	LogHeld       = "another program has it open."
	LogUnwritable = "its folder can't be written to. Is the card full, or worn out?"
	LogUnusable   = "its folder can't be used."
)

// NoLog says that there is no log, and why.
func NoLog(why string) string {
	return "No log is kept: " + why + " Once that is put right, switch the board off and on."
}

// MendedLog says what became of a damaged log: where its file is now, how many sessions
// could be read, and whether something in the middle of them is missing.
func MendedLog(aside string, sessions int, missing bool) string {
	kept := "nothing in it could be read, and a new one was begun"
	switch {
	case sessions == 1:
		kept = "one session could be read and goes on being kept"
	case sessions > 1:
		kept = fmt.Sprintf("%d sessions could be read and go on being kept", sessions)
	}
	said := fmt.Sprintf("The log was damaged: %s. The damaged file is %s in the data folder.", kept, aside)
	if missing {
		said += " Some moments are missing: look at what is in the box."
	}
	return said
}
