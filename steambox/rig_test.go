package steambox_test

import (
	"slices"
	"testing"
	"time"

	"withy/steambox"
	"withy/steambox/boiler"
)

// rigOf is the state of an item of the rig check; "" if this box has none such.
func rigOf(s *steambox.Session, item steambox.RigItem) steambox.RigState {
	rig := s.Status().Rig
	if i := slices.IndexFunc(rig, func(r steambox.RigNow) bool { return r.Item == item }); i >= 0 {
		return rig[i].State
	}
	return ""
}

func TestRigIsTold(t *testing.T) {
	d := newDay(t, testBox()).run(1)
	for _, on := range []bool{true, false, true, true} {
		d.do(steambox.Event{Kind: steambox.Checked, Item: "vent", On: on})
		want := map[bool]steambox.RigState{true: steambox.RigGood, false: steambox.RigOpen}[on]
		if got := rigOf(d.Session, steambox.RigVent); got != want {
			t.Errorf("told %v: %s", on, got)
		}
	}
	bad := steambox.Event{ID: "x", Kind: steambox.Checked, Item: "probes", On: true}
	if err := d.Do(d.Elapsed(), bad); err == nil {
		t.Error("what the box sees by itself was told")
	}
}

// Out to be calibrated a probe is neither good nor faulty.
func TestRigProbesOut(t *testing.T) {
	for fault, want := range map[string]steambox.RigState{"": steambox.RigGood, "absent": steambox.RigWrong, steambox.OutToCalibrate: steambox.RigOpen} {
		b := testBox()
		for i := range b.Probes {
			b.Probes[i].Calibrated = true
		}
		s, err := steambox.NewSession(b)
		if err != nil {
			t.Fatal(err)
		}
		s.Sample(0, steambox.Sample{Probes: slices.Repeat([]steambox.ProbeSample{{MilliC: 15000, Fault: fault}}, len(b.Probes))})
		if got := rigOf(s, steambox.RigProbes); got != want {
			t.Errorf("fault %q: %s, want %s", fault, got, want)
		}
	}
}

// The rig check of a box follows its boiler: no breaker for a flame without a kettle
// on the mains, no kettle for a tank that is shut.
func TestRigFollowsTheBoiler(t *testing.T) {
	for _, row := range []struct {
		boiler boiler.Boiler
		kettle float64
		has    []steambox.RigItem
		hasNot []steambox.RigItem
	}{
		{boiler.Boiler{Kind: boiler.OpenPot, PowerW: 2200, FullL: 5, SwitchL: 1.2}, 2200,
			[]steambox.RigItem{steambox.RigKettle, steambox.RigElectricity, steambox.RigSwitch}, []steambox.RigItem{steambox.RigBurner, steambox.RigTank}},
		{boiler.Boiler{Kind: boiler.ClosedTank, Gas: true, PowerW: 3000, FullL: 5}, 0,
			[]steambox.RigItem{steambox.RigBurner, steambox.RigTank}, []steambox.RigItem{steambox.RigElectricity, steambox.RigKettle, steambox.RigSwitch}},
	} {
		b := testBox()
		b.Boiler, b.Kettle.PowerW = row.boiler, row.kettle
		s := session(t, b)
		for _, item := range row.has {
			if rigOf(s, item) == "" {
				t.Errorf("%s: no %s", row.boiler.Kind, item)
			}
		}
		for _, item := range row.hasNot {
			if rigOf(s, item) != "" {
				t.Errorf("%s: %s", row.boiler.Kind, item)
			}
		}
	}
}

// warmUp lets both probes rise from 15 °C as told, each by so much a second from a
// second on, to 99 °C.
func warmUp(t *testing.T, from [2]int) *steambox.Session {
	s := session(t, testBox())
	for second := range 600 {
		m := steambox.Sample{Level: boiler.Closed}
		for _, start := range from {
			c := min(99000, 15000+500*max(0, second-start))
			m.Probes = append(m.Probes, steambox.ProbeSample{MilliC: int32(c)})
		}
		s.Sample(time.Duration(second)*time.Second, m)
	}
	return s
}

// The steam end rises first; what two probes' lags may differ by tells nothing.
func TestRigTellsSwappedProbes(t *testing.T) {
	for _, row := range []struct {
		steam, door int
		want        steambox.RigState
	}{
		{60, 160, steambox.RigGood}, {160, 60, steambox.RigWrong}, {60, 80, steambox.RigOpen}, {80, 60, steambox.RigOpen},
		{60, 5000, steambox.RigGood}, {5000, 60, steambox.RigWrong}, {5000, 5000, steambox.RigOpen},
	} {
		if got := rigOf(warmUp(t, [2]int{row.steam, row.door}), steambox.RigEnds); got != row.want {
			t.Errorf("steam end from %d s, door end from %d s: %s, want %s", row.steam, row.door, got, row.want)
		}
	}
}

func TestRigSeesTheFloatMove(t *testing.T) {
	s := session(t, testBox())
	for second, level := range []boiler.Contact{boiler.Open, boiler.Open, boiler.Closed, boiler.Open, boiler.Unknown} {
		m := steambox.Sample{Probes: make([]steambox.ProbeSample, len(testBox().Probes)), Level: level}
		s.Sample(time.Duration(second)*time.Second, m)
		want := []steambox.RigState{steambox.RigOpen, steambox.RigOpen, steambox.RigGood, steambox.RigGood, steambox.RigWrong}[second]
		if got := rigOf(s, steambox.RigSwitch); got != want {
			t.Errorf("second %d: %s, want %s", second, got, want)
		}
	}
}
