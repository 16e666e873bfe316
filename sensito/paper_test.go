package sensito_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// printPaper is a paper of known shape: way runs from 0 to 1, and is stretched
// so that the paper has the log exposure range given.
type printPaper struct {
	name         string
	way          func(u float64) float64
	white, black float64
	logRange     float64
}

func sigmoid(u float64) float64 { return 1 / (1 + math.Exp(-u)) }

// corners is a line with round corners, toe and shoulder, from u = 0 to 1.
func corners(toe, shoulder float64) func(float64) float64 {
	return func(u float64) float64 { return corner(u, toe) - corner(u-1, shoulder) }
}

// richards is the generalised logistic with the given asymmetry.
func richards(nu float64) func(float64) float64 {
	return func(u float64) float64 { return math.Pow(1+nu*math.Exp(-u), -1/nu) }
}

// paperShapes are forms of curve that papers have, most of them not of the
// fitted family.
var paperShapes = []printPaper{
	{name: "round corners", way: corners(0.10, 0.10)},
	{name: "sharp corners", way: corners(0.05, 0.05)},
	{name: "sharp toe, round shoulder", way: corners(0.12, 0.14)},
	{name: "round toe, sharp shoulder", way: corners(0.14, 0.12)},
	{name: "logistic", way: sigmoid},
	{name: "normal", way: func(u float64) float64 { return math.Erfc(-u/math.Sqrt2) / 2 }},
	{name: "Gompertz", way: func(u float64) float64 { return math.Exp(-math.Exp(-u)) }},
	{name: "Gompertz reversed", way: func(u float64) float64 { return -math.Expm1(-math.Exp(u)) }},
	{name: "Richards, long shoulder", way: richards(0.5)},
	{name: "Richards, long toe", way: richards(2)},
	{name: "long shoulder", way: func(u float64) float64 { return -math.Expm1(-corner(u, 0.15)) }},
	{name: "warm tone, long toe", way: func(u float64) float64 { return 0.25*sigmoid(u) + 0.75*sigmoid(2.5*(u-1)) }},
	{name: "two emulsions", way: func(u float64) float64 { return 0.5*sigmoid(u) + 0.5*sigmoid(u-1.5) }},
	{name: "three emulsions", way: func(u float64) float64 { return 0.4*sigmoid(u) + 0.3*sigmoid(u-1) + 0.3*sigmoid(u-2.5) }},
}

// ranges returns the shape for a log exposure range.
func (p printPaper) of(logRange float64) printPaper {
	p.white, p.black, p.logRange = 0.06, 2.05, logRange
	return p
}

func (p printPaper) where(way float64) float64 {
	return bisect(-40, 40, func(u float64) float64 { return p.way(u) - way })
}

// scale returns the log exposure of one unit of the shape; T is at log H 0.
func (p printPaper) scale() float64 {
	return p.logRange / (p.where(0.90) - p.where(0.04/(p.black-p.white)))
}

func (p printPaper) density(h float64) float64 {
	return p.white + (p.black-p.white)*p.way(h/p.scale()+p.where(0.04/(p.black-p.white)))
}

func (p printPaper) speedPoint() float64 {
	return bisect(-2, 4, func(h float64) float64 { return p.density(h) - p.white - 0.60 })
}

// read returns a trial of the paper on a wedge of at least 21 steps from white
// to black, its first step so far beyond a whole number of steps from T. Noise
// below zero means readings that are exact, not even rounded.
func (p printPaper) read(t testing.TB, r *rand.Rand, step, noise float64) *sensito.Trial {
	t.Helper()
	reading := func(d float64) sensito.Density {
		if noise < 0 {
			return sensito.Density(d)
		}
		return sensito.Density(math.Max(0, math.Round((d+noise*r.NormFloat64())*100)/100))
	}
	nearlyBlack := bisect(-2, 9, func(h float64) float64 { return p.density(h) - p.white - 0.998*(p.black-p.white) })
	first := -0.45 - step*r.Float64()
	count := int((nearlyBlack-first)/step) + 2
	if count < 21 {
		first -= step * float64((21-count)/2)
		count = 21
	}
	var logH []sensito.LogExposure
	s := sensito.StripSpec{Grade: "2"}
	for i := range count {
		h := first + step*float64(i)
		logH = append(logH, sensito.LogExposure(h))
		s.Density = append(s.Density, reading(p.density(h)))
	}
	s.BaseFog = []sensito.Density{reading(p.white), reading(p.white)}
	e, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	return paperTrial(t, e, s)
}

