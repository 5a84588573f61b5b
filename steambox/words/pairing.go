package words

import "fmt"

// What is said to the button that lets a phone in.
const (
	NobodyAsks = "Nobody asks to be paired. Open the page on the phone first."
	SeveralAsk = "Several phones ask to be paired. Close the page on all but one, and press again."
)

// EraseLater refuses to erase all that is kept.
const EraseLater = "The box is watched until it is cold and empty. Erase then."

// LetIn says that a phone was let in.
func LetIn(name string) string { return fmt.Sprintf("%s is paired.", name) }

// Troubles of the way in. The watch goes on with each.
const (
	NoCertificate = "The page's certificate can't be read or kept; it is served with another, and phones will ask again."
	NoKeys        = "Which phones are paired can't be read. Pair them again."
	NoSocket      = "`withy pair` on the board can't reach this program. Phones are paired by the button only."
)
