package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// calibrated returns the calibration by a tablet of 21 steps of 0.15, each known to sd and
// all to a scale: the covariance of a parabola through them.
func calibrated(name string, sd, scale float64) sensito.Calibration {
	x := mat.NewDense(21, 3, nil)
	for i := range 21 {
		d := 0.05 + 0.15*float64(i)
		x.SetRow(i, []float64{1, d, d * d})
	}
	var normal, cov mat.Dense
	normal.Mul(x.T(), x)
	if err := cov.Inverse(&normal); err != nil {
		panic(err)
	}
	c := sensito.Calibration{Name: name, Repeatability: 0.006}
	for i := range 3 {
		for j := range 3 {
			c.Covariance[i][j] = sd * sd * (cov.At(i, j) + cov.At(j, i)) / 2
		}
	}
	c.Covariance[1][1] += scale * scale
	return c
}

// drawn draws by what a calibration errs.
func drawn(r *rand.Rand, c sensito.Calibration) (o, s, b float64) {
	for _, d := range c.Directions() {
		z := r.NormFloat64()
		o, s, b = o+z*d[0], s+z*d[1], b+z*d[2]
	}
	return o, s, b
}

// Films read in pictures, whose calibrations err by what they state: contrast index, time
// and exposure index cover the truth with that error, and without it are far too sure. The
// films scatter from one development to the next as usual.
func TestBlindPictures(t *testing.T) {
	t.Parallel()
	certified, nominal := calibrated("certified", 0.01, 0.005), calibrated("nominal", 0.02, 0.01)
	other := calibrated("other bed", 0.02, 0.01)
	const meter = -1 // by a densitometer
	classes := []struct {
		name string
		of   []sensito.Calibration
		by   []int   // the calibration of each strip
		most float64 // coverage of the contrast index where the calibrations are said to be exact; 0 where they state their error
	}{
		{"certified tablet", []sensito.Calibration{certified}, []int{0, 0, 0, 0, 0}, 0},
		{"nominal tablet", []sensito.Calibration{nominal}, []int{0, 0, 0, 0, 0}, 0},
		{"nominal tablet, 3 strips", []sensito.Calibration{nominal}, []int{0, 0, 0}, 0},
		{"nominal tablet, 1 strip", []sensito.Calibration{nominal}, []int{0}, 0},
		{"two calibrations", []sensito.Calibration{certified, other}, []int{0, 1, 0, 1, 0}, 0},
		{"one strip of five", []sensito.Calibration{nominal}, []int{meter, meter, 0, meter, meter}, 0},
		{"certified, taken for exact", []sensito.Calibration{certified}, []int{0, 0, 0, 0, 0}, 0.86},
		{"nominal, taken for exact", []sensito.Calibration{nominal}, []int{0, 0, 0, 0, 0}, 0.7},
		{"densitometer", nil, []int{meter, meter, meter, meter, meter}, 0},
	}
	names := []string{"contrast index", "time", "index"}
	text := ""
	var pooled [3]blind.Tally
	for k, c := range classes {
		var all [3]blind.Tally
		for i := range 14 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), uint64(5200+k)))
			d, b := simulated.Reaching.Developing(r, i%2), simulated.Reaching.Bench(r)
			spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: simulated.Tank, Exposures: b.Exposures(t)}
			var off [][3]float64
			for _, cal := range c.of {
				o, s, bend := drawn(r, cal)
				if off = append(off, [3]float64{o, s, bend}); c.most > 0 {
					cal.Covariance = [3][3]float64{}
				}
				spec.Calibrations = append(spec.Calibrations, cal)
			}
			middle, truth := len(c.by)/2, 0.0
			for j, by := range c.by {
				minutes := d.Minutes[2]
				if n := len(c.by); n > 1 {
					minutes = d.Minutes[j*4/(n-1)]
				}
				film := d.At(minutes)
				gain := 1 + development.Scatter*r.NormFloat64()
				film = film.Scaled(func(int) float64 { return gain })
				if j == middle {
					truth = film.ContrastIndex()
				}
				b := b
				if by != meter {
					b.Reader = func(r *rand.Rand, density float64) sensito.Density {
						density += off[by][0] + off[by][1]*density + off[by][2]*density*density + float64(c.of[by].Repeatability)*r.NormFloat64()
						return sensito.Density(math.Max(0, math.Round(density*1000)/1000))
					}
				}
				s := b.Read(r, film)
				if s.Minutes = sensito.Minutes(minutes); by != meter {
					s.Calibration = c.of[by].Name
				}
				spec.Strips = append(spec.Strips, s)
			}
			family := blind.FamilyOf(t, spec)
			require.Len(t, family.Strips, len(c.by))
			blind.Judge(&all[0], family.Strips[middle].ContrastIndex, truth, blind.InShare, math.NaN())
			minutes, index, ok := d.Right(b, 7)
			if !ok {
				continue
			}
			answer, err := scene.For(family, scene.Scene{Stops: 7})
			if err != nil {
				all[1].Missing++
				continue
			}
			blind.Judge(&all[1], &answer.Minutes, minutes, blind.InShare, math.NaN())
			blind.Judge(&all[2], answer.ExposureIndex, index, blind.InStops, math.NaN())
		}
		text += fmt.Sprintf("\n%-28s n %3d miss %2d ", c.name, all[0].N, all[1].Missing)
		for j, a := range all {
			text += fmt.Sprintf("| %+.4f %.4f %5.1f ", a.Bias(), a.RMS(), 100*a.Coverage())
			if c.most > 0 {
				continue
			}
			pooled[j].N, pooled[j].Covered = pooled[j].N+a.N, pooled[j].Covered+a.Covered
			allow := 3.3 * math.Sqrt(0.95*0.05/float64(a.N))
			assert.GreaterOrEqual(t, a.Coverage(), math.Min(0.92, 0.95-allow), "%s, %s", names[j], c.name)
		}
		if c.most > 0 {
			assert.LessOrEqual(t, all[0].Coverage(), c.most, "the contrast index, %s", c.name)
		}
	}
	t.Logf("bias, rms and coverage of %v%s", names, text)
	for j, a := range pooled {
		t.Logf("%-16s n %d covers %.1f", names[j], a.N, 100*a.Coverage())
		// These films follow a law of growth, which the interval of the time does not know.
		few, most := 2.5*math.Sqrt(0.95*0.05/float64(a.N)), 0.97
		if names[j] == "time" {
			most = 0.99
		}
		assert.GreaterOrEqual(t, a.Coverage(), 0.95-math.Max(0.02, few), names[j])
		assert.LessOrEqual(t, a.Coverage(), math.Max(most, 0.95+few), names[j])
	}
}