func paperTrial(t testing.TB, e sensito.Exposures, strips ...sensito.StripSpec) *sensito.Trial {
	t.Helper()
	trial, err := sensito.NewTrial(sensito.TrialSpec{Material: sensito.PaperMaterial, Film: sensito.Film{Name: "Slate"}, Exposures: e, Strips: strips})
	require.NoError(t, err)
	return trial
}

func measuredPaper(t testing.TB, trial *sensito.Trial) *curve.PaperStrip {
	t.Helper()
	p, err := curve.MeasurePaper(trial, curve.FitOptions{})
	require.NoError(t, err)
	require.NotNil(t, p.Strips[0].LogRange, "%v", p.Strips[0].Warnings)
	require.NotNil(t, p.Strips[0].SpeedPoint)
	return p.Strips[0]
}

// Readings without any error: range and speed point of every shape and range to
// 0.01 log H, from hard papers to contact papers.
func TestPaperExact(t *testing.T) {
	t.Parallel()
	for _, shape := range paperShapes {
		for _, logRange := range []float64{0.5, 0.65, 0.8, 1.05, 1.4, 1.7, 2.0} {
			for _, step := range []float64{0.10, 0.15} {
				p := shape.of(logRange)
				m := measuredPaper(t, p.read(t, rand.New(rand.NewPCG(6846, 1)), step, -1))
				name := fmt.Sprintf("%s, range %.2f, steps of %.2f, %s", p.name, logRange, step, m.Fit.Model)
				tolerance := 0.01
				if few := 5.0; logRange/step < few { // too few steps to tell the corners: to the interval
					low, high := m.LogRange.Interval(0.95)
					tolerance = max(tolerance, float64(high-low)/2)
				}
				assert.InDelta(t, logRange, float64(m.LogRange.Value), tolerance, "range of %s", name)
				assert.InDelta(t, p.speedPoint(), float64(m.SpeedPoint.Value), 0.01, "speed point of %s", name)
				assert.InDelta(t, p.white, float64(m.MinDensity.Value), 0.005, "white of %s", name)
				assert.InDelta(t, p.black, float64(m.MaxDensity.Value), 0.02, "black of %s", name)
				assert.InDelta(t, (0.9*(p.black-p.white)-0.04)/logRange, m.AverageGradient.Value, 2*tolerance*m.AverageGradient.Value/logRange, name)
				assert.True(t, m.BlackReached, name)
				assert.Empty(t, m.Fit.SetAside, name)
			}
		}
	}
}

// blindPapers measures n papers of each shape and several ranges.
func blindPapers(t *testing.T, n int, noise float64) (logRange, speed tally, aside int) {
	for k, shape := range paperShapes {
		for _, length := range []float64{0.5, 1.05, 2.0} {
			for _, step := range []float64{0.10, 0.15} {
				p := shape.of(length)
				truth := p.speedPoint()
				for i := range n {
					m := measuredPaper(t, p.read(t, rand.New(rand.NewPCG(uint64(i), uint64(k))), step, noise))
					judge(&logRange, m.LogRange, length, apart, math.NaN())
					judge(&speed, m.SpeedPoint, truth, apart, math.NaN())
					aside += len(m.Fit.SetAside)
				}
			}
		}
	}
	t.Logf("range: rms %.4f, bias %.4f, covered %.1f %% of %d; speed point: rms %.4f, covered %.1f %%; %d set aside",
		logRange.rms(), logRange.bias(), 100*logRange.coverage(), logRange.n, speed.rms(), 100*speed.coverage(), aside)
	return logRange, speed, aside
}

