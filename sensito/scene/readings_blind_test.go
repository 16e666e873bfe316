package scene_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"sensito/sensito"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
)

// ofMeter reads a film by a light meter to a part of a stop, over a light that is read
// before and after; it repeats to 0.03 to 0.07 EV, which is not stated.
func (d *foreign) ofMeter(r *rand.Rand, part float64) {
	light, repeats := simulated.Between(r, 11, 13), simulated.Between(r, 0.03, 0.07)
	read := func(r *rand.Rand, ev float64) float64 {
		return math.Round((ev+repeats*r.NormFloat64())/part) * part
	}
	d.reading = sensito.Reading{Unit: sensito.UnitEV, ReadsTo: part, OpenEV: []float64{read(r, light), read(r, light)}}
	bare := max(d.reading.OpenEV[0], d.reading.OpenEV[1], light)
	d.Reader = func(r *rand.Rand, density float64) sensito.Density {
		ev := read(r, light-density/float64(sensito.Stop))
		if part > 0.2 { // thirds are written so
			ev = math.Round(10*ev) / 10
		}
		return sensito.Density(min(ev, bare-part))
	}
}

// byEye matches a film to half a step of a tablet of 0.10, which is within 0.02 of what
// it is said to be at each step; the eye repeats to 0.15 to 0.25 step, which is not stated.
func (d *foreign) byEye(r *rand.Rand) {
	said := sensito.EvenWedge(0.05, 0.10, 31)
	d.reading = sensito.Reading{Unit: sensito.UnitStep, Tablet: said, TabletSD: 0.02}
	is := d.reading
	is.Tablet = nil
	last := sensito.Density(-1)
	for _, s := range said { // which rises
		last = max(last+0.01, s+sensito.Density(0.02*r.NormFloat64()))
		is.Tablet = append(is.Tablet, last)
	}
	repeats := simulated.Between(r, 0.15, 0.25)
	d.Reader = func(r *rand.Rand, density float64) sensito.Density {
		step := float64(is.AsRead(sensito.Density(density))) + repeats*r.NormFloat64()
		return sensito.Density(min(max(math.Round(2*step)/2, 1), float64(len(said))))
	}
}

// wedged exposes a film through a wedge without a certificate.
func (d *foreign) wedged(r *rand.Rand, sd float64) {
	d.wedgeSD, d.Off = sd, make([]float64, d.Steps)
	for i := range d.Off {
		d.Off[i] = sd * r.NormFloat64()
	}
}

