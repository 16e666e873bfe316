package curve

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sensito/fit"
	"sensito/fit/joint"
	"sensito/sensito"
	"sensito/sensito/curve/internal/alike"
)

// SetAside is a reading that was not used, with what the curve has there.
type SetAside struct {
	Step              int             // 0 for a reading of base plus fog or paper white
	Density, Expected sensito.Density // as read, and by the curve
}

// Fit is a characteristic curve fitted to one strip, with all that is
// known of the fit.
type Fit struct {
	Curve Curve
	Model string // "toe and line", "toe and curve" or "toe, line and shoulder"

	Names  []string      // of the parameters
	Params []float64     // as Names
	Cov    *mat.SymDense // of Params, scaled as Noise says; nil when unknown

	DoF        float64         // degrees of freedom behind Cov
	ResidualSD sensito.Density // of the readings about the curve
	Noise      fit.Noise       // where the errors of Cov come from
	Status     fit.Status      // how the fit ended

	SetAside []SetAside
	Reversed []int // steps beyond the densest, where film gets lighter with more exposure; not used
	Warnings sensito.Warnings

	ResidualDoF float64 // behind ResidualSD

	vary variation   // the curve for other parameters
	Root [][]float64 // directions of the error, columns of a square root of Cov
	off  []Origin    // of those of them, the last, that are of what all readings are off alike

	// Other curves that the readings allow, where several forms compete.
	rivals []rival

	// Together is set where the strip was fitted with others of its film.
	Together *Together

	read  fit.BendData // what the curve is fitted to
	steps []int        // numbers of the steps there
	drop  []int        // set aside of it, those of the base counted after the steps
}

// stepsAlike parts the errors of the steps of wedge and tablet, which all strips have
// alike and which give the readings a share of their variance, from those that they have
// each by itself.
func (f *Fit) stepsAlike(strip *sensito.Strip, share, scale float64) {
	errors := alike.NewErrors(strip.Trial())
	of := f.ofAlike(strip, errors)
	if of == nil || f.Root == nil {
		return
	}
	slopes := make([]float64, len(of))
	for i, x := range f.read.X {
		slopes[i] = f.Curve.Slope(sensito.LogExposure(x))
	}
	expected := func(p []float64) []float64 { return f.expected(f.vary(p, nil)) }
	for _, i := range f.drop {
		of[i] = nil
	}
	each, all := errors.Count()
	f.off = originsOf(each)
	more := alike.Directions(of, all, slopes, f.Params, f.Root, expected, f.read.Sigma*f.read.Sigma*math.Sqrt(scale))
	for _, r := range f.rivals {
		alike.Scale(r.root, math.Sqrt(1-share))
	}
	alike.Scale(f.Root, math.Sqrt(1-share))
	f.Root = append(f.Root, more...)
}

// ofAlike returns what the readings have of the errors of the steps of wedge and tablet.
func (f *Fit) ofAlike(strip *sensito.Strip, errors alike.Errors) [][]joint.Alike {
	if _, n := errors.Count(); n == 0 {
		return nil
	}
	at := f.expected(f.Curve)
	return errors.Of(strip, f.steps, at[:len(f.read.X)], at[len(f.read.X):])
}

// expected returns what a curve has where there are readings.
func (f *Fit) expected(c Curve) []float64 {
	out := make([]float64, f.count())
	for i := range out {
		_, out[i] = pair(f.read, i, c)
	}
	return out
}

// offAlike adds what all readings of the strip have in common by the way in which they were
// read: more directions of the error, and three more parameters that the names do not count.
func (f *Fit) offAlike(strip *sensito.Strip) {
	ways := alike.NewWays(strip.Trial())
	pictures, all := ways.Count()
	if all == 0 || f.Root == nil {
		return
	}
	own, vary := len(f.Params), f.vary
	f.Params = append(slices.Clone(f.Params), 0, 0, 0)
	f.vary = func(p []float64, _ Curve) Curve {
		c := vary(p[:own], nil)
		return alike.OffCurve{Curve: c, By: joint.Off(p[own:]), Base: BaseFog(c), Top: MaxDensity(c)}
	}
	var root [][]float64
	for _, direction := range f.Root {
		root = append(root, append(slices.Clone(direction), 0, 0, 0))
	}
	for _, off := range ways.Off(strip) {
		root = append(root, append(make([]float64, own), off[:]...))
	}
	f.Root, f.off = root, append(f.off, ofWays(pictures, all)...)
}

// count returns how many readings there are, those set aside too.
func (f *Fit) count() int { return len(f.read.X) + len(f.read.Base) }

// pair returns a reading, those of the base counted after the steps, and what the
// curve has there.
func pair(d fit.BendData, i int, c Curve) (read, expected float64) {
	if i < len(d.X) {
		return d.Y[i], float64(c.Density(sensito.LogExposure(d.X[i])))
	}
	return d.Base[i-len(d.X)], float64(BaseFog(c))
}

// LeftOut returns the numbers of the steps that were read and not used.
func (f *Fit) LeftOut() []int {
	out := slices.Clone(f.Reversed)
	for _, a := range f.SetAside {
		out = append(out, a.Step)
	}
	return out
}

// rival is a curve that follows the readings nearly as well as the chosen one.
type rival struct {
	chosen
	weight float64 // its share of the belief in all curves, the chosen one included
	root   [][]float64
}

// formNames name the forms of the curve for people.
var formNames = map[fit.BendForm]string{
	fit.ToeLine:     "toe and line",
	fit.ToeCurve:    "toe and curve",
	fit.ToeShoulder: "toe, line and shoulder",
}

// modelSpline names the curve for films that have no such form.
const modelSpline = "smooth"

// variation returns the curve for other parameters. It may be made in the place of one
// that is not needed any more, nil for none.
type variation func(params []float64, old Curve) Curve

// chosen is the curve that was chosen for the readings of a strip.
type chosen struct {
	model    string
	names    []string // of params; nil for a smooth curve
	params   []float64
	cov      *mat.SymDense // of params, for readings of the stated variance
	status   fit.Status
	vary     variation
	rss, dof float64 // of the readings, in units of their stated variance
	least    float64 // variance that the scatter is not below, such as that of rounding
	drop     []int   // readings left out
	rivals   []rival
}

// covariance returns the covariance of the parameters, nil when it is unknown.
func (c chosen) covariance(n fit.Noise) *mat.SymDense {
	if c.cov == nil || c.dof <= 0 {
		return nil
	}
	cov := fit.NewSym(len(c.params))
	cov.ScaleSym(c.variance(n), c.cov)
	return cov
}

// variance returns that of a reading, in units of that of Sigma.
func (c chosen) variance(n fit.Noise) float64 {
	if n == fit.NoiseGiven {
		return 1
	}
	return math.Max(c.rss/c.dof, c.least)
}

// Belief returns how much of the belief, from 0 to 1, is with curves of which holds is
// true: that of the strip, and its rivals.
func (f *Fit) Belief(holds func(Curve) bool) float64 {
	own, with := 1.0, 0.0
	for _, r := range f.rivals {
		own -= r.weight
		if holds(r.vary(r.params, nil)) {
			with += r.weight
		}
	}
	if holds(f.Curve) {
		with += own
	}
	return with
}
