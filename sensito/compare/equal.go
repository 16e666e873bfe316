package compare

import (
	"fmt"
	"math"

	vec "gonum.org/v1/gonum/floats"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// findShape takes the curve at the gradient and the quantities of its form. The
// strips vary one after the other, each along every direction of its own error.
func (t *Compared) findShape() error {
	p := t.Answer
	over, aim := p.Placement().Run(), p.DensityRange
	var strips []*curve.Measured
	var curves []scaled
	for _, m := range t.Family.Strips {
		s, err := scaleTo(m.Fit.Curve, over, aim)
		if err != nil {
			continue // which the answer has told
		}
		strips, curves = append(strips, m), append(curves, s)
	}
	if len(curves) < min(2, len(t.Family.Strips)) {
		return &sensito.Unanswerable{
			Reason: fmt.Sprintf("scaled to this gradient, %d of %d strips reach the lightest tone of a scene of %g stops, %.2f log H above the speed point",
				len(curves), len(t.Family.Strips), math.Round(100*p.Scene.Stops)/100, float64(p.RunEnd())),
			Hint: "compare for a scene of fewer stops",
		}
	}
	mean := equalised(curves)
	t.Curve, t.Reach = mean.placed(t.SpeedPoint.Value, p.Tested().BaseFog.Value), mean.hi

	var tones []sensito.LogRange
	for n := scene.LowestTone; n <= scene.HighestTone && p.Placement().Above(float64(n)) <= mean.hi+scene.Reach; n++ {
		tones = append(tones, p.Placement().Above(float64(n)))
	}
	at := shapeMarksOf(mean)
	values := shapeOf(mean, at, tones)
	all := fit.Derived{Values: values}
	pool, dof := development.NewPool(strips), 0.0
	own := make([]fit.Derived, len(strips)) // the tones of each strip alone
	var directions development.Directions
	var numbers [][]int
	for j, m := range strips {
		varied := append([]scaled(nil), curves...)
		d, err := curve.DeriveAll(m.Fit, func(c curve.Curve) ([]float64, error) {
			s, err := scaleTo(c, over, aim)
			if err != nil {
				return nil, err
			}
			varied[j] = s
			out := shapeOf(equalised(varied), at, tones)
			for _, r := range tones {
				net, _ := s.at(r)
				out = append(out, net)
			}
			return out, nil
		})
		if err != nil {
			return err
		}
		d = pool.Widened(m, d)
		numbers = append(numbers, directions.Of(m, len(d.Moves)))
		for k, at := range numbers[j] {
			for at >= len(all.Moves) {
				all.Moves = append(all.Moves, make([]float64, len(values)))
			}
			vec.Add(all.Moves[at], d.Moves[k][:len(values)])
		}
		own[j] = d.From(len(values))
		dof += m.Fit.DoF
	}
	t.form = formMoves(all.Moves, strips, numbers)
	if first := strips[0].Fit; first.Together != nil {
		t.take(all, first.DoF, tones, form{})
	} else {
		scatter, strands := shapeScatter(mean, own)
		t.take(all.Widened(scatter), fit.ScatterDoF(scatter, strands, dof), tones, form{formPlace, formGradient, formDensity})
	}
	t.tellShape(mean)
	return nil
}

// shapeScatter returns how many times more the strips, scaled to one gradient,
// scatter about their mean than their readings explain (see fit.Scatter), and the
// degrees of freedom of that. The densities at the tones stand for the curve;
// they are of few independent parts, so their mean counts.
func shapeScatter(c equalCurve, own []fit.Derived) (scatter float64, dof int) {
	x := make([]float64, len(own))
	for j, s := range c.strips {
		x[j] = math.Log(s.by)
	}
	degree := min(1, len(fit.Distinct(x))-1)
	dof = len(own) - degree - 1
	sum, n := 0.0, 0.0
	for i := range own[0].Values {
		y, sd := make([]float64, len(own)), make([]float64, len(own))
		for j, d := range own {
			y[j], sd[j] = d.Values[i], d.SD(i)
		}
		const pinned = 1e-4 // at the speed point all strips agree by definition
		if v := sd[0]; v > pinned && !math.IsNaN(v) {
			sum += fit.TrendOfDegree(x, y, sd, degree).Chi2
			n++
		}
	}
	if n == 0 {
		return 1, dof
	}
	if dof == 0 {
		return development.UncheckedScatter, dof
	}
	return fit.Scatter(sum/n, dof), dof
}

// By how much the form of a curve fitted to one strip alone errs whatever the
// readings say, since grains of many speeds round its corners otherwise
// (TestExactShapesAreNoSurer). The errors of strips fitted together count that
// already, and what strips scatter by as well (TestCompareTruth,
// TestCompareTruthOfTwoStrips).
const (
	formPlace    sensito.LogRange   = 0.03 // of toe and shoulder
	formGradient                    = 0.005
	formDensity  sensito.NetDensity = 0.002
)

// form is by how much the form of a curve errs beside its readings.
type form struct {
	place    sensito.LogRange
	gradient float64
	density  sensito.NetDensity
}

// take sets the quantities.
func (t *Compared) take(d fit.Derived, dof float64, tones []sensito.LogRange, errs form) {
	t.ToeLength = taken(d, shapeToe, dof, errs.place)
	t.ShadowGradient = taken(d, shapeShadow, dof, errs.gradient)
	t.Straightness = taken(d, shapeStraight, dof, errs.density)
	t.ShoulderStart = taken(d, shapeShoulder, dof, errs.place)
	t.UsableRange = taken(d, shapeUsable, dof, errs.place)
	t.MaxDensity = taken(d, shapeMax, dof, errs.density)
	for n := scene.LowestTone; n <= scene.HighestTone; n++ {
		tone := scene.Tone{Stops: float64(n)}
		if i := n - scene.LowestTone; i < len(tones) {
			density := errs.density
			if math.Abs(float64(tones[i])) < development.LeastSD { // the speed point's, by definition
				density = 0
			}
			tone.NetDensity = taken(d, shapeTones+i, dof, density)
		}
		t.Tones = append(t.Tones, tone)
	}
}

// taken returns a quantity with the error of the form added, nil where the
// curve does not have it.
func taken[Q ~float64](d fit.Derived, i int, dof float64, form Q) *sensito.Estimate[Q] {
	v, sd := d.Values[i], d.SD(i)
	if math.IsNaN(v) || math.IsNaN(sd) {
		return nil
	}
	e := &sensito.Estimate[Q]{Value: Q(v), StdErr: Q(sd), DoF: dof}
	e.AddCommon(sensito.LogRange(form))
	return e
}

// tellShape says why quantities of the form are missing, and which lean on the
// curve beyond the exposures.
func (t *Compared) tellShape(c equalCurve) {
	if l, ok := lineOf(c); !ok {
		t.Warnings.Add("wedge_too_short", float64(lineTo))
	} else if over := l.to - c.hi; over > 0.005 {
		t.Warnings.Add("extrapolated", float64(over))
	}
	if t.ToeLength == nil {
		t.Warnings.Add("toe_not_shown")
	}
	if t.UsableRange == nil {
		t.Warnings.Add("no_shoulder", float64(c.hi))
	}
	if t.MaxDensity == nil {
		n, _ := c.net(c.hi)
		t.Warnings.Add("no_max_density", n)
	}
}
