package words

import (
	"fmt"
	"strings"
)

// What is said to the button that lets a phone in.
const (
	NobodyAsks = "Nobody asks to be paired. Open the page on the phone first."
	SeveralAsk = "Several phones ask to be paired. Close the page on all but one, and press again."
)

// EraseLater refuses to erase all that is kept.
const EraseLater = "The box is watched until it is cold and empty. Erase then."

// What is said to who wants another log at a time that is none for it.
const (
	NextIsNew  = "No rib has been in the box since this log began: it is new."
	NextUnkept = "The log can't be written just now, so no other can be begun."
)

// NextLater refuses another log while an alarm of danger is up.
func NextLater(title string) string {
	return fmt.Sprintf("See to “%s” first: its alarm belongs to this log.", title)
}

// NextRibsIn refuses another log while ribs lie in the box.
func NextRibsIn(ribs []string) string {
	if len(ribs) == 1 {
		return fmt.Sprintf("Rib %s lies in the box. Pull it first, or say that it is out.", ribs[0])
	}
	return fmt.Sprintf("Ribs %s lie in the box. Pull them first, or say that they are out.", strings.Join(ribs, ", "))
}

// LetIn says that a phone was let in.
func LetIn(name string) string { return fmt.Sprintf("%s is paired.", name) }

// Troubles of the way in. The watch goes on with each.
const (
	NoCertificate = "The page's certificate can't be read or kept; it is served with another, and phones will ask again."
	NoKeys        = "Which phones are paired can't be read. Pair them again."
	NoSocket      = "`withy pair` on the board can't reach this program. Phones are paired by the button only."
)
