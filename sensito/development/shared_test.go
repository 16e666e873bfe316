package development_test

import (
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito"
	"sensito/sensito/compare"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/internal/simulated"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// askable is a family whose strips tell of other temperatures, agitation and
// dilution too.
func askable(t testing.TB) *development.Family {
	r := rand.New(rand.NewPCG(13, 3))
	e := simulated.WedgeOf(t, 0.45, 0.02)
	p := sensito.Process{TemperatureC: 20, Agitation: sensito.AgitationContinuous, Dilution: "1+19"}
	spec := sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: p, Exposures: e}
	strip := func(minutes, rate float64, change func(*sensito.Process)) {
		s := sensito.StripSpec{Minutes: sensito.Minutes(minutes), Process: p, BaseFog: []sensito.Density{0.12, 0.12}, Density: simulated.Readings(r, e, simulated.ModelFilm(simulated.GammaAt(rate*minutes)), 0.01)}
		change(&s.Process)
		spec.Strips = append(spec.Strips, s)
	}
	same := func(*sensito.Process) {}
	for _, minutes := range []float64{4, 5.5, 7.5, 10} {
		strip(minutes, 1, same)
	}
	strip(5, 1.45, func(p *sensito.Process) { p.TemperatureC = 24 })
	strip(4, 1.45, func(p *sensito.Process) { p.TemperatureC = 24 })
	strip(8, 0.85, func(p *sensito.Process) { p.Agitation = sensito.AgitationIntermittent })
	strip(10, 0.65, func(p *sensito.Process) { p.Dilution = "1+31" })
	trial, err := sensito.NewTrial(spec)
	require.NoError(t, err)
	f, err := development.NewFamily(trial, curve.MeasureOptions{})
	require.NoError(t, err)
	return f
}

// questions are asked of one family by many at once. Each answers in words that
// hold every number to the last digit.
func questions() []func(f *development.Family) string {
	words := func(values ...any) string { return fmt.Sprintf("%+v", values) }
	under := func(c development.Conditions) func(f *development.Family) string {
		return func(f *development.Family) string {
			p, err := scene.For(f, scene.Scene{Stops: 7})
			if err != nil {
				return err.Error()
			}
			ch, err := f.Under(c)
			if err != nil {
				return err.Error()
			}
			q, err := (&scene.Adjustment{Change: ch}).Adjust(p)
			if err != nil {
				return err.Error()
			}
			low, high := q.Minutes.Interval(0.95)
			return words(ch.Factor.Value, ch.Factor.StdErr, q.Minutes.Value, q.Minutes.StdErr, low, high, q.Warnings)
		}
	}
	aimed := func(s scene.Scene) func(f *development.Family) string {
		return func(f *development.Family) string {
			p, err := scene.For(f, s)
			if err != nil {
				return err.Error()
			}
			low, high := p.Minutes.Interval(0.95)
			return words(p.Minutes.Value, p.Minutes.StdErr, low, high, p.ExposureIndex.Value, p.ExposureIndex.StdErr, p.Delivered.Value, p.Delivered.StdErr, p.Warnings)
		}
	}
	return []func(f *development.Family) string{
		aimed(scene.Scene{Stops: 7}), aimed(scene.Scene{Stops: 6.5, DensityRange: 0.95}), aimed(scene.Scene{Stops: 7, ScanMax: 1.4}),
		under(development.Conditions{TemperatureC: new(23.0)}), under(development.Conditions{TemperatureC: new(18.5), EndC: new(19.5)}),
		under(development.Conditions{Agitation: sensito.AgitationIntermittent}), under(development.Conditions{Dilution: "1+31"}),
		under(development.Conditions{Dilution: "1+31", Agitation: sensito.AgitationIntermittent, TemperatureC: new(22.0)}),
		under(development.Conditions{Dilution: "1+24"}),
		func(f *development.Family) string {
			c, err := scene.NewCard(f, scene.Scene{})
			if err != nil {
				return err.Error()
			}
			text := words(c.Warnings())
			for _, row := range c.Rows {
				if row.Answer != nil {
					text += words(row.Answer.Minutes.Value, row.Answer.Minutes.StdErr)
				}
			}
			return text
		},
		func(f *development.Family) string {
			c, err := scene.NewCard(f, scene.Scene{})
			if err != nil {
				return err.Error()
			}
			table, err := c.Temperatures()
			if err != nil {
				return err.Error()
			}
			text := words(table.Warnings)
			for _, row := range table.Minutes {
				for _, m := range row {
					if m != nil {
						text += words(m.Value, m.StdErr)
					}
				}
			}
			return text
		},
		func(f *development.Family) string {
			r, err := scene.ForRoll(f, scene.Scene{}, []scene.Frame{{Name: "lamp", Stops: 7}, {Name: "stair", Stops: 5.5}})
			if err != nil {
				return err.Error()
			}
			return words(r.Minutes.Value, r.Minutes.StdErr, r.Frames[1].DensityRange.Value, r.Warnings)
		},
		func(f *development.Family) string {
			at, err := f.Along([]sensito.Minutes{5, 8})
			if err != nil {
				return err.Error()
			}
			return words(at[0].Contrast.Value, at[1].Speed.StdErr, at[1].BaseFog.Value)
		},
		func(f *development.Family) string {
			c, err := f.CurveAt(6)
			if err != nil {
				return err.Error()
			}
			return words(c.Density(-1), c.Slope(-1))
		},
		func(f *development.Family) string {
			p, err := testplan.Propose(f, scene.Scene{Stops: 7}, testplan.Options{Within: 0.02})
			if err != nil {
				return err.Error()
			}
			return words(p.Strips(), p.After().Value, p.After().StdErr, p.Warnings)
		},
		func(f *development.Family) string {
			c, err := compare.Compare([]*development.Family{f, f}, compare.Options{})
			if err != nil {
				return err.Error()
			}
			return words(c.Trials[0].Minutes.Value, c.Trials[0].Minutes.StdErr, len(c.Differences), c.Warnings)
		},
	}
}

// One family answers many at once, and each as though it were asked alone.
func TestFamilyIsShared(t *testing.T) {
	t.Parallel()
	asked := questions()
	want := make([]string, len(asked))
	for i, q := range asked {
		want[i] = q(askable(t)) // of a family that was asked nothing else
	}
	rounds := 4
	if testing.Short() {
		rounds = 2
	}
	f := askable(t)
	got := make([][]string, rounds)
	var all sync.WaitGroup
	for k := range got {
		got[k] = make([]string, len(asked))
		for i, q := range asked {
			all.Go(func() { got[k][i] = q(f) })
		}
	}
	all.Wait()
	for k := range got {
		for i := range asked {
			assert.Equal(t, want[i], got[k][i], "question %d", i)
		}
	}
}
