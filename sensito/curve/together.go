package curve

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sensito/fit"
	"sensito/fit/joint"
	"sensito/sensito"
	"sensito/sensito/curve/internal/alike"
	"sensito/sensito/curve/internal/sidebyside"
)

// Shared returns which directions of the error strips of the trial have in common: where
// the first of them is, and the origin of each.
func (f *Fit) Shared() (from int, of []Origin) {
	if w := f.Together; w != nil {
		return 0, w.Of
	}
	return len(f.Root) - len(f.off), f.off
}

// PicturesAsStated says whether directions of pictures are as the trial states them, and so
// those of all of its strips of which that holds.
func (f *Fit) PicturesAsStated() bool { return f.Together == nil || f.Together.AsStated }

// modelShared names the curve of strips that share a shape.
const modelShared = "one shape for the strips of the film"

// MeasureTrial measures every strip of a trial, in the order of the notebook, those
// of one film and process together. A strip without a curve has a nil Fit and a
// warning that says why; when no strip has one the error of the first is returned.
func MeasureTrial(t *sensito.Trial, o MeasureOptions) ([]*Measured, error) {
	ms, errs := MeasureStrips(t, o)
	return Told(t, o, ms, errs)
}

// Told returns what MeasureStrips returned as MeasureTrial has it.
func Told(t *sensito.Trial, o MeasureOptions, ms []*Measured, errs []error) ([]*Measured, error) {
	ms = slices.Clone(ms)
	var first error
	fitted := false
	for i, m := range ms {
		if m == nil {
			ms[i] = &Measured{Strip: t.Strips()[i], Gradient: o.Gradient.withDefaults(), Warnings: sensito.Warnings{sensito.Warn("no_curve", errs[i].Error())}}
			if first == nil {
				first = errs[i]
			}
			continue
		}
		fitted = true
	}
	if !fitted {
		return nil, first
	}
	return ms, nil
}

// MeasureStrips is MeasureTrial with the error of each strip that has no curve,
// which is then nil.
func MeasureStrips(t *sensito.Trial, o MeasureOptions) (ms []*Measured, errs []error) {
	strips := t.Strips()
	all, failed := make([]*Measured, len(strips)), make([]error, len(strips))
	sidebyside.Do(len(strips), func(i int) { all[i], failed[i] = Measure(strips[i], o) })
	if !o.Apart {
		measureTogether(all, o)
	}
	return all, failed
}

// sharing says whether the strip has its shape of curve in common with others of its
// trial. One that was developed in another bath, or exposed for another time, has it
// too, but lies elsewhere: that is otherwise. Temperature is as time, and does not.
func (m *Measured) sharing() (shares, otherwise bool) {
	s := m.Strip
	alike := s.OnlyIn(sensito.ConditionTemperature) || sensito.SameProcess(s.Process(), s.Trial().Process())
	return m.Fit.Root != nil && s.CopyOf() == 0, s.ExposedApart() || !alike
}

// measureTogether measures again, with one shape for all, the strips of a trial
// that share it; strips of other conditions only where these do not disagree with the
// rest. Those that are nil stay so, and one that lies elsewhere than the
// others stays as it is by itself.
func measureTogether(ms []*Measured, o MeasureOptions) {
	var alike, all []int
	for i, m := range ms {
		if m == nil {
			continue
		}
		shares, otherwise := m.sharing()
		if shares {
			all = append(all, i)
		}
		if shares && !otherwise {
			alike = append(alike, i)
		}
	}
	switch t := fitTogether(ms, all, o); {
	case t != nil && (len(all) == len(alike) || t.with.Chance >= unlikely):
		t.measure(ms, o)
	case len(all) > len(alike):
		if t := fitTogether(ms, alike, o); t != nil {
			t.measure(ms, o)
		}
	}
}

// together is a joint fit of some of the strips of a trial.
type together struct {
	of     []int // the strips
	fit    *joint.Fit
	curves []*joint.Curve
	with   *Together
	odd    int             // the one whose base lies far off those of the others, -1 for none
	root   [][]float64     // of the error of each, along the directions of its curve
	astray map[int]float64 // by how much those lie elsewhere that were left out
}

