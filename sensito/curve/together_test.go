package curve_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// practised are classes of blind families: how many strips, how they are read.
func practised() []struct {
	name   string
	strips int
	simulated.Practice
} {
	coarse, fine, quiet := simulated.Reaching, simulated.Reaching, simulated.Reaching
	coarse.Kit = simulated.Kit{Steps: 8, Step: 0.40, Noise: 0.01}
	fine.Kit = simulated.Kit{Steps: 61, Step: 0.05, Noise: 0.01}
	quiet.Kit.Noise = 0.003
	return []struct {
		name   string
		strips int
		simulated.Practice
	}{
		{"ordinary", 5, simulated.Reaching}, {"careless", 5, simulated.Careless}, {"two strips", 2, simulated.Reaching}, {"three strips", 3, simulated.Reaching},
		{"coarse", 5, coarse}, {"fine", 5, fine}, {"quiet", 5, quiet},
	}
}

// Strips of one film that share a shape: each tells its own film by as much better,
// and no less honestly, as the same strip does by itself: five strips err by a third
// less, of which few films show a part.
func TestBlindTogether(t *testing.T) {
	t.Parallel()
	for _, c := range practised() {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			names := []string{"base+fog", "speed point", "contrast index", "average gradient", "ISO difference", "fractional, stops"}
			var all [2][6]blind.Tallies // together, apart
			var said blind.Notes
			for i := range 12 * blind.Effort(t) {
				r := rand.New(rand.NewPCG(uint64(i), 31))
				class := i % len(simulated.ClassNames)
				d, b := c.Developing(r, class), c.Bench(r)
				var strips []sensito.StripSpec
				var films []simulated.Film
				for k := range c.strips {
					minutes := d.Minutes[k*4/(c.strips-1)]
					films = append(films, d.At(minutes))
					s := b.Read(r, films[k])
					s.Minutes = sensito.Minutes(minutes)
					strips = append(strips, s)
				}
				trial := b.Trial(t, strips...)
				for apart := range all {
					ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{Apart: apart == 1})
					require.NoError(t, err)
					a := &all[apart]
					for k, m := range ms {
						f := films[k]
						blind.Score(&a[0], class, m.BaseFog, f.Base, blind.Apart)
						blind.Score(&a[1], class, m.SpeedPoint, f.SpeedPoint()+b.Faint(), blind.Apart)
						blind.Score(&a[2], class, m.ContrastIndex, f.ContrastIndex(), blind.Apart)
						blind.Score(&a[3], class, m.AverageGradient, f.Rise(1.5)/1.5, blind.Apart)
						blind.Score(&a[4], class, m.ISODifference, f.Rise(1.3), blind.Apart)
						point := sensito.LogExposure(f.FractionalPoint() + b.Faint())
						blind.Score(&a[5], class, m.FractionalGradientSpeed, float64(curve.FractionalGradientSpeed(point)), blind.InStops)
						if apart == 0 {
							said.Add(class, m.Fit)
						}
					}
				}
			}
			text := blind.TallyHead
			for k, name := range names {
				text += all[0][k].Table(name) + all[1][k].Table("  each apart")
			}
			t.Logf("\n%s%s", text, said.Table())
			for k, name := range names {
				checkStrips(t, name, c.strips, &all[0][k])
			}
			said.CheckClean(t)
			if c.strips == 5 {
				for k, most := range map[int]float64{1: 0.85, 2: 0.95} {
					assert.Less(t, all[0][k].All().RMS(), most*all[1][k].All().RMS(), "rms error of the %s of strips together, by that of strips apart", names[k])
				}
			}
		})
	}
}

// checkStrips holds the share of 95 % intervals that cover to 92 to 99 %; strips of a
// film miss together, so that films count.
func checkStrips(t *testing.T, name string, strips int, a *blind.Tallies) {
	allow := math.Max(0.03, 2.5*math.Sqrt(0.95*0.05/float64(a.All().N/strips)))
	assert.GreaterOrEqual(t, a.All().Coverage(), 0.95-allow, "coverage of %s", name)
	assert.LessOrEqual(t, a.All().Coverage(), 0.96+allow, "coverage of %s", name)
}

