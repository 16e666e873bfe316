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

// A slip of 0.1 in every strip of a film at once, anywhere, is found in each, and no
// other reading is accused.
func TestBlindSlipsTogether(t *testing.T) {
	t.Parallel()
	found, accused, n := 0, 0, 0
	for i := range 12 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 178))
		d, b := simulated.Reaching.Developing(r, i%len(simulated.ClassNames)), simulated.Reaching.Bench(r)
		var strips []sensito.StripSpec
		var slips []int
		for _, minutes := range d.Minutes {
			s := b.Read(r, d.At(minutes))
			s.Minutes = sensito.Minutes(minutes)
			at := r.IntN(len(s.Density))
			if s.Density[at] += sensito.Density(math.Copysign(0.1, r.Float64()-0.5)); s.Density[at] < 0 {
				s.Density[at] += 0.2
			}
			strips, slips = append(strips, s), append(slips, at+1)
		}
		ms, err := curve.MeasureTrial(b.Trial(t, strips...), curve.MeasureOptions{})
		require.NoError(t, err)
		for k, m := range ms {
			n++
			for _, a := range m.Fit.SetAside {
				if a.Step == slips[k] {
					found++
				} else {
					accused++
				}
			}
		}
	}
	t.Logf("%d slips of %d found, %d readings accused", found, n, accused)
	assert.GreaterOrEqual(t, found, n-1-n/200)
	assert.LessOrEqual(t, accused, 1+n/500)
}

// Films for line work share their shape as others do: their strips together are
// covered, and clean ones not accused.
func TestBlindSteepTogether(t *testing.T) {
	t.Parallel()
	var base, speed, index blind.Tally
	accused, n := 0, 0
	for i := range 24 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 177))
		f, b := steepFilm(r), simulated.Ordinary.Bench(r)
		rate := simulated.Between(r, 0.1, 0.25)
		var strips []sensito.StripSpec
		var films []simulated.Film
		for _, minutes := range simulated.FiveTimes {
			film := f.Scaled(func(int) float64 { return math.Expm1(-rate*minutes) / math.Expm1(-rate*8) })
			s := b.Read(r, film)
			s.Minutes = sensito.Minutes(minutes)
			strips, films = append(strips, s), append(films, film)
		}
		ms, err := curve.MeasureTrial(b.Trial(t, strips...), curve.MeasureOptions{})
		require.NoError(t, err)
		for k, m := range ms {
			n++
			if len(m.Fit.LeftOut()) > 0 {
				accused++
			}
			blind.Judge(&base, m.BaseFog, films[k].Base, blind.Apart, math.NaN())
			blind.Judge(&speed, m.SpeedPoint, films[k].SpeedPoint()+b.Faint(), blind.Apart, math.NaN())
			blind.Judge(&index, m.ContrastIndex, films[k].ContrastIndex(), blind.Apart, math.NaN())
		}
	}
	for name, a := range map[string]*blind.Tally{"base": &base, "speed": &speed, "index": &index} {
		t.Logf("%-6s n %d bias %+.4f rms %.4f cover %.1f", name, a.N, a.Bias(), a.RMS(), 100*a.Coverage())
		allow := math.Max(0.03, 2.5*math.Sqrt(0.95*0.05/(float64(n)/5)))
		assert.InDelta(t, 0.955, a.Coverage(), allow, "coverage of %s", name)
	}
	t.Logf("clean strips accused: %d of %d", accused, n)
	assert.Less(t, speed.RMS(), 0.006, "rms error of the speed point, log H; 0.008 of each strip by itself")
	due := float64(n) / 500
	assert.LessOrEqual(t, float64(accused), due+3*math.Sqrt(due))
}
