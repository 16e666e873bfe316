package control_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/internal/blind"
	"sensito/sensito/internal/simulated"
)

// process is how far a process is from that of the trial: it does in t what that
// does in t exp(rate), with film that is faster by stops and has more fog.
type process struct{ rate, stops, fog float64 }

func (p process) film(d simulated.Developing, minutes float64) simulated.Film {
	f := d.At(minutes * math.Exp(p.rate)).Moved(-p.stops * math.Log10(2))
	f.Base += p.fog
	return f
}

// change is a kind of fault, drawn anew for each log.
type change struct {
	name string
	draw func(r *rand.Rand) process
}

var controlChanges = []change{
	{"steady", func(r *rand.Rand) process { return process{} }},
	{"slowed", func(r *rand.Rand) process { return process{rate: -simulated.Between(r, 0.08, 0.30)} }},
	{"lost speed", func(r *rand.Rand) process { return process{stops: -simulated.Between(r, 0.15, 0.60)} }},
	{"fogged", func(r *rand.Rand) process { return process{fog: simulated.Between(r, 0.03, 0.12)} }},
	{"all at once", func(r *rand.Rand) process {
		return process{simulated.Between(r, -0.30, 0.15), simulated.Between(r, -0.50, 0.30), simulated.Between(r, 0, 0.10)}
	}},
}

// bath is a process whose control strips scatter, by one standard deviation.
type bath struct {
	reading float64 // of a patch, before rounding
	rate    float64 // of the rate from strip to strip
	lamp    float64 // of the exposure of a strip, log H
	step    float64 // that patches are rounded to
}

// footing is what a blind log rests on.
type footing int

const (
	ownLimits    footing = iota // an aim, the mean of ten strips, and limits of three standard deviations
	firstTwelve                 // neither: its first strips
	firstStrips                 // an aim and a stated repeatability; all strips, three at most, after the change
	firstUnknown                // the same without a repeatability
	footings
)

// controlLog develops control strips of a blind film: the first half in the
// trial's process, the others after a step or a drift to one that has changed,
// rate, speed and fog each in its own way.
func (b bath) controlLog(t testing.TB, r *rand.Rand, d simulated.Developing, change process, on footing) *control.Log {
	strips, right := 28, 14
	if on >= firstStrips {
		b = bath{reading: 0.01 * math.Exp(r.NormFloat64()/4), step: 0.01}
		strips, right = 1+r.IntN(3), 0
	}
	minutes := math.Round(4*simulated.Between(r, d.Minutes[1], d.Minutes[3])) / 4
	fresh := process{}.film(d, minutes)
	net := simulated.Between(r, 0.20, 0.45)
	low := simulated.Bisect(-8, 8, func(x float64) float64 { return fresh.Net(x) - net })
	high := low + simulated.Between(r, 0.9, 1.5)
	patches := func(p process) [3]float64 {
		p.rate += b.rate * r.NormFloat64()
		f := p.film(d, minutes)
		lamp := b.lamp * r.NormFloat64()
		return [3]float64{f.Base + b.reading*r.NormFloat64(), f.Density(low+lamp) + b.reading*r.NormFloat64(), f.Density(high+lamp) + b.reading*r.NormFloat64()}
	}
	of := func(d [3]float64, step float64) control.Patches {
		round := func(v float64) sensito.Density { return sensito.Density(math.Max(0, math.Round(v/step)*step)) }
		return control.Patches{BaseFog: round(d[0]), Low: round(d[1]), High: round(d[2])}
	}
	spec := control.LogSpec{Minutes: sensito.Minutes(minutes), Gradient: (fresh.Net(low+1e-3) - fresh.Net(low-1e-3)) / 2e-3}
	if on != firstTwelve {
		var sum [3]float64
		const n = 10
		for range n {
			for i, v := range patches(process{}) {
				sum[i] += v / n
			}
		}
		aim := of(sum, 0.001)
		spec.Aim, spec.AimStrips = &aim, n
	}
	rounding := b.step * b.step / 12
	switch on {
	case ownLimits:
		var squares [3]float64 // of base plus fog, low and difference
		const many = 400
		for range many {
			p := patches(process{})
			for i, v := range []float64{p[0] - fresh.Base, p[1] - fresh.Density(low), p[2] - p[1] - fresh.Density(high) + fresh.Density(low)} {
				squares[i] += v * v / many
			}
		}
		limit := func(v float64) sensito.Density { return sensito.Density(3 * math.Sqrt(v)) }
		spec.Tolerances = control.Tolerances{BaseFog: limit(squares[0] + rounding), Low: limit(squares[1] + rounding), Difference: limit(squares[2] + 2*rounding)}
	case firstStrips:
		spec.Repeatability = sensito.Density(math.Sqrt(b.reading*b.reading + rounding))
	}
	drifts := [3]bool{r.IntN(2) == 0, r.IntN(2) == 0, r.IntN(2) == 0}
	date := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	for i := range strips {
		share := func(drifts bool) float64 {
			switch {
			case i < right:
				return 0
			case drifts && right > 0:
				return float64(i-right+1) / float64(strips-right)
			}
			return 1
		}
		p := process{change.rate * share(drifts[0]), change.stops * share(drifts[1]), change.fog * share(drifts[2])}
		spec.Strips = append(spec.Strips, control.Strip{Date: date.AddDate(0, 0, 3*i).Format(time.DateOnly), Patches: of(patches(p), b.step)})
	}
	l, err := control.NewLog(spec)
	require.NoError(t, err)
	return l
}

