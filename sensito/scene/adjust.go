package scene

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// atAim is what strips measured of a change of conditions, by its parts, for the density rise over the scene, with the time
// of the answer.
func (p *Answer) atAim(conditions []sensito.Condition) (fit.Derived, error) {
	if p.alone != nil {
		p = p.alone.answer
	}
	d, _, err := p.parts.Of(conditions, func() (fit.Derived, float64, error) {
		tb := p.tableOf(p.Family.With(conditions...))
		fog := tb.Trend(curve.ColumnFog, tb.Rows, development.Fogging, p.Family.Fog.Degree())
		law, err := tb.Grow(ColumnRise, tb.Rows, p.Growth)
		if err != nil {
			return fit.Derived{}, 0, err
		}
		inflate := map[int]float64{ColumnRise: law.Scatter, curve.ColumnSpeedPoint: p.Family.SpeedPoints.Scatter}
		d, err := tb.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
			g, err := tb.Grow(ColumnRise, rows, law)
			if err != nil {
				return nil, err
			}
			fog := tb.TrendLike(curve.ColumnFog, rows, fog)
			t, _, err := p.Scene.TimeFor(g.Time, func(m float64) float64 { return fog.At(development.Fogging(m)) }, p.Aim)
			if err != nil {
				return nil, err
			}
			return tb.Parts(rows, ColumnRise, g, math.Log(t), conditions)
		})
		return d, tb.DoF, err
	})
	return d, err
}

// Adjust brings an answer of the trial to today. What strips measured of a change of
// conditions is taken together with the law that gives the time, since both rest
// on the same strips. The film is brought to the same contrast, so densities are as
// in the trial; where times and speeds are corrected, the speed point, where the
// tones land and base plus fog are too. Extrapolated tells of the time of the trial.
// Nil returns p itself, which is left as it is in any case. The error is for strips of
// another condition that do not compare with the law of this scene.
func (a *Adjustment) Adjust(p *Answer) (*Answer, error) {
	if a == nil {
		return p, nil
	}
	out := *p
	out.Today = a
	if ch := a.Change; ch != nil {
		ln, sd := math.Log(p.Base.Minutes), p.Base.Total
		if ch.Measured() {
			d, err := p.atAim(ch.MeasuredConditions())
			if err != nil {
				return nil, err
			}
			ln, sd = p.alone.told(ch.Moved(d))
		}
		lnKnown, sdKnown, dofKnown := ch.Known()
		out.AsTested = p
		out.Minutes = p.Base.Estimate(math.Exp(ln+lnKnown), sd, sdKnown, dofKnown)
		out.know(timeUnder(ch))
		out.Warnings = append(ofTrial(out.stillShort(p.Warnings)), ch.Warnings...)
	}
	if a.Corrects() {
		was := out
		out.Uncorrected = &was
		out.Minutes = *a.Drift.Minutes(&was.Minutes)
		if p.alone == nil {
			out.ExposureIndex = a.Drift.Speed(was.ExposureIndex)
		}
		out.know(a.Drift.time())
		out.SpeedPoint, out.BaseFog = a.Drift.SpeedPoint(was.SpeedPoint), a.Drift.BaseFog(was.BaseFog)
		slower := out.SpeedPoint.Value.Sub(was.SpeedPoint.Value)
		for i := range out.Tones {
			out.Tones[i].Film = out.Tones[i].Film.Add(slower)
		}
		for i := range out.Ends {
			out.Ends[i].Film = out.Ends[i].Film.Add(slower)
		}
		out.Warnings = append(ofTrial(out.stillShort(was.Warnings)), a.Drift.scanned(p.Scene)...)
	}
	return &out, nil
}

// roll brings a roll of the trial to today; see Adjust.
func (a *Adjustment) roll(r *Roll) *Roll {
	if a == nil {
		return r
	}
	out := *r
	out.Today = a
	if ch := a.Change; ch != nil {
		out.AsTested = r
		out.Minutes = *ch.Minutes(&r.Minutes)
		out.Frames = out.givenTime(timeUnder(ch))
		out.Warnings = append(ofTrial(stillShort(r.Warnings, out.Minutes.Value)), ch.Warnings...)
	}
	if a.Corrects() {
		was := out
		out.Uncorrected = &was
		out.Minutes, out.ExposureIndex = *a.Drift.Minutes(&was.Minutes), a.Drift.Speed(was.ExposureIndex)
		out.Frames = out.givenTime(a.Drift.time())
		out.Warnings = append(ofTrial(stillShort(was.Warnings, out.Minutes.Value)), a.Drift.scanned(r.Scene)...)
		for i := range out.Frames {
			if f := &out.Frames[i]; f.EV != nil {
				f.EV = new(f.Metering.Exposure(out.ExposureIndex.Value))
			}
		}
	}
	return &out
}
