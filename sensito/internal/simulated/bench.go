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
}

// Bench draws a bench.
func (p Practice) Bench(r *rand.Rand) Bench {
	return Bench{Lamp: Between(r, -0.5, 1.5), Reversed: r.IntN(2) == 0, BaseRead: p.BaseRead[r.IntN(len(p.BaseRead))], Kit: p.Kit}
}

// Faint returns the log exposure of the faint end, where films count from.
func (b Bench) Faint() float64 { return b.Lamp - wedgeThin - b.Reach() }

func (b Bench) exposures(t testing.TB) sensito.Exposures {
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
		return sensito.Density(math.Max(0, math.Round((d+b.Noise*r.NormFloat64())*100)/100))
	}
	s := sensito.StripSpec{Minutes: 8, Process: Tank}
	for i := range b.Steps {
		if !b.Reversed { // the thin end gives most exposure
			i = b.Steps - 1 - i
		}
		s.Density = append(s.Density, reading(base+net(float64(i)*b.Step)))
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
		Exposures: b.exposures(t), Strips: strips})
	require.NoError(t, err)
	return trial
}
