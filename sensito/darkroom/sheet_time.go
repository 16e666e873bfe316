package darkroom

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// ForAnswer returns the spec with the time of an answer, the conditions of its Today,
// and the warnings that go with that time.
func (spec SheetSpec) ForAnswer(p *scene.Answer) SheetSpec {
	spec.Trial, spec.Minutes, spec.Index, spec.Delivered = p.Family.Trial, p.Minutes, p.ExposureIndex, p.Delivered
	n := "N"
	if p.N != 0 {
		n += fmt.Sprintf("%+.3g", p.N)
	}
	spec.For = fmt.Sprintf("a scene of %s stops (%s) and %s", strconv.FormatFloat(p.Scene.Stops, 'g', 4, 64), n, p.Scene.AimText())
	spec = spec.warned(p.Family, p.Warnings)
	if was := p.AsTested; was != nil {
		spec.AsTested = &was.Minutes
	}
	if was := p.Uncorrected; was != nil {
		spec.Uncorrected = &Uncorrected{Minutes: was.Minutes, Index: was.ExposureIndex}
	}
	spec.Coefficient = p.Family.CoefficientFor(p.Scene.Today.Conditions)
	return spec.today(p.Today, p.Scene.Today.Conditions)
}

// ForRoll returns the spec with the time of a roll, as ForAnswer.
func (spec SheetSpec) ForRoll(r *scene.Roll) SheetSpec {
	spec.Trial, spec.Minutes, spec.Index = r.Family.Trial, r.Minutes, r.ExposureIndex
	spec.For = fmt.Sprintf("a roll of %d scenes and %s", len(r.Frames), r.Scene.AimText())
	spec = spec.warned(r.Family, r.Warnings)
	if was := r.AsTested; was != nil {
		spec.AsTested = &was.Minutes
	}
	if was := r.Uncorrected; was != nil {
		spec.Uncorrected = &Uncorrected{Minutes: was.Minutes, Index: was.ExposureIndex}
	}
	spec.Coefficient = r.Family.CoefficientFor(r.Scene.Today.Conditions)
	return spec.today(r.Today, r.Scene.Today.Conditions)
}

// warned adds the warnings of an answer that are not of the strips behind it.
func (spec SheetSpec) warned(f *development.Family, all sensito.Warnings) SheetSpec {
	of := []string{"strip_left_out", "relative_exposure"}
	spec.Warnings = slices.DeleteFunc(slices.Clone(all), func(w sensito.Warning) bool {
		return slices.ContainsFunc(f.Warnings, w.Equal) || slices.Contains(of, w.Code)
	})
	return spec
}

// ByHand returns the time as it is kept at the sink: a computed one to 5 seconds.
func (spec SheetSpec) ByHand() sensito.Minutes {
	if spec.Minutes.StdErr > 0 {
		return sensito.Minutes(math.Round(float64(spec.Minutes.Value)*12) / 12)
	}
	return spec.Minutes.Value
}

// Chosen returns the spec with a time that the photographer chose, under the
// conditions that it has.
func (spec SheetSpec) Chosen(t *sensito.Trial, m sensito.Minutes) SheetSpec {
	spec.Trial, spec.Minutes = t, sensito.Estimate[sensito.Minutes]{Value: m}
	spec.Coefficient = development.UnmeasuredCoefficient(t, spec.Under)
	spec.Warnings = scene.ShortTime(m)
	return spec
}

// today takes what the process of today changes of the development, and says where
// time and index are corrected for it.
func (spec SheetSpec) today(a *scene.Adjustment, under development.Conditions) SheetSpec {
	spec.Under, spec.Today = under, a
	was := spec.Uncorrected
	if was == nil {
		return spec
	}
	tested := was.Minutes // the index is the same under other conditions
	if spec.AsTested != nil {
		tested = *spec.AsTested
	}
	index := ""
	if e := was.Index; e != nil {
		index = fmt.Sprintf(" and EI %.0f", float64(e.Value))
	}
	spec.Warnings = append(spec.Warnings, sensito.Warn("process_corrected", a.Drift.AsOf, tested.Value.Clock(5), index))
	return spec
}
