package rehearsal

import (
	"math"

	"withy/steambox/steam"
	"withy/steambox/unit"
)

// Box geometry and gases. Sizes are those of the rehearsed box, our own.
const (
	boxCells       = 16
	boxM           = 1.5
	boxSideM       = 0.15
	gasJPerMolK    = 8.314462618 // CODATA
	airJPerMolK    = 29.1        // heat capacity of air at constant pressure
	airKgPerMol    = 0.028965
	stillFilm      = 8.0 // W/m²K: air by itself, free convection
	openDoorSpread = 3.0 // how much more the gas mixes near an open door
	doorCells      = 4   // "near" in cells
)

// box is the steam box: a row of cells from the steam end (x = 0) to the door.
// Each holds air and vapour at the ambient pressure. The vapour is saturated, so
// the share of air says how hot the cell is: pure steam stands at the boiling
// point, a tenth of air costs about 3 K.
//
// Of the gas only the latent heat is reckoned; sensible heat counts for the air
// that comes in cold. Vapour is never made or lost but by the boiler, at
// surfaces and through the openings, and the ledger adds up.
type box struct {
	Cells      []cell
	Wall       wall
	InletM     float64 // where the steam comes in
	CleanFilm  float64 // W/m²K in steam without air, at the steam end
	FilmTaper  float64 // share by which it changes on the way to the door
	LeakMolS   float64 // air coming in through joints, over the whole length
	GapMolS    float64 // air coming in round the closed door
	GustMolS   float64 // air that the wind blows in there now
	OpenMolS   float64 // air coming in through the open door
	DrainShare float64 // share of the surplus that leaves by the steam end's drain
	MixM2PerS  float64 // mixing along the box

	temp, film [boxCells]float64 // °C and W/m²K at the start of the tick
	flow       [boxCells + 1]float64
}

// cell is a length of the box: its gas in mol and its wall.
type cell struct {
	Air, Vapour float64
	WallC       [wallLayers]float64 // °C, inner layer first
}

// around is what surrounds the box, the same for a whole tick.
type around struct {
	pa, boilC, latent float64 // latent in J/kg
	shopC, shopVapour float64 // °C and the shop air's share of vapour
}

func (a around) latentMol() float64 { return a.latent * molarKgWater }

const (
	cellM  = boxM / boxCells
	cellM3 = cellM * boxSideM * boxSideM
)

// fill starts the box with the shop's air and walls.
func (b *box) fill(a around) {
	b.Cells = make([]cell, boxCells)
	for i := range b.Cells {
		n := a.room(a.shopC)
		b.Cells[i] = cell{Air: n * (1 - a.shopVapour), Vapour: n * a.shopVapour}
		for j := range b.Cells[i].WallC {
			b.Cells[i].WallC[j] = a.shopC
		}
	}
}

// room is how much gas fits into a cell at c °C, in mol.
func (a around) room(c float64) float64 {
	return a.pa * cellM3 / (gasJPerMolK * (c + steam.ZeroCelsiusK))
}

// saturated returns the temperature at which a cell's vapour is saturated.
func (a around) saturated(c *cell) float64 {
	pv := a.pa * c.Vapour / (c.Vapour + c.Air)
	t, err := steam.BoilingPoint(max(pv, 650))
	if err != nil {
		panic("rehearsal: vapour pressure of a cell: " + err.Error())
	}
	return float64(t)
}

// read finds each cell's temperature and film.
//
// The film is the clean one in series with Uchida's for still steam with air,
// 380 (air/steam by mass)^-0.7 W/m²K (from memory; order of magnitude).
func (b *box) read(a around) {
	for i := range b.Cells {
		c := &b.Cells[i]
		b.temp[i] = a.saturated(c)
		ratio := max(c.Air, 0) * airKgPerMol / (c.Vapour * molarKgWater)
		clean := b.CleanFilm * (1 + b.FilmTaper*(float64(i)+0.5)/boxCells)
		b.film[i] = stillFilm + 1/(1/clean+math.Pow(ratio, 0.7)/380)
	}
}

// place says between which two cells x lies, and how far towards the second.
// Beyond the outermost centres it stays with the outermost cell.
func place(x float64) (i int, part float64) {
	s := max(0, min(boxCells-1, x/cellM-0.5))
	i = min(int(s), boxCells-2)
	return i, s - float64(i)
}

func blend(values []float64, i int, part float64) float64 {
	return values[i] + part*(values[i+1]-values[i])
}

// flows is where a tick's vapour went, in mol; wall and outside in J.
type flows struct{ vented, fog, wall, outside float64 }

