package sheet

import (
	"cmp"
	"math"
	"slices"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/soak"
	"withy/steambox/steam"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// Plan plans the day of a box for its table of ribs, from what is known of it now: the
// windows as learnt, the crew's own pace or that of a dry run, the water as told. spareShare is how many
// spares are cut for each rib, 0 to ribs.MostShare.
//
// Without a table the plan is empty and its limits say so. The error says, one a line,
// why the box as it is set can't be planned for.
func Plan(b *steambox.Box, s *steambox.Status, spareShare float64) (Day, error) {
	if len(b.Ribs) == 0 {
		return Day{Plan: &plan.Plan{Limits: []plan.Limit{{Kind: plan.NoTable}}}, Asked: &plan.Asked{}}, nil
	}
	latent, err := steam.LatentHeat(b.PressurePa)
	if err != nil {
		return Day{}, err
	}
	a := plan.Asked{
		Ribs: tableOf(b), Fair: ribs.DefaultOptions(), SpareShare: spareShare,
		PaceS: b.CrewS, Slots: len(b.Slots),
		Box:    boiler.BoxSize{LengthM: b.LengthM, InsideM: b.InsideM, BoardM: b.BoardM},
		Boiler: b.Boiler, StartL: startL(b, s), Kettle: b.Kettle,
		Material: b.Wood.Material, Usual: wood.Section{WidthM: b.Common.WidthM, ThicknessM: b.Common.ThicknessM},
		ShopC: b.ShopC, BoilingC: s.BoilingC, LatentJPerKg: latent,
	}
	if dry := s.Dry; dry != nil && dry.PaceS != nil {
		a.PaceS = *dry.PaceS
	}
	if own := s.Rhythm.CrewS; own != nil {
		a.PaceS = max(a.PaceS, *own)
	}
	if b.Way == pace.Single {
		a.Slots = 1
	}
	if a.Soaks, err = plan.SoaksBy(a.Ribs, soaksOf(b, s)); err != nil {
		return Day{}, err
	}
	p, err := plan.Make(a)
	if err != nil {
		return Day{}, err
	}
	if b.Way == pace.Batch {
		p.Limits = append(p.Limits, plan.Limit{Kind: plan.OtherWay})
	}
	return Day{Plan: p, Asked: &a, Slots: b.Slots}, nil
}

// tableOf returns the box's table as the plan wants it: the only boat goes without her
// name, which would stand in every line. A boat whose ribs all stand at one station has
// none.
func tableOf(b *steambox.Box) []ribs.Rib {
	table := make([]ribs.Rib, len(b.Ribs))
	at, apart := map[string]float64{}, map[string]bool{}
	several := slices.ContainsFunc(b.Ribs, func(r steambox.Rib) bool { return r.Boat != b.Ribs[0].Boat })
	for i, r := range b.Ribs {
		boat := ""
		if several {
			boat = cmp.Or(r.Boat, b.Boat)
		}
		table[i] = ribs.Rib{
			Label: r.Label, Boat: boat, Stick: r.Stick, LengthM: r.LengthM, ThicknessM: r.ThicknessM, WidthM: r.WidthM,
			StationM: r.StationM, Meant: r.Meant, Bend: ribs.Bend(r.Bend),
		}
		if first, known := at[boat]; !known {
			at[boat] = r.StationM
		} else if r.StationM != first {
			apart[boat] = true
		}
	}
	for i := range table {
		table[i].HasStation = apart[table[i].Boat]
	}
	return table
}

// startL is what is in the boiler, in litres, as somebody told, until the first steam;
// 0, for a full one, where nobody told or the element would be bare.
func startL(b *steambox.Box, s *steambox.Status) float64 {
	left := s.Water.LeftL
	if !s.Water.Told || left == nil || s.Warm.FirstSteamS != nil || *left <= b.Boiler.BareL {
		return 0
	}
	return min(*left, b.Boiler.FullL)
}

// soaksOf returns what says how long ribs stay in the steam: until their cooler end has
// what their stick is known to want, with the hotter end in steam that is as hot as it
// gets there.
func soaksOf(b *steambox.Box, s *steambox.Status) func(ribs.Section, window.Difficulty) (plan.Soak, error) {
	return func(of ribs.Section, bend window.Difficulty) (plan.Soak, error) {
		assumed := soak.Default(wood.Section{WidthM: of.WidthM, ThicknessM: of.ThicknessM})
		assumed.Material, assumed.FilmWPerM2K, assumed.FilmFactor = b.Wood.Material, b.Wood.FilmWPerM2, b.Wood.FilmFactor
		assumed.BoilingC = s.BoilingC
		cool, ratio, one := b.Window.Target, 1.0, plan.Soak{From: plan.Told}
		if k := stickOf(s.Sticks, of, bend); k != nil {
			cool, ratio, one.Chance, one.From = k.Target, k.Ratio, k.Chance, plan.Learnt
			if k.Guess {
				one.From = plan.Guessed
			}
		}
		one.Heat = cool / soak.Exposure(min(1, ratio))
		hot := cool / soak.Exposure(min(ratio, 1/ratio))
		var err error
		one.S, err = plan.TimeFor(assumed, hot, b.WoodC, s.BoilingC)
		return one, err
	}
}

// stickOf returns what is known of a stick at a difficulty, of the thickness nearest to
// a section's; nil where nothing is learnt.
func stickOf(sticks []steambox.StickNow, of ribs.Section, bend window.Difficulty) *steambox.StickNow {
	var nearest *steambox.StickNow
	off := func(k *steambox.StickNow) float64 { return math.Abs(k.ThicknessM - of.ThicknessM) }
	for i := range sticks {
		k := &sticks[i]
		if k.Stick == of.Stick && k.Bend == string(bend) && (nearest == nil || off(k) < off(nearest)) {
			nearest = k
		}
	}
	return nearest
}
