package keyed

import (
	"math"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// course returns the strip of a desk as it is drawn. Of a step that has no reading, on the
// strip or questioned, it tells nothing.
func (s *Strip) course(d *Desk, l Look) plot.Keyed {
	trial := s.Trial()
	strip := trial.Strips()[s.Number()-1]
	k := plot.Keyed{Strip: strip, Curve: entry.Smooth(trial, strip.Spec()), Judged: s.judgedReading(d, l)}
	if k.Beside = nearestStrip(strip); k.Beside != nil {
		k.BesideCurve = entry.Smooth(trial, k.Beside.Spec())
	}
	return k
}

// judgedReading returns the reading that is questioned, or else the one keyed in just now,
// with what was expected of it; nil where there is neither.
func (s *Strip) judgedReading(d *Desk, l Look) *plot.Judged {
	read := s.Trial().Reading()
	j := &plot.Judged{Step: d.Step, Questioned: d.Asked != "", Expected: sensito.Density(math.NaN())}
	x, ok := s.Expect()
	switch {
	case j.Questioned:
		asked, err := readingsOf(s.Keying, d.Asked, x, ok)
		if err != nil || len(asked) == 0 {
			return nil
		}
		mean := sensito.AverageDensity(asked)
		j.Read, j.ReadAs = read.Density(mean), s.said([]sensito.Density{hundredth(mean)})
	case l.After < 1 || l.After > s.Steps() || len(s.Readings(l.After)) == 0:
		return nil
	default:
		j.Step = l.After
		x, ok = s.ExpectAt(j.Step)
	}
	if ok && s.expects() {
		j.Expected, j.ExpectedAs = read.Density(x.Density.Value), s.said([]sensito.Density{hundredth(x.Density.Value)})
	}
	return j
}

// nearestStrip returns the other strip of the trial that was developed for the time
// nearest to that of s, of the same grade and with readings; nil for none.
func nearestStrip(s *sensito.Strip) *sensito.Strip {
	var nearest *sensito.Strip
	away := func(o *sensito.Strip) float64 {
		if s.Minutes() > 0 && o.Minutes() > 0 {
			return math.Abs(math.Log(float64(o.Minutes() / s.Minutes())))
		}
		return math.Inf(1)
	}
	for _, o := range s.Trial().Strips() {
		if o.Number() == s.Number() || o.Grade() != s.Grade() || o.StepsRead() == 0 {
			continue
		}
		if nearest == nil || away(o) < away(nearest) {
			nearest = o
		}
	}
	return nearest
}
