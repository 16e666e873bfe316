package sensito

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// JCGM 100:2008, G.4.1, example: a product of three inputs, known from 10, 5 and
// 15 readings to 0.25 %, 0.57 % and 0.82 %, is known to 1.03 % with 19.0
// effective degrees of freedom. Parts may be joined one after the other.
var gumProduct = []struct{ percent, dof float64 }{{0.25, 9}, {0.57, 4}, {0.82, 14}}

const gumPercent, gumDoF = 1.03, 19.0

// JCGM 100:2008, H.1.6: the parts of an end gauge's length, in nm.
var gumGauge = []struct{ nm, dof float64 }{{25, 18}, {9.7, 25.6}, {2.9, 50}, {16.6, 2}}

func TestWelchOfDifferences(t *testing.T) {
	// Differences of differences, each of nothing known but its error.
	joined := &Estimate[float64]{Value: 1, StdErr: gumProduct[0].percent, DoF: gumProduct[0].dof}
	for _, part := range gumProduct[1:] {
		joined = less(&Estimate[float64]{Value: 3, StdErr: part.percent, DoF: part.dof}, joined, 1)
	}
	assert.InDelta(t, gumPercent, joined.StdErr, 0.005)
	assert.InDelta(t, gumDoF, joined.DoF, 0.05)

	joined = &Estimate[float64]{StdErr: gumGauge[3].nm, DoF: gumGauge[3].dof}
	for _, part := range gumGauge[:3] {
		joined = less(joined, &Estimate[float64]{StdErr: part.nm, DoF: part.dof}, 1)
	}
	assert.InDelta(t, 32, joined.StdErr, 0.5, "H.1.6, in nm")
	assert.InDelta(t, 16.7, joined.DoF, 0.5, "H.1.6, from rounded parts")

	// Whichever side is uncertain, it alone decides; a factor changes nothing.
	known, found := &Estimate[float64]{StdErr: 0, DoF: 7}, &Estimate[float64]{StdErr: 2, DoF: 3}
	assert.InDelta(t, 3, less(known, found, -3).DoF, 1e-12)
	assert.InDelta(t, 3, less(found, known, -3).DoF, 1e-12)
	assert.InDelta(t, 6, less(found, found, -3).StdErr/math.Sqrt2, 1e-12)
	assert.InDelta(t, 6, less(found, found, -3).DoF, 1e-12, "two alike: the sum of theirs")
}

// Times and speeds corrected twice, as the product is made of three parts.
func TestDegreesOfCorrectedTimes(t *testing.T) {
	minutes := &Estimate[Minutes]{Value: 10, StdErr: 0.1 * Minutes(gumProduct[0].percent), DoF: gumProduct[0].dof, Log: true}
	speed := &Estimate[Speed]{Value: 80, StdErr: 0.8 * Speed(gumProduct[0].percent), DoF: gumProduct[0].dof, Log: true}
	for _, part := range gumProduct[1:] {
		a := &Ageing{TimePercent: &Estimate[float64]{Value: 25, StdErr: 1.25 * part.percent, DoF: part.dof},
			SpeedStops: &Estimate[float64]{Value: -1, StdErr: part.percent / 100 / math.Ln2, DoF: part.dof}}
		minutes, speed = a.Minutes(minutes), a.Speed(speed)
	}
	assert.InEpsilon(t, 10*1.25*1.25, float64(minutes.Value), 1e-12)
	assert.InDelta(t, gumPercent, 100*float64(minutes.StdErr/minutes.Value), 0.005)
	assert.InDelta(t, gumDoF, minutes.DoF, 0.05)
	assert.InEpsilon(t, 20, float64(speed.Value), 1e-12)
	assert.InDelta(t, gumPercent, 100*float64(speed.StdErr/speed.Value), 0.005)
	assert.InDelta(t, gumDoF, speed.DoF, 0.05)

	// The interval of a time that is not symmetric goes further out by the
	// correction's own, at Student's t of its few strips: 2.776 of 4, any table.
	lopsided := &Estimate[Minutes]{Value: 10, StdErr: 1, DoF: 9, Log: true,
		Limits: func(float64) (Minutes, Minutes) { return 9, Minutes(math.Inf(1)) }}
	a := &Ageing{TimePercent: &Estimate[float64]{Value: 0, StdErr: 3, DoF: 4}}
	low, high := a.Minutes(lopsided).Interval(0.95)
	assert.InEpsilon(t, 10*math.Exp(-math.Hypot(math.Log(10./9), 2.776*0.03)), float64(low), 1e-4)
	assert.True(t, math.IsInf(float64(high), 1))
}

// An error that is known, such as a lamp's, joined with one found from readings:
// the gauge's first part found and the rest known.
func TestDegreesWithCommonError(t *testing.T) {
	e := Estimate[LogExposure]{Value: -2, StdErr: 3, DoF: 4}
	e.addCommon(4)
	assert.InDelta(t, 5, float64(e.StdErr), 1e-12)
	assert.InDelta(t, math.Pow(5, 4)/(math.Pow(3, 4)/4), e.DoF, 1e-9, "G.4.1, (G.2b)")
	e = Estimate[LogExposure]{StdErr: 0, DoF: 4}
	e.addCommon(0.02)
	assert.True(t, math.IsInf(e.DoF, 1), "nothing but what is known")

	// The same of a strip: as much again of a known error is four times the degrees.
	trial := stripOf(t, twoEmulsions, 0.01, 3).trial
	m, err := Measure(trial.Strips()[0], MeasureOptions{})
	require.NoError(t, err)
	own := m.SpeedPoint
	trial.exposures.commonSD = LogRange(own.StdErr)
	m, err = Measure(trial.Strips()[0], MeasureOptions{})
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt2*float64(own.StdErr), float64(m.SpeedPoint.StdErr), 1e-9)
	assert.InEpsilon(t, 4*own.DoF, m.SpeedPoint.DoF, 1e-9)
}

// Student's t between whole degrees of freedom is that of the next lower one
// (JCGM 100:2008, G.4.1); values of table G.2 there.
func TestStudentTable(t *testing.T) {
	for _, c := range []struct{ dof, want float64 }{
		{1, 12.71}, {2, 4.30}, {4, 2.78}, {4.9, 2.78}, {10, 2.23}, {16.7, 2.12}, {50, 2.01}, {math.Inf(1), 1.960},
	} {
		assert.InDelta(t, c.want, studentT(0.95, c.dof), 0.006, "%g degrees of freedom", c.dof)
	}
	assert.InDelta(t, 9.92, studentT(0.99, 2), 0.006)
}