// fitTogether fits one shape to strips of a trial, nil where fewer than two share one.
func fitTogether(ms []*Measured, of []int, o MeasureOptions) *together {
	if len(of) < 2 { // of which none can be astray
		return nil
	}
	t := &together{astray: map[int]float64{}}
	p := joint.Problem{Worth: sensito.PriorReadings, Known: o.Fit.Noise == fit.NoiseGiven}
	trial := ms[of[0]].Strip.Trial()
	errors, ways := alike.NewErrors(trial), alike.NewWays(trial)
	var read []*sensito.Strip
	for _, i := range of {
		read = append(read, ms[i].Strip)
	}
	differ := ways.Differ(read)
	if differ {
		errors = errors.Among(ways)
	}
	p.Alike, _ = errors.Count()
	p.Sigma = commonSD(errors, read)
	for _, i := range of {
		m := ms[i]
		r := m.Fit.read
		slope, at := Steepest(m.Fit.Curve)
		base := float64(BaseFog(m.Fit.Curve))
		_, otherwise := m.sharing()
		p.Strips = append(p.Strips, joint.Strip{X: r.X, Y: r.Y, Base: r.Base, Level: base, Slope: slope, Otherwise: otherwise,
			Alike: m.Fit.ofAlike(m.Strip, errors), Sigma: errors.ReadingSD(m.Strip),
			Foot: float64(at) - (float64(m.Fit.Curve.Density(at))-base)/slope})
	}
	strips := p.Strips
	p.Strips = nil
	var apart []*Measured
	options := joint.Options{MostSlips: maxSlips, FalseAlarms: falseAlarms}
	for k, off := range astray(strips) {
		m := ms[of[k]]
		if math.Abs(off) > farAstray {
			t.astray[of[k]] = off
			continue
		}
		t.of, apart, p.Strips = append(t.of, of[k]), append(apart, m), append(p.Strips, strips[k])
		options.Doubtful = append(options.Doubtful, m.Fit.drop)
	}
	if len(t.of) < 2 || !slices.ContainsFunc(p.Strips, func(s joint.Strip) bool { return !s.Otherwise }) {
		return t.alone()
	}
	if o.Fit.KeepAll {
		options.FalseAlarms = 0
	}
	var err error
	if t.fit, err = joint.New(p, options); err == nil && errors.ByDensity() {
		if err = t.place(p.Strips, apart, errors); err == nil {
			t.fit, err = joint.New(p, options)
		}
	}
	if err != nil {
		return t.alone()
	}
	t.with = share(t.fit, apart)
	t.with.Bases, t.odd = t.bases(p.Strips)
	t.with.oneBase = t.odd >= 0
	var stated []joint.Off // of the ways of reading, where the fit does not judge them
	if t.with.AsStated = !differ; t.with.AsStated {
		stated = ways.Off(apart[0].Strip)
	}
	if t.curves, err = t.fit.Curves(t.with.Wider, stated); err != nil {
		return t.alone()
	}
	alike := originsOf(t.curves[0].Alike)
	if t.with.AsStated {
		alike = append(alike, ofWays(ways.Count())...)
	}
	t.with.Of = append(make([]Origin, t.curves[0].Shared-len(alike)), alike...)
	t.root = fit.NoMoves(t.curves[0].Directions(), t.curves[0].Directions())
	for k := range t.root {
		t.root[k][k] = 1
	}
	return t
}

// commonSD returns the standard deviation of a reading of strips, as a root mean square
// where they were read in different ways.
func commonSD(errors alike.Errors, read []*sensito.Strip) float64 {
	first, squares := errors.ReadingSD(read[0]), 0.0
	differ := false
	for _, s := range read {
		sd := errors.ReadingSD(s)
		differ = differ || sd != first
		squares += sd * sd / float64(len(read))
	}
	if !differ {
		return first
	}
	return math.Sqrt(squares)
}

// place tells what readings have of errors that go by density from the curves that the
// strips have together. Those of single strips follow their own noise: a reading in the toe
// that is high by chance then counts for the mark above, which takes the toe down.
func (t *together) place(strips []joint.Strip, apart []*Measured, errors alike.Errors) error {
	curves, err := t.fit.Curves(1, nil)
	if err != nil {
		return err
	}
	for k, c := range curves {
		density := make([]float64, len(strips[k].X))
		for i, x := range strips[k].X {
			density[i], _ = c.AtSlope(x, nil)
		}
		base := slices.Repeat([]float64{c.Base(nil)}, len(strips[k].Base))
		strips[k].Alike = errors.Of(apart[k].Strip, apart[k].Fit.steps, density, base)
	}
	return nil
}

// alone returns what is known of strips that have no fit together: which lie elsewhere.
func (t *together) alone() *together {
	if len(t.astray) == 0 {
		return nil
	}
	return &together{with: &Together{Chance: 1}, astray: t.astray}
}

