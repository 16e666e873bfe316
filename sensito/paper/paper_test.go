package paper_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
)

// Readings without any error: range and speed point of every shape and range to
// 0.01 log H, from hard papers to contact papers.
func TestPaperExact(t *testing.T) {
	t.Parallel()
	for _, shape := range simulated.PaperShapes {
		for _, logRange := range []float64{0.5, 0.65, 0.8, 1.05, 1.4, 1.7, 2.0} {
			for _, step := range []float64{0.10, 0.15} {
				p := shape.Of(logRange)
				m := blind.MeasuredPaper(t, p.Read(t, rand.New(rand.NewPCG(6846, 1)), step, -1))
				name := fmt.Sprintf("%s, range %.2f, steps of %.2f, %s", p.Name, logRange, step, m.Fit.Model)
				tolerance := 0.01
				if few := 5.0; logRange/step < few { // too few steps to tell the corners: to the interval
					low, high := m.LogRange.Interval(0.95)
					tolerance = max(tolerance, float64(high-low)/2)
				}
				assert.InDelta(t, logRange, float64(m.LogRange.Value), tolerance, "range of %s", name)
				assert.InDelta(t, p.SpeedPoint(), float64(m.SpeedPoint.Value), 0.01, "speed point of %s", name)
				assert.InDelta(t, p.White, float64(m.MinDensity.Value), 0.005, "white of %s", name)
				assert.InDelta(t, p.Black, float64(m.MaxDensity.Value), 0.02, "black of %s", name)
				assert.InDelta(t, (0.9*(p.Black-p.White)-0.04)/logRange, m.AverageGradient.Value, 2*tolerance*m.AverageGradient.Value/logRange, name)
				assert.True(t, m.BlackReached, name)
				assert.Empty(t, m.Fit.SetAside, name)
			}
		}
	}
}

// blindPapers measures n papers of each shape and several ranges.
func blindPapers(t *testing.T, n int, noise float64) (logRange, speed blind.Tally, aside int) {
	for k, shape := range simulated.PaperShapes {
		for _, length := range []float64{0.5, 1.05, 2.0} {
			for _, step := range []float64{0.10, 0.15} {
				p := shape.Of(length)
				truth := p.SpeedPoint()
				for i := range n {
					m := blind.MeasuredPaper(t, p.Read(t, rand.New(rand.NewPCG(uint64(i), uint64(k))), step, noise))
					blind.Judge(&logRange, m.LogRange, length, blind.Apart, math.NaN())
					blind.Judge(&speed, m.SpeedPoint, truth, blind.Apart, math.NaN())
					aside += len(m.Fit.SetAside)
				}
			}
		}
	}
	t.Logf("range: rms %.4f, bias %.4f, covered %.1f %% of %d; speed point: rms %.4f, covered %.1f %%; %d set aside",
		logRange.RMS(), logRange.Bias(), 100*logRange.Coverage(), logRange.N, speed.RMS(), 100*speed.Coverage(), aside)
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
		logRange, speed, aside := blindPapers(t, 2*blind.Effort(t), c.noise)
		assert.LessOrEqual(t, logRange.RMS(), c.logRange, "rms error of the range with noise of %g", c.noise)
		assert.LessOrEqual(t, speed.RMS(), c.speed, "rms error of the speed point with noise of %g", c.noise)
		for name, a := range map[string]*blind.Tally{"the range": &logRange, "the speed point": &speed} {
			assert.GreaterOrEqual(t, a.Coverage(), 0.92, "coverage of %s with noise of %g, %d intervals", name, c.noise, a.N)
			assert.LessOrEqual(t, a.Coverage(), c.most, "coverage of %s with noise of %g, %d intervals", name, c.noise, a.N)
		}
		due := float64(logRange.N) / 1000
		assert.LessOrEqual(t, float64(aside), due+3*math.Sqrt(due)+1, "readings lost of %d clean strips", logRange.N)
	}
}

