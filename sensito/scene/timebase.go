package scene

import (
	"cmp"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/development"
)

// TimeBase is what the error of a development time rests on, as standard
// deviations of its logarithm.
type TimeBase struct {
	Minutes float64 // under the conditions of the trial
	Total   float64 // of the strips, the temperature coefficient they measured and their speed points included
	SD      float64 // the same with those held
	ofAim   float64 // of the range that the negative must span
	dof     float64
	atLeast bool // that range may be longer, and then the time is

	// limits is the interval by profile likelihood with these held; ok is false
	// where there is none.
	limits func(level float64) (low, high float64, ok bool)
}

// Estimate returns a time that stands for the one solved for, under conditions
// that leave it with the error sd by the strips and sdKnown by what is known
// from elsewhere.
func (b TimeBase) Estimate(minutes, sd, sdKnown, dofKnown float64) sensito.Estimate[sensito.Minutes] {
	own := math.Hypot(sd, b.ofAim)
	e := sensito.Estimate[sensito.Minutes]{Value: sensito.Minutes(minutes), StdErr: sensito.Minutes(minutes * math.Hypot(own, sdKnown)), DoF: b.dof, Log: true, AtLeast: b.atLeast}
	if sdKnown > 0 {
		e.DoF = fit.JoinedDoF(own, b.dof, sdKnown, dofKnown)
	}
	symmetric := e
	e.Limits = func(level float64) (sensito.Minutes, sensito.Minutes) {
		low, high, ok := b.limits(level)
		if !ok {
			return symmetric.Interval(level)
		}
		more := fit.StudentT(level, math.Inf(1)) * b.ofAim
		scale := 1.0
		if sd >= b.SD {
			more = math.Hypot(more, fit.StudentT(level, b.dof)*math.Sqrt(sd*sd-b.SD*b.SD))
		} else if b.SD > 0 { // the strips of the condition compare at the aim itself
			scale = sd / b.SD
		}
		more = math.Hypot(more, fit.StudentT(level, dofKnown)*sdKnown)
		further := func(end float64) sensito.Minutes {
			apart := scale * math.Log(end/b.Minutes)
			return sensito.Minutes(minutes * math.Exp(math.Copysign(math.Hypot(apart, more), apart)))
		}
		return further(low), further(high)
	}
	return e
}

// TimeBase returns what the error of a time in minutes rests on, that the law g
// of the strips in a table gives; total is its standard deviation by the strips,
// in ln t, and held that of heldSD.
func (p *Answer) TimeBase(tb *development.Table, g development.Growth, minutes, total, held float64) TimeBase {
	ofStrips := g.Behind(tb.DoF)
	dof := ofStrips
	// What a calibration of pictures errs by is known from no readings of these strips, and
	// multiplies contrast: the time moves as it does with the aim.
	pictures := p.shares[development.OfPictures]
	t, rises, sdRise := tb.Timed(ColumnRise, g)
	// The profile takes the errors of the strips as their own; what they share is more.
	if f, err := g.Refit(t, rises, fit.Each(sdRise, func(v float64) float64 { return g.Scatter * v })); err == nil {
		if g.Model != development.TwoTimes { // whose profile alone has the induction
			f = f.Holding(g.Induction == 0) // as held does
		}
		if more := development.Less(held, pictures) * minutes / f.TimeSD(float64(p.Aim)); more > 1 && !math.IsInf(more, 0) {
			sdRise = fit.Each(sdRise, func(v float64) float64 { return more * v })
		}
	}
	limits := func(level float64) (low, high float64, ok bool) {
		if p.Scene.ScanMax != 0 {
			return 0, 0, false
		}
		low, high, ok = g.Limits(t, rises, sdRise, float64(p.Aim), ofStrips, level)
		if pictures > 0 && ok {
			low, high = g.AlsoOff(minutes, low, high, float64(p.Aim), pictures, level)
		}
		return low, high, ok
	}
	if pictures > 0 {
		dof = fit.JoinedDoF(development.Less(total, pictures), ofStrips, pictures, math.Inf(1))
	}
	return TimeBase{Minutes: minutes, Total: total, SD: held, ofAim: p.ofAim(g), dof: dof, atLeast: p.Scene.AimOpen(), limits: limits}
}

// heldSD returns the standard deviation of the logarithm of the time with the
// temperature coefficient and the speed points held as they were fitted.
func (p *Answer) heldSD(tb *development.Table, g development.Growth) (float64, error) {
	held := *tb
	held.Warp, held.Placed = nil, nil
	held.Minutes = tb.Warped(g)
	g, err := held.Grow(ColumnRise, held.Rows, g)
	if err != nil {
		return 0, err
	}
	d, err := held.Propagate(map[int]float64{ColumnRise: g.Scatter}, func(rows [][]float64) ([]float64, error) {
		g, err := held.Grow(ColumnRise, rows, g)
		if err != nil {
			return nil, err
		}
		t, err := g.Time(float64(p.Aim))
		return []float64{math.Log(t)}, err
	})
	if err != nil {
		return 0, err
	}
	return d.SD(0), nil
}

// Part is a part of the error of a time, as a share of its variance.
type Part struct {
	Of    string
	Share float64
}

// Parts of the error of a time: the process that repeats only so well, and those besides
// development.Source.
const (
	PartProcess  = "process"
	PartAim      = "aim"
	PartExposure = "exposure"
	PartToday    = "today"
)

// partNames are the names of the parts that the strips of the trial give.
var partNames = [development.Sources]string{development.OfReadings: "readings", development.OfShape: "shape", development.OfWedge: "wedge", development.OfDensitometer: "densitometer", development.OfPictures: "pictures",
	development.OfProcess: PartProcess, development.OfLaw: "law"}

// Budget returns what the error of the time is made of, the largest part first: the
// readings of single strips, the shape of the curve that all share, the steps of the
// wedge, what the densitometer has in all readings alike, the calibration of pictures, the process that repeats only
// so well, the law of growth, the aim, the lamp and shutter of the strips where the index
// is given, and the conditions of today. Parts without a share are left out.
func (p *Answer) Budget() []Part {
	tested, variance := p.Tested(), math.Pow(float64(p.Minutes.StdErr/p.Minutes.Value), 2)
	if !(variance > 0) {
		return nil
	}
	var parts []Part
	left := variance
	add := func(of string, sd float64) {
		if share := sd * sd / variance; share >= leastShare {
			parts = append(parts, Part{of, share})
		}
		left -= sd * sd
	}
	for of, sd := range tested.shares {
		add(partNames[of], sd)
	}
	add(PartAim, tested.Base.ofAim)
	add(PartExposure, tested.ofExposure)
	if p.Today != nil {
		add(PartToday, math.Sqrt(math.Max(left, 0)))
	}
	slices.SortStableFunc(parts, func(a, b Part) int { return cmp.Compare(b.Share, a.Share) })
	return parts
}

// leastShare is told of a part.
const leastShare = 0.005