// A strip that was exposed otherwise than the rest is named and taken by itself, and
// the others do not suffer.
func TestStrayStrip(t *testing.T) {
	for _, off := range []float64{0, 0.3, -0.3} {
		r := rand.New(rand.NewPCG(5, 32))
		d, b := simulated.Reaching.Developing(r, 0), simulated.Reaching.Bench(r)
		var strips []sensito.StripSpec
		for k, minutes := range d.Minutes {
			f := d.At(minutes)
			if k == 2 {
				f = f.Moved(off)
			}
			s := b.Read(r, f)
			s.Minutes = sensito.Minutes(minutes)
			strips = append(strips, s)
		}
		ms, err := curve.MeasureTrial(b.Trial(t, strips...), curve.MeasureOptions{})
		require.NoError(t, err)
		for k, m := range ms {
			stray := k == 2 && off != 0
			assert.Equal(t, !stray, m.Fit.Together != nil, "strip %d", k+1)
			assert.Equal(t, stray, slices.Contains(blind.Codes(m.Warnings), "strip_astray"))
			f := d.At(d.Minutes[k])
			if stray {
				f = f.Moved(off)
				assert.Contains(t, blind.MessageOf(m.Warnings, "strip_astray"), map[bool]string{true: "lies +0.", false: "lies -0."}[off > 0])
			}
			assert.InDelta(t, f.SpeedPoint()+b.Faint(), float64(m.SpeedPoint.Value), 3.5*float64(m.SpeedPoint.StdErr))
		}
	}
}

// Strips of two films in one trial do not share a shape: that is said, and errors are
// wider.
func TestShapesDiffer(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 33))
	b := simulated.Reaching.Bench(r)
	films := [2]simulated.Film{
		{Base: 0.1, Layers: []simulated.Layer{{Shape: simulated.Shouldered, Amplitude: 1.1, At: 0.6, Width: 0.08, Span: 1.3, SpanWidth: 0.1}}},
		{Base: 0.1, Layers: []simulated.Layer{{Shape: simulated.Upswept, Amplitude: 0.6, At: 0.6, Width: 0.2, Bend: 0.3}}},
	}
	var strips []sensito.StripSpec
	for k := range 4 {
		s := b.Read(r, films[k%2])
		s.Minutes = sensito.Minutes(5 + k)
		strips = append(strips, s)
	}
	ms, err := curve.MeasureTrial(b.Trial(t, strips...), curve.MeasureOptions{})
	require.NoError(t, err)
	for _, m := range ms {
		require.NotNil(t, m.Fit.Together)
		assert.Less(t, m.Fit.Together.Chance, 1e-6)
		assert.Greater(t, m.Fit.Together.Wider, 2.0)
		assert.Contains(t, blind.Codes(m.Warnings), "shape_differs")
	}
}

