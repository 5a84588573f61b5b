package boiler_test

import (
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/boiler"
)

// Worked by hand: dry in 30 min at the early bound, kettle 7 min: latest at 1380 s.
func TestKettleAt(t *testing.T) {
	for _, row := range []struct {
		name  string
		dry   float64
		pulls []float64
		want  float64
	}{
		{"no pulls", 1800, nil, 1380},
		{"between two pulls", 1800, []float64{1300, 1420}, 1380},
		{"just before a pull: before it", 1800, []float64{1390}, 1370},
		{"just after one: before it", 1800, []float64{1350}, 1330},
		{"one runs into the other", 1800, []float64{1370, 1320}, 1300},
		{"at the edge of one", 1800, []float64{1335}, 1380},
		{"only a pull just made", 1800, []float64{-30}, 1380},
		{"water first: pulls leave no room", 440, []float64{10, 80}, 20},
		{"too late", 300, []float64{200}, 0},
	} {
		near(t, row.name, boiler.KettleAt(row.dry, 420, row.pulls, 45), row.want, 1e-9)
	}
}

// The call is never too late, never on a pull unless nothing else is left, and no
// later moment is free.
func TestKettleAtIsTheLatestFreeMoment(t *testing.T) {
	const lead, busy = 420.0, 45.0
	rapid.Check(t, func(t *rapid.T) {
		dry := rapid.Float64Range(0, 4000).Draw(t, "dry")
		pulls := rapid.SliceOfN(rapid.Float64Range(-60, 4000), 0, 30).Draw(t, "pulls")
		free := func(at float64) bool {
			for _, p := range pulls {
				if at > p-20 && at < p+busy {
					return false
				}
			}
			return true
		}
		got, latest := boiler.KettleAt(dry, lead, pulls, busy), max(0, dry-lead)
		if got < 0 || got > latest {
			t.Fatalf("at %g, latest %g", got, latest)
		}
		for at := latest; at >= 0; at -= 0.5 {
			switch {
			case free(at) && at > got+1e-9:
				t.Fatalf("at %g, but %g is free", got, at)
			case free(at) && !free(got):
				t.Fatalf("at %g, on a pull, but %g is free", got, at)
			}
		}
	})
}

// Worked by hand. Dry in 20 min at the early bound, two minutes to spare: heat off
// at 1080 s. Six minutes of soak and half a minute at the door: the last load by
// 690 s; loads at 30, 120, 210 … 660 s are eight, the last out at 1050 s.
func TestPlannedBreak(t *testing.T) {
	going := boiler.Going{NextInS: 30, IntervalS: 90, SoakS: 360, BusyS: 30, PullsS: []float64{100, 190, 280}}
	late := going
	late.PullsS = []float64{1100}
	for _, row := range []struct {
		name string
		dry  float64
		g    boiler.Going
		want boiler.Break
	}{
		{"in mid run", 1200, going, boiler.Break{Loads: 8, LastInS: 660, LastOutS: 1050, HeatOffS: 1080, InTime: true}},
		{"no more loads", 500, going, boiler.Break{LastOutS: 310, HeatOffS: 380, InTime: true}},
		{"ribs that won't be ready in time", 1200, late, boiler.Break{Loads: 8, LastInS: 660, LastOutS: 1130, HeatOffS: 1080}},
		{"empty box, no water", 60, boiler.Going{IntervalS: 90, SoakS: 360, BusyS: 30}, boiler.Break{InTime: true}},
	} {
		if got := boiler.PlannedBreak(row.dry, 120, row.g); got != row.want {
			t.Errorf("%s: %+v, want %+v", row.name, got, row.want)
		}
	}
}

// BenchmarkEachSecond is what the water costs with every sweep of the sensors.
func BenchmarkEachSecond(b *testing.B) {
	pulls := []float64{40, 130, 220, 310, 400, 490}
	w := boiler.NewWater(pot, latent)
	w.Fill(4)
	b.ReportAllocs()
	for b.Loop() {
		w.Pass(pot, 1e-6, boiler.Boiling, boiler.Closed)
		dry, _ := w.UntilDry(pot)
		boiler.KettleAt(dry.Lo, 420, pulls, 45)
	}
}
