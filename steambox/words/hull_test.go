package words_test

import (
	"testing"

	"withy/steambox/hull"
	"withy/steambox/words"
)

// One rib of twenty the wrong way round moves the lean by PerRib, and the twist by
// that times its place on the keel.
func TestBalance(t *testing.T) {
	for _, row := range []struct {
		b    hull.Balance
		want string
	}{
		{hull.Balance{Ribs: 1, PerRib: 0.6, Lean: 0.3}, "Too few ribs are in to say how she balances."},
		{hull.Balance{Ribs: 20}, "Balanced."},
		{hull.Balance{Ribs: 20, PerRib: 0.03, Lean: 0.015, Twist: -0.02}, "Balanced."},
		{hull.Balance{Ribs: 20, PerRib: 0.002, Lean: 0.008, LeanSD: 0.006, TwistSD: 0.003}, "Balanced, as far as the probes can tell."},
		{hull.Balance{Ribs: 20, PerRib: 0.03, Lean: 0.03, Twist: -0.024}, "Rounder to starboard, as if one rib forward were the wrong way round."},
		{hull.Balance{Ribs: 20, PerRib: 0.03, Lean: -0.03, Twist: -0.024}, "Rounder to port, as if one rib aft were the wrong way round."},
		{hull.Balance{Ribs: 20, PerRib: 0.03, Lean: 0.09, Twist: 0.01}, "Rounder to starboard, as if 3 ribs amidships were the wrong way round."},
		{hull.Balance{Ribs: 20, PerRib: 0.03, Lean: 0, Twist: 0.03}, "Twisted, rounder to starboard aft and to port forward, as if one rib forward and as many aft were the wrong way round."},
	} {
		if got := words.Balance(row.b); got != row.want {
			t.Errorf("%+v: %s, want %s", row.b, got, row.want)
		}
	}
}

func TestWayRound(t *testing.T) {
	for _, row := range []struct {
		a    hull.Advice
		want string
	}{
		{hull.Advice{Mark: hull.Port, Reason: hull.First}, "Mark to port: the first rib. From here one port, one starboard."},
		{hull.Advice{Mark: hull.Port, Reason: hull.Turns}, "Mark to port: one port, one starboard."},
		{
			hull.Advice{Mark: hull.Port, Reason: hull.Wait, Against: []string{"4", "7", "9"}, SameAs: "9"},
			"Mark to port, as rib 9: one port, one starboard. Ribs 4, 7 and 9 stand out of turn. A rib still to come evens it out better than this one.",
		},
		{
			hull.Advice{Mark: hull.Port, Reason: hull.Depart, Against: []string{"7"}, Replaced: []string{"2", "3"}, SameAs: "8", PlainWorst: 0.04, BestWorst: 0.01},
			"Same side again, on purpose: mark to port, as rib 8. Rib 7 stands out of turn. Ribs 2 and 3 replaced others and came out unlike their neighbours. This evens it out: about 25 % is left at the end of what turns would leave.",
		},
	} {
		if got := words.WayRound(row.a); got != row.want {
			t.Errorf("%+v: %s, want %s", row.a, got, row.want)
		}
	}
}
