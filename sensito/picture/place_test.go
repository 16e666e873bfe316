package picture_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// scores are errors of densities over what is stated for them, to 1.5, 2, 2.5 and beyond.
type scores struct {
	sum, n, sd, glared [4]float64
	beyond             int // 4
	unread             [4]int
}

func (s *scores) add(got []picture.Density, exact []float64, cov [3][3]float64) {
	for i, d := range got {
		k := 0
		for k < 3 && exact[i] > []float64{1.5, 2, 2.5}[k] {
			k++
		}
		if math.IsNaN(d.Value) {
			s.unread[k]++
			if strings.Contains(d.Why, "glare") {
				s.glared[k]++
			}
			continue
		}
		z := (d.Value - exact[i]) / math.Hypot(d.SD, picture.ErrorOf(cov, exact[i]))
		s.sum[k] += z * z
		s.sd[k] += d.SD
		s.n[k]++
		if math.Abs(z) > 4 {
			s.beyond++
		}
	}
}

func (s *scores) and(o scores) {
	for k := range s.n {
		s.sum[k], s.n[k], s.sd[k], s.glared[k], s.unread[k] = s.sum[k]+o.sum[k], s.n[k]+o.n[k], s.sd[k]+o.sd[k], s.glared[k]+o.glared[k], s.unread[k]+o.unread[k]
	}
	s.beyond += o.beyond
}

func (s scores) String() string {
	var b strings.Builder
	for k, to := range []string{"1.5", "2.0", "2.5", "2.8"} {
		fmt.Fprintf(&b, "; to %s: z %.2f, sd %.4f, %.0f read, %d not, %.0f for glare", to, math.Sqrt(s.sum[k]/s.n[k]), s.sd[k]/s.n[k], s.n[k], s.unread[k], s.glared[k])
	}
	return fmt.Sprintf("%s; %d beyond 4", b.String(), s.beyond)
}

// filmOf draws a film's strip, whose densest step is 2.0 to 2.8.
func filmOf(r *rand.Rand, class int) []float64 {
	b, f := simulated.Ordinary.Bench(r), simulated.Ordinary.Developing(r, class)
	steps, base := lighttable.Strip(b, f.At(8))
	slices.Sort(steps)
	by := (2 + 0.8*r.Float64() - base) / (steps[len(steps)-1] - base)
	for i, d := range steps {
		steps[i] = base + by*(d-base)
	}
	return steps
}

