package enter

import (
	"errors"
	"strings"

	"sensito/cmd/sensito/internal/typed"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// densities is the answer that readings are densities, which a file need not say.
const densities = "density"

func inDensity(a answers) bool { return isPaper(a) || !inEV(a) && !inSteps(a) }
func inEV(a answers) bool      { return a["unit"] == string(sensito.UnitEV) }
func inSteps(a answers) bool   { return a["unit"] == string(sensito.UnitStep) }

// inEvenSteps is of a tablet of which not each density was given.
func inEvenSteps(a answers) bool { return inSteps(a) && !strings.Contains(a["tablet"], " ") }

// readingQuestions are the facts of how a new trial is read.
var readingQuestions = []question{
	{key: "unit", ask: "Readings in", usage: "readings are in `UNIT`: density, EV of a light meter over a light table, or step of a tablet matched by eye",
		hint:    "density: of a densitometer; EV: of a light meter over a light table; step: of a step tablet beside the negative, matched by eye. sensito help without-densitometer says how",
		choices: []string{densities, string(sensito.UnitEV), string(sensito.UnitStep)}, usual: densities, when: isFilm},
	{key: "zero", ask: "Densitometer zeroed on", usage: "what the densitometer was zeroed `ON`: air or base", choices: words(sensito.Zeros), usual: "air", when: inDensity,
		hint: "air: set to 0 with nothing in it; base: with a clear piece of the film in it"},
	{key: "reads-to", ask: "Smallest part of a stop that the meter shows, like 1/3", usage: "readings are rounded to `PART` of their unit: 0.1 or 1/3 EV, 0.5 step", parse: typed.Part, usual: "0.1", when: inEV,
		hint: "with 1/3, readings can be typed as 9 1/3 or 9.3, and 9.7 is 9 2/3"},
	{key: "open-ev", ask: "Reading of the bare light, EV", usage: "`EV` of the bare light; several, as \"12.4 12.3\", count by their mean", parse: typed.Readings, need: true, when: inEV,
		hint: "of the light table without film; several, as 12.4 12.3, before and after: their mean counts (open_ev)"},
	{key: "tablet", ask: "Steps of the tablet, or the density of each", usage: "`N` steps of the tablet, or the density of each, as \"0.05 0.20 0.36\"", parse: typed.Tablet, usual: "21", need: true, when: inSteps,
		hint: "how many, if they are even; or all densities, from step 1, with blanks between them"},
	{key: "tablet-first", ask: "Density of the tablet's step 1", usage: "`DENSITY` of the tablet's step 1", parse: typed.WedgeFirst, usual: "0.05", need: true, when: inEvenSteps},
	{key: "tablet-step", ask: "Density from step to step of the tablet", usage: "`DENSITY` from one step of the tablet to the next", parse: typed.Number, usual: "0.15", need: true, when: inEvenSteps, check: evenStep("tablet", "tablet-first")},
	{key: "tablet-sd", ask: "Each of its steps may be off by, density (- with a certificate)", usage: "standard deviation `SD` of the density of each step of the tablet", parse: typed.Number, usual: "0.02", when: inSteps},
	{key: "repeatability", usage: "standard deviation `SD` of one reading, in the unit of the readings", parse: typed.Number, usual: "0.01", when: inDensity},
}

// frameQuestions are of the frame in the camera that ties relative exposures down.
var frameQuestions = []question{
	{key: "frame-index", ask: "Index on the meter for a frame developed with strip 1 (Enter: no frame)", usage: "`INDEX` set on the meter for a frame in the camera, developed with strip 1, with --way relative", parse: typed.Number, when: func(a answers) bool { return isRelative(a) && isFilm(a) },
		hint: "a grey wall out of focus, developed together with strip 1, tells the index; without it there are contrast and times"},
	{key: "frame-stops", ask: "Stops of the frame from what the meter said", usage: "`STOPS` of the frame from what the meter said", parse: typed.Signed, usual: "-2", need: true, when: isFramed},
	{key: "frame-reading", ask: "Reading of the frame", usage: "`READING` of the frame, in the unit of the readings; several count by their mean", parse: typed.Readings, need: true, when: isFramed},
}

func isFramed(a answers) bool { return isRelative(a) && isFilm(a) && a["frame-index"] != "" }

// evenStep returns the check of the step of a wedge or tablet of which the answers of two
// keys say how many steps it has, and its first.
func evenStep(count, first string) func(answers, string) error {
	return func(a answers, answer string) error {
		step, _ := entry.ParseNumber(answer)
		if which, reason := sensito.CheckEvenWedge(a.number(first), step, a.number(count)); which != "" {
			return errors.New(reason)
		}
		return nil
	}
}

// reading returns how the answers say that the trial is read.
func (a answers) reading() sensito.Reading {
	r := sensito.Reading{Repeatability: a.density("repeatability"), ReadsTo: a.number("reads-to"), Zero: sensito.Zero(a["zero"]),
		TabletSD: a.density("tablet-sd")}
	if unit := a["unit"]; unit != densities {
		r.Unit = sensito.Unit(unit)
	}
	if a["open-ev"] != "" {
		r.OpenEV, _ = typed.Numbers(a["open-ev"]) // checked
	}
	switch {
	case a["tablet"] == "":
	case strings.Contains(a["tablet"], " "):
		ds, _ := typed.Numbers(a["tablet"]) // checked
		for _, d := range ds {
			r.Tablet = append(r.Tablet, sensito.Density(d))
		}
	default:
		r.Tablet = sensito.EvenWedge(a.density("tablet-first"), a.density("tablet-step"), int(a.number("tablet")))
	}
	return r
}

// readingKeys returns the questions whose answers gave a field of a reading.
func readingKeys(field string) []string {
	switch {
	case strings.HasPrefix(field, "open_ev"):
		return []string{"open-ev"}
	case field == "tablet" || strings.HasPrefix(field, "tablet["):
		return []string{"tablet", "tablet-first", "tablet-step"}
	}
	return []string{strings.ReplaceAll(field, "_", "-")}
}

// framed returns relative exposures with the frame that the answers tell of.
func (a answers) framed(e sensito.Exposures) (sensito.Exposures, error) {
	if !isFramed(a) {
		return e, nil
	}
	f := sensito.Frame{Index: sensito.Speed(a.number("frame-index")), Stops: a.number("frame-stops")}
	f.Minutes, _ = sensito.ParseMinutes(a["minutes"]) // checked
	read, _ := typed.Numbers(a["frame-reading"])      // checked
	for _, v := range read {
		f.Density = append(f.Density, sensito.Density(v))
	}
	return e.WithFrame(f)
}

// frameKeys returns the questions whose answers gave a field of a frame.
func frameKeys(field string) []string {
	switch field {
	case "meter_index":
		return []string{"frame-index"}
	case "stops", "minutes":
		return []string{"frame-" + field, "minutes"}
	}
	return []string{"frame-reading"}
}

// readingOffers are the answers of a trial to how another one is read.
func readingOffers(r sensito.Reading) answers {
	a := answers{"zero": string(r.Zero)}
	if r.Unit != sensito.UnitDensity {
		a["unit"] = string(r.Unit)
	}
	if text := r.ReadsToText(); text != "" {
		a["reads-to"] = text
	}
	if len(r.Tablet) == 0 {
		return a
	}
	a["tablet-sd"] = ""
	if r.TabletSD != 0 {
		a["tablet-sd"] = typed.Written(float64(r.TabletSD))
	}
	if count, first, step, even := evenly(r.Tablet); even {
		a["tablet"], a["tablet-first"], a["tablet-step"] = count, first, step
		return a
	}
	var ds []string
	for _, d := range r.Tablet {
		ds = append(ds, typed.Written(float64(d)))
	}
	a["tablet"] = strings.Join(ds, " ")
	return a
}
