package sensito

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// ForPlan returns the spec with the time of a plan, and the warnings that go with
// that time.
func (spec SheetSpec) ForPlan(p *Plan) SheetSpec {
	spec.Trial, spec.Minutes, spec.Index, spec.Delivered = p.Family.Trial, p.Minutes, p.ExposureIndex, p.Delivered
	n := "N"
	if p.N != 0 {
		n += fmt.Sprintf("%+.3g", p.N)
	}
	spec.For = fmt.Sprintf("a scene of %s stops (%s) and %s", strconv.FormatFloat(p.Scene.Stops, 'g', 4, 64), n, p.Scene.AimText())
	return spec.warned(p.Family, p.Warnings)
}

// ForRoll returns the spec with the time of a roll.
func (spec SheetSpec) ForRoll(r *Roll) SheetSpec {
	spec.Trial, spec.Minutes, spec.Index = r.Family.Trial, r.Minutes, r.ExposureIndex
	spec.For = fmt.Sprintf("a roll of %d scenes and %s", len(r.Frames), r.Scene.AimText())
	return spec.warned(r.Family, r.Warnings)
}

// warned adds the warnings of an answer that are not of the strips behind it.
func (spec SheetSpec) warned(f *Family, all []Warning) SheetSpec {
	of := []string{"strip_left_out", "relative_exposure"}
	spec.Warnings = slices.DeleteFunc(slices.Clone(all), func(w Warning) bool {
		return slices.Contains(f.Warnings, w) || slices.Contains(of, w.Code)
	})
	return spec
}

// ByHand returns the time as it is kept at the sink: a computed one to 5 seconds.
func (spec SheetSpec) ByHand() Minutes {
	if spec.Minutes.StdErr > 0 {
		return Minutes(math.Round(float64(spec.Minutes.Value)*12) / 12)
	}
	return spec.Minutes.Value
}

// Chosen returns the spec with a time that the photographer chose.
func (spec SheetSpec) Chosen(t *Trial, m Minutes) SheetSpec {
	spec.Trial, spec.Minutes = t, Estimate[Minutes]{Value: m}
	spec.Warnings = stillShort(nil, m)
	return spec
}
