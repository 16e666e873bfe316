package simulated

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito"
)

// wedgeThin is the density of the thin end of every wedge.
const wedgeThin = 0.05

// Bench is how a film is exposed and read.
type Bench struct {
	Lamp     float64 // log10 lux seconds with nothing in between
	Reversed bool    // the wedge is read from its dense end
	BaseRead int     // how often base plus fog is read
	Kit

	Off    []float64                                           // by how much more each step is exposed than its wedge says, from the faint end; nil for exact
	Reader func(r *rand.Rand, density float64) sensito.Density // in place of a densitometer; nil for one
}

// Bench draws a bench.
func (p Practice) Bench(r *rand.Rand) Bench {
	return Bench{Lamp: Between(r, -0.5, 1.5), Reversed: r.IntN(2) == 0, BaseRead: p.BaseRead[r.IntN(len(p.BaseRead))], Kit: p.Kit}
}

// Faint returns the log exposure of the faint end, where films count from.
func (b Bench) Faint() float64 { return b.Lamp - wedgeThin - b.Reach() }

// Exposures returns those of the steps of the wedge.
func (b Bench) Exposures(t testing.TB) sensito.Exposures {
	wedge := sensito.EvenWedge(wedgeThin, sensito.Density(b.Step), b.Steps)
	if b.Reversed {
		wedge = sensito.EvenWedge(sensito.Density(wedgeThin+b.Reach()), -sensito.Density(b.Step), b.Steps)
	}
	e, err := sensito.NewContact(math.Pow(10, b.Lamp), 1, wedge)
	require.NoError(t, err)
	return e
}

// Read returns a strip of a film as it is read, developed for 8 minutes in Tank.
func (b Bench) Read(r *rand.Rand, f Film) sensito.StripSpec { return b.ReadFilm(r, f.Base, f.Net) }

// ReadFilm reads a film of any form, given its base and its net density.
func (b Bench) ReadFilm(r *rand.Rand, base float64, net func(x float64) float64) sensito.StripSpec {
	reading := func(d float64) sensito.Density {
		if b.Reader != nil {
			return b.Reader(r, d)
		}
		return sensito.Density(math.Max(0, math.Round((d+b.Noise*r.NormFloat64())*100)/100))
	}
	s := sensito.StripSpec{Minutes: 8, Process: Tank}
	for i := range b.Steps {
		if !b.Reversed { // the thin end gives most exposure
			i = b.Steps - 1 - i
		}
		x := float64(i) * b.Step
		if b.Off != nil {
			x += b.Off[i]
		}
		s.Density = append(s.Density, reading(base+net(x)))
	}
	for range b.BaseRead {
		s.BaseFog = append(s.BaseFog, reading(base))
	}
	return s
}

// Tank is the process of blind strips.
var Tank = sensito.Process{Developer: "Brinewater", Dilution: "1+19", TemperatureC: 20}

// Trial returns the strips as a trial of the exposures of the bench.
func (b Bench) Trial(t testing.TB, strips ...sensito.StripSpec) *sensito.Trial {
	trial, err := sensito.NewTrial(sensito.TrialSpec{Film: sensito.Film{Name: "Larkfield 125"}, Process: Tank,
		Exposures: b.Exposures(t), Strips: strips})
	require.NoError(t, err)
	return trial
}
