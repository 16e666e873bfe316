package table

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/notebook/internal/grammar"
)

// A table has the figures of a calibration beside each strip that was read by it, the
// covariance row by row.

// calibrationTexts returns what columns hold of the calibration of a strip.
func calibrationTexts(c *sensito.Calibration, to map[string]string) {
	if c == nil {
		return
	}
	to[colRepeatability] = grammar.Number(c.Repeatability)
	var all []any
	for _, row := range c.Covariance {
		for _, v := range row {
			all = append(all, v)
		}
	}
	to[colCovariance] = cellText(all)
}

// unusedCalibrations says that a table of readings has no place for some.
func unusedCalibrations(t *sensito.Trial) []string {
	for _, c := range t.Calibrations() {
		if !slices.ContainsFunc(t.Strips(), func(s *sensito.Strip) bool { return s.Calibration() != nil && s.Calibration().Name == c.Name }) {
			return []string{"calibrations that no strip was read by"}
		}
	}
	return nil
}

// gather makes of what strips say of their calibrations what a notebook would.
func (im *importer) gather(src *source, strips []any) {
	var all []any
	first := map[any]int{} // the strip that told a calibration
	for i, v := range strips {
		strip, key := v.(map[string]any), grammar.Element("strip", i)
		sd, list := strip[colRepeatability], strip[colCovariance]
		delete(strip, colRepeatability)
		delete(strip, colCovariance)
		name := strip[colCalibration]
		at := src.place(grammar.Below(key, colCovariance))
		if list == nil {
			at = src.place(grammar.Below(key, colRepeatability))
		}
		if src.told[grammar.Below(key, colCovariance)] || src.told[grammar.Below(key, colRepeatability)] {
			src.told[grammar.Below(key, colCalibration)] = true // which then has no figures
			continue
		}
		if sd == nil && list == nil {
			continue
		}
		if name == nil {
			im.fault(at, "goes with calibration, its name")
			continue
		}
		block := map[string]any{"name": name}
		if sd != nil {
			block["repeatability"] = sd
		}
		if numbers, ok := list.([]any); ok {
			if len(numbers) != 9 {
				im.fault(at, "has %d numbers; a covariance has three times three, row by row", len(numbers))
				continue
			}
			block["covariance"] = []any{numbers[:3], numbers[3:6], numbers[6:]}
		}
		if k, there := first[name]; there {
			if fmt.Sprint(all[k]) != fmt.Sprint(block) {
				im.fault(at, "is not that of an earlier strip by %v", name)
			}
			continue
		}
		first[name] = len(all)
		src.at[grammar.Element(colCalibration, len(all))] = at
		all = append(all, block)
	}
	if all != nil {
		src.values[colCalibration] = all
	}
}

// calibrations returns those of a trial with those of a source that strips are added from.
func (im *importer) calibrations(src, trial *source) []any {
	out, _ := trial.values[colCalibration].([]any)
	list, _ := src.values[colCalibration].([]any)
	stand := map[string]place{}
	for i, v := range list {
		from, to := grammar.Element(colCalibration, i), grammar.Element(colCalibration, len(out))
		block, _ := v.(map[string]any)
		at := slices.IndexFunc(out, func(v any) bool { return isText(block["name"]) && v.(map[string]any)["name"] == block["name"] })
		switch {
		case at < 0:
			out = append(out, v)
			for key, at := range src.at {
				if rest, ok := strings.CutPrefix(key, from); ok {
					stand[to+rest] = at
				}
			}
		case !sameNumbers(out[at], v):
			im.fault(src.placeNamed(from), "%v is in the trial with other figures; give this one another name", block["name"])
		}
	}
	maps.Copy(src.at, stand)
	return out
}

// sameNumbers says whether two values say the same, whole numbers or not, and lists and
// tables of them.
func sameNumbers(a, b any) bool {
	switch a := a.(type) {
	case []any:
		b, ok := b.([]any)
		return ok && slices.EqualFunc(a, b, sameNumbers)
	case map[string]any:
		b, ok := b.(map[string]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for key, v := range a {
			if !sameNumbers(v, b[key]) {
				return false
			}
		}
		return true
	}
	return sameValue(a, b)
}
