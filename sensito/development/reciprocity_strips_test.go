package development_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// longFilm is a film that loses speed by the bounded form of Schwarzschild's
// law: exposed for tc it answers as if for tc (tc + 1)^(p - 1).
type longFilm struct {
	p     float64
	rises float64 // in gamma, of exposures above 1 s
}

func (l longFilm) metered(tc float64) float64 { return tc * math.Pow(tc+1, l.p-1) }

func (l longFilm) corrected(tm float64) float64 {
	return simulated.Bisect(0, 1e5, func(tc float64) float64 { return l.metered(tc) - tm })
}

const benchSeconds = 0.5

// strip is exposed for tc at a light so much dimmer that a film without loss
// would not tell it from one of benchSeconds.
func (l longFilm) strip(r *rand.Rand, e sensito.Exposures, minutes, tc float64) sensito.StripSpec {
	gamma := simulated.GammaAt(minutes)
	if tc > 1 {
		gamma += l.rises
	}
	s := sensito.StripSpec{Minutes: sensito.Minutes(minutes), BaseFog: []sensito.Density{0.12, 0.12},
		Density: simulated.Readings(r, e, simulated.ModelFilm(gamma).Moved(math.Log10(tc/l.metered(tc))), 0.01)}
	if tc != benchSeconds {
		s.Seconds, s.IlluminanceLx = sensito.Seconds(tc), benchLx*benchSeconds/tc
	}
	return s
}

const benchLx = 2.2

// longTrial has strips of benchSeconds for three times, and at 7 minutes more of
// the times given.
func longTrial(t testing.TB, r *rand.Rand, l longFilm, seconds ...float64) sensito.TrialSpec {
	e, err := sensito.NewContact(benchLx, benchSeconds, sensito.EvenWedge(0.05, 0.10, 31))
	require.NoError(t, err)
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Exposures: e}
	for _, minutes := range []float64{5, 7, 10} {
		spec.Strips = append(spec.Strips, l.strip(r, e, minutes, benchSeconds))
	}
	for _, tc := range seconds {
		spec.Strips = append(spec.Strips, l.strip(r, e, 7, tc))
	}
	return spec
}

// Strips exposed long are kept out of the family, which is as without them but for the
// shape of curve that all share, and give the film's law back.
func TestFamilyReciprocity(t *testing.T) {
	film := longFilm{p: 0.86, rises: 0.06}
	spec := longTrial(t, rand.New(rand.NewPCG(3, 1)), film, 4, 30, 240)
	f := blind.FamilyOf(t, spec)
	assert.Equal(t, "left out of contrast and speed against time, exposed for another time than the 1/2 s of the trial: strip 4 (4 s), strip 5 (30 s), strip 6 (4 min)",
		blind.MessageOf(f.Warnings, "other_exposure"))
	assert.Regexp(t, `^long exposures raise contrast: measured \+0\.0\d ±0\.01 in contrast index at 4 min against 1/2 s, developed alike$`,
		blind.MessageOf(f.Warnings, "long_contrast"))
	short := spec
	short.Strips = spec.Strips[:3]
	alone := blind.FamilyOf(t, short)
	assert.Len(t, f.Strips, 3)
	assert.InDelta(t, alone.Limit.Value, f.Limit.Value, 0.2*alone.Limit.StdErr)
	assert.Empty(t, alone.Warnings)
	law, err := alone.Reciprocity()
	require.NoError(t, err)
	assert.Nil(t, law)

	law, err = f.Reciprocity()
	require.NoError(t, err)
	require.Len(t, law.Pairs(), 4)
	assert.Equal(t, sensito.Seconds(240), law.Pairs()[3].Corrected)
	for _, metered := range []float64{1, 10, 60, 100} {
		s, err := law.Correct(sensito.Seconds(metered))
		require.NoError(t, err)
		require.NotNil(t, s.Fitted)
		low, high := s.Fitted.Interval(0.95)
		want := film.corrected(metered)
		assert.Less(t, float64(low), want, "%g s", metered)
		assert.Greater(t, float64(high), want, "%g s", metered)
	}
	// A curve of such a strip says so.
	ms, err := curve.MeasureTrial(f.Trial, curve.MeasureOptions{})
	require.NoError(t, err)
	assert.Empty(t, blind.MessageOf(ms[0].Warnings, "other_exposure"))
	assert.Equal(t, "exposed for 4 min, the trial for 1/2 s: in dim light film loses speed, so the two do not compare",
		blind.MessageOf(ms[5].Warnings, "other_exposure"))

	// The camera is set by the law.
	p, err := scene.For(f, scene.Scene{Stops: 7, Metering: &camera.Metering{Shadow: camera.SpotReading{EV: 2, Zone: 3}, Highlight: camera.SpotReading{EV: 7, Zone: 8}}})
	require.NoError(t, err)
	s, err := p.Setting(camera.Shot{Aperture: 22})
	require.NoError(t, err)
	want, err := law.Correct(s.Shutter.Metered)
	require.NoError(t, err)
	assert.Equal(t, want.Corrected, s.Shutter.Corrected)
	assert.Greater(t, s.Shutter.Corrected, 1.3*s.Shutter.Metered)

	// What the trial states comes before.
	spec.Reciprocity = &sensito.StatedReciprocity{Law: sensito.SchwarzschildLaw, Constant: 0.80}
	stated := blind.FamilyOf(t, spec)
	law, err = stated.Reciprocity()
	require.NoError(t, err)
	assert.Equal(t, "tm = tc (tc + 1)^(0.8 - 1)", law.String())
	assert.Regexp(t, `^the reciprocity data stated are used, not the strips exposed for other times; of a metered 1 min 5\d s they make [67] min [\ds ]*, the strips [34] min`,
		blind.MessageOf(stated.Warnings, "reciprocity_stated"))
}

