package enter

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/instrument"
	"sensito/cmd/sensito/internal/typed"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// Kinds of files that are made by questions, as the answer to what one is.
const (
	whatFilm      = "film"
	whatPaper     = "paper"
	whatControl   = "control"
	whatRoll      = "roll"
	whatProcedure = "procedure"
)

// asBefore is the answer that exposures are those of the trial before.
const asBefore = "yes"

func isFilm(a answers) bool    { return a["what"] != whatPaper }
func isPaper(a answers) bool   { return a["what"] == whatPaper }
func isWedge(a answers) bool   { return a["as"] != asBefore && a["way"] != string(sensito.Camera) }
func isContact(a answers) bool { return isWedge(a) && !isRelative(a) }
func isCamera(a answers) bool  { return a["as"] != asBefore && a["way"] == string(sensito.Camera) }
func isRelative(a answers) bool {
	return a["as"] != asBefore && a["way"] == string(sensito.Relative)
}

// trialQuestions are the facts of a new trial of film or paper, each with the flag
// that gives it.
var trialQuestions = slices.Concat([]question{
	{key: "film", ask: "Film", usage: "a new trial of the film `NAME`", need: true, when: isFilm},
	{key: "paper", ask: "Paper", usage: "a new trial of the paper `NAME`", need: true, when: isPaper},
	{key: "speed", ask: "Speed on its box", usage: "its speed `S`, as on the box", parse: typed.Number, when: isFilm,
		suggest: func(a answers) string { return speedOf(a["film"]) }},
	{key: "developer", ask: "Developer, dilution, like Ashlar 1+4", usage: "the developer `NAME`, with its dilution: \"Ashlar 1+4\"", parse: typed.Developer,
		hint: "1+4 is one part in five; a developer that is used undiluted has none, or is stock"},
	{key: "temperature", ask: "Temperature, °C or 68F", usage: "temperature in degrees `C`, or 68F", parse: typed.Temperature},
	{key: "agitation", ask: "Agitation", usage: "`MOTION`: continuous, intermittent or none", choices: words(sensito.Agitations),
		hint: "intermittent: at intervals, as every half minute; none: in a stand bath"},
}, readingQuestions, []question{
	{key: "way", ask: "Exposed (contact: a wedge)", usage: "`WAY` it was exposed: contact, under a wedge, in lux seconds; relative, under a wedge by a light that was not measured; or camera, an even target",
		hint:    "contact: under a step wedge, by a light whose lux are known; relative: the same, by a light that was not measured, which tells contrast and times, and the index by a frame in the camera; camera: an even target",
		choices: words([]sensito.Kind{sensito.Contact, sensito.Relative, sensito.Camera}), usual: "contact", when: func(a answers) bool { return a["as"] != asBefore }},
	{key: "wedge-count", ask: "Steps of the wedge", usage: "`N` steps of the wedge", parse: typed.WedgeCount, usual: "21", need: true, when: isWedge,
		hint: "of those that are on the film, each of which will be read"},
	{key: "wedge-first", ask: "Density of its step 1", usage: "`DENSITY` of its step 1", parse: typed.WedgeFirst, usual: "0.05", need: true, when: isWedge,
		hint: "by its certificate, or as you read it"},
	{key: "wedge-step", ask: "Density from step to step", hint: "negative for a wedge read from its dense end", usage: "`DENSITY` from one step of the wedge to the next, negative for a wedge read from its dense end", parse: typed.Number, usual: "0.15", need: true, when: isWedge, check: evenStep("wedge-count", "wedge-first")},
	{key: "lux", ask: "Light at the film without the wedge, lux", usage: "illuminance at the film in `LX`, nothing in between", parse: typed.Number, need: true, when: isContact,
		hint:    "of a lux meter that lies where the film does",
		lacking: "where nobody can measure it, go back to how it was exposed, and answer relative"},
	{key: "seconds", ask: "Exposure, seconds", usage: "exposure under the wedge in `S` seconds, like 0.5 or 1/2", parse: typed.Seconds, need: true, when: isContact},
	{key: "meter-index", ask: "Index set on the meter", usage: "`INDEX` set on the meter, with --way camera", parse: typed.Number, need: true, when: isCamera,
		hint: "the film speed that was set on the meter for these frames"},
	{key: "stops", ask: "Exposures, in stops from the metered one", usage: "exposures in stops from the metered one, `FROM..TO`", parse: typed.Stops, usual: "-6..6", need: true, when: isCamera,
		hint: "from the least exposed to the most exposed frame, or the other way, as they are read; 0 is the exposure that the meter gave"},
	{key: "step-stops", ask: "Stops from one exposure to the next", usage: "`STOPS` between two exposures in the camera", parse: typed.Number, usual: "1", need: true, when: isCamera},
}, frameQuestions)

// stripQuestions are the facts of a strip. A film needs its time.
func stripQuestions(strip int) []question {
	return []question{
		{key: "grade", ask: fmt.Sprintf("Grade or filter of strip %d", strip), when: isPaper},
		{key: "minutes", ask: fmt.Sprintf("Strip %d, minutes, like 5:30", strip), parse: typed.Minutes, need: true, when: isFilm},
		{key: "minutes", ask: fmt.Sprintf("Strip %d, minutes, like 1:30", strip), parse: typed.Minutes, when: isPaper},
	}
}

