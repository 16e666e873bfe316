package table

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
)

// headOf returns what a text says of its trial but for what is added to it.
func headOf(data []byte) map[string]any {
	head := maps.Clone(grammar.Decode(data).Values)
	for _, added := range []string{"strip", "calibration", "done"} {
		delete(head, added)
	}
	return head
}

// fit puts the strips of a source into the trial that they are for. What the
// source says of the trial must agree with it; of development and exposure,
// strips may differ.
func (im *importer) fit(src *source) {
	trial := &source{values: treeOf(im.o.Into)}
	im.sameExposures(src)
	var left []string
	for _, name := range []string{"film", "paper", "process", "reading", "exposure"} {
		inner, _ := src.values[name].(map[string]any)
		for _, inner := range sortedKeys(inner) {
			key := grammar.Below(name, inner)
			here, there := src.get(key), trial.get(key)
			switch overrides := slices.Contains(trialfile.ProcessKeys, inner) || inner == "seconds" || inner == "illuminance_lx"; {
			case sameValue(here, there):
			case overrides && name != "film" && name != "paper":
				im.override(src, key, inner)
			case there == nil && !src.told[key]:
				left = append(left, key)
			default:
				im.fault(src.placeNamed(key), "%v, but the trial has %v", here, there)
			}
		}
	}
	if title, ok := src.values["title"].(string); ok && title != im.o.Into.Title() {
		left = append(left, "title")
	}
	if src.values["reciprocity"] != nil && fmt.Sprint(src.values["reciprocity"]) != fmt.Sprint(trial.values["reciprocity"]) {
		left = append(left, "reciprocity")
	}
	if kind, _ := src.values["kind"].(string); !(src.table && kind == "") && kind == "paper" != (im.o.Into.Material() == sensito.PaperMaterial) {
		im.fault(src.placeNamed("kind"), "the file is not of the material of the trial")
	}
	if len(left) > 0 {
		im.guess("the trial is left as it is, without the file's %s", strings.Join(left, ", "))
	}
	strips, calibrations := src.values["strip"], im.calibrations(src, trial)
	src.values = trial.values
	src.values["strip"] = strips
	if delete(src.values, "calibration"); len(calibrations) > 0 {
		src.values["calibration"] = calibrations
	}
	if src.table {
		im.pad(src)
	}
}

// override gives a value to the strips that have none of their own.
func (im *importer) override(src *source, key, inner string) {
	v, at := src.get(key), src.place(key)
	im.fillStrips(src, &column{key: inner}, v, at)
	im.guess("the strips differ from the trial: %s = %v", inner, v)
}

// sameExposures checks that the exposures of a source, where it has any, are
// those of the trial, and takes them out.
func (im *importer) sameExposures(src *source) {
	exposure, _ := src.values["exposure"].(map[string]any)
	e := im.o.Into.Exposures()
	if t := (&grammar.Table{Faults: &grammar.Faults{}, Path: "exposure", Values: exposure}); exposure["wedge"] == nil && exposure["wedge_first"] != nil {
		if wedge := trialfile.Wedge(t); len(t.Found) == 0 {
			im.sameList(src, "exposure.wedge_first", plainFloats(wedge), plainFloats(e.Wedge()))
		} else {
			for _, f := range t.Found {
				im.locate(src, f)
			}
		}
	}
	relative := plainFloats(e.RelativeLogH())
	if e.Kind() != sensito.Relative {
		relative = plainFloats(e.LogH())
	}
	for name, want := range map[string][]float64{colWedge: plainFloats(e.Wedge()), colStopsOf: e.Stops(), colLogH: relative, colLogHlxs: plainFloats(e.LogH())} {
		key := "exposure." + name
		if list, ok := exposure[name].([]any); ok && !src.told[key] {
			got := make([]float64, len(list))
			for i, v := range list {
				got[i] = math.NaN()
				if x, ok := asNumber(v); ok {
					got[i] = x
				}
			}
			im.sameList(src, key, got, want)
		}
	}
	for _, name := range []string{colWedge, "wedge_first", "wedge_step", "wedge_count", colStopsOf, colLogH, colLogHlxs} {
		delete(exposure, name)
	}
}

// sameList checks exposures of steps against those of the trial. A table may
// end before the last step.
func (im *importer) sameList(src *source, key string, got, want []float64) {
	if len(want) == 0 {
		im.fault(src.placeNamed(key), "goes with exposures of another kind; those of the trial are %s", im.o.Into.Exposures().Kind())
		return
	}
	if len(got) > len(want) || len(got) < len(want) && !src.table {
		im.fault(src.placeNamed(key), "%d steps, but the trial has %d", len(got), len(want))
		src.told["strip"] = true // whose readings are as many
		return
	}
	const same = 0.0005 // half of the last place that a wedge is calibrated to
	for i := range got {
		if !(math.Abs(got[i]-want[i]) <= same) {
			im.fault(src.placeNamed(grammar.Element(key, i)), "%g for step %d, but the trial has %g", got[i], i+1, want[i])
			return
		}
	}
}

func plainFloats[T ~float64](xs []T) []float64 {
	out := make([]float64, len(xs))
	for i, x := range xs {
		out[i] = float64(x)
	}
	return out
}