// Films pictured with a tablet, whatever lies beside the steps: the error that is stated for each
// holds up to 2.8, and hardly a step is far off that was read. Every second strip lies the other way
// round than the tablet, with its clear end where the tablet has its dense one; every third is cut
// off at its steps. Tablets are off by 0.01 a step and 0.5 % of scale.
func TestPlaces(t *testing.T) {
	var all, alike scores
	raised := 0
	for class, c := range []struct {
		name   string
		device lighttable.Device
		masked bool
		encode func(float64) float64
		told   string
		apart  bool
	}{
		{"flatbed, open", lighttable.Flatbed(100), false, nil, "", false},
		{"flatbed, masked", lighttable.Flatbed(100), true, nil, "", false},
		{"camera, open", lighttable.Camera(100), false, lighttable.SRGB, "", false},
		{"camera, masked", lighttable.Camera(100), true, lighttable.Power(1 / 2.2), "", false},
		{"flatbed, open, told", lighttable.Flatbed(100), false, nil, "linear", false},
		{"flatbed, masked, told", lighttable.Flatbed(100), true, lighttable.SRGB, "srgb", false},
		{"camera, open, told", lighttable.Camera(100), false, nil, "linear", false},
		{"camera, masked, told", lighttable.Camera(100), true, nil, "linear", false},
		{"flatbed, open, apart", lighttable.Flatbed(100), false, lighttable.SCurve, "", true},
		{"camera, masked, apart", lighttable.Camera(100), true, nil, "", true},
	} {
		var of scores
		r := rand.New(rand.NewPCG(31, uint64(class)))
		for i := range blind.Effort(t) {
			i += class // so that few films are of all kinds
			exact := filmOf(r, i%4)
			d := c.device
			d.Encode = c.encode
			laid := func(s lighttable.Scene) lighttable.Scene {
				s = s.WithPlaces()
				s.Masked, s.Seed = c.masked, r.Uint64()
				return s
			}
			s := laid(lighttable.Beside(exact, tablet))
			if c.apart {
				s = laid(lighttable.Alone(exact))
			}
			if i%2 == 1 {
				s.Rows[0].Turn = 180
			}
			if i%3 == 1 {
				s.Rows[0].Lead = 0
			}
			var rows []pictured
			if c.apart {
				rows = append(pictureOf(t, s, d, r.Uint64(), 0), pictureOf(t, laid(lighttable.Alone(tablet)), d, r.Uint64(), 0)...)
			} else {
				rows = pictureOf(t, s, d, r.Uint64(), 0, 1)
			}
			by := 1 + 0.005*r.NormFloat64()
			told := make([]float64, len(tablet))
			for i, d := range tablet {
				told[i] = max(0, by*d+0.01*r.NormFloat64())
			}
			k, _, err := picture.Calibrate(rows[1].calibrating(told, c.told))
			require.NoError(t, err)
			if share := k.Fit.Share.Mean; k.Fit.Method == picture.SmoothMethod {
				assert.GreaterOrEqual(t, min(share[0], share[1]), 0.005, "never less than is assumed")
				if share[0] > 0.005 || share[1] > 0.005 {
					raised++
				}
			}
			got, _ := rows[0].read(t, k, !c.apart)
			of.add(got, exact, k.Covariance(!c.apart))
			if i%2 == 0 && i%3 != 1 {
				alike.add(got[:len(got)-2], exact, k.Covariance(!c.apart))
			}
		}
		t.Logf("%-22s%s", c.name, of)
		all.and(of)
		if n := of.n[2] + of.n[3]; n > 100 {
			assert.InDelta(t, 1, math.Sqrt((of.sum[2]+of.sum[3])/n), 0.4, "beyond 2.0, %s", c.name)
		}
	}
	t.Logf("%-22s%s", "lying as the tablet", alike)
	t.Logf("%-22s%s", "all", all)
	for k, z := range all.sum {
		assert.InDelta(t, 1, math.Sqrt(z/all.n[k]), 0.4, "range %d", k)
	}
	assert.LessOrEqual(t, float64(all.beyond), (all.n[0]+all.n[1]+all.n[2]+all.n[3])/500)
	assert.Zero(t, all.unread[0]+all.unread[1])
	assert.Less(t, float64(all.unread[2]), all.n[2]/4)
	assert.Positive(t, all.glared[3])
	assert.Positive(t, raised, "what the tablet says of the glare")
}

// A dense step beside bare light, and one whose like in the tablet lies there, are not read, and
// the reason says what to do.
func TestBesideBareLight(t *testing.T) {
	exact := lighttable.Even(0.12, 0.133, 21) // to 2.78
	d := lighttable.Flatbed(finely)
	read := func(s lighttable.Scene) []picture.Density {
		rows := pictureOf(t, s, d, 41, 0, 1)
		k, _, err := picture.Calibrate(rows[1].calibrating(tablet, ""))
		require.NoError(t, err)
		got, w := rows[0].read(t, k, true)
		assert.True(t, coded(w, "step_not_read"))
		for i, d := range got[:14] { // to 1.85
			assert.InDelta(t, exact[i], d.Value, 0.01)
		}
		return got
	}
	got := read(lighttable.Beside(exact, tablet).WithPlaces())
	assert.Equal(t, "step 21 lies beside bare light, whose glare may move it by more than 0.03: mask that light", got[20].Why)
	assert.True(t, math.IsNaN(got[20].Value) && math.IsNaN(got[20].SD))
	assert.Empty(t, got[18].Why)

	masked := lighttable.Beside(exact, tablet).WithPlaces()
	masked.Masked, masked.Rows[0].Turn, masked.Rows[0].Lead = true, 180, 0
	got = read(masked)
	assert.Equal(t, "the tablet's steps as dense as step 21 lie beside bare light, whose glare may move it by more than 0.03: mask both alike", got[20].Why)
	assert.Greater(t, got[19].SD, 0.015)
	assert.InDelta(t, exact[19], got[19].Value, 2*got[19].SD)
}
