package sensito

import (
	"fmt"
	"math"
	"strings"
)

// Repeatability returns the standard deviation of one reading: what the trial
// states, which counts as ten readings, together with the spread of the steps
// that were read more than once.
func (t *Trial) Repeatability() Density { return t.repeatability }

// ReadingSD returns the standard deviation of one reading, rounding included.
func (t *Trial) ReadingSD() Density {
	return Density(math.Sqrt(float64(t.repeatability*t.repeatability) + RoundingVariance))
}

// pooled joins the stated repeatability with the spread of repeated readings.
// Readings too far apart to be of the same step are left out: one of them is a
// slip.
func pooled(stated Density, strips []*Strip) Density {
	sum, dof := PriorReadings*float64(stated*stated), float64(PriorReadings)
	for _, s := range strips {
		if s == nil || s.copyOf > 0 {
			continue
		}
		for _, step := range s.steps {
			if len(step.Repeats) == 0 || apart(step.Repeats, stated) {
				continue
			}
			for _, d := range step.Repeats {
				sum += float64((d - step.Density) * (d - step.Density))
			}
			dof += float64(len(step.Repeats) - 1)
		}
	}
	return Density(math.Sqrt(sum / dof))
}

// repeatLimit is how many standard deviations of a difference two readings of
// one step may differ by. One pair in 4,000 does.
const repeatLimit = 3.7

// apart says whether the readings of a step differ by more than the
// repeatability and the rounding to 0.01 explain.
func apart(readings []Density, repeatability Density) bool {
	lo, hi := readings[0], readings[0]
	for _, d := range readings {
		lo, hi = min(lo, d), max(hi, d)
	}
	one := float64(repeatability*repeatability) + RoundingVariance
	return float64(hi-lo) > repeatLimit*math.Sqrt(2*one)
}

// RepeatWarnings names the steps whose readings are too far apart.
func RepeatWarnings(s *Strip) Warnings {
	var out Warnings
	for _, step := range s.steps {
		if len(step.Repeats) == 0 || !apart(step.Repeats, s.trial.repeatability) {
			continue
		}
		read := make([]string, len(step.Repeats))
		for i, d := range step.Repeats {
			read[i] = fmt.Sprintf("%.2f", float64(d))
		}
		w := Warn("repeats_differ", step.Number, strings.Join(read, " and "), float64(s.trial.repeatability))
		w.Step = step.Number
		out = append(out, w)
	}
	return out
}

// AverageDensity returns the mean of the readings of one step.
func AverageDensity(readings []Density) Density {
	var sum Density
	for _, d := range readings {
		sum += d
	}
	return sum / Density(len(readings))
}

// RepeatSpread returns the standard deviation of one reading by the steps that
// were read more than once, and how many there are; 0 and 0 where there are none.
// Readings too far apart to be of the same step do not count.
func (s *Strip) RepeatSpread() (sd Density, steps int) {
	var sum float64
	dof := 0
	for _, step := range s.steps {
		if len(step.Repeats) == 0 || apart(step.Repeats, s.trial.reading.Repeatability) {
			continue
		}
		for _, d := range step.Repeats {
			sum += float64((d - step.Density) * (d - step.Density))
		}
		dof += len(step.Repeats) - 1
		steps++
	}
	if dof == 0 {
		return 0, 0
	}
	return Density(math.Sqrt(sum / float64(dof))), steps
}

// PriorReadings is how many readings the stated repeatability is worth: it is
// trusted to about a third, and outweighed by a long strip that says otherwise.
const PriorReadings = 10

// RoundingVariance is that of a reading rounded to 0.01.
const RoundingVariance = 0.01 * 0.01 / 12
