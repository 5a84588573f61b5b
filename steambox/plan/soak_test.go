package plan_test

import (
	"slices"
	"strings"
	"testing"

	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/soak"
	"withy/steambox/window"
	"withy/steambox/wood"
)

func steaming() plan.Steaming {
	return plan.Steaming{
		Assumed: soak.Default(wood.Section{WidthM: 0.025, ThicknessM: 0.00635}), Dryness: window.Green,
		WoodC: 15, SteamC: 100, EndRatio: 1,
	}
}

func supple(min float64, bend window.Difficulty) window.Bend {
	return window.Bend{Cool: soak.Exposure(min), Hot: soak.Exposure(min), Outcome: window.Supple, Difficulty: bend}
}

func stiff(min float64) window.Bend {
	return window.Bend{Cool: soak.Exposure(min), Hot: soak.Exposure(min), Outcome: window.Stiff}
}

// Fresh white oak of a quarter inch gets four to eight minutes: common practice, no
// source.
func TestSoakGuess(t *testing.T) {
	got, err := plan.Soaks([]ribs.Rib{{Label: "1", LengthM: 1}}, nil, steaming())
	if err != nil || got[0].From != plan.Guessed || got[0].S < 240 || got[0].S > 480 {
		t.Errorf("%+v, %v", got, err)
	}
}

// Bends count for their own stick; a file with one stick that has no name, for all.
func TestWhoseBends(t *testing.T) {
	bends := []window.Bend{supple(6, ""), supple(7, ""), stiff(2), stiff(3)}
	two := []ribs.Rib{{Label: "1", LengthM: 1, Stick: "A"}, {Label: "2", LengthM: 1, Stick: "B"}, {Label: "3", LengthM: 1}}
	for name, row := range map[string]struct {
		sticks []plan.Stick
		want   []plan.Source
	}{
		"none":             {nil, []plan.Source{plan.Guessed, plan.Guessed, plan.Guessed}},
		"one without name": {[]plan.Stick{{Bends: bends}}, []plan.Source{plan.Learnt, plan.Learnt, plan.Learnt}},
		"only A":           {[]plan.Stick{{Name: "A", Bends: bends}}, []plan.Source{plan.Learnt, plan.Guessed, plan.Learnt}},
		"A and C":          {[]plan.Stick{{Name: "A", Bends: bends}, {Name: "C", Bends: bends}}, []plan.Source{plan.Learnt, plan.Guessed, plan.Guessed}},
	} {
		got, err := plan.Soaks(two, row.sticks, steaming())
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range got {
			if s.From != row.want[i] {
				t.Errorf("%s, rib %d: %s, want %s", name, i+1, s.From, row.want[i])
			}
			if s.From == plan.Learnt && (s.Heat < 4 || s.Heat > 9) {
				t.Errorf("%s, rib %d: heat %g; 3 was too little and 6 and 7 were good", name, i+1, float64(s.Heat))
			}
		}
	}
}

// What easy ribs allow says nothing of hard ones, and thicker wood takes longer.
func TestHardAndThick(t *testing.T) {
	mixed := []ribs.Rib{
		{Label: "easy", LengthM: 1, Bend: ribs.Easy}, {Label: "hard", LengthM: 1, Bend: ribs.Hard},
		{Label: "thick", LengthM: 1, Bend: ribs.Easy, ThicknessM: 0.012},
	}
	got, err := plan.Soaks(mixed, []plan.Stick{{ThicknessM: 0.00635, Bends: []window.Bend{supple(2, window.Easy)}}}, steaming())
	if err != nil || got[0].From != plan.Learnt || got[1].From != plan.Guessed || got[2].S <= got[0].S {
		t.Errorf("%+v, %v", got, err)
	}
	a := asked(len(mixed))
	a.Ribs, a.Soaks = mixed, got
	p := mustMake(t, a)
	for _, k := range []plan.Kind{plan.SoakGuessed, plan.OtherThickness, plan.OtherSoak} {
		if find(p, k) == nil {
			t.Errorf("no limit of kind %d in %+v", k, p.Limits)
		}
	}
	if l := find(p, plan.OtherThickness); l != nil && (l.Is != 0.00635 || l.May != 0.012) {
		t.Errorf("thickness %+v", l)
	}
}

// A beam in steam that is hardly warm: more than a day, and so an error for the
// sections that can't be had, each.
func TestNoSoakDoes(t *testing.T) {
	s := steaming()
	s.SteamC, s.Dryness = 60, window.KilnDried
	_, err := plan.Soaks([]ribs.Rib{{Label: "1", LengthM: 1, ThicknessM: 0.08}, {Label: "2", LengthM: 1, ThicknessM: 0.05}}, nil, s)
	if err == nil || strings.Count(err.Error(), "longer than a day") != 2 {
		t.Errorf("%v", err)
	}
}

func TestSame(t *testing.T) {
	if got := plan.Same(240, 3); len(got) != 3 || slices.ContainsFunc(got, func(s plan.Soak) bool { return s.S != 240 || s.From != plan.Told }) {
		t.Errorf("%+v", got)
	}
}