// Nine slips of 0.15 in ten, anywhere on the wedge, are found and named, and the
// answer without that reading is that of the paper.
func TestPaperSlip(t *testing.T) {
	t.Parallel()
	p := simulated.PaperShapes[0].Of(1.05)
	found, all := 0, 0
	for i := range 21 {
		for _, slip := range []sensito.Density{0.15, -0.15} {
			trial := p.Read(t, rand.New(rand.NewPCG(uint64(i), 3)), 0.15, 0.01)
			s := sensito.StripSpec{Grade: "2", BaseFog: trial.Strips()[0].BaseFog()}
			for _, step := range trial.Strips()[0].Steps() {
				s.Density = append(s.Density, step.Density)
			}
			if s.Density[i] += slip; s.Density[i] < 0 {
				continue
			}
			all++
			m := blind.MeasuredPaper(t, simulated.PaperTrial(t, trial.Exposures(), s))
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
	p := simulated.PaperShapes[0].Of(1.05)
	var logH []sensito.LogExposure
	var s sensito.StripSpec
	for i := range 15 {
		h := -0.6 + 0.10*float64(i)
		logH = append(logH, sensito.LogExposure(h))
		s.Density = append(s.Density, sensito.Density(math.Round(100*p.Density(h))/100))
	}
	e, err := sensito.NewRelative(logH)
	require.NoError(t, err)
	m := blind.MeasuredPaper(t, simulated.PaperTrial(t, e, s))
	assert.False(t, m.BlackReached)
	assert.Contains(t, blind.Codes(m.Warnings), "black_not_reached")
	last := p.Density(0.8)
	assert.InDelta(t, last, float64(m.MaxDensity.Value), 0.02)
	aim := simulated.Bisect(-1, 1, func(h float64) float64 { return p.Density(h) - p.White - 0.9*(last-p.White) })
	assert.InDelta(t, aim, float64(m.LogRange.Value), 0.02)
	low, high := m.LogRange.Interval(0.95)
	assert.InDelta(t, aim, float64(low), 0.05)
	assert.True(t, math.IsInf(float64(high), 1))
}

// Relative exposures give a range and no speed; a common error of all exposures
// widens places, not distances.
func TestPaperExposures(t *testing.T) {
	p := simulated.PaperShapes[4].Of(1.05)
	relative := p.Read(t, rand.New(rand.NewPCG(1, 1)), 0.15, 0.01)
	m := blind.MeasuredPaper(t, relative)
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
	sharp := blind.MeasuredPaper(t, simulated.PaperTrial(t, e, s))
	assert.InDelta(t, float64(m.LogRange.Value), float64(sharp.LogRange.Value), 1e-6)
	assert.InDelta(t, 1000/sharp.SpeedPoint.Value.LuxSeconds(), float64(sharp.Speed.Value), 1e-9)

	e, err = e.WithCommonSD(0.03)
	require.NoError(t, err)
	vague := blind.MeasuredPaper(t, simulated.PaperTrial(t, e, s))
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
	m := &paper.Strip{LogRange: &sensito.Estimate[sensito.LogRange]{Value: r, StdErr: 0.01, DoF: 9}}
	assert.InDelta(t, 105, m.ISORange().Value, 1e-9)
	assert.InDelta(t, 1, m.ISORange().StdErr, 1e-9)
	assert.Equal(t, 110, m.RoundedRange())
	m.LogRange.Value = 1.049
	assert.Equal(t, 100, m.RoundedRange())
	assert.Zero(t, (&paper.Strip{}).RoundedRange())
	assert.Nil(t, (&paper.Strip{}).ISORange())

	// PA-3, DER of 8d, from memory.
	assert.InDelta(t, 500, float64(paper.SpeedAt(sensito.LogExposure(math.Log10(2)))), 1e-9)

	// PA-4, DER: a diffuse density range of 0.80 prints as 1.05 when Q is 1.31.
	assert.InDelta(t, 0.80, float64(paper.NegativeRange(1.05, 1.31)), 0.005)
	assert.Equal(t, sensito.NetDensity(1.05), paper.NegativeRange(1.05, 1))
	assert.Equal(t, sensito.NetDensity(1.05), paper.NegativeRange(1.05, 0))

	// PA-6, 1S: ISO ranges of one paper under filters 00 to 5; filter 2 lies in
	// grade 2, and 00 is softer than any grade.
	filters := []sensito.LogRange{1.80, 1.60, 1.30, 1.10, 0.90, 0.60, 0.40}
	want := []string{"", "0", "1", "2", "3", "5", ""}
	for i, r := range filters {
		name, ok := paper.GradeOf(r)
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
		name, _ := paper.GradeOf(c.r)
		assert.Equal(t, c.name, name, "range %g", c.r)
	}
	table := paper.GradeTable()
	require.Len(t, table, 6)
	for i, g := range table {
		assert.Equal(t, fmt.Sprint(i), g.Name)
		r, ok := paper.GradeRange(g.Name)
		assert.True(t, ok)
		assert.Equal(t, g.Middle(), r)
		in, _ := paper.GradeOf(r)
		assert.Equal(t, g.Name, in)
		if i > 0 {
			assert.Equal(t, table[i-1].Low, g.High, "no gap between the grades")
		}
	}
	r, _ := paper.GradeRange("2")
	assert.InDelta(t, 1.05, float64(r), 1e-12)
	_, ok := paper.GradeRange("6")
	assert.False(t, ok)
}

func TestGradeOfPaper(t *testing.T) {
	whole := simulated.PaperShapes[0].Of(1.05).Read(t, rand.New(rand.NewPCG(1, 1)), 0.15, 0.01)
	paper := func(grades ...string) *paper.Paper {
		var strips []sensito.StripSpec
		for i, g := range grades {
			s := sensito.StripSpec{Grade: g, Note: fmt.Sprintf("sheet %d", i+1)}
			for _, step := range whole.Strips()[0].Steps() {
				s.Density = append(s.Density, step.Density)
			}
			strips = append(strips, s)
		}
		p, err := paper.Measure(simulated.PaperTrial(t, whole.Exposures(), strips...), curve.FitOptions{})
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
