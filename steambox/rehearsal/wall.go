package rehearsal

// wallLayers is how many layers the boards of the box are followed in.
const wallLayers = 4

// wall is what the box is made of: boards with lagging outside. The end walls
// belong to the end cells.
type wall struct {
	BoardM    float64 // thickness of the boards
	ConductW  float64 // W/(m K), boards that get damp
	HeatJ     float64 // J/(m³ K)
	LagM2KPW  float64 // lagging and outer air, m²K/W
	BareShare float64 // share of the end walls' area that counts: door and steam end
}

const (
	sideM2 = 4 * boxSideM * cellM
	endM2  = boxSideM * boxSideM
)

func (w wall) areaM2(end bool) float64 {
	if end {
		return sideM2 + w.BareShare*endM2
	}
	return sideM2
}

// step moves one cell's wall on by dt seconds and returns the heat it took from
// the gas and gave to the shop, in J.
func (w wall) step(dt float64, c *[wallLayers]float64, gasC, film, shopC float64, end bool) (in, out float64) {
	area, d := w.areaM2(end), w.BoardM/wallLayers
	half := d / 2 / w.ConductW
	in = dt * area * (gasC - c[0]) / (1/film + half)
	out = dt * area * (c[wallLayers-1] - shopC) / (half + w.LagM2KPW)
	var gain [wallLayers]float64
	gain[0] += in
	gain[wallLayers-1] -= out
	for i := 1; i < wallLayers; i++ {
		q := dt * area * w.ConductW / d * (c[i-1] - c[i])
		gain[i-1] -= q
		gain[i] += q
	}
	for i := range c {
		c[i] += gain[i] / (area * d * w.HeatJ)
	}
	return in, out
}

// heatJ returns the heat in one cell's wall above 0 °C.
func (w wall) heatJ(c *[wallLayers]float64, end bool) float64 {
	sum := 0.0
	for _, t := range c {
		sum += t
	}
	return sum * w.areaM2(end) * w.BoardM / wallLayers * w.HeatJ
}
