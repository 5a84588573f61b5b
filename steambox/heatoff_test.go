package steambox_test

import (
	"testing"
	"time"

	"withy/steambox"
	"withy/steambox/rehearsal"
)

// A box whose heat really was turned off is left alone: the rehearsal box, its fire
// out, is not taken to be lit again while it cools.
func TestHeatReallyOff(t *testing.T) {
	for _, sc := range rehearsal.Scenarios() {
		for seed := range uint64(3) {
			s := newStage(t, sc.Name, seed+1, nil)
			for range 40 * 60 {
				s.second()
			}
			s.world.SetFire(false)
			s.tell(steambox.Event{Kind: steambox.Heat})
			for range 60 * 60 {
				s.second()
				if !s.Signals().HeatOff {
					t.Errorf("%s, seed %d: taken to be lit %v in", sc.Name, seed+1, s.world.Elapsed()-40*time.Minute)
					break
				}
			}
		}
	}
}
