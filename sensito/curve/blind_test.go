package curve_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// strips is the result of many blind strips.
type strips struct {
	base, speed, index, gradient, iso, fractional blind.Tallies
	said                                          blind.Notes
}

// blindStrips measures n strips of every class in turn and holds coverage and
// false alarms to their limits, that of the fractional-gradient speed from above to one
// of its own.
func blindStrips(t *testing.T, p simulated.Practice, n int, mostFractional float64) *strips {
	s := &strips{}
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 1))
		class := i % len(simulated.ClassNames)
		f, b, m := blindStrip(t, p, r, class)
		s.said.Add(class, m.Fit)
		blind.Score(&s.base, class, m.BaseFog, f.Base, blind.Apart)
		blind.Score(&s.speed, class, m.SpeedPoint, f.SpeedPoint()+b.Faint(), blind.Apart)
		blind.Score(&s.index, class, m.ContrastIndex, f.ContrastIndex(), blind.Apart)
		blind.Score(&s.gradient, class, m.AverageGradient, f.Rise(1.5)/1.5, blind.Apart)
		blind.Score(&s.iso, class, m.ISODifference, f.Rise(1.3), blind.Apart)
		blind.Score(&s.fractional, class, m.FractionalGradientSpeed, float64(curve.FractionalGradientSpeed(sensito.LogExposure(f.FractionalPoint()+b.Faint()))), blind.InStops)
	}
	t.Log("\n" + blind.TallyHead + s.base.Table("base+fog") + s.speed.Table("speed point") + s.index.Table("contrast index") +
		s.gradient.Table("average gradient") + s.iso.Table("ISO difference") + s.fractional.Table("fractional, stops") + s.said.Table())
	for name, a := range map[string]*blind.Tallies{"base plus fog": &s.base, "the speed point": &s.speed, "the contrast index": &s.index,
		"the average gradient": &s.gradient, "the ISO difference": &s.iso} {
		blind.CheckCoverage(t, name, a)
		assert.LessOrEqual(t, float64(a.All().Missing), 0.005*float64(n), "strips that do not give %s", name)
	}
	blind.CheckCoverageUpTo(t, mostFractional, "the fractional-gradient speed", &s.fractional)
	s.said.CheckClean(t)
	return s
}

// Single strips of ordinary practice: the errors, and the coverage of the 95 %
// intervals.
func TestBlindStrips(t *testing.T) {
	t.Parallel()
	s := blindStrips(t, simulated.Ordinary, 1080*blind.Effort(t), 0.98)
	assert.LessOrEqual(t, s.speed.All().RMS(), 0.023, "rms error of the speed point, log H")
	assert.LessOrEqual(t, math.Abs(s.speed.All().Bias()), 0.005, "bias of the speed point, log H")
	assert.LessOrEqual(t, s.index.All().RMS(), 0.0085, "rms error of the contrast index")
	assert.LessOrEqual(t, s.fractional.All().RMS(), 0.115, "rms error of the fractional-gradient speed, stops")
}

// Careless practice leaves larger errors, a speed point to 0.04 log H, but the
// intervals must say so.
func TestBlindCarelessStrips(t *testing.T) {
	t.Parallel()
	blindStrips(t, simulated.Careless, 480*blind.Effort(t), 0.98)
}

// Strips read twice as well as stated, in fine steps, show of what form a film
// is not; the intervals must count that too. Of a toe they show little even so: the
// fractional-gradient speed counts toes that these films do not have.
func TestBlindQuietStrips(t *testing.T) {
	t.Parallel()
	quiet := simulated.Ordinary
	quiet.Kit = simulated.Kit{Steps: 41, Step: 0.075, Noise: simulated.Usual.Noise / 2}
	blindStrips(t, quiet, 240*blind.Effort(t), 1)
}

// blindStrip measures one blind strip of a film of a class.
func blindStrip(t testing.TB, p simulated.Practice, r *rand.Rand, class int) (simulated.Film, simulated.Bench, *curve.Measured) {
	f, b, strip := p.Strip(t, r, class)
	m, err := curve.Measure(strip, curve.MeasureOptions{})
	require.NoError(t, err, "%+v on %+v", f, b)
	return f, b, m
}

// Strips of six and of seven steps are too short to tell a slip and long enough to tell
// a line from a bend and a shoulder: taken for a line, their contrast index errs by half
// as much again. None goes without a quantity because its form has too many parameters.
func TestBlindShortStrips(t *testing.T) {
	t.Parallel()
	var speed, index, gradient blind.Tallies
	n := 480 * blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 40))
		p := []simulated.Practice{simulated.Ordinary, simulated.Careless}[i%2]
		p.Steps = 6 + i/2%2
		p.Step = 2.7 / float64(p.Steps-1)
		class := i / 4 % len(simulated.ClassNames)
		f, b, m := blindStrip(t, p, r, class)
		assert.Empty(t, m.Fit.SetAside)
		blind.Score(&speed, class, m.SpeedPoint, f.SpeedPoint()+b.Faint(), blind.Apart)
		blind.Score(&index, class, m.ContrastIndex, f.ContrastIndex(), blind.Apart)
		blind.Score(&gradient, class, m.AverageGradient, f.Rise(1.5)/1.5, blind.Apart)
	}
	t.Log("\n" + blind.TallyHead + speed.Table("speed point") + index.Table("contrast index") + gradient.Table("average gradient"))
	for name, a := range map[string]*blind.Tallies{"the speed point": &speed, "the contrast index": &index, "the average gradient": &gradient} {
		blind.CheckCoverageUpTo(t, 1, name, a)
		assert.LessOrEqual(t, float64(a.All().Missing), 0.005*float64(n), "strips that do not give %s", name)
	}
	assert.LessOrEqual(t, index.All().RMS(), 0.025, "rms error of the contrast index")
}
