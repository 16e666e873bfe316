package ask

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// Aim is what a negative is to suit, and how its readings are evaluated.
type Aim struct {
	Evaluation
	flare    string
	paper    string // file of a paper trial
	grade    string
	enlarger string
	callier  float64
	scan     float64
	scene    scene.Scene
}

// AimFlags are the flags that only a scene has a use for.
var AimFlags = []string{"paper", "grade", "density-range", "scan", "enlarger", "callier", "flare", "shadow-stops"}

const (
	diffusion = "diffusion"
	condenser = "condenser"
)

// Lights are the values of --enlarger.
var Lights = []string{diffusion, condenser}

// Register adds the flags to those of a question.
func (q *Aim) Register(f *pflag.FlagSet) {
	q.Evaluation.Register(f)
	f.StringVar(&q.paper, "paper", "", "the paper that a `TRIAL` of paper tests")
	f.StringVar(&q.grade, "grade", "", "the `GRADE` or filter of that paper; alone, a grade 0 to 5 of the published table")
	f.Float64Var((*float64)(&q.scene.DensityRange), "density-range", float64(scene.DefaultDensityRange), "net density range the negative must span, in a diffusion enlarger")
	f.Float64Var(&q.scan, "scan", 0, "a scan, in which the lightest tone reaches the gross density `MAX`")
	f.StringVar(&q.enlarger, "enlarger", diffusion, "`LIGHT` of the enlarger, diffusion or condenser; diffusion for a contact print")
	f.Float64Var(&q.callier, "callier", scene.DefaultCallier, "Callier coefficient `Q` of the negative in a condenser enlarger")
	f.StringVar(&q.flare, "flare", "fixed", "flare in the camera: fixed, fixed=LOSS in log H, veil=FRACTION of the highlights, or none")
	f.Float64Var(&q.scene.ShadowStops, "shadow-stops", scene.DefaultShadowStops, "stops below the metered tone that the index lays on the speed point")
}

// registerRange adds the flag of the range, which not every question about an aim has.
func (q *Aim) registerRange(f *pflag.FlagSet, usage string) {
	f.Float64Var(&q.scene.Stops, "range", 0, usage)
}

// Scene returns the scene that the flags describe, for the given range and the film
// trial at path. Only when they make sense is the trial of the paper read.
func (q *Aim) Scene(s Files, path string, stops float64) (scene.Scene, error) {
	scene, err := q.described(stops)
	if err != nil || q.paper == "" {
		return scene, err
	}
	if q.paper == "-" && path == "-" {
		return scene, console.Usagef("standard input is one trial: name a file for the film or for --paper")
	}
	if scene.Paper, err = q.readPaper(s); err != nil {
		return scene, err
	}
	return scene, nil
}

// described returns the scene of the flags without a paper.
func (q *Aim) described(stops float64) (scene.Scene, error) {
	scene := q.scene
	var err error
	if _, err = q.Measure(); err != nil {
		return scene, err
	}
	if err = q.agree(); err != nil {
		return scene, err
	}
	if scene.Flare, err = ParseFlare(q.flare); err != nil {
		return scene, err
	}
	if err = notZero(q.given, limited{"density-range", float64(scene.DensityRange), 0.2, 3}, limited{"scan", q.scan, 0.5, 6},
		limited{"callier", q.callier, 1, 2}, limited{"shadow-stops", scene.ShadowStops, 1, 10}); err != nil {
		return scene, err
	}
	scene.Stops, scene.ScanMax = stops, sensito.Density(q.scan)
	if q.grade != "" && q.paper == "" {
		r, ok := paper.GradeRange(q.grade)
		if !ok {
			return scene, console.Usagef("--grade %q is not a grade from 0 to 5; a filter needs its --paper TRIAL", q.grade)
		}
		scene.Grade, scene.DensityRange = q.grade, sensito.NetDensity(r)
	}
	if q.enlarger == condenser {
		scene.Callier = q.callier
	}
	if err := scene.Check(); err != nil {
		return scene, console.Usage(err)
	}
	return scene, nil
}

// agree returns a usage error for flags that contradict each other.
func (q *Aim) agree() error {
	aims := []string{"density-range", "scan"}
	if q.paper != "" {
		aims = append([]string{"paper"}, aims...)
	} else {
		aims = append([]string{"grade"}, aims...)
	}
	if err := exclusive(q.given, aims...); err != nil {
		return err
	}
	switch {
	case q.given("scan") && (q.given("enlarger") || q.given("callier")):
		return console.Usagef("--scan does not go with --enlarger and --callier: a scan needs no enlarger")
	case !slices.Contains(Lights, q.enlarger):
		return console.Usagef("--enlarger %q is neither diffusion nor condenser", q.enlarger)
	case q.given("callier") && q.enlarger != condenser:
		return console.Usagef("--callier goes with --enlarger condenser")
	}
	return nil
}

// readPaper returns the strip of paper that the flags name.
func (q *Aim) readPaper(s Files) (*paper.Strip, error) {
	measure, err := q.Measure()
	if err != nil {
		return nil, err
	}
	trial, err := s.Of(q.paper, notebook.PaperKind)
	if err != nil {
		return nil, err
	}
	strip, err := paper.MeasureGrade(trial, q.grade, measure.Fit)
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

// ParseFlare reads the value of --flare. The error is of usage.
func ParseFlare(text string) (sensito.Flare, error) {
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
