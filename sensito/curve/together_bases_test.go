package curve_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// based returns what strips of a film tell whose bases lie so far beside what development
// gives them, with the films.
func based(t *testing.T, r *rand.Rand, class int, off []float64) (ms []*curve.Measured, films []simulated.Film, b simulated.Bench) {
	d := simulated.Reaching.Developing(r, class)
	b = simulated.Reaching.Bench(r)
	var strips []sensito.StripSpec
	for k, by := range off {
		minutes := d.Minutes[0] + (d.Minutes[4]-d.Minutes[0])*float64(k)/float64(len(off)-1)
		f := d.At(minutes)
		f.Base += max(by, -0.07) // none is below 0
		s := b.Read(r, f)
		s.Minutes = sensito.Minutes(minutes)
		strips, films = append(strips, s), append(films, f)
	}
	ms, err := curve.MeasureTrial(b.Trial(t, strips...), curve.MeasureOptions{})
	require.NoError(t, err)
	return ms, films, b
}

// toBlame returns which strips are said to have a base far off those of the others, and
// whether the bases of all are said to differ.
func toBlame(ms []*curve.Measured) (strips []int, all bool) {
	for k, m := range ms {
		for _, w := range m.Warnings {
			switch {
			case w.Code != "bases_differ":
			case w.Values[0] == m.Fit.Together.Bases:
				all = true
			default:
				strips = append(strips, k)
			}
		}
	}
	return strips, all
}

// Strips whose bases differ by more than development explains, since the zero of the
// densitometer drifts or fog grows on where contrast has ended, tell base plus fog and all
// else as honestly as others and hardly less exactly. It is said where they differ far.
func TestBlindBasesDiffer(t *testing.T) {
	t.Parallel()
	for sd, said := range map[float64][2]float64{0: {0, 0}, 0.02: {0, 0.15}, 0.03: {0, 1}, 0.1: {0.85, 1}} {
		t.Run(fmt.Sprintf("by %g", sd), func(t *testing.T) {
			t.Parallel()
			names := []string{"base+fog", "speed point", "contrast index"}
			var all [3]blind.Tallies
			n, told, named := 48*blind.Effort(t), 0, 0
			for i := range n {
				r := rand.New(rand.NewPCG(uint64(i), 211))
				class, off := i%len(simulated.ClassNames), make([]float64, 5)
				for k := range off {
					off[k] = sd * r.NormFloat64()
				}
				ms, films, b := based(t, r, class, off)
				for k, m := range ms {
					blind.Score(&all[0], class, m.BaseFog, films[k].Base, blind.Apart)
					blind.Score(&all[1], class, m.SpeedPoint, films[k].SpeedPoint()+b.Faint(), blind.Apart)
					blind.Score(&all[2], class, m.ContrastIndex, films[k].ContrastIndex(), blind.Apart)
				}
				strips, every := toBlame(ms)
				if len(strips) > 0 {
					named++
				}
				if every || len(strips) > 0 {
					told++
				}
			}
			text := blind.TallyHead
			for k, name := range names {
				text += all[k].Table(name)
				checkStrips(t, name, 5, &all[k])
			}
			assert.Less(t, all[0].All().RMS(), 0.0055, "rms error of base plus fog")
			share := float64(told) / float64(n)
			assert.GreaterOrEqual(t, share, said[0], "share of trials of which it is said")
			assert.LessOrEqual(t, share, said[1], "share of trials of which it is said")
			assert.LessOrEqual(t, named, n/4, "trials of which one strip is named")
			t.Logf("said of %d of %d, one strip named in %d\n%s", told, n, named, text)
		})
	}
}

// One strip of another base is named, and no other.
func TestBlindOddBase(t *testing.T) {
	t.Parallel()
	right, wrong, n := 0, 0, 24*blind.Effort(t)
	for i := range n {
		r := rand.New(rand.NewPCG(uint64(i), 212))
		off := make([]float64, 8)
		odd := r.IntN(len(off))
		off[odd] = 0.06
		ms, _, _ := based(t, r, i%len(simulated.ClassNames), off)
		strips, _ := toBlame(ms)
		for _, k := range strips {
			if k == odd {
				right++
			} else {
				wrong++
			}
		}
	}
	t.Logf("of %d strips of another base %d named, and %d others", n, right, wrong)
	assert.Greater(t, right, n*2/3)
	assert.Zero(t, wrong)
}
