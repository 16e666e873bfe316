package curve

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"sensito/fit"
	"sensito/sensito"
)

// FitOptions say how a curve is fitted to a strip. The zero value is the
// recommended run.
type FitOptions struct {
	// KeepAll uses every reading; otherwise a reading that cannot belong to the
	// curve, at a false-alarm rate of 0.1 % a strip, is set aside and named.
	KeepAll bool

	// Noise says where the standard deviation of a reading comes from: from the
	// scatter about the curve (zero), or from the stated repeatability.
	Noise fit.Noise
}

// SetAside is a reading that was not used, with what the curve has there.
type SetAside struct {
	Step              int // 0 for a reading of base plus fog or paper white
	Density, Expected sensito.Density
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
	Noise      fit.Noise
	Status     fit.Status

	SetAside []SetAside
	Warnings []sensito.Warning

	ResidualDoF float64 // behind ResidualSD

	vary func(p []float64) Curve // the curve for other parameters
	Root [][]float64             // directions of the error, columns of a square root of Cov

	// Other curves that the readings allow, where several forms compete.
	rivals []rival
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

// What is known of film before it is read (common practice, no source): most
// toes are 0.06 to 0.29 log H wide and most shoulders wider, and the part
// between is nearly straight. It matters where a strip does not reach down to
// the base, and hardly anywhere else.
var (
	toeWidthPrior      = fit.Prior{Typical: 0.13, LnSD: 0.8}
	powerPrior         = fit.Prior{Typical: 1, LnSD: 0.15}
	shoulderWidthPrior = fit.Prior{Typical: 0.25, LnSD: 0.7}
)

// leastShoulder is the sharpest shoulder of a film, in log H (common practice,
// no source). A sharper one is a slip at the last step.
const leastShoulder = 0.10

// What is known of paper before it is read (common practice, no source): most
// toes are 0.02 to 0.15 log H wide and most shoulders 0.03 to 0.3, and wider on
// papers of long scale; a wedge is meant to reach black, so that a sharp
// shoulder is no slip.
var (
	paperToePrior      = fit.Prior{Typical: 0.08, LnSD: 1.2}
	paperShoulderPrior = fit.Prior{Typical: 0.12, LnSD: 1.2}
)

const leastPaperShoulder = 0.02

// FitStrip fits a characteristic curve to a strip. The error is Unanswerable
// when the readings cannot determine one.
func FitStrip(strip *sensito.Strip, o FitOptions) (*Fit, error) {
	r := newReadings(strip)
	if err := r.check(strip); err != nil {
		return nil, err
	}
	if strip.Trial().Material() == sensito.PaperMaterial {
		return r.result(strip, r.bestPaper(o.KeepAll), o)
	}
	c := r.best(o.KeepAll)
	if r.quiet() {
		return r.result(strip, r.among(c), o)
	}
	lo, hi := sensito.LogExposure(r.X[0]), sensito.LogExposure(r.X[len(r.X)-1])
	return r.result(strip, c.chosen(r, lo, hi), o)
}

// chosen is the curve that was chosen for the readings of a strip.
type chosen struct {
	model    string
	names    []string // of params; nil for a smooth curve
	params   []float64
	cov      *mat.SymDense // of params, for readings of the stated variance
	status   fit.Status
	vary     func(params []float64) Curve
	rss, dof float64 // of the readings, in units of their stated variance
	least    float64 // variance that the scatter is not below, such as that of rounding
	drop     []int   // readings left out
	rivals   []rival
}

// covariance returns the covariance of the parameters, nil when it is unknown.
func (c chosen) covariance(n fit.Noise) *mat.SymDense {
	variance := math.Max(c.rss/c.dof, c.least) // in units of Sigma
	if n == fit.NoiseGiven {
		variance = 1
	}
	if c.cov == nil || c.dof <= 0 {
		return nil
	}
	cov := mat.NewSymDense(len(c.params), nil)
	cov.ScaleSym(variance, c.cov)
	return cov
}

// chosen returns the candidate as a curve over the exposures from lo to hi.
func (c candidate) chosen(r readings, lo, hi sensito.LogExposure) chosen {
	out := chosen{rss: c.rss, dof: c.dof(r), drop: c.drop}
	if out.dof > 1 {
		out.dof-- // for the choice of the form
	}
	if c.spline != nil {
		out.model, out.params, out.cov, out.status = modelSpline, c.spline.Params, c.spline.Cov, fit.Converged
		out.vary = func(p []float64) Curve { return splineCurve{Spline: c.spline.SplineOf(p), lo: lo, hi: hi} }
		return out
	}
	out.model, out.names, out.params, out.cov, out.status = formNames[c.Form], c.Form.Names(), c.Params, c.Cov, c.Status
	out.vary = func(p []float64) Curve { return bendCurve{Bend: c.Form.Bend(p), lo: lo, hi: hi} }
	return out
}

// readings are the usable readings of a strip in rising order of exposure,
// the form that package fit takes.
type readings struct {
	fit.BendData
	step   []int      // step numbers, as X and Y
	scale  float64    // see choose
	smooth *candidate // through all of them, once it is known
}

func newReadings(strip *sensito.Strip) readings {
	repeatability := float64(strip.Trial().Repeatability())
	r := readings{BendData: fit.BendData{
		Sigma:    math.Sqrt(repeatability*repeatability + sensito.RoundingVariance),
		ToeWidth: toeWidthPrior, Power: powerPrior, ShoulderWidth: shoulderWidthPrior,
		LeastShoulder: leastShoulder,
	}}
	if strip.Trial().Material() == sensito.PaperMaterial {
		r.ToeWidth, r.ShoulderWidth, r.LeastShoulder = paperToePrior, paperShoulderPrior, leastPaperShoulder
	}
	steps := strip.Steps()
	slices.SortStableFunc(steps, func(a, b sensito.Step) int { return cmp.Compare(a.LogH, b.LogH) })
	for _, s := range steps {
		if s.Read() {
			r.X = append(r.X, float64(s.LogH))
			r.Y = append(r.Y, float64(s.Density))
			r.step = append(r.step, s.Number)
		}
	}
	for _, d := range strip.BaseFog() {
		r.Base = append(r.Base, float64(d))
	}
	return r
}

const (
	// MinReadings is the fewest usable readings that FitStrip takes, two more than
	// the plainest curve has parameters.
	MinReadings = 6

	minSpan = 0.5 // log H, less than which no toe fits into
)

// check refuses strips that no curve can be fitted to.
func (r readings) check(strip *sensito.Strip) error {
	if len(r.X) < MinReadings {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d has %d usable readings; a curve needs %d", strip.Number(), len(r.X), MinReadings),
			Hint:   "read more steps, from the base to the densest",
		}
	}
	places := len(slices.Compact(slices.Clone(r.X)))
	if span := r.X[len(r.X)-1] - r.X[0]; places < MinReadings || span < minSpan {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d has readings at %d exposures over %.2f log H; a curve needs %d over %.2f", strip.Number(), places, span, MinReadings, minSpan),
			Hint:   "read more steps, from the base to the densest",
		}
	}
	low, high := slices.Min(r.Y), slices.Max(r.Y)
	if high-low < 0.2 {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d spans a density of only %.2f; a curve needs 0.20", strip.Number(), high-low),
			Hint:   "expose so that the steps cover the toe and the straight line",
		}
	}
	n := len(r.Y)
	third := n / 3
	if stat.Mean(r.Y[:third], nil) > stat.Mean(r.Y[n-third:], nil) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d gets lighter with more exposure: its readings run against the order of the wedge", strip.Number()),
			Hint:   "give the wedge or the readings from the other end",
		}
	}
	return nil
}