// Films of forms that are not fitted, read without a densitometer, or exposed through a
// wedge without a certificate: what is told covers the truth. It is the test of what one
// reading by a meter or by eye is taken to repeat to, and of the errors that all strips
// have alike.
func TestBlindReadings(t *testing.T) {
	t.Parallel()
	classes := []struct {
		name   string
		strips int
		read   func(d *foreign, r *rand.Rand)
	}{
		{"densitometer", 5, func(*foreign, *rand.Rand) {}},
		{"meter to 1/10 stop", 5, func(d *foreign, r *rand.Rand) { d.ofMeter(r, 0.1) }},
		{"meter to 1/3 stop", 5, func(d *foreign, r *rand.Rand) { d.ofMeter(r, 1.0/3) }},
		{"by eye to half a step", 5, func(d *foreign, r *rand.Rand) { d.byEye(r) }},
		{"wedge within 0.02", 5, func(d *foreign, r *rand.Rand) { d.wedged(r, 0.02) }},
		{"wedge within 0.05", 5, func(d *foreign, r *rand.Rand) { d.wedged(r, 0.05) }},
		{"wedge within 0.05, 2 strips", 2, func(d *foreign, r *rand.Rand) { d.wedged(r, 0.05) }},
		{"wedge within 0.05, 1 strip", 1, func(d *foreign, r *rand.Rand) { d.wedged(r, 0.05) }},
	}
	names := []string{"time", "index", "delivered", "tone -3", "tone 0"}
	pooled := make([]blind.Tally, len(names))
	text := ""
	for k, c := range classes {
		all := make([]blind.Tally, len(names))
		for i := range 10 * blind.Effort(t) {
			r := rand.New(rand.NewPCG(uint64(i), uint64(3100+k)))
			d := newForeign(r, i%len(foreignForms), [2]float64{0.45, 0.75})
			c.read(&d, r)
			const stops = 7
			lit := simulated.Normally(stops)
			repeatable := d
			repeatable.scatter = 0
			short := func(m float64) float64 { return repeatable.developed(r, m).spans(lit) - 1.05 }
			right := simulated.Bisect(1, 40, short)
			if right < d.minutes[0] || right > d.minutes[4] {
				continue
			}
			switch c.strips {
			case 1:
				d.minutes = d.minutes[2:3]
			case 2:
				d.minutes = []float64{d.minutes[0], d.minutes[4]}
			}
			point := repeatable.developed(r, right).speedPoint()
			p, err := scene.For(d.family(t, r), scene.Scene{Stops: stops})
			if err != nil {
				all[0].Missing++
				continue
			}
			d.judge(r, p, all, lit, right, point)
		}
		text += fmt.Sprintf("\n%-28s n %3d miss %2d ", c.name, all[0].N, all[0].Missing)
		for j, a := range all {
			text += fmt.Sprintf("| %+.4f %.4f %5.1f ", a.Bias(), a.RMS(), 100*a.Coverage())
			pooled[j].N, pooled[j].Covered = pooled[j].N+a.N, pooled[j].Covered+a.Covered
			// 92 of 100 in every class, and 3.3 standard deviations of the count of few:
			// there are 40 of them.
			allow := 3.3 * math.Sqrt(0.95*0.05/float64(a.N))
			assert.GreaterOrEqual(t, a.Coverage(), math.Min(0.92, 0.95-allow), "%s of %s", names[j], c.name)
		}
		assert.LessOrEqual(t, float64(all[0].Missing), 0.2*float64(all[0].N+all[0].Missing), "without an answer, %s", c.name)
	}
	t.Logf("bias, rms and coverage of %v%s", names, text)
	for j, a := range pooled {
		t.Logf("%-10s n %d covers %.1f", names[j], a.N, 100*a.Coverage())
		assert.GreaterOrEqual(t, a.Coverage(), 0.95-math.Max(0.02, 2.5*math.Sqrt(0.95*0.05/float64(a.N))), names[j])
	}
}

// Films that are read by eye have no index that is low as a rule: which marks a reading has
// the errors of is told by the curves of all strips. By those of single strips the bias is
// 0.06 stop here, by those of all 0.02, of 400 films each.
func TestMarksByAllStrips(t *testing.T) {
	t.Parallel()
	var all blind.Tally
	for i := range 64 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 3103))
		d := newForeign(r, i%len(foreignForms), [2]float64{0.45, 0.75})
		d.byEye(r)
		// The tablet is what it is said to be, so that chance has less of a part.
		is := d.reading
		d.Reader = func(r *rand.Rand, density float64) sensito.Density {
			step := float64(is.AsRead(sensito.Density(density))) + 0.2*r.NormFloat64()
			return sensito.Density(min(max(math.Round(2*step)/2, 1), float64(len(is.Tablet))))
		}
		lit := simulated.Normally(7)
		repeatable := d
		repeatable.scatter = 0
		right := simulated.Bisect(1, 40, func(m float64) float64 { return repeatable.developed(r, m).spans(lit) - 1.05 })
		point := repeatable.developed(r, right).speedPoint()
		p, err := scene.For(d.family(t, r), scene.Scene{Stops: 7})
		if err != nil {
			all.Missing++
			continue
		}
		blind.Judge(&all, p.ExposureIndex, 8.125/(16*math.Pow(10, point+d.Faint())), blind.InStops, math.NaN())
	}
	t.Logf("index by eye: bias %+.3f, rms %.3f, covers %.1f of %d, %d without", all.Bias(), all.RMS(), 100*all.Coverage(), all.N, all.Missing)
	assert.InDelta(t, 0, all.Bias(), 0.045, "stops")
	assert.LessOrEqual(t, all.Missing, 3)
}
