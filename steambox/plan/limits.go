package plan

// Kind is what limits a day; the sentences are in package words.
type Kind int

// The kinds. What a Limit's fields hold beside them is said with each.
const (
	TooFew         Kind = iota // Boat: N ribs are too few to judge
	TooRough                   // Boat: below an error of Is metres nothing would be seen
	EqualLengths               // Boat: all N ribs have one length, Is metres
	TooLong                    // Ribs: blanks of up to Is metres, for a box of May metres
	NoTable                    // there are no ribs to plan for
	SoakGuessed                // no bend has shown the soak
	OtherSoak                  // Ribs: want Is seconds where the run gives May
	OtherThickness             // Stick: its bends were Is metres thick, its ribs are May
	PaceSlower                 // the crew needs Is seconds a rib, and the soak is May
	SlotsEmpty                 // at a rib each Is seconds only N slots are needed
	LongWarmUp                 // the walls take so much that steam must blow for Is seconds before the first rib
	BoilerSlower               // the boiler can heat one rib in Is seconds, the crew would take May
	SoakTooShort               // no number of slots gives a soak of May seconds: the boiler needs Is a rib
	TooWeak                    // the boiler makes Is W of steam and lacks May for the box alone
	OtherWay                   // ribs are to go through the box otherwise than in a run
	NoVolume                   // nobody said what the boiler holds
	FlameGuessed               // how fast a flame boils off is a guess: look at the level at Is seconds
	RunsOut                    // no refill: the water is for N ribs of all
	TankTooSmall               // a filling lasts Is seconds; warming up and one rib take May
	KettleTooSlow              // the backup kettle comes too late: water gone at Is seconds, kettle there at May
)

// Limit is one thing that limits the day, with its numbers.
type Limit struct {
	Kind    Kind
	Boat    string
	Stick   string
	Ribs    []string // labels
	N       int
	Is, May float64 // in the unit that the kind says
}

func (p *Plan) limit(l Limit) { p.Limits = append(p.Limits, l) }
