package control

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sensito/fit"
)

// What may have changed in a process, one apart from the others: the rate of
// development, as the logarithm of the time of the trial whose work it does now
// over the time itself; the speed of the film, in stops; and fog.
const (
	causeRate = iota
	causeSpeed
	causeFog
	causes
)

// The patches of a strip, in the order of patchMatrix.
var patchQuantities = [causes]string{QuantityBaseFog, QuantityLow, QuantityDifference}

// patchMatrix says how much each of base plus fog, low density and density
// difference moves with each cause, or the reverse.
type patchMatrix [causes][causes]float64

// inverse returns false where the patches do not tell the causes apart.
func (m *patchMatrix) inverse() (inv patchMatrix, ok bool) {
	dense := mat.NewDense(causes, causes, nil)
	for i, row := range m {
		dense.SetRow(i, row[:])
	}
	var out mat.Dense
	if err := out.Inverse(dense); err != nil {
		return inv, false
	}
	for i := range inv {
		copy(inv[i][:], out.RawRowView(i))
	}
	return inv, true
}

// between returns a cov b for rows a and b.
func (m *patchMatrix) between(a, b [causes]float64) float64 {
	sum := 0.0
	for i := range causes {
		for j := range causes {
			sum += a[i] * m[i][j] * b[j]
		}
	}
	return sum
}

// present is where the causes are now, and how surely the strips tell that.
type present struct {
	causes  [causes]float64
	cov     patchMatrix        // of causes
	dof     float64            // behind cov
	patches map[string]float64 // that the causes give, by their quantities
	moves   patchMatrix        // of patches by causes, at the aim
}

// present reads each strip as causes, near the aim, and finds where each of them
// is now: a rate that drifts and a speed that has moved at once have each a
// beginning of its own. causesBy says how they move with the patches.
func (c *Evaluation) present(causesBy patchMatrix) (present, bool) {
	p := present{patches: map[string]float64{}, dof: math.Inf(1)}
	var ok bool
	if p.moves, ok = causesBy.inverse(); !ok {
		return p, false
	}
	var patches [causes]standard
	var away [causes][]float64
	for i, q := range patchQuantities {
		patches[i] = c.standard(q)
		p.dof = math.Min(p.dof, patches[i].dof)
		away[i] = fit.Each(c.Log.series(q), func(v float64) float64 { return v - patches[i].center })
		p.patches[q] = patches[i].center
	}
	scatter := stripScatter(patches, p.moves)
	var sd [causes]float64
	for k := range causes {
		s := standard{sigma: math.Sqrt(scatter.between(causesBy[k], causesBy[k])), dof: p.dof}
		s.centerSD = s.sigma * patches[0].centerSD / patches[0].sigma
		x := make([]float64, len(away[0]))
		for j := range x {
			for i := range causes {
				x[j] += causesBy[k][i] * away[i][j]
			}
		}
		level := c.levelOfSeries(s, x, c.seriesSignals(s, x)).Change
		p.causes[k], sd[k] = level.Value, level.StdErr
		for i, q := range patchQuantities {
			p.patches[q] += p.moves[i][k] * p.causes[k]
		}
	}
	for k := range causes {
		for l := range causes {
			r := scatter.between(causesBy[k], causesBy[l]) / math.Sqrt(scatter.between(causesBy[k], causesBy[k])*scatter.between(causesBy[l], causesBy[l]))
			p.cov[k][l] = r * sd[k] * sd[l]
		}
	}
	return p, true
}

// seriesSignals says whether a chart of a series speaks in the present run.
func (c *Evaluation) seriesSignals(s standard, x []float64) bool {
	var charts []Chart
	for _, kind := range c.kinds {
		charts = append(charts, newControlChart(kind, s, x, c.Log.runs(), c.Rules))
	}
	return firstSignal(charts, c.run) != nil
}

// stripScatter returns the covariance of the patches of one strip. Their
// standard deviations are known; how they go together follows from what makes
// strips scatter: readings, alike and independent for every patch, and beside
// them the rate and the exposure of a strip. moves is that of present.
func stripScatter(patches [causes]standard, moves patchMatrix) patchMatrix {
	variance := func(i int) float64 { return patches[i].sigma * patches[i].sigma }
	const fog, low, difference = 0, 1, 2
	reading := math.Min(variance(fog), math.Min(variance(low), variance(difference)/2))
	m := patchMatrix{
		{reading, 0, 0},
		{0, reading, -reading},
		{0, -reading, 2 * reading},
	}
	a, b := moves[low], moves[difference]
	square := func(v float64) float64 { return v * v }
	rate, exposure := notNegative(
		square(a[causeRate]), square(a[causeSpeed]), variance(low)-reading,
		square(b[causeRate]), square(b[causeSpeed]), variance(difference)-2*reading)
	for i := range causes {
		for j := range causes {
			m[i][j] += rate*moves[i][causeRate]*moves[j][causeRate] + exposure*moves[i][causeSpeed]*moves[j][causeSpeed]
		}
	}
	for i := range causes { // what is left is a patch's own
		m[i][i] = math.Max(m[i][i], variance(i))
	}
	return m
}

// notNegative returns the x and y of least squares in a x + b y = c and
// d x + e y = f, none below 0; a, b, d and e are not below 0 either.
func notNegative(a, b, c, d, e, f float64) (x, y float64) {
	alone := func(a, d float64) float64 {
		if a == 0 && d == 0 {
			return 0
		}
		return math.Max(0, (a*c+d*f)/(a*a+d*d))
	}
	if det := a*e - b*d; det != 0 {
		if x, y = (c*e-b*f)/det, (a*f-c*d)/det; x >= 0 && y >= 0 {
			return x, y
		}
	}
	miss := func(x, y float64) float64 { return math.Hypot(a*x+b*y-c, d*x+e*y-f) }
	if x, y := alone(a, d), alone(b, e); miss(x, 0) > miss(0, y) {
		return 0, y
	}
	return alone(a, d), 0
}
