package paper_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/paper"
)

// greyScale returns the calibration by a grey scale of 22 steps of 0.10, each known to sd and
// all to a scale: the covariance of a parabola through them.
func greyScale(sd, scale float64) sensito.Calibration {
	x := mat.NewDense(22, 3, nil)
	for i := range 22 {
		d := 0.05 + 0.10*float64(i)
		x.SetRow(i, []float64{1, d, d * d})
	}
	var normal, cov mat.Dense
	normal.Mul(x.T(), x)
	if err := cov.Inverse(&normal); err != nil {
		panic(err)
	}
	c := sensito.Calibration{Name: "grey scale", Repeatability: 0.006}
	for i := range 3 {
		for j := range 3 {
			c.Covariance[i][j] = sd * sd * (cov.At(i, j) + cov.At(j, i)) / 2
		}
	}
	c.Covariance[1][1] += scale * scale
	return c
}

// picturedPaper returns a trial of a paper read in pictures by a calibration, off as it may be
// by what it states, or by nothing where r is nil.
func picturedPaper(t testing.TB, p simulated.Paper, r *rand.Rand, step float64, c sensito.Calibration) sensito.TrialSpec {
	var off [3]float64
	noise := func() float64 { return 0 }
	at := rand.New(rand.NewPCG(1, 1))
	if r != nil {
		at = r
		noise = func() float64 { return float64(c.Repeatability) * r.NormFloat64() }
		for _, d := range c.Directions() {
			z := r.NormFloat64()
			for i := range off {
				off[i] += z * d[i]
			}
		}
	}
	spec := p.Read(t, at, step, -1).Spec()
	read := func(vs []sensito.Density) {
		for i, v := range vs {
			d := float64(v)
			d += off[0] + off[1]*d + off[2]*d*d + noise()
			vs[i] = sensito.Density(math.Max(0, math.Round(1000*d)/1000))
		}
	}
	s := &spec.Strips[0]
	read(s.Density)
	read(s.BaseFog)
	spec.Calibrations, s.Calibration = []sensito.Calibration{c}, c.Name
	return spec
}

func paperOf(t testing.TB, spec sensito.TrialSpec) *paper.Paper {
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	p, err := paper.Measure(trial, curve.FitOptions{})
	require.NoError(t, err)
	return p
}

// Papers of all shapes, read in pictures by a calibration that errs by what it states: the
// intervals of the quantities cover the truth in 93 to 97 of 100; where the calibration is taken
// for exact, those of white, black and speed point do so far less often. The range hangs on
// shares of the densities, which a scale leaves alone, and is hardly less sure.
func TestBlindPaperPictures(t *testing.T) {
	t.Parallel()
	names := []string{"white", "black", "T", "S", "range", "speed point", "gradient"}
	n := blind.Effort(t)
	for _, exact := range []bool{false, true} {
		var all [7]blind.Tally
		for k, shape := range simulated.PaperShapes {
			for i := range 3 * n {
				r := rand.New(rand.NewPCG(uint64(i), uint64(8000+k)))
				p := shape.Of([]float64{0.7, 1.05, 1.6}[i%3])
				spec := picturedPaper(t, p, r, []float64{0.10, 0.15}[r.IntN(2)], greyScale(0.02, 0.01))
				if exact {
					spec.Calibrations[0].Covariance = [3][3]float64{}
				}
				m := paperOf(t, spec).Strips[0]
				blind.Judge(&all[0], m.MinDensity, p.White, blind.Apart, math.NaN())
				blind.Judge(&all[1], m.MaxDensity, p.Black, blind.Apart, math.NaN())
				blind.Judge(&all[2], m.White, 0, blind.Apart, math.NaN())
				blind.Judge(&all[3], m.Black, p.LogRange, blind.Apart, math.NaN())
				blind.Judge(&all[4], m.LogRange, p.LogRange, blind.Apart, math.NaN())
				blind.Judge(&all[5], m.SpeedPoint, p.SpeedPoint(), blind.Apart, math.NaN())
				blind.Judge(&all[6], m.AverageGradient, (0.9*(p.Black-p.White)-0.04)/p.LogRange, blind.InShare, math.NaN())
			}
		}
		intervals, covered, papers := 0, 0, all[0].N
		few := 2.5 * math.Sqrt(0.95*0.05/float64(papers))
		for j, a := range all {
			t.Logf("taken for exact %-5v %-12s n %4d missing %2d rms %.4f covers %.1f", exact, names[j], a.N, a.Missing, a.RMS(), 100*a.Coverage())
			intervals, covered = intervals+a.N, covered+a.Covered
			assert.LessOrEqual(t, a.Missing, papers/50+1, names[j])
			switch {
			case !exact:
				assert.GreaterOrEqual(t, a.Coverage(), math.Min(0.92, 0.95-few), names[j])
				assert.LessOrEqual(t, a.Coverage(), math.Max(0.98, 0.95+few), names[j])
			case j == 0 || j == 1 || j == 5:
				assert.LessOrEqual(t, a.Coverage(), 0.75, "%s, taken for exact", names[j])
			}
		}
		share := float64(covered) / float64(intervals)
		t.Logf("taken for exact %-5v all %d: covers %.1f", exact, intervals, 100*share)
		if !exact { // quantities of one paper miss together
			assert.GreaterOrEqual(t, share, math.Min(0.93, 0.95-few))
			assert.LessOrEqual(t, share, math.Max(0.97, 0.95+few))
		}
	}
}