// Readings rounded to 0.01, and with noise of 0.01 besides: the errors, and the
// coverage of the 95 % intervals over all shapes and ranges.
func TestBlindPapers(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		noise, logRange, speed float64
		most                   float64 // coverage; rounding alone is not random, so intervals may be wide
	}{
		{0, 0.010, 0.003, 1},
		{0.01, 0.045, 0.007, 0.98},
	} {
		logRange, speed, aside := blindPapers(t, 2*effort(t), c.noise)
		assert.LessOrEqual(t, logRange.rms(), c.logRange, "rms error of the range with noise of %g", c.noise)
		assert.LessOrEqual(t, speed.rms(), c.speed, "rms error of the speed point with noise of %g", c.noise)
		for name, a := range map[string]*tally{"the range": &logRange, "the speed point": &speed} {
			assert.GreaterOrEqual(t, a.coverage(), 0.92, "coverage of %s with noise of %g, %d intervals", name, c.noise, a.n)
			assert.LessOrEqual(t, a.coverage(), c.most, "coverage of %s with noise of %g, %d intervals", name, c.noise, a.n)
		}
		due := float64(logRange.n) / 1000
		assert.LessOrEqual(t, float64(aside), due+3*math.Sqrt(due)+1, "readings lost of %d clean strips", logRange.n)
	}
}

// Nine slips of 0.15 in ten, anywhere on the wedge, are found and named, and the
// answer without that reading is that of the paper.
func TestPaperSlip(t *testing.T) {
	t.Parallel()
	p := paperShapes[0].of(1.05)
	found, all := 0, 0
	for i := range 21 {
		for _, slip := range []sensito.Density{0.15, -0.15} {
			trial := p.read(t, rand.New(rand.NewPCG(uint64(i), 3)), 0.15, 0.01)
			s := sensito.StripSpec{Grade: "2", BaseFog: trial.Strips()[0].BaseFog()}
			for _, step := range trial.Strips()[0].Steps() {
				s.Density = append(s.Density, step.Density)
			}
			if s.Density[i] += slip; s.Density[i] < 0 {
				continue
			}
			all++
			m := measuredPaper(t, paperTrial(t, trial.Exposures(), s))
			if len(m.Fit.SetAside) == 1 && m.Fit.SetAside[0].Step == i+1 {
				found++
				assert.InDelta(t, 1.05, float64(m.LogRange.Value), 4*float64(m.LogRange.StdErr), "step %d, slip %g", i+1, slip)
			}
		}
	}
	assert.GreaterOrEqual(t, float64(found), 0.9*float64(all), "slips found of %d", all)
}

// The wedge ends before black: the range is at least that of what it shows.
func TestBlackNotReached(t *testing.T) {
	p := paperShapes[0].of(1.05)
	var logH []sensito.LogExposure
	var s sensito.StripSpec
	for i := range 15 {
		h := -0.6 + 0.10*float64(i)
		logH = append(logH, sensito.LogExposure(h))
		s.Density = append(s.Density, sensito.Density(math.Round(100*p.density(h))/100))
	}
	e, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	m := measuredPaper(t, paperTrial(t, e, s))
	assert.False(t, m.BlackReached)
	assert.Contains(t, codesOf(m.Warnings), "black_not_reached")
	last := p.density(0.8)
	assert.InDelta(t, last, float64(m.MaxDensity.Value), 0.02)
	aim := bisect(-1, 1, func(h float64) float64 { return p.density(h) - p.white - 0.9*(last-p.white) })
	assert.InDelta(t, aim, float64(m.LogRange.Value), 0.02)
	low, high := m.LogRange.Interval(0.95)
	assert.InDelta(t, aim, float64(low), 0.05)
	assert.True(t, math.IsInf(float64(high), 1))
}

func codesOf(ws []sensito.Warning) []string {
	var out []string
	for _, w := range ws {
		out = append(out, w.Code)
	}
	return out
}

// Relative exposures give a range and no speed; a common error of all exposures
// widens places, not distances.
func TestPaperExposures(t *testing.T) {
	p := paperShapes[4].of(1.05)
	relative := p.read(t, rand.New(rand.NewPCG(1, 1)), 0.15, 0.01)
	m := measuredPaper(t, relative)
	assert.Nil(t, m.Speed)

	lamp := 0.0
	for _, h := range relative.Exposures().LogH() {
		lamp = math.Max(lamp, float64(h))
	}
	var wedge []sensito.Density
	var s sensito.StripSpec
	for _, step := range relative.Strips()[0].Steps() {
		wedge = append(wedge, sensito.Density(lamp-float64(step.LogH)))
		s.Density = append(s.Density, step.Density)
	}
	s.BaseFog = relative.Strips()[0].BaseFog()
	e, err := sensito.NewContact(math.Pow(10, lamp), 1, wedge)
	require.NoError(t, err)
	sharp := measuredPaper(t, paperTrial(t, e, s))
	assert.InDelta(t, float64(m.LogRange.Value), float64(sharp.LogRange.Value), 1e-6)
	assert.InDelta(t, 1000/sharp.SpeedPoint.Value.LuxSeconds(), float64(sharp.Speed.Value), 1e-9)

	e, err = e.WithCommonSD(0.03)
	require.NoError(t, err)
	vague := measuredPaper(t, paperTrial(t, e, s))
	assert.Equal(t, sharp.LogRange, vague.LogRange)
	for _, pair := range [][2]*sensito.Estimate[sensito.LogExposure]{
		{sharp.White, vague.White}, {sharp.Black, vague.Black}, {sharp.SpeedPoint, vague.SpeedPoint}} {
		assert.InDelta(t, math.Hypot(float64(pair[0].StdErr), 0.03), float64(pair[1].StdErr), 1e-12)
	}
	assert.InDelta(t, float64(vague.Speed.Value)*math.Ln10*float64(vague.SpeedPoint.StdErr), float64(vague.Speed.StdErr), 1e-9)
}

