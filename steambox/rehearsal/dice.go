package rehearsal

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
)

// dice is the world's only source of chance. Its state travels with the world,
// so that a world taken up again goes on throwing what it would have thrown.
type dice struct {
	pcg  *rand.PCG
	rand *rand.Rand
}

func newDice(seed uint64) dice {
	// The second word only has to differ from the first: any constant does.
	pcg := rand.NewPCG(seed, 0x57_69_74_68_79)
	return dice{pcg, rand.New(pcg)}
}

// between draws evenly from lo to hi.
func (d dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.rand.Float64() }

// betweenLog draws evenly in the logarithm from lo to hi, for quantities known
// within a factor.
func (d dice) betweenLog(lo, hi float64) float64 {
	return math.Exp(d.between(math.Log(lo), math.Log(hi)))
}

// normal draws from the normal distribution, kept within two and a half sd so
// that no seed makes an absurd world.
func (d dice) normal(mean, sd float64) float64 {
	return mean + sd*max(-2.5, min(2.5, d.rand.NormFloat64()))
}

// chance is true with probability p.
func (d dice) chance(p float64) bool { return d.rand.Float64() < p }

// MarshalJSON writes the generator's state.
func (d dice) MarshalJSON() ([]byte, error) {
	state, err := d.pcg.MarshalBinary()
	if err != nil {
		return nil, err
	}
	return json.Marshal(state)
}

// UnmarshalJSON takes up the state that MarshalJSON wrote.
func (d *dice) UnmarshalJSON(text []byte) error {
	var state []byte
	if err := json.Unmarshal(text, &state); err != nil {
		return err
	}
	pcg := new(rand.PCG)
	if err := pcg.UnmarshalBinary(state); err != nil {
		return fmt.Errorf("state of chance: %w", err)
	}
	*d = dice{pcg, rand.New(pcg)}
	return nil
}