// Logs of films of six forms that are not fitted, in processes that lost rate,
// speed or clean base, or some of each: the intervals of what is told apart
// cover, and a process that changed in one has not changed in the others.
func TestBlindControl(t *testing.T) {
	t.Parallel()
	baths := []bath{{reading: 0.01, step: 0.01}, {reading: 0.006, rate: 0.015, lamp: 0.01, step: 0.01}, {reading: 0.004, step: 0.001}}
	type told struct{ percent, speed, unchanged, fog, slope blind.Tallies }
	all := make([]told, len(controlChanges))
	var on [footings]blind.Tallies
	untold := 0
	for i := range 24 * blind.Effort(t) {
		r := rand.New(rand.NewPCG(uint64(i), 5))
		class := i % len(simulated.ClassNames)
		d, _, family := blind.Family(t, simulated.Ordinary, r, class)
		for k, ch := range controlChanges {
			p := ch.draw(r)
			log := baths[i/len(simulated.ClassNames)%len(baths)].controlLog(t, r, d, p, footing((i+k)%int(footings)))
			c, err := log.Evaluate(control.Options{Family: family})
			require.NoError(t, err)
			for _, w := range c.Warnings {
				if w.Code == "no_change_told" || w.Code == "high_beyond_trial" {
					untold++
				}
			}
			now := float64(log.Minutes())
			moved := (d.At(now).SpeedPoint() - p.film(d, now).SpeedPoint()) / math.Log10(2)
			blind.Score(&all[k].percent, class, c.TimePercent, 100*math.Expm1(-p.rate), blind.Apart)
			blind.Score(&all[k].speed, class, c.SpeedStops, p.stops, blind.Apart)
			blind.Score(&all[k].unchanged, class, c.SpeedUnchanged, moved, blind.Apart)
			blind.Score(&on[(i+k)%int(footings)], class, c.TimePercent, 100*math.Expm1(-p.rate), blind.Apart)
			blind.Score(&on[(i+k)%int(footings)], class, c.SpeedStops, p.stops, blind.Apart)
			g, err := log.Evaluate(control.Options{})
			require.NoError(t, err)
			blind.Score(&all[k].slope, class, g.SpeedStops, p.stops, blind.Apart)
			blind.Score(&all[k].fog, class, c.Fog, p.fog, blind.Apart)
		}
	}
	for k, ch := range controlChanges {
		a := &all[k]
		t.Logf("%s\n%s%s%s%s%s", ch.name, blind.TallyHead, a.percent.Table("percent of time"), a.speed.Table("stops of speed"), a.unchanged.Table("at this time"), a.fog.Table("fog")+a.slope.Table("by the gradient"))
		for name, a := range map[string]*blind.Tallies{"percent of time": &a.percent, "stops of speed": &a.speed, "stops at this time": &a.unchanged, "fog": &a.fog, "stops by the gradient": &a.slope} {
			blind.CheckCoverageUpTo(t, 1, ch.name+": "+name, a) // by the film's trial, whose strips repeat exactly
			assert.LessOrEqual(t, float64(a.All().Missing), 0.005*float64(a.All().N), "%s: %s not told", ch.name, name)
		}
	}
	for k, name := range []string{"limits", "first twelve", "first strips", "first strips, usual repeatability"} {
		t.Logf("%s\n%s", name, on[k].Table("percent and stops"))
		blind.CheckCoverage(t, "percent and stops by "+name, &on[k])
	}
	t.Logf("%d logs with a change not told or told in proportion", untold)
}