// without returns the readings less those named, the base counted after the steps.
func (r readings) without(drop []int) readings {
	if len(drop) == 0 {
		return r
	}
	out := r
	out.X, out.Y, out.Base, out.step, out.smooth = nil, nil, nil, nil, nil
	for i := range r.X {
		if !slices.Contains(drop, i) {
			out.X = append(out.X, r.X[i])
			out.Y = append(out.Y, r.Y[i])
			out.step = append(out.step, r.step[i])
		}
	}
	for i, y := range r.Base {
		if !slices.Contains(drop, len(r.X)+i) {
			out.Base = append(out.Base, y)
		}
	}
	return out
}

// result turns the chosen curve into a CurveFit.
func (r readings) result(strip *sensito.Strip, c chosen, o FitOptions) (*Fit, error) {
	if c.status != fit.Converged {
		return nil, &sensito.Unanswerable{
			Reason: fmt.Sprintf("strip %d: no curve could be fitted (%v)", strip.Number(), c.status),
			Hint:   "check the readings and the order of the wedge",
		}
	}
	f := &Fit{
		Model: c.model, Names: c.names, Params: c.params, vary: c.vary,
		DoF: c.dof, ResidualDoF: c.dof, Noise: o.Noise, Status: fit.Converged,
		ResidualSD: sensito.Density(math.Sqrt(c.rss/c.dof) * r.Sigma),
		Warnings:   []sensito.Warning{},
	}
	if c.model == modelSpline {
		f.warn("smooth_curve", "no curve of toe, line and shoulder follows the readings, so a smooth rising curve was drawn through them")
	}
	f.Curve = f.vary(f.Params)
	if o.Noise == fit.NoiseGiven {
		f.DoF = math.Inf(1)
	}
	if f.Cov = c.covariance(o.Noise); f.Cov != nil {
		f.Root = squareRoot(f.Cov)
	}
	for _, other := range c.rivals {
		if cov := other.covariance(o.Noise); cov != nil {
			other.root = squareRoot(cov)
			f.rivals = append(f.rivals, other)
		}
	}
	baseName := "base plus fog"
	if strip.Trial().Material() == sensito.PaperMaterial {
		baseName = "paper white"
	}
	for _, i := range c.drop {
		read, expected := r.pair(i, f.Curve)
		out := SetAside{Density: sensito.Density(read), Expected: sensito.Density(expected)}
		name := "a reading of " + baseName
		if i < len(r.X) {
			out.Step = r.step[i]
			name = fmt.Sprintf("step %d", out.Step)
		}
		f.SetAside = append(f.SetAside, out)
		f.warn("set_aside", "%s reads %.2f where the curve has %.2f: set aside; read it again", name, read, expected)
	}
	f.Warnings = append(f.Warnings, sensito.RepeatWarnings(strip)...)
	if strip.NextStep() > 0 {
		f.warn("not_complete", "the strip is still being keyed in: step %d comes next", strip.NextStep())
	}
	if p := fit.TailProbability(c.rss, c.dof); p < 0.001 {
		f.warn("lack_of_fit", "the readings scatter by %.3f about the curve, more than the repeatability of %.3f explains", float64(f.ResidualSD), float64(strip.Trial().Repeatability()))
	}
	if len(r.Base) == 0 {
		lo, _ := f.Curve.Domain()
		if steep, _ := Steepest(f.Curve); f.Curve.Slope(lo) > 0.1*steep {
			f.warn("base_not_read", "there is no reading of %s and the faintest step is not down on it: it is extrapolated from the toe; read an unexposed piece", baseName)
		}
	}
	return f, nil
}

func (f *Fit) warn(code, format string, args ...any) {
	f.Warnings = append(f.Warnings, sensito.Warning{Code: code, Message: fmt.Sprintf(format, args...)})
}

// squareRoot returns the columns of a matrix L with L L' = cov, leaving out
// parameters without variance; nil when cov is not positive definite.
func squareRoot(cov *mat.SymDense) [][]float64 {
	var free []int
	for i := range cov.SymmetricDim() {
		if cov.At(i, i) > 0 {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return nil
	}
	// Scaled to correlations, so that units do not decide what is singular.
	corr := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b := a; b < len(free); b++ {
			j := free[b]
			corr.SetSym(a, b, cov.At(i, j)/math.Sqrt(cov.At(i, i)*cov.At(j, j)))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(corr) {
		return nil
	}
	var l mat.TriDense
	chol.LTo(&l)
	root := make([][]float64, len(free))
	for b := range free {
		root[b] = make([]float64, cov.SymmetricDim())
		for a, i := range free {
			root[b][i] = l.At(a, b) * math.Sqrt(cov.At(i, i))
		}
	}
	return root
}
