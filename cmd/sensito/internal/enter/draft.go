package enter

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/instrument"
	"sensito/sensito"
)

// A draft is a trial that is being built: the answers to its questions, by the
// names of the flags that give them. The empty text stands for what is not
// known.
type draft map[string]*string

// A question is one fact of a new trial.
type question struct {
	flag  string // that gives it
	usage string // of the flag
	ask   string // on a terminal; "" where it is not asked
	usual string // the answer unless another is given

	choices []string // the only answers
	numeric bool
	need    bool         // an answer is wanted
	of      sensito.Kind // the way of exposing that it is of; "" for both
}

// pages are the questions of a new trial, as they are asked together.
var pages = [][]question{
	{
		{flag: "film", ask: "Film", usage: "a new trial of the film `NAME`", need: true},
		{flag: "speed", ask: "Speed on its box", usage: "its speed `S`, as on the box", numeric: true},
		{flag: "developer", ask: "Developer, with its dilution, like Ashlar 1+4", usage: "the developer `NAME`, with its dilution: \"Ashlar 1+4\""},
		{flag: "temperature", ask: "Temperature, °C", usage: "temperature in degrees `C`", numeric: true},
		{flag: "agitation", ask: "Agitation", usage: "`MOTION`: continuous, intermittent or none", choices: words(sensito.Agitations)},
	}, {
		{flag: "way", ask: "Exposed under a step wedge (contact), or an even target in the camera", usage: "`WAY` it was exposed: contact, under a wedge, or camera, an even target",
			choices: words([]sensito.Kind{sensito.Contact, sensito.Camera}), usual: "contact"},
		{flag: "zero", ask: "The densitometer was zeroed on", usage: "what the densitometer was zeroed `ON`: air or base", choices: words(sensito.Zeros), usual: "air"},
		{flag: "repeatability", usage: "standard deviation `SD` of one reading, in density", numeric: true, usual: "0.01"},
	}, {
		{flag: "wedge-count", ask: "Steps of the wedge", usage: "`N` steps of the wedge", numeric: true, usual: "21", of: sensito.Contact},
		{flag: "wedge-first", ask: "Density of its step 1", usage: "`DENSITY` of its step 1", numeric: true, usual: "0.05", of: sensito.Contact},
		{flag: "wedge-step", ask: "Density from one step to the next; negative for a wedge read from its dense end", usage: "`DENSITY` from one step of the wedge to the next, negative for a wedge read from its dense end", numeric: true, usual: "0.15", of: sensito.Contact},
		{flag: "lux", ask: "Illuminance at the film, nothing in between, lux", usage: "illuminance at the film in `LX`, nothing in between", numeric: true, need: true, of: sensito.Contact},
		{flag: "seconds", ask: "Exposure, seconds", usage: "exposure under the wedge in `S` seconds", numeric: true, need: true, of: sensito.Contact},
	}, {
		{flag: "meter-index", ask: "Index set on the meter", usage: "`INDEX` set on the meter, with --way camera", numeric: true, need: true, of: sensito.Camera},
		{flag: "stops", ask: "Exposures, in stops from the metered one", usage: "exposures in stops from the metered one, `FROM..TO`", usual: "-6..6", of: sensito.Camera},
		{flag: "step-stops", ask: "Stops from one exposure to the next", usage: "`STOPS` between two exposures in the camera", numeric: true, usual: "1", of: sensito.Camera},
	},
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
	for _, page := range pages {
		for _, q := range page {
			if len(q.choices) > 0 {
				out[q.flag] = q.choices
			}
		}
	}
	return out
}

func (d draft) register(cmd *cobra.Command) {
	for _, page := range pages {
		for _, q := range page {
			d[q.flag] = cmd.Flags().String(q.flag, q.usual, q.usage)
		}
	}
}

// given returns the flags of a new trial that are on the command line.
func (d draft) given(changed func(flag string) bool) []string {
	var out []string
	for _, page := range pages {
		for _, q := range page {
			if changed(q.flag) {
				out = append(out, q.flag)
			}
		}
	}
	return out
}

func (d draft) way() sensito.Kind { return sensito.Kind(*d["way"]) }