func TestPublishedPaper(t *testing.T) {
	// PA-1, DER, rounding to tens from memory: T at 0.20 and S at 1.25.
	r := sensito.LogExposure(1.25).Sub(0.20)
	m := &curve.PaperStrip{LogRange: &sensito.Estimate[sensito.LogRange]{Value: r, StdErr: 0.01, DoF: 9}}
	assert.InDelta(t, 105, m.ISORange().Value, 1e-9)
	assert.InDelta(t, 1, m.ISORange().StdErr, 1e-9)
	assert.Equal(t, 110, m.RoundedRange())
	m.LogRange.Value = 1.049
	assert.Equal(t, 100, m.RoundedRange())
	assert.Zero(t, (&curve.PaperStrip{}).RoundedRange())
	assert.Nil(t, (&curve.PaperStrip{}).ISORange())

	// PA-3, DER of 8d, from memory.
	assert.InDelta(t, 500, float64(curve.PaperSpeedAt(sensito.LogExposure(math.Log10(2)))), 1e-9)

	// PA-4, DER: a diffuse density range of 0.80 prints as 1.05 when Q is 1.31.
	assert.InDelta(t, 0.80, float64(curve.NegativeRange(1.05, 1.31)), 0.005)
	assert.Equal(t, sensito.NetDensity(1.05), curve.NegativeRange(1.05, 1))
	assert.Equal(t, sensito.NetDensity(1.05), curve.NegativeRange(1.05, 0))

	// PA-6, 1S: ISO ranges of one paper under filters 00 to 5; filter 2 lies in
	// grade 2, and 00 is softer than any grade.
	filters := []sensito.LogRange{1.80, 1.60, 1.30, 1.10, 0.90, 0.60, 0.40}
	want := []string{"", "0", "1", "2", "3", "5", ""}
	for i, r := range filters {
		name, ok := curve.GradeOf(r)
		assert.Equal(t, want[i], name, "range %g", r)
		assert.Equal(t, want[i] != "", ok)
	}
}

// ANSI PH2.2-1966 as restated, inner limits from memory; PA-2 among them.
func TestGrades(t *testing.T) {
	for _, c := range []struct {
		r    sensito.LogRange
		name string
	}{
		{1.70, "0"}, {1.40, "0"}, {1.39, "1"}, {1.15, "1"}, {1.05, "2"}, {0.95, "2"}, {0.94, "3"}, {0.80, "3"}, {0.65, "4"}, {0.50, "5"}, {0.49, ""}, {1.71, ""},
	} {
		name, _ := curve.GradeOf(c.r)
		assert.Equal(t, c.name, name, "range %g", c.r)
	}
	table := curve.GradeTable()
	require.Len(t, table, 6)
	for i, g := range table {
		assert.Equal(t, fmt.Sprint(i), g.Name)
		r, ok := curve.GradeRange(g.Name)
		assert.True(t, ok)
		assert.Equal(t, g.Middle(), r)
		in, _ := curve.GradeOf(r)
		assert.Equal(t, g.Name, in)
		if i > 0 {
			assert.Equal(t, table[i-1].Low, g.High, "no gap between the grades")
		}
	}
	r, _ := curve.GradeRange("2")
	assert.InDelta(t, 1.05, float64(r), 1e-12)
	_, ok := curve.GradeRange("6")
	assert.False(t, ok)
}