// measure measures the strips by their common fit.
func (t *together) measure(ms []*Measured, o MeasureOptions) {
	for k, i := range t.of {
		m := ms[i].sharedBy(t, k, o)
		if m.disagrees(ms[i], t.fit.Stray(k)) {
			m.ByItself = ms[i]
		}
		ms[i] = m
	}
	for i, off := range t.astray {
		ms[i].Fit.Warnings.Add("strip_astray", off)
		ms[i].Warnings.Add("strip_astray", off)
	}
}

// A strip is shown both ways where its place is so many standard deviations beside that
// of the others, or where it is measured by itself so many of those errors off: fewer
// where the test of the shape has told that strips differ. Of strips that share a shape
// 1 in 100 is shown at most, of others most (TestBlindBothWays).
const (
	farBeside    = 3.0
	farOff       = 3.5
	farOffShapes = 1.0
)

// A base that lies so far beside where development has it, or such a root mean square of
// those of all strips, is more than a process explains. One strip is to blame where its
// base lies farther off than all others by that factor (TestBlindOddBase).
const (
	farBase = 0.03
	oddest  = 2
)

// bases returns how far the bases of strips lie beside where their development has them,
// as a root mean square, and which of them is to blame, -1 for none.
func (t *together) bases(strips []joint.Strip) (apart float64, odd int) {
	most, next, squares, n := 0.0, 0.0, 0.0, 0.0
	odd = -1
	for k, s := range strips {
		if s.Otherwise {
			continue
		}
		off := math.Abs(t.fit.OwnBase(k))
		squares += off * off
		n++
		if off > most {
			most, next, odd = off, most, k
		} else {
			next = math.Max(next, off)
		}
	}
	if most < farBase || most < oddest*next {
		odd = -1
	}
	return math.Sqrt(squares / n), odd
}

// disagrees says whether the strip among others and by itself tell more different
// speed points or contrast indices than their errors allow, or whether it lies beside
// the others, which draw it to their place, by so many standard deviations.
//
// Both use the same readings, so that the variance of the difference of an efficient
// estimate and another is the difference of theirs (Hausman, Econometrica 46, 1251,
// 1978). That is at most the variance of the strip by itself, which is taken: the
// misfit of a shape that is not known makes the shared one less than efficient.
func (m *Measured) disagrees(alone *Measured, beside float64) bool {
	if math.Abs(beside) > farBeside {
		return true
	}
	most := farOff
	if m.Fit.Together.Chance < unlikely {
		most = farOffShapes
	}
	for _, col := range []int{ColumnSpeedPoint, ColumnIndex} {
		if m.has(col) && alone.has(col) &&
			math.Abs(m.Derived.Values[col]-alone.Derived.Values[col]) > most*alone.ownSD(col) {
			return true
		}
	}
	return false
}

// has says whether a derived quantity could be had.
func (m *Measured) has(col int) bool {
	return m.Derived.Values != nil && !math.IsNaN(m.Derived.Values[col])
}

// ownSD returns the standard deviation of a derived quantity by the curve, without the
// directions of its fit that are of what readings have alike on all strips.
func (m *Measured) ownSD(col int) float64 {
	var squares float64
	from, of := m.Fit.Shared()
	for k, move := range m.Derived.Moves {
		if k < from || k >= from+len(of) || of[k-from] == OfShape {
			squares += move[col] * move[col]
		}
	}
	return math.Sqrt(squares)
}

// farAstray is how far a strip may lie from where the others have it, in log H: two
// thirds of a stop, several times what development moves speeds by and what a first
// curve errs by (common practice, no source).
const farAstray = 0.2

// astray returns how far the foot of each strip lies from a line through those of
// all against the logarithm of their slopes, by medians: the slope that of all pairs
// (Theil 1950 and Sen 1968, from memory). Of two strips nobody knows which is astray, and
// one that was exposed or developed otherwise may lie anywhere.
func astray(strips []joint.Strip) []float64 {
	off, alike := make([]float64, len(strips)), 0
	for _, s := range strips {
		if !s.Otherwise {
			alike++
		}
	}
	if alike < 3 {
		return off
	}
	const apart = 0.05 // of logarithms of slopes that tell a line
	var slopes []float64
	for i, a := range strips {
		for _, b := range strips[:i] {
			if a.Otherwise || b.Otherwise {
				continue
			}
			if u := math.Log(a.Slope / b.Slope); math.Abs(u) > apart {
				slopes = append(slopes, (a.Foot-b.Foot)/u)
			}
		}
	}
	slope := fit.Median(slopes)
	var feet []float64
	for k, s := range strips {
		off[k] = s.Foot - slope*math.Log(s.Slope)
		if !s.Otherwise {
			feet = append(feet, off[k])
		}
	}
	middle := fit.Median(feet)
	for k, s := range strips {
		if off[k] -= middle; s.Otherwise {
			off[k] = 0
		}
	}
	return off
}