// A calibration leaves every printed quantity of a paper where it is, and widens its error by
// what the quantity is moved where all readings are off along the directions of the calibration.
// So do scale_sd and offset_sd of a densitometer.
func TestPaperOffAlike(t *testing.T) {
	directions := [][3]float64{{0.012, 0, 0}, {0, 0.02, 0}, {0.004, -0.01, 0.006}}
	lamp, err := sensito.NewContact(10, 10, sensito.EvenWedge(0, 0.10, 25))
	require.NoError(t, err)
	made := func(cal sensito.Calibration, read sensito.Reading, off [3]float64) *paper.Strip {
		r := rand.New(rand.NewPCG(5, 6846))
		p := simulated.PaperShapes[4].Of(1.05)
		reading := func(d float64) sensito.Density {
			d = math.Round(1000*(d+0.006*r.NormFloat64())) / 1000
			return sensito.Density(d + off[0] + off[1]*d + off[2]*d*d)
		}
		spec := sensito.TrialSpec{Material: sensito.PaperMaterial, Film: sensito.Film{Name: "Slate"}, Exposures: lamp, Reading: read}
		s := sensito.StripSpec{Grade: "2", BaseFog: []sensito.Density{reading(p.White), reading(p.White)}}
		for _, h := range lamp.LogH() {
			s.Density = append(s.Density, reading(p.Density(float64(h)-0.1)))
		}
		if cal.Name != "" {
			spec.Calibrations, s.Calibration = []sensito.Calibration{cal}, cal.Name
		}
		spec.Strips = []sensito.StripSpec{s}
		return paperOf(t, spec).Strips[0]
	}
	quantities := func(m *paper.Strip) (value, sd []float64) {
		print, err := m.PrintAt(0.5)
		require.NoError(t, err)
		require.NotNil(t, m.Speed)
		require.True(t, m.WhiteReached && m.BlackReached)
		n := m.Negative(1.3)
		value = []float64{float64(m.MinDensity.Value), float64(m.MaxDensity.Value), float64(m.White.Value), float64(m.Black.Value), float64(m.LogRange.Value),
			float64(m.SpeedPoint.Value), float64(m.Speed.Value), m.AverageGradient.Value, float64(n.Value), float64(print.Value)}
		sd = []float64{float64(m.MinDensity.StdErr), float64(m.MaxDensity.StdErr), float64(m.White.StdErr), float64(m.Black.StdErr), float64(m.LogRange.StdErr),
			float64(m.SpeedPoint.StdErr), float64(m.Speed.StdErr), m.AverageGradient.StdErr, float64(n.StdErr), float64(print.StdErr)}
		return value, sd
	}
	names := []string{"white", "black", "T", "S", "range", "speed point", "speed", "gradient", "negative", "print"}
	wider := func(exact sensito.Calibration, read sensito.Reading, directions [][3]float64, told *paper.Strip) {
		value, own := quantities(made(exact, read, [3]float64{}))
		same, sd := quantities(told)
		assert.Equal(t, value, same)
		for q, name := range names {
			squares := own[q] * own[q]
			for _, d := range directions {
				up, _ := quantities(made(exact, read, d))
				down, _ := quantities(made(exact, read, [3]float64{-d[0], -d[1], -d[2]}))
				squares += math.Pow((up[q]-down[q])/2, 2)
			}
			assert.InEpsilon(t, math.Sqrt(squares), sd[q], 0.03, name)
		}
		for _, q := range []int{0, 1, 5, 6, 7} {
			assert.Greater(t, sd[q], 1.2*own[q], names[q])
		}
	}
	wider(simulated.Bed("bed"), sensito.Reading{}, directions, made(simulated.Bed("bed", directions...), sensito.Reading{}, [3]float64{}))

	// What errs by next to nothing leaves the own error alone, that of the black which the
	// curve tends to beyond the last step too.
	_, own := quantities(made(simulated.Bed("bed"), sensito.Reading{}, [3]float64{}))
	_, sd := quantities(made(simulated.Bed("bed", [3]float64{1e-7}), sensito.Reading{}, [3]float64{}))
	assert.InEpsilonSlice(t, own, sd, 1e-4)

	plain := sensito.Reading{Repeatability: 0.006, ReadsTo: 0.001}
	off := plain
	off.ScaleSD, off.OffsetSD = 0.02, 0.012
	wider(sensito.Calibration{}, plain, [][3]float64{{0.012}, {1: 0.02}}, made(sensito.Calibration{}, off, [3]float64{}))
}

// Of a paper that was read in pictures nothing is called ISO, and a warning says so once;
// range and speed are told as of any other.
func TestPaperPictured(t *testing.T) {
	spec := picturedPaper(t, simulated.PaperShapes[4].Of(1.05), nil, 0.15, greyScale(0.01, 0.005))
	second := spec.Strips[0]
	second.Grade, second.Calibration = "3", ""
	all := paperOf(t, spec)
	spec.Strips = append(spec.Strips, second)
	some := paperOf(t, spec)
	for p, who := range map[*paper.Paper]string{all: "read in pictures (2): scanner", some: "read in pictures (2): scanner"} {
		var said []string
		for _, w := range p.Warnings {
			if w.Code == "reflection_pictured" {
				said = append(said, w.Message())
			}
		}
		require.Len(t, said, 1)
		assert.Contains(t, said[0], who)
		m := p.Strips[0]
		assert.True(t, m.Pictured())
		assert.NotNil(t, m.LogRange)
		assert.NotNil(t, m.SpeedPoint)
		assert.NotNil(t, m.Negative(1))
		assert.Nil(t, m.ISORange())
		assert.Nil(t, m.ISOSpeed())
		assert.Zero(t, m.RoundedRange())
	}
	m := some.Strips[1]
	assert.False(t, m.Pictured())
	assert.NotNil(t, m.ISORange())
	assert.Equal(t, 110, m.RoundedRange())
	spec.Strips = spec.Strips[1:]
	spec.Calibrations = nil
	assert.NotContains(t, blind.Codes(paperOf(t, spec).Warnings), "reflection_pictured")
}