func TestGradeOfPaper(t *testing.T) {
	whole := paperShapes[0].of(1.05).read(t, rand.New(rand.NewPCG(1, 1)), 0.15, 0.01)
	paper := func(grades ...string) *curve.Paper {
		var strips []sensito.StripSpec
		for i, g := range grades {
			s := sensito.StripSpec{Grade: g, Note: fmt.Sprintf("sheet %d", i+1)}
			for _, step := range whole.Strips()[0].Steps() {
				s.Density = append(s.Density, step.Density)
			}
			strips = append(strips, s)
		}
		p, err := curve.MeasurePaper(paperTrial(t, whole.Exposures(), strips...), curve.FitOptions{})
		require.NoError(t, err)
		return p
	}
	for _, c := range []struct {
		grades   []string
		name     string
		strip    int
		mistaken string
	}{
		{[]string{""}, "", 1, ""},
		{[]string{"4"}, "", 1, ""},
		{[]string{"00", "2", "3"}, "", 2, ""},
		{[]string{"00", "2", "3"}, "00", 1, ""},
		{[]string{"Special", "2"}, "special", 1, ""},
		{[]string{"1", "3"}, "", 0, "Slate has several grades and none is 2: name one of 1, 3"},
		{[]string{"1", "3", ""}, "5", 0, `Slate has no grade "5", only 1, 3, strip 3`},
		{[]string{"2", "2"}, "2", 0, "Slate has 2 strips of grade 2; keep one of them in a trial of its own"},
	} {
		s, err := paper(c.grades...).Grade(c.name)
		if c.mistaken != "" {
			assert.EqualError(t, err, c.mistaken)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, c.strip, s.Strip.Number())
	}
}

// What is of film is refused for paper, and the other way round.
func TestMaterials(t *testing.T) {
	trial := paperShapes[0].of(1.05).read(t, rand.New(rand.NewPCG(1, 1)), 0.15, 0.01)
	u := (*sensito.Unanswerable)(nil)
	_, err := curve.Measure(trial.Strips()[0], curve.MeasureOptions{})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "Slate is a paper")
	assert.Equal(t, "use sensito paper", u.Hint)
	_, err = curve.MeasureTrial(trial, curve.MeasureOptions{})
	assert.ErrorContains(t, err, "Slate is a paper")
	_, err = development.NewFamily(trial, curve.MeasureOptions{})
	assert.ErrorContains(t, err, "Slate is a paper")

	e := contact(t, 21, false)
	film := oneStrip(t, e, sensito.StripSpec{Minutes: 8, Density: readings(rand.New(rand.NewPCG(1, 1)), e, modelFilm(0.65), 0.01)}).Trial()
	_, err = curve.MeasurePaper(film, curve.FitOptions{})
	require.ErrorAs(t, err, &u)
	assert.Contains(t, u.Reason, "is a film, not a paper")

	for _, c := range []faultCase{
		{"no name", faultOf(sensito.TrialSpec{Material: sensito.PaperMaterial}), []string{"paper.name: is missing", "exposure: is missing",
			"strip: is missing: a trial needs at least one developed strip"}},
		{"speed of a paper", faultOf(sensito.TrialSpec{Material: sensito.PaperMaterial, Film: sensito.Film{Name: "Slate", RatedSpeed: 100}, Exposures: e,
			Strips: []sensito.StripSpec{{Density: make([]sensito.Density, 21)}}}), []string{"paper.rated_speed: is of film; the speed of a paper is measured"}},
		{"grade of a film", faultOf(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
			Strips: []sensito.StripSpec{{Minutes: 8, Grade: "2", Density: make([]sensito.Density, 21)}}}), []string{"strip[1].grade: is of paper; a film has no grades"}},
		{"time of a film", faultOf(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e,
			Strips: []sensito.StripSpec{{Density: make([]sensito.Density, 21)}}}), []string{"strip[1].minutes: 0 min is outside 0.05 to 1440 min"}},
		{"neither", faultOf(sensito.TrialSpec{Material: "glass", Film: sensito.Film{Name: "Slate"}, Exposures: e,
			Strips: []sensito.StripSpec{{Minutes: 8, Density: make([]sensito.Density, 21)}}}), []string{`kind: "glass" is neither film nor paper`}},
	} {
		t.Run(c.name, c.check)
	}
}

func faultOf(spec sensito.TrialSpec) error {
	_, err := sensito.NewTrial(spec)
	return err
}