// step moves the box on by dt seconds: steamMol comes in, the ribs have taken
// ribJ (one per cell). read must have been called.
func (b *box) step(dt float64, a around, steamMol float64, ribJ []float64, open bool) flows {
	var f flows
	inlet := max(0, min(boxCells-1, int(b.InletM/cellM)))
	b.Cells[inlet].Vapour += steamMol
	for i := range b.Cells {
		c := &b.Cells[i]
		in, out := b.Wall.step(dt, &c.WallC, b.temp[i], b.film[i], a.shopC, i == 0 || i == boxCells-1)
		f.wall += in
		f.outside += out
		c.Vapour -= (in + ribJ[i]) / a.latentMol()
		b.leak(&f, dt, a, i, open)
	}
	b.mix(dt, open)
	b.push(&f, a)
	return f
}

// leak swaps gas of cell i for as much of the shop's air.
func (b *box) leak(f *flows, dt float64, a around, i int, open bool) {
	mol := b.LeakMolS / boxCells * dt
	if i == boxCells-1 {
		mol += (b.GapMolS + b.GustMolS) * dt
		if open {
			mol += b.OpenMolS * dt
		}
	}
	c := &b.Cells[i]
	share := c.Vapour / (c.Vapour + c.Air)
	c.Air -= mol * (1 - share)
	c.Vapour -= mol * share
	f.vented += mol * share
	b.admit(f, a, i, mol)
}

// admit lets mol of the shop's air into cell i, where some vapour turns to fog
// in warming it.
func (b *box) admit(f *flows, a around, i int, mol float64) {
	c := &b.Cells[i]
	fog := mol * airJPerMolK * max(0, b.temp[i]-a.shopC) / a.latentMol()
	c.Air += mol * (1 - a.shopVapour)
	c.Vapour += mol*a.shopVapour - fog
	f.vented -= mol * a.shopVapour
	f.fog += fog
}

// mix swaps gas between neighbours, mole for mole.
func (b *box) mix(dt float64, open bool) {
	const steady = 0.4 // a cell gives at most this share to a neighbour
	for i := 1; i < boxCells; i++ {
		spread := b.MixM2PerS * dt / (cellM * cellM)
		if open && i >= boxCells-doorCells {
			spread *= openDoorSpread
		}
		l, r := &b.Cells[i-1], &b.Cells[i]
		mol := min(spread, steady) * min(l.Air+l.Vapour, r.Air+r.Vapour)
		left, right := l.Vapour/(l.Air+l.Vapour), r.Vapour/(r.Air+r.Vapour)
		swap := mol * (left - right)
		l.Vapour, r.Vapour = l.Vapour-swap, r.Vapour+swap
		l.Air, r.Air = l.Air+swap, r.Air-swap
	}
}

// push keeps every cell at the ambient pressure: what it has too much goes on
// towards the openings, what it lacks comes from there.
func (b *box) push(f *flows, a around) {
	var surplus [boxCells]float64
	total := 0.0
	for i := range b.Cells {
		c := &b.Cells[i]
		surplus[i] = c.Air + c.Vapour - a.room(a.saturated(c))
		total += surplus[i]
	}
	b.flow[0] = -b.DrainShare * total
	for i, s := range surplus {
		b.flow[i+1] = b.flow[i] + s
	}
	before := [boxCells]cell{}
	copy(before[:], b.Cells)
	for i := range b.flow {
		b.carry(f, a, before[:], i)
	}
}

// carry moves the flow through face i, to the right when it is positive, with
// the composition of the cell it comes from.
func (b *box) carry(f *flows, a around, before []cell, i int) {
	from, to, mol := i-1, i, b.flow[i]
	if mol < 0 {
		from, to, mol = i, i-1, -mol
	}
	if from < 0 || from >= boxCells {
		b.admit(f, a, to, mol)
		return
	}
	c := before[from]
	mol = min(mol, 0.9*(c.Air+c.Vapour)) // what is left over waits for the next tick
	share := c.Vapour / (c.Vapour + c.Air)
	b.Cells[from].Air -= mol * (1 - share)
	b.Cells[from].Vapour -= mol * share
	if to < 0 || to >= boxCells {
		f.vented += mol * share
		return
	}
	b.Cells[to].Air += mol * (1 - share)
	b.Cells[to].Vapour += mol * share
}

// at returns the gas temperature at x metres from the steam end.
func (b *box) at(x unit.Metre) unit.Celsius {
	i, part := place(float64(x))
	return unit.Celsius(blend(b.temp[:], i, part))
}

// vapour returns all vapour in the box, in mol.
func (b *box) vapour() float64 {
	sum := 0.0
	for i := range b.Cells {
		sum += b.Cells[i].Vapour
	}
	return sum
}
