package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// aimOptions are the flags that say what a negative is to suit.
type aimOptions struct {
	options
	flare    string
	paper    string // file of a paper trial
	grade    string
	enlarger string
	callier  float64
	scan     float64
	scene    scene.Scene

	given func(flag string) bool
}

// aimFlags are the flags that only a scene has a use for.
var aimFlags = []string{"paper", "grade", "density-range", "scan", "enlarger", "callier", "flare", "shadow-stops"}

const (
	diffusion = "diffusion"
	condenser = "condenser"
)

// lights are the values of --enlarger.
var lights = []string{diffusion, condenser}

func (o *aimOptions) register(cmd *cobra.Command) {
	o.options.register(cmd)
	o.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&o.paper, "paper", "", "the paper that a `TRIAL` of paper tests")
	f.StringVar(&o.grade, "grade", "", "the `GRADE` or filter of that paper; alone, a grade 0 to 5 of the published table")
	f.Float64Var((*float64)(&o.scene.DensityRange), "density-range", float64(scene.DefaultDensityRange), "net density range the negative must span, in a diffusion enlarger")
	f.Float64Var(&o.scan, "scan", 0, "a scan, in which the lightest tone reaches the gross density `MAX`")
	f.StringVar(&o.enlarger, "enlarger", diffusion, "`LIGHT` of the enlarger, diffusion or condenser; diffusion for a contact print")
	f.Float64Var(&o.callier, "callier", scene.DefaultCallier, "Callier coefficient `Q` of the negative in a condenser enlarger")
	f.StringVar(&o.flare, "flare", "fixed", "flare in the camera: fixed, fixed=LOSS in log H, veil=FRACTION of the highlights, or none")
	f.Float64Var(&o.scene.ShadowStops, "shadow-stops", scene.DefaultShadowStops, "stops below the metered tone that the index lays on the speed point")
}

// aim returns the scene that the flags describe, for the given range and the
// film trial at path. Only when they make sense is the trial of the paper read.
func (s streams) aim(o *aimOptions, path string, stops float64) (scene.Scene, error) {
	scene, err := o.described(stops)
	if err != nil || o.paper == "" {
		return scene, err
	}
	if o.paper == "-" && path == "-" {
		return scene, console.Usagef("standard input is one trial: name a file for the film or for --paper")
	}
	if scene.Paper, err = s.readPaper(o); err != nil {
		return scene, err
	}
	return scene, nil
}

// described returns the scene of the flags without a paper.
func (o *aimOptions) described(stops float64) (scene.Scene, error) {
	scene := o.scene
	var err error
	if err = o.check(); err != nil {
		return scene, err
	}
	if err = o.agree(); err != nil {
		return scene, err
	}
	if scene.Flare, err = parseFlare(o.flare); err != nil {
		return scene, err
	}
	if err = notZero(o.given, limited{"density-range", float64(scene.DensityRange), 0.2, 3}, limited{"scan", o.scan, 0.5, 6},
		limited{"callier", o.callier, 1, 2}, limited{"shadow-stops", scene.ShadowStops, 1, 10}); err != nil {
		return scene, err
	}
	scene.Stops, scene.ScanMax = stops, sensito.Density(o.scan)
	if o.grade != "" && o.paper == "" {
		r, ok := curve.GradeRange(o.grade)
		if !ok {
			return scene, console.Usagef("--grade %q is not a grade from 0 to 5; a filter needs its --paper TRIAL", o.grade)
		}
		scene.Grade, scene.DensityRange = o.grade, sensito.NetDensity(r)
	}
	if o.enlarger == condenser {
		scene.Callier = o.callier
	}
	if err := scene.Check(); err != nil {
		return scene, console.Usage(err)
	}
	return scene, nil
}

// agree returns a usage error for flags that contradict each other.
func (o *aimOptions) agree() error {
	aims := []string{"density-range", "scan"}
	if o.paper != "" {
		aims = append([]string{"paper"}, aims...)
	} else {
		aims = append([]string{"grade"}, aims...)
	}
	if err := exclusive(o.given, aims...); err != nil {
		return err
	}
	switch {
	case o.given("scan") && (o.given("enlarger") || o.given("callier")):
		return console.Usagef("--scan does not go with --enlarger and --callier: a scan needs no enlarger")
	case !slices.Contains(lights, o.enlarger):
		return console.Usagef("--enlarger %q is neither diffusion nor condenser", o.enlarger)
	case o.given("callier") && o.enlarger != condenser:
		return console.Usagef("--callier goes with --enlarger condenser")
	}
	return nil
}

// without returns a usage error for a flag that is given although what it is for
// is not.
func without(given func(string) bool, what string, flags ...string) error {
	for _, name := range flags {
		if given(name) {
			return console.Usagef("--%s has no use without %s", name, what)
		}
	}
	return nil
}

// exclusive returns a usage error when more than one of the flags is given.
func exclusive(given func(string) bool, flags ...string) error {
	first := ""
	for _, name := range flags {
		switch {
		case !given(name):
		case first != "":
			return console.Usagef("--%s and --%s exclude each other: give one of them", first, name)
		default:
			first = name
		}
	}
	return nil
}

// readPaper returns the strip of paper that the flags name.
func (s streams) readPaper(o *aimOptions) (*curve.PaperStrip, error) {
	trial, err := s.readOf(o.paper, notebook.PaperKind)
	if err != nil {
		return nil, err
	}
	strip, err := curve.MeasureGrade(trial, o.grade, o.measure.Fit)
	if err != nil {
		return nil, err
	}
	if strip.LogRange == nil {
		return nil, &sensito.Unanswerable{
			Reason: fmt.Sprintf("the strip of %s shows no range from paper white to paper black", strip.Name()),
			Hint:   "see what sensito paper says of it; expose a wedge that reaches from white to black",
		}
	}
	return strip, nil
}

// parseFlare reads the value of --flare.
func parseFlare(text string) (sensito.Flare, error) {
	kind, value, given := strings.Cut(text, "=")
	f := sensito.Flare{Kind: sensito.FlareKind(kind)}
	switch {
	case f.Kind == sensito.FlareNone && !given, f.Kind == sensito.FlareFixed && !given:
		return f, nil
	case f.Kind == sensito.FlareFixed, f.Kind == sensito.FlareVeil && given:
		v, err := strconv.ParseFloat(value, 64)
		if err == nil && v > 0 {
			f.Value = v
			return f, nil
		}
	}
	return f, console.Usagef("--flare %q is not fixed, fixed=LOSS or veil=FRACTION, both above 0, or none", text)
}
