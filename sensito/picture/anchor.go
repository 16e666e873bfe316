package picture

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sensito/sensito"
)

// An Anchor is a step that a densitometer read besides.
type Anchor struct {
	Step    int
	Density float64 // by the densitometer
	Read    float64 // by the picture
	SD      float64 // of the former, 0 for 0.01
}

// fewestAnchors are a clear, a middle and a dense step; TestAnchoredRefused holds it and the
// least distance between the lightest and the densest.
const (
	fewestAnchors = 3
	anchorsApart  = 0.5
)

// What is not known of offset and scale before anchors are read, besides the covariance of the
// calibration: film and tablet may scatter light otherwise (callierSD), and a densitometer
// has a zero of its own. TestAnchored holds them.
const anchorZeroSD = 0.01

// mostAnchored is how many standard deviations the anchors may be from what the calibration
// expects of them before they count as wrong; TestAnchoredRefused holds it.
const mostAnchored = 4

// Anchored returns the calibration with offset and scale corrected by readings of a
// densitometer, and with the error that is then left. Curvature stays as it was. The error is a
// Refusal: fewer than three anchors, too close together, or too far from what was read.
func (c *Calibration) Anchored(list []Anchor) (*Calibration, error) {
	if c == nil {
		return nil, ErrNoTablet
	}
	n := len(list)
	if n < fewestAnchors {
		return nil, refuse("read a clear, a middle and a dense step", "%d steps were read by the densitometer; offset and scale need %d", n, fewestAnchors)
	}
	low, high := math.Inf(1), math.Inf(-1)
	x, r, off := mat.NewDense(n, 3, nil), mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, a := range list {
		if math.IsNaN(a.Read) || math.IsNaN(a.Density) {
			return nil, refuse("", "step %d was not read", a.Step)
		}
		low, high = min(low, a.Read), max(high, a.Read)
		x.SetRow(i, []float64{1, a.Read, a.Read * a.Read})
		sd := a.SD
		if sd == 0 {
			sd = float64(sensito.DefaultRepeatability)
		}
		r.SetSym(i, i, sd*sd+c.Fit.StepSD*c.Fit.StepSD)
		off.SetVec(i, a.Density-a.Read)
	}
	if high-low < anchorsApart {
		return nil, refuse("read a clear, a middle and a dense step", "the steps that the densitometer read lie within %.2f", high-low)
	}
	before := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := i; j < 3; j++ {
			before.SetSym(i, j, c.Fit.Covariance[i][j])
		}
	}
	before.SetSym(0, 0, before.At(0, 0)+anchorZeroSD*anchorZeroSD)
	before.SetSym(1, 1, before.At(1, 1)+callierSD*callierSD)
	// The gain of the best linear estimate, but for curvature, which is left alone.
	var px, seen mat.Dense
	px.Mul(before, x.T())
	seen.Mul(x, &px)
	all := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			all.SetSym(i, j, (seen.At(i, j)+seen.At(j, i))/2+r.At(i, j))
		}
	}
	var f mat.Cholesky
	var gain, weighed mat.Dense
	var pull mat.VecDense
	if !f.Factorize(all) || f.SolveTo(&weighed, px.T()) != nil || f.SolveVecTo(&pull, off) != nil {
		return nil, refuse("", "the readings of the densitometer tell nothing")
	}
	if chi2 := mat.Dot(off, &pull); chi2 > mostAnchored*mostAnchored*float64(n) {
		return nil, refuse("are they of this strip, by step and density?", "the densitometer and the picture differ far more than their errors, by %+.2f at step %d", off.AtVec(n-1), list[n-1].Step)
	}
	gain.CloneFrom(weighed.T())
	for j := range n {
		gain.Set(2, j, 0)
	}
	var by mat.VecDense
	by.MulVec(&gain, off)
	// What is left, whatever the gain: (I-GX) P (I-GX)' + G R G'.
	var gx, left, half, after, gr, noise mat.Dense
	gx.Mul(&gain, x)
	left.Sub(mat.NewDiagDense(3, []float64{1, 1, 1}), &gx)
	half.Mul(&left, before)
	after.Mul(&half, left.T())
	gr.Mul(&gain, r)
	noise.Mul(&gr, gain.T())
	out := *c
	for i := range 3 {
		for j := range 3 {
			out.Fit.Covariance[i][j] = (after.At(i, j) + after.At(j, i) + noise.At(i, j) + noise.At(j, i)) / 2
		}
	}
	// Densities that were anchored before are what was read now.
	o, s := by.AtVec(0), by.AtVec(1)
	was := c.Fit.Anchored
	out.Fit.Anchored = [2]float64{was[0] + o + s*was[0], was[1] + s*(1+was[1])}
	return &out, nil
}