// The 95 % intervals of corrected times cover the truth, although the law fitted
// is another than the film's.
func TestFamilyReciprocityCovers(t *testing.T) {
	t.Parallel()
	const runs = 60
	r := rand.New(rand.NewPCG(11, 2))
	at := []float64{5, 20, 60}
	for _, p := range []float64{0.86, 0.92} {
		film := longFilm{p: p}
		covered, errs, widths := 0, []float64{}, []float64{}
		for range runs {
			law, err := blind.FamilyOf(t, longTrial(t, r, film, 0.5, 4, 15, 60, 240)).Reciprocity()
			require.NoError(t, err)
			for _, m := range at {
				s, err := law.Correct(sensito.Seconds(m))
				if err != nil { // beyond the times known: counts as not covered
					continue
				}
				require.NotNil(t, s.Fitted)
				low, high := s.Fitted.Interval(0.95)
				widths = append(widths, math.Log2(float64(high/low))/2)
				want := sensito.Seconds(film.corrected(m))
				errs = append(errs, math.Abs(math.Log2(float64(s.Corrected/want))))
				if want >= low && want <= high {
					covered++
				}
			}
		}
		share := float64(covered) / float64(runs*len(at))
		slices.Sort(widths)
		slices.Sort(errs)
		t.Logf("p=%g: covered in %.3f; medians: half width %.2f stops, error %.2f", p, share, widths[len(widths)/2], errs[len(errs)/2])
		assert.Less(t, errs[len(errs)/2], 0.1, "stops")
		assert.GreaterOrEqual(t, share, 0.95-2*math.Sqrt(0.95*0.05/runs), "p=%g", p) // the times of one trial err together
	}
}