// The chance below which errors are widened, and that below which it is said.
const (
	unlikely     = 0.02
	veryUnlikely = 0.001
)

// share tests by the F ratio of sums of squares whether strips share the shape that
// was fitted to all of them, against the curves fitted to each apart. The effective
// parameters of curves with priors are only near to those of the test, so that its
// level is not exact.
func share(j *joint.Fit, apart []*Measured) *Together {
	var together, alone, count, params float64
	for k, m := range apart {
		f := m.Fit
		for i := range f.count() {
			if slices.Contains(f.drop, i) {
				continue
			}
			params++
			if slices.Contains(j.LeftOut[k], i) {
				continue
			}
			read, expected := pair(f.read, i, f.Curve)
			together += math.Pow(j.Residual(k, i)*j.Weight(k), 2)
			alone += math.Pow((read-expected)*j.Weight(k), 2)
			count++
		}
		params -= f.ResidualDoF
	}
	w := &Together{Chance: 1, Wider: 1}
	more, left := params-j.EDF, count-params+sensito.PriorReadings
	if more < 1 || left < 1 {
		return w
	}
	sigma := apart[0].Fit.read.Sigma * j.Weight(0)
	ratio := (together - alone) / more / ((alone + sensito.PriorReadings*sigma*sigma) / left)
	if ratio > 1 {
		w.Chance = distuv.F{D1: more, D2: left}.Survival(ratio)
	}
	if w.Chance < unlikely {
		w.Wider = math.Sqrt(ratio)
	}
	return w
}

// Warnings says where the strips do not share their shape, and where their bases lie far
// apart and none of them alone is to blame.
func (w *Together) Warnings() sensito.Warnings {
	var out sensito.Warnings
	if w.Chance < veryUnlikely {
		out = append(out, sensito.Warn("shape_differs", w.Wider))
	}
	if w.Bases >= farBase && !w.oneBase {
		out = append(out, sensito.Warn("bases_differ", w.Bases))
	}
	return out
}

// sharedBy returns what the strip says by its curve among others, the kth of a
// joint fit.
func (m *Measured) sharedBy(t *together, k int, o MeasureOptions) *Measured {
	j, c, with, r := t.fit, t.curves[k], t.with, m.Fit.read
	lo, hi := sensito.LogExposure(r.X[0]), sensito.LogExposure(r.X[len(r.X)-1])
	f := &Fit{Model: modelShared, Params: make([]float64, c.Directions()), Root: t.root, DoF: j.DoF, Noise: o.Fit.Noise, Status: fit.Converged,
		Reversed: m.Fit.Reversed, Warnings: sensito.Warnings{}, Together: with, read: r, steps: m.Fit.steps, drop: j.LeftOut[k]}
	f.vary = func(along []float64, _ Curve) Curve {
		return sharedCurve{Curve: c, along: joint.Parts(along), lo: lo, hi: hi}
	}
	f.Curve = sharedCurve{Curve: c, lo: lo, hi: hi}
	squares, count := 0.0, 0.0
	for i := range f.count() {
		if !slices.Contains(f.drop, i) {
			squares += math.Pow(j.Residual(k, i), 2)
			count++
		}
	}
	f.ResidualDoF = count * (1 - j.EDF/float64(j.Count))
	f.ResidualSD = sensito.Density(math.Sqrt(squares / f.ResidualDoF))
	f.note(m.Strip, squares/(r.Sigma*r.Sigma), f.ResidualDoF)
	if len(f.Reversed) > 0 {
		f.Warnings.Add("reversal", sensito.StepList(f.Reversed))
	}
	if k == t.odd {
		f.Warnings.Add("bases_differ/2", j.OwnBase(k))
	}
	out := &Measured{Strip: m.Strip, Fit: f, Gradient: m.Gradient, Warnings: slices.Clone(f.Warnings)}
	out.Warnings = append(out.Warnings, with.Warnings()...)
	out.measure()
	return out
}