// Strips are shown both ways where the two disagree: of films whose strips share a
// shape 1 in 100 at most, of strips of a batch that is 0.1 log H slower or faster and
// of strips of another emulsion as fast and as contrasty most.
func TestBlindBothWays(t *testing.T) {
	t.Parallel()
	far, shown := 0, map[string][2]int{} // by what the odd strip is: shown, of
	count := func(kind string, m *curve.Measured) {
		n := shown[kind]
		if n[1]++; m.ByItself != nil || m.Fit.Together == nil {
			n[0]++
		}
		shown[kind] = n
	}
	for _, c := range practised() {
		if c.strips < 5 || c.name == "fine" && blind.Effort(t) == 1 {
			continue
		}
		for i := range 24 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), 35))
			class := i % len(simulated.ClassNames)
			d, b := c.Developing(r, class), c.Bench(r)
			other := c.Developing(r, (class+1+r.IntN(5))%len(simulated.ClassNames))
			odd := func(f simulated.Film) simulated.Film { return f }
			kind := "sound"
			switch i / len(simulated.ClassNames) % 4 {
			case 0:
				kind = "another batch"
				odd = func(f simulated.Film) simulated.Film { return f.Moved(0.1 * float64(1-2*r.IntN(2))) }
			case 1:
				kind = "another emulsion"
				odd = func(f simulated.Film) simulated.Film { return like(f, other.At(other.Minutes[2])) }
			}
			which := r.IntN(c.strips)
			var strips []sensito.StripSpec
			for k, minutes := range d.Minutes {
				f := d.At(minutes)
				if k == which {
					f = odd(f)
				}
				s := b.Read(r, f)
				s.Minutes = sensito.Minutes(minutes)
				strips = append(strips, s)
			}
			trial := b.Trial(t, strips...)
			ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{})
			require.NoError(t, err)
			alone, err := curve.MeasureTrial(trial, curve.MeasureOptions{Apart: true})
			require.NoError(t, err)
			for k, m := range ms {
				switch {
				case kind == "sound":
					count(kind, m)
				case k == which:
					count(kind, m)
				default:
					count(kind+", the others", m)
				}
				assert.Nil(t, alone[k].ByItself)
				if m.ByItself != nil {
					assert.Equal(t, alone[k].SpeedPoint, m.ByItself.SpeedPoint)
				}
				speed := float64(m.SpeedPoint.Value-alone[k].SpeedPoint.Value) / float64(alone[k].SpeedPoint.StdErr)
				index := (m.ContrastIndex.Value - alone[k].ContrastIndex.Value) / alone[k].ContrastIndex.StdErr
				if m.Fit.Together != nil && math.Max(math.Abs(speed), math.Abs(index)) > 3.6 {
					far++
					assert.NotNil(t, m.ByItself, "speed point %.1f and contrast index %.1f errors off", speed, index)
				}
			}
		}
	}
	for kind, n := range shown {
		t.Logf("%s: %d of %d strips shown both ways", kind, n[0], n[1])
	}
	assert.LessOrEqual(t, 100*shown["sound"][0], shown["sound"][1], "sound strips")
	assert.GreaterOrEqual(t, 100*shown["another batch"][0], 75*shown["another batch"][1], "strips 0.1 log H off")
	assert.GreaterOrEqual(t, 100*shown["another emulsion"][0], 75*shown["another emulsion"][1], "strips of another emulsion")
	beside := shown["another emulsion, the others"] // whose shared shape is drawn to the odd one
	assert.InDelta(t, 0.42, float64(beside[0])/float64(beside[1]), 0.13, "share of the strips beside one of another emulsion")
	assert.Positive(t, far, "strips far more than their errors off")
}

// like returns a film of the form of another with the base, the speed point and the
// gradient of f.
func like(f, other simulated.Film) simulated.Film {
	gain := simulated.Bisect(0.05, 20, func(g float64) float64 {
		return other.Scaled(func(int) float64 { return g }).Rise(1.5) - f.Rise(1.5)
	})
	other = other.Scaled(func(int) float64 { return gain })
	other.Base = f.Base
	return other.Moved(f.SpeedPoint() - other.SpeedPoint())
}

// What a densitometer has in all readings alike is in every quantity, of strips
// together as of one by itself: a scale moves contrast by as much and the speed point
// as a lower net density does, an offset neither.
func TestDensitometer(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 34))
	d, b := simulated.Reaching.Developing(r, 0), simulated.Reaching.Bench(r)
	var strips []sensito.StripSpec
	for _, minutes := range d.Minutes {
		s := b.Read(r, d.At(minutes))
		s.Minutes = sensito.Minutes(minutes)
		strips = append(strips, s)
	}
	measured := func(reading sensito.Reading, apart bool) *curve.Measured {
		spec := b.Trial(t, strips...).Spec()
		spec.Reading = reading
		trial, err := sensito.NewTrial(spec)
		require.NoError(t, err)
		ms, err := curve.MeasureTrial(trial, curve.MeasureOptions{Apart: apart})
		require.NoError(t, err)
		return ms[2]
	}
	for _, apart := range []bool{false, true} {
		exact := measured(sensito.Reading{}, apart)
		off := measured(sensito.Reading{ScaleSD: 0.02, OffsetSD: 0.03}, apart)
		assert.Equal(t, exact.ContrastIndex.Value, off.ContrastIndex.Value)
		assert.InEpsilon(t, math.Hypot(exact.AverageGradient.StdErr, 0.02*exact.AverageGradient.Value), off.AverageGradient.StdErr, 0.08, "apart %v", apart)
		base := float64(exact.BaseFog.Value)
		assert.InEpsilon(t, math.Sqrt(math.Pow(float64(exact.BaseFog.StdErr), 2)+math.Pow(0.02*base, 2)+0.03*0.03), float64(off.BaseFog.StdErr), 1e-3)
		slope := exact.Fit.Curve.Slope(exact.SpeedPoint.Value)
		assert.InEpsilon(t, math.Hypot(float64(exact.SpeedPoint.StdErr), 0.02*0.10/slope), float64(off.SpeedPoint.StdErr), 0.02)
	}
}