func words[T ~string](values []T) []string {
	var out []string
	for _, v := range values {
		out = append(out, string(v))
	}
	return out
}

// Choices returns what flags of the command can be that are a choice, by their
// names.
func Choices() map[string][]string {
	out := instrument.Choices()
	for _, q := range trialQuestions {
		if len(q.choices) > 0 {
			out[q.key] = q.choices
		}
	}
	return out
}

// register makes flags of the questions of a trial, and returns their values.
func register(cmd *cobra.Command) map[string]*string {
	flags := map[string]*string{}
	for _, q := range trialQuestions {
		flags[q.key] = cmd.Flags().String(q.key, q.usual, q.usage)
	}
	return flags
}

// number returns a checked answer, 0 for an empty one.
func (a answers) number(key string) float64 {
	v, _ := entry.ParseNumber(a[key])
	return v
}

// A badAnswer says which answers are wrong together.
type badAnswer struct {
	keys []string
	error
}

// trial returns the trial that the answers tell of, with its first strip, which is
// to be keyed in; before is the trial whose exposures are those of this one, if so.
func (a answers) trial(before *sensito.Trial) (*sensito.Trial, error) {
	spec := sensito.TrialSpec{
		Film: sensito.Film{Name: a["film"], RatedSpeed: sensito.Speed(a.number("speed"))},
		Process: sensito.Process{TemperatureC: a.number("temperature"),
			Agitation: sensito.Agitation(a["agitation"])},
		Reading: a.reading(),
	}
	if isPaper(a) {
		spec.Material, spec.Film = sensito.PaperMaterial, sensito.Film{Name: a["paper"]}
	}
	spec.Process.Developer, spec.Process.Dilution = sensito.SplitDilution(a["developer"])
	spec.Title = spec.Film.Name
	if in := strings.TrimSpace(spec.Process.Developer + " " + spec.Process.Dilution); in != "" {
		spec.Title += " in " + in
	}
	var err error
	if a["as"] == asBefore && before != nil {
		spec.Exposures = before.Exposures()
	} else if spec.Exposures, err = a.exposures(); err != nil {
		return nil, err
	}
	m, err := sensito.ParseMinutes(a["minutes"])
	if a["minutes"] != "" && err != nil {
		return nil, badAnswer{[]string{"minutes"}, err}
	}
	spec.Strips = []sensito.StripSpec{emptyStrip(m, a["grade"], spec.Exposures.Len())}
	trial, err := sensito.NewTrial(spec)
	var fault *sensito.FieldError
	if errors.As(err, &fault) {
		return nil, badAnswer{keysOf(fault.Key), err}
	}
	return trial, err
}

var ofStrip = regexp.MustCompile(`^strip\[\d+\]\.`)

// keysOf returns the questions whose answers gave a field of a trial.
func keysOf(field string) []string {
	switch field = ofStrip.ReplaceAllString(field, ""); field {
	case "film.name":
		return []string{"film"}
	case "paper.name":
		return []string{"paper"}
	case "film.rated_speed":
		return []string{"speed"}
	case "process.developer", "process.dilution":
		return []string{"developer"}
	case "title":
		return []string{"film", "paper", "developer"}
	case "process.temperature_c":
		return []string{"temperature"}
	case "exposure.illuminance_lx":
		return []string{"lux"}
	case "exposure.seconds":
		return []string{"seconds"}
	case "exposure.meter_index":
		return []string{"meter-index"}
	case "exposure.stops":
		return []string{"stops", "step-stops"}
	}
	if key, ok := strings.CutPrefix(field, "reading."); ok {
		return readingKeys(key)
	}
	if key, ok := strings.CutPrefix(field, "exposure.frame."); ok {
		return frameKeys(key)
	}
	return []string{field}
}

func (a answers) exposures() (sensito.Exposures, error) {
	var e sensito.Exposures
	var err error
	if isCamera(a) {
		from, to, _ := typed.StopsOf(a["stops"]) // checked
		step := math.Copysign(a.number("step-stops"), to-from)
		var stops []float64
		for i := 0; i <= int(math.Round((to-from)/step)) && i <= maxCameraSteps; i++ {
			stops = append(stops, math.Round((from+float64(i)*step)*1e6)/1e6+0) // -0 is 0
		}
		e, err = sensito.NewCamera(sensito.Speed(a.number("meter-index")), stops, sensito.MeterConstants{})
	} else {
		first, step, count := a.number("wedge-first"), a.number("wedge-step"), a.number("wedge-count")
		if which, reason := sensito.CheckEvenWedge(first, step, count); which != "" {
			return e, badAnswer{[]string{"wedge-" + which}, fmt.Errorf("--wedge-%s %s", which, reason)}
		}
		wedge := sensito.EvenWedge(sensito.Density(first), sensito.Density(step), int(count))
		if isRelative(a) {
			if e, err = sensito.NewRelativeWedge(wedge); err == nil {
				e, err = a.framed(e)
			}
		} else {
			e, err = sensito.NewContact(a.number("lux"), a.number("seconds"), wedge)
		}
	}
	var fault *sensito.FieldError
	if errors.As(err, &fault) {
		return e, badAnswer{keysOf(fault.Key), err}
	}
	return e, err
}

// No row of exposures is longer.
const maxCameraSteps = 1000
