package camera_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/internal/blind"
)

func TestParseFactor(t *testing.T) {
	for text, want := range map[string]float64{
		"2x": 2, "2.5 x": 2.5, "x8": 8, "2×": 2, "1,5x": 1.5, "factor 2.5": 2.5, "+1 1/3 stops": math.Exp2(4. / 3), "+2/3": math.Exp2(2. / 3),
		"2/3 stop": math.Exp2(2. / 3), "10 stops": 1024, "+1 EV": 2, "1x": 1, "+0": 1,
	} {
		f, err := camera.ParseFactor(text)
		require.NoError(t, err, text)
		assert.InEpsilon(t, want, float64(f), 1e-12, text)
	}
	const like = " is not a factor like 2x, factor 2.5 or +1 1/3 stops"
	for text, want := range map[string]string{
		"":        `""` + like,
		"red":     `"red"` + like,
		"x":       `"x"` + like,
		"stops":   `"stops"` + like,
		"2":       `"2" may be a factor or stops; write 2x or +2 stops`,
		"0.5x":    `"0.5x": a factor of 0.5 is outside 1 to 1e+06`,
		"-1 stop": `"-1 stop": a factor of 0.5 is outside 1 to 1e+06`,
		"+21":     `"+21": a factor of 2.097152e+06 is outside 1 to 1e+06`,
	} {
		f, err := camera.ParseFactor(text)
		assert.EqualError(t, err, want)
		assert.Zero(t, f)
	}
	assert.Equal(t, "2.52x", camera.Factor(math.Exp2(4./3)).String())
	assert.InDelta(t, 4./3, camera.Factor(math.Exp2(4./3)).Stops(), 1e-12)
}

func TestBellows(t *testing.T) {
	// At 1:1 the lens stands at twice its focal length, which costs two stops
	// (thin-lens geometry, DER).
	f, err := camera.BellowsFactor(300, 150)
	require.NoError(t, err)
	assert.InDelta(t, 2, f.Stops(), 1e-12)
	m, err := camera.MagnificationFactor(1)
	require.NoError(t, err)
	assert.InEpsilon(t, float64(f), float64(m), 1e-12)
	rapid.Check(t, func(t *rapid.T) {
		m, focal := rapid.Float64Range(0, 5).Draw(t, "magnification"), rapid.Float64Range(20, 800).Draw(t, "focal")
		byM, err := camera.MagnificationFactor(m)
		require.NoError(t, err)
		// The extension at magnification m is focal (1 + m).
		byLength, err := camera.BellowsFactor(focal*(1+m), focal)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(byM), float64(byLength), 1e-12)
	})
	for _, c := range []struct {
		extension, focal float64
		want             string
	}{
		{140, 150, "extension 140 mm is below the focal length, 150 mm; measure from the lens to the film"},
		{150, 0, "focal length 0 mm is outside 5 to 5000 mm"},
		{math.NaN(), 150, "extension NaN mm is outside 5 to 5000 mm"},
	} {
		f, err := camera.BellowsFactor(c.extension, c.focal)
		assert.EqualError(t, err, c.want)
		assert.Zero(t, f)
	}
	_, err = camera.MagnificationFactor(-0.1)
	assert.EqualError(t, err, "magnification -0.1 is outside 0 to 100")
}

// sound returns what a constructor made of sound values.
func sound(t require.TestingT) func(*camera.Reciprocity, error) *camera.Reciprocity {
	return func(r *camera.Reciprocity, err error) *camera.Reciprocity {
		require.NoError(t, err)
		return r
	}
}

func TestCorrectOrder(t *testing.T) {
	r := sound(t)(camera.NewReciprocityPower(1.31))
	s, err := r.Correct(2.5, 2, 2)
	require.NoError(t, err)
	assert.Equal(t, sensito.Seconds(2.5), s.Metered)
	assert.InDelta(t, 10, float64(s.Factored), 1e-12)
	// RC-7: 10 s at P = 1.31 is 20.42 s. Taken the other way round, 4 * 2.5^1.31
	// would be 13.3 s.
	assert.InDelta(t, 20.42, float64(s.Corrected), 0.01)
	assert.Nil(t, s.Fitted)
	assert.Equal(t, []string{"contrast_rises"}, blind.Codes(s.Warnings))
	assert.Contains(t, s.Warnings[0].Message(), "at 1.0 stops more than metered")
}

func TestCorrectUnknown(t *testing.T) {
	var r *camera.Reciprocity
	s, err := r.Correct(0.25, 2)
	require.NoError(t, err)
	assert.Equal(t, camera.Shutter{Metered: 0.25, Factored: 0.5, Corrected: 0.5, Warnings: sensito.Warnings{}}, s)
	s, err = r.Correct(0.5, 8)
	require.NoError(t, err)
	assert.InDelta(t, 4, float64(s.Corrected), 1e-12)
	assert.Equal(t, []string{"reciprocity_unknown"}, blind.Codes(s.Warnings))
}

func TestCorrectFaults(t *testing.T) {
	r := sound(t)(camera.NewReciprocityAdditive(0.061))
	for _, c := range []struct {
		metered sensito.Seconds
		factor  camera.Factor
		want    string
	}{
		{0, 1, "metered time 0 s is outside 1e-05 to 1e+06 s"},
		{sensito.Seconds(math.NaN()), 0.5, "metered time NaN s is outside 1e-05 to 1e+06 s\na factor of 0.5 is outside 1 to 1e+06"},
		{1000, 1e6, "the factors make 277777 h 46 min 40 s of 16 min 40 s, more than 1e+06 s"},
	} {
		s, err := r.Correct(c.metered, c.factor)
		assert.EqualError(t, err, c.want)
		assert.Zero(t, s)
	}
}

func TestCorrectBeyondPairs(t *testing.T) {
	pairs := pairsOf(1, 2, 10, 50, 100, 1200)
	r := sound(t)(camera.NewReciprocityTable(pairs))
	for _, p := range pairs {
		s, err := r.Correct(p.Metered)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(p.Corrected), float64(s.Corrected), 1e-12)
		assert.Equal(t, []string{"contrast_rises"}, blind.Codes(s.Warnings))
	}
	s, err := r.Correct(100, 2)
	require.NoError(t, err)
	assert.Equal(t, []string{"reciprocity_extrapolated", "contrast_rises"}, blind.Codes(s.Warnings))
	assert.Greater(t, s.Corrected, sensito.Seconds(2400))
	s, err = r.Correct(0.25)
	require.NoError(t, err)
	assert.Equal(t, []string{"reciprocity_below", "contrast_rises"}, blind.Codes(s.Warnings))

	_, err = r.Correct(100, 2.1)
	var cannot *sensito.Unanswerable
	require.ErrorAs(t, err, &cannot)
	assert.Equal(t, "3 min 30 s is more than 2 times the longest time known, 1 min 40 s", cannot.Reason)
	assert.NotEmpty(t, cannot.Hint)

	s, err = sound(t)(camera.NewReciprocitySchwarzschild(0.86)).Correct(120)
	require.NoError(t, err)
	assert.Equal(t, []string{"reciprocity_one_exponent", "contrast_rises"}, blind.Codes(s.Warnings))
}