// Which strips are kept apart: more than a factor of 2 from the trial's time,
// the longer one above 1 s.
func TestStripsApart(t *testing.T) {
	for _, c := range []struct {
		trial, strip float64
		apart        bool
	}{{0.5, 1, false}, {0.5, 1.01, true}, {0.1, 1, false}, {1, 2, false}, {1, 2.01, true}, {4, 8, false}, {4, 1.9, true}, {60, 0.5, true}} {
		t.Run(fmt.Sprintf("%g s in a trial of %g s", c.strip, c.trial), func(t *testing.T) {
			r := rand.New(rand.NewPCG(5, 1))
			e, err := sensito.NewContact(1.1/c.trial, c.trial, sensito.EvenWedge(0.05, 0.10, 31))
			require.NoError(t, err)
			spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Exposures: e}
			for _, minutes := range []float64{5, 7, 10, 7} {
				spec.Strips = append(spec.Strips, longFilm{p: 1}.strip(r, e, minutes, benchSeconds))
			}
			spec.Strips[3].Seconds, spec.Strips[3].IlluminanceLx = sensito.Seconds(c.strip), 1.1/c.strip
			f := blind.FamilyOf(t, spec)
			left := map[bool]int{false: 4, true: 3}
			assert.Len(t, f.Strips, left[c.apart])
			assert.Equal(t, c.apart, blind.MessageOf(f.Warnings, "other_exposure") != "")
		})
	}
}

// Among development times the one with most exposure times tells the law; a time
// without a strip to compare with tells none.
func TestReciprocityDevelopedAlike(t *testing.T) {
	film := longFilm{p: 0.86}
	r := rand.New(rand.NewPCG(9, 1))
	spec := longTrial(t, r, film, 30)
	e := spec.Exposures
	spec.Strips = append(spec.Strips, film.strip(r, e, 10, 8), film.strip(r, e, 10+0.2/60, 100), film.strip(r, e, 12, 200))
	law, err := blind.FamilyOf(t, spec).Reciprocity()
	require.NoError(t, err)
	var seconds []sensito.Seconds
	for _, p := range law.Pairs() {
		seconds = append(seconds, p.Corrected)
	}
	assert.Equal(t, []sensito.Seconds{0.5, 8, 100}, seconds)

	// Developed otherwise, they are not of the test.
	other := spec
	other.Strips = append([]sensito.StripSpec{}, spec.Strips...)
	for i := 3; i < len(other.Strips); i++ {
		other.Strips[i].Process.TemperatureC = 24
	}
	law, err = blind.FamilyOf(t, other).Reciprocity()
	require.NoError(t, err)
	assert.Nil(t, law)

	spec.Strips = append(spec.Strips[:3:3], film.strip(r, e, 12, 200))
	f := blind.FamilyOf(t, spec)
	law, err = f.Reciprocity()
	var cannot *sensito.Unanswerable
	require.True(t, errors.As(err, &cannot))
	assert.Nil(t, law)
	assert.Equal(t, "the strips exposed for other times give no law of reciprocity: a loss of speed shows between two exposure times or more",
		blind.MessageOf(f.Warnings, "reciprocity_untested"))
	assert.Empty(t, blind.MessageOf(f.Warnings, "long_contrast"))

	for i := range spec.Strips {
		spec.Strips[i].Seconds = 20
	}
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	_, err = development.NewFamily(trial, curve.MeasureOptions{})
	assert.EqualError(t, err, "every strip was exposed for another time than the 1/2 s of the trial")
}

// A trial exposed long itself has lost speed: 10 s by p = 0.86 lose
// log2(11^0.14), 0.48 of a stop.
func TestSpeedAfterLoss(t *testing.T) {
	e, err := sensito.NewContact(0.11, 10, sensito.EvenWedge(0.05, 0.10, 31))
	require.NoError(t, err)
	spec := longTrial(t, rand.New(rand.NewPCG(1, 1)), longFilm{p: 1})
	spec.Exposures, spec.Reciprocity = e, &sensito.StatedReciprocity{Law: sensito.SchwarzschildLaw, Constant: 0.86}
	assert.Contains(t, blind.MessageOf(blind.FamilyOf(t, spec).Warnings, "speed_after_loss"), "exposed for 10 s, at which the film has lost 0.5 stops of its speed")
	spec.Exposures, err = sensito.NewContact(1.1, 1, sensito.EvenWedge(0.05, 0.10, 31))
	require.NoError(t, err)
	assert.Empty(t, blind.FamilyOf(t, spec).Warnings)
}
