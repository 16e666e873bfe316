package picture

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// MostSD is the greatest error of a density that is read; TestUnsureStep holds it.
const MostSD = 0.03

// lampDrift is how much the light of a lamp differs from picture to picture, as a part of it
// (assumed, from memory). Strip and tablet apart have it twice. TestCovariance holds it.
const lampDrift = 0.004

// tabletSD is what is not known besides the steps by themselves.
type tabletSD struct {
	scale float64   // of density
	slope []float64 // of density against the value, at each step that is of use
}

// slopes returns how a density moves with the value at each step.
func (t *tone) slopes() []float64 {
	out := make([]float64, len(t.density))
	for i, d := range t.density {
		l, slope, _ := t.logs(d)
		out[i] = 1 / (slope * math.Exp(l))
	}
	return out
}

// spread sets how far the tablet reads, and parts the covariance of the densities read at its
// steps into what a curve of 1, D and D² carries, which all strips read by it share, and what
// is left, the error of a step by itself.
func (c *Calibration) spread(cov *mat.SymDense, how tabletSD) error {
	_, sd, _ := c.Tablet.kept(c.Fit.ValueSD)
	d := c.tone.density
	last := -1
	for i := range d {
		if math.Hypot(how.slope[i]*sd[i], math.Sqrt(max(cov.At(i, i), 0))) <= MostSD {
			last = i
		}
	}
	if last+1 < FewestSteps {
		return refuse("", "only %d steps of the tablet read to within %.2f; a calibration needs %d", last+1, MostSD, FewestSteps)
	}
	c.Fit.ReadsTo = d[last]
	m := last + 1
	x := mat.NewDense(m, 3, nil)
	for i := range m {
		x.SetRow(i, []float64{1, d[i], d[i] * d[i]})
	}
	// B = (X'X)^-1 X' takes densities to coefficients.
	var qr mat.QR
	qr.Factorize(x)
	unit := mat.NewDense(m, m, nil)
	for i := range m {
		unit.Set(i, i, 1)
	}
	var b mat.Dense
	if err := qr.SolveTo(&b, false, unit); err != nil {
		return err
	}
	read := cov.SliceSym(0, m)
	var half, three, left, rest, all mat.Dense
	half.Mul(&b, read)
	three.Mul(&half, b.T())
	left.Mul(x, &b)
	left.Sub(unit, &left)
	rest.Mul(&left, read)
	all.Mul(&rest, left.T())
	for i := range 3 {
		for j := range 3 {
			c.Fit.Covariance[i][j] = (three.At(i, j) + three.At(j, i)) / 2
		}
	}
	c.Fit.Covariance[1][1] += how.scale * how.scale
	var sum float64
	for i := range m {
		sum += max(all.At(i, i), 0)
	}
	c.Fit.StepSD = math.Sqrt(sum / float64(m))
	return nil
}

// leastStepSD is the least that readings of a strip repeat to: steps of film lie leastEvenSD off a smooth curve (common
// practice, no source), and light that falls off by 1 % towards the corners, where no empty picture makes it even, is as much
// again (TestBlindPictured; TestEmptyRepeats). A step
// whose own error is more than unsure times what readings repeat to is none that a trial, which takes all readings for
// equally sure, can weigh: of films on open glass the contrast index was covered in 73 of 100 with such steps and in
// 81 without (TestPictureLeavesUnsureSteps).
const leastStepSD, leastEvenSD, unsure = 0.007, 0.005, 2

// Repeats returns what readings by the calibration repeat to in a trial, as a standard deviation, and the largest
// that a step's own may have to be taken into it.
func (c *Calibration) Repeats() (sd, most float64) {
	least := leastStepSD
	if c.Fit.Empty > 0 {
		least = leastEvenSD
	}
	sd = max(c.Fit.StepSD, least)
	return sd, unsure * sd
}

// Covariance returns that of the coefficients of 1, D and D² in the error of a density D
// which all strips read by this calibration share; same says that strip and tablet are in one
// picture, where the lamp is the same for both.
func (c *Calibration) Covariance(same bool) [3][3]float64 {
	m := c.Fit.Covariance
	if !same {
		drift := lampDrift / math.Ln10
		m[0][0] += 2 * drift * drift
	}
	return m
}

// ErrorOf returns the standard deviation of what all strips share of the error of a density,
// of the covariance of a sensito.Calibration.
func ErrorOf(cov [3][3]float64, d float64) float64 {
	by := [3]float64{1, d, d * d}
	var v float64
	for i := range 3 {
		for j := range 3 {
			v += by[i] * cov[i][j] * by[j]
		}
	}
	return math.Sqrt(max(v, 0))
}
