package boiler_test

import (
	"math"
	"testing"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/rehearsal"
	"withy/steambox/steam"
)

// contactOf is what the rehearsed float says.
func contactOf(w *rehearsal.World) boiler.Contact {
	if w.LevelClosed() {
		return boiler.Closed
	}
	return boiler.Open
}

// atTrip is what was believed of the water when the switch tripped, and what there
// was: litres as poured cold, hot water being 4 % larger.
type atTrip struct {
	rate, dry boiler.Span
	leftL     float64
}

// threeTrips runs a rehearsed boiler through three trips of its switch, a boiling
// refill of 1.5 L told after each, and returns them with the true rate in L/s: what
// it lost in the quarter of an hour after.
func threeTrips(w *rehearsal.World, b boiler.Boiler) (trips [3]atTrip, truth float64) {
	latentHere := steam.LatentHeatAt(w.BoilingC())
	water := boiler.NewWater(b, latentHere)
	water.Fill(4)
	for n := 0; n < len(trips); {
		w.Step(time.Second)
		boils := boiler.Still
		if w.WaterTemp() >= w.BoilingC() {
			boils = boiler.Boiling
		}
		was := water.Tripped
		water.Pass(b, 1, boils, contactOf(w))
		if water.Tripped && !was {
			dry, _ := water.UntilDry(b)
			trips[n] = atTrip{water.Rate.Span(), dry, w.WaterL() / 1.04}
			w.Refill(1.5, w.BoilingC())
			water.Add(b, 1.5)
			n++
		}
	}
	before := w.Heat().Steam
	w.Step(15 * time.Minute)
	return trips, (w.Heat().Steam - before) / latentHere / 900
}

// Against the rehearsed boiler, whose efficiency and standing loss are drawn anew with
// each seed and whose float chatters in boiling water. Its element begins to be bare
// at a quarter of a litre.
func TestWaterAgainstRehearsal(t *testing.T) {
	t.Parallel()
	var worst [3]float64
	for seed := range uint64(10) {
		w, err := rehearsal.New("good", seed)
		if err != nil {
			t.Fatal(err)
		}
		plate := w.Boiler()
		b := boiler.Boiler{PowerW: plate.PowerW, FullL: plate.CapacityL, SwitchL: plate.LevelL, BareL: 0.25}
		trips, truth := threeTrips(w, b)
		for i, trip := range trips {
			worst[i] = max(worst[i], math.Abs(trip.rate.Best/truth-1))
			if trip.rate.Lo > truth || trip.rate.Hi < truth {
				t.Errorf("seed %d, trip %d: rate %+v, truth %g", seed, i+1, trip.rate, truth)
			}
			if dryS := (trip.leftL - b.BareL) / truth; trip.dry.Lo > dryS || trip.dry.Hi < dryS {
				t.Errorf("seed %d, trip %d: dry in %+v, truly in %g", seed, i+1, trip.dry, dryS)
			}
		}
	}
	t.Logf("rate off by at most %.1f, %.1f and %.1f %% after one, two and three trips", 100*worst[0], 100*worst[1], 100*worst[2])
	if worst[2] > 0.06 {
		t.Errorf("rate off by %.1f %% after three trips", 100*worst[2])
	}
}