// missing returns the flags without which there is no trial.
func (d draft) missing() []string {
	var out []string
	for _, page := range pages {
		for _, q := range page {
			if q.need && (q.of == "" || q.of == d.way()) && *d[q.flag] == "" {
				out = append(out, q.flag)
			}
		}
	}
	return out
}

// check says what is wrong with an answer.
func (q question) check(answer string) error {
	answer = strings.TrimSpace(answer)
	switch {
	case answer == "" && q.need:
		return errors.New("is needed")
	case answer == "":
		return nil
	case q.numeric:
		if v, err := decimal(answer); err != nil || v == 0 && q.flag != "wedge-first" {
			return fmt.Errorf("%q is not a number other than 0", answer)
		}
	case len(q.choices) > 0 && !strings.Contains(" "+strings.Join(q.choices, " ")+" ", " "+answer+" "):
		return fmt.Errorf("%q is not one of %s", answer, strings.Join(q.choices, ", "))
	case q.flag == "stops":
		_, _, err := stopsOf(answer)
		return err
	}
	return nil
}

// decimal reads a number with a decimal point or comma.
func decimal(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = strconv.ErrRange
	}
	return v, err
}

// stopsOf reads FROM..TO.
func stopsOf(text string) (from, to float64, err error) {
	low, high, ok := strings.Cut(text, "..")
	from, err1 := decimal(low)
	to, err2 := decimal(high)
	if !ok || err1 != nil || err2 != nil || from == to {
		return 0, 0, fmt.Errorf("%q is not like -6..6, in stops", text)
	}
	return from, to, nil
}

// number returns a checked answer, 0 for an empty one.
func (d draft) number(flag string) float64 {
	v, _ := decimal(*d[flag])
	return v
}

// trial returns the trial with its first strip, which was developed for so many
// minutes and is to be keyed in. The error names flags.
func (d draft) trial(minutes sensito.Minutes) (*sensito.Trial, error) {
	var errs []error
	for _, page := range pages {
		for _, q := range page {
			if q.of != "" && q.of != d.way() {
				continue
			}
			if err := q.check(*d[q.flag]); err != nil {
				errs = append(errs, fmt.Errorf("--%s %w", q.flag, err))
			}
		}
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	spec := sensito.TrialSpec{
		Film: sensito.Film{Name: strings.TrimSpace(*d["film"]), RatedSpeed: sensito.Speed(d.number("speed"))},
		Process: sensito.Process{TemperatureC: d.number("temperature"),
			Agitation: sensito.Agitation(strings.TrimSpace(*d["agitation"]))},
		Reading: sensito.Reading{Repeatability: sensito.Density(d.number("repeatability")), Zero: sensito.Zero(strings.TrimSpace(*d["zero"]))},
	}
	spec.Process.Developer, spec.Process.Dilution = sensito.SplitDilution(*d["developer"])
	spec.Title = spec.Film.Name
	if in := strings.TrimSpace(spec.Process.Developer + " " + spec.Process.Dilution); in != "" {
		spec.Title += " in " + in
	}
	var err error
	if spec.Exposures, err = d.exposures(); err != nil {
		return nil, err
	}
	spec.Strips = []sensito.StripSpec{emptyStrip(minutes, "", spec.Exposures.Len())}
	return sensito.NewTrial(spec)
}

func (d draft) exposures() (sensito.Exposures, error) {
	if d.way() == sensito.Camera {
		from, to, _ := stopsOf(*d["stops"]) // checked
		step := math.Copysign(d.number("step-stops"), to-from)
		var stops []float64
		for i := 0; i <= int(math.Round((to-from)/step)) && i <= maxCameraSteps; i++ {
			stops = append(stops, from+float64(i)*step)
		}
		return sensito.NewCamera(sensito.Speed(d.number("meter-index")), stops, sensito.MeterConstants{})
	}
	first, step, count := d.number("wedge-first"), d.number("wedge-step"), d.number("wedge-count")
	if which, reason := sensito.CheckEvenWedge(first, step, count); which != "" {
		return sensito.Exposures{}, fmt.Errorf("--wedge-%s %s", which, reason)
	}
	wedge := sensito.EvenWedge(sensito.Density(first), sensito.Density(step), int(count))
	return sensito.NewContact(d.number("lux"), d.number("seconds"), wedge)
}

// No row of exposures is longer.
const maxCameraSteps = 1000