// Strips of another agitation lie elsewhere and have the shape of the rest, which tells
// them better than they do by themselves. Where their shape is another one they stay
// apart, and the rest is as without them.
func TestOtherConditionsShare(t *testing.T) {
	t.Parallel()
	var all [2][2]blind.Tallies // together, apart: speed point, contrast index
	parted, n := 0, 24*blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 57))
		class := i % len(simulated.ClassNames)
		d, b := simulated.Reaching.Developing(r, class), simulated.Reaching.Bench(r)
		stranger := simulated.Reaching.Developing(r, (class+2)%len(simulated.ClassNames))
		trial := func(otherwise simulated.Developing) (*sensito.Trial, []simulated.Film) {
			var strips []sensito.StripSpec
			var films []simulated.Film
			for k, minutes := range d.Minutes {
				s, f := sensito.StripSpec{}, d.At(minutes)
				if k == 1 || k == 3 {
					f = otherwise.At(minutes)
					f.Layers = slices.Clone(f.Layers)
					for j := range f.Layers {
						f.Layers[j].At += 0.15
					}
				}
				s = b.Read(r, f)
				s.Minutes, s.Process.Agitation = sensito.Minutes(minutes), sensito.AgitationContinuous
				if k == 1 || k == 3 {
					s.Process.Agitation = sensito.AgitationIntermittent
				}
				strips, films = append(strips, s), append(films, f)
			}
			spec := b.Trial(t, strips...).Spec()
			spec.Process.Agitation = sensito.AgitationContinuous
			out, err := sensito.NewTrial(spec)
			require.NoError(t, err)
			return out, films
		}
		same, films := trial(d)
		for apart := range all {
			ms, err := curve.MeasureTrial(same, curve.MeasureOptions{Apart: apart == 1})
			require.NoError(t, err)
			for _, k := range []int{1, 3} {
				blind.Score(&all[apart][0], class, ms[k].SpeedPoint, films[k].SpeedPoint()+b.Faint(), blind.Apart)
				blind.Score(&all[apart][1], class, ms[k].ContrastIndex, films[k].ContrastIndex(), blind.Apart)
			}
		}
		other, _ := trial(stranger)
		ms, err := curve.MeasureTrial(other, curve.MeasureOptions{})
		require.NoError(t, err)
		require.NotNil(t, ms[0].Fit.Together)
		if ms[1].Fit.Together == nil {
			parted++
			assert.Nil(t, ms[3].Fit.Together)
		}
		assert.Same(t, ms[0].Fit.Together, ms[2].Fit.Together)
	}
	text := blind.TallyHead
	for q, name := range []string{"speed point", "contrast index"} {
		text += all[0][q].Table(name) + all[1][q].Table(name+", apart")
		assert.Less(t, all[0][q].All().RMS(), 0.85*all[1][q].All().RMS(), name)
		blind.CheckCoverage(t, name, &all[0][q])
	}
	assert.Greater(t, parted, n*8/10)
	t.Logf("of %d trials of two shapes %d were taken apart\n%s", n, parted, text)
}
