package rehearsal

// Ledger says where all heat went since the fire was lit, in joule. What came in
// is Fuel; Water and Heater are what the boiler holds above the shop's
// temperature beyond what it was filled with; the other fields are sums.
//
// TestLedgerBalances adds it up.
type Ledger struct {
	Fuel     float64 // electricity, or the heat of the gas burnt
	Flue     float64 // went past the boiler
	Standing float64 // the boiler's own loss to the shop
	Steam    float64 // latent heat of all steam made
	Vented   float64 // of that: left by drains, joints and door, less the shop's own vapour
	Fog      float64 // spent on warming air that came in
	Wall     float64 // taken by the walls
	Ribs     float64 // taken by the ribs in the box
	Outside  float64 // given by the walls to the shop
}

func (l *Ledger) boiler(s spent) {
	l.Fuel += s.fuel
	l.Flue += s.flue
	l.Standing += s.standing
	l.Steam += s.steam
}

func (l *Ledger) box(f flows, ribJ []float64, latentMol float64) {
	l.Vented += f.vented * latentMol
	l.Fog += f.fog * latentMol
	l.Wall += f.wall
	l.Outside += f.outside
	for _, j := range ribJ {
		l.Ribs += j
	}
}
