package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
	"sensito/sensito/testplan"
)

// planOptions are the flags of plan: of the next test, which has a trial, and of
// a first one, which has none.
type planOptions struct {
	aimOptions
	wanted string
	within string
	strips int

	first      testplan.FirstTestSpec
	wedgeFirst float64
	minutes    string
	way        string
	developer  string // with its dilution
	today      todayOptions
	skeleton   string

	solution report.Solution
}

// The flags that only one of the two kinds of test has.
var (
	nextFlags = slices.Concat([]string{"range", "wanted", "within", "keep-all", "sd-from", "confidence"}, aimFlags,
		slices.DeleteFunc(slices.Clone(todayFlags), func(flag string) bool { return flag == "agitation" })) // which a first test has too
	firstFlags = []string{"film", "speed", "minutes", "developer", "temperature", "way", "wedge-count", "wedge-step", "wedge-first",
		"seconds", "lux", "step-stops", "skeleton"}
)

func newPlanCmd(s streams) *cobra.Command {
	o := &planOptions{}
	cmd := &cobra.Command{
		Use:   "plan (TRIAL --range STOPS | --film NAME --speed S --minutes M)",
		Short: "What to test next, and how much the answer would sharpen",
		Long: `For a trial and a scene: which strips to develop next, for how long, and which
readings are missing, with the interval that the development time (or the
exposure index) has now and would have then; and a sheet for the bench. With --at
and its like, or a control log, the answer is that of today, while strips are
developed as in the trial.

Times tested already are tried again, since strips developed alike tell how well
the process repeats, unless the trial states that: temperature_sd_c, time_sd_s.

For a film of which only the box is known: the times of a first test about the
published one, and how to expose it, under a wedge or in the camera.`,
		Example: `  sensito plan larkfield-brinewater.toml --range 5 --within 3%
  sensito plan larkfield-brinewater.toml --range 7 --wanted ei --within 0.1stops
  sensito plan --film "Tern 400" --speed 400 --minutes 9 --developer "Ashlar 1+4"
  sensito plan --film "Tern 400" --speed 400 --minutes 9 --way camera --skeleton tern.toml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return console.Usagef("plan takes one trial at most; %d given", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return s.firstTest(o)
			}
			return s.nextTest(o, args[0])
		},
	}
	o.register(cmd)
	o.look.register(cmd)
	o.registerFull(cmd, "what each strip would do by itself")
	o.today.register(cmd)
	f := cmd.Flags()
	f.Float64Var(&o.scene.Stops, "range", 0, "range of the scene in `STOPS`")
	f.StringVar(&o.wanted, "wanted", "time", "`ANSWER` to sharpen: time, the development time, or ei, the exposure index")
	f.StringVar(&o.within, "within", "5%", "how far an end of its interval may lie away: `SHARE`, as 5% or 0.1stops")
	f.IntVar(&o.strips, "strips", 0, "at most so many strips (4); for a first test so many (5)")

	f.StringVar(&o.first.Film.Name, "film", "", "a first test of the film `NAME`")
	f.Float64Var((*float64)(&o.first.Film.RatedSpeed), "speed", 0, "its speed `S`, as on the box")
	f.StringVar(&o.minutes, "minutes", "", "the published `TIME`, 6:30 or 6.5")
	f.StringVar(&o.developer, "developer", "", "the developer `NAME`, with its dilution: \"Ashlar 1+4\"")
	f.Float64Var(&o.first.Process.TemperatureC, "temperature", 0, "temperature in degrees `C`")
	f.StringVar(&o.way, "way", string(sensito.Contact), "how to expose: contact, under a wedge, or camera, an even target")
	f.IntVar(&o.first.WedgeCount, "wedge-count", 21, "steps of the wedge")
	f.Float64Var((*float64)(&o.first.WedgeStep), "wedge-step", 0.15, "density between two steps of the wedge")
	f.Float64Var(&o.wedgeFirst, "wedge-first", 0.05, "density of its thinnest step")
	f.Float64Var(&o.first.Seconds, "seconds", 0, "exposure under the wedge in `S` seconds (1); gives the illuminance")
	f.Float64Var(&o.first.IlluminanceLx, "lux", 0, "illuminance at the film in `LX`; gives the seconds")
	f.Float64Var(&o.first.StopStep, "step-stops", 1, "stops between two exposures in the camera")
	f.StringVar(&o.skeleton, "skeleton", "", "write the notebook to be filled in to a new `FILE`")

	f.Float64Var(&o.solution.MLPerRoll, "developer-ml", 0, "working developer in `ML` for a roll or 8x10 in, 516 cm2; with --strip-cm2")
	f.Float64Var(&o.solution.StripCm2, "strip-cm2", 0, "area of one strip in `CM2`")
	return cmd
}

// nextTest plans the next test of a trial.
func (s streams) nextTest(o *planOptions, path string) error {
	if err := o.only("a trial", firstFlags); err != nil {
		return err
	}
	if !o.given("range") {
		return console.Usagef("plan needs --range STOPS, the range of the scene")
	}
	if err := o.today.sense(path, o.paper); err != nil {
		return err
	}
	ask, err := o.ask()
	if err != nil {
		return err
	}
	scene, err := s.aim(&o.aimOptions, path, o.scene.Stops)
	if err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	if scene.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	ask.Level, ask.Measure = o.confidence, o.measure
	p, err := testplan.Propose(f, scene, ask)
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewPlan(p, o.solution), func() (*plot.Figure, error) {
		return plot.Proposal(p, o.drawn)
	})
}

// firstTest plans a first test, of which there is no trial.
func (s streams) firstTest(o *planOptions) error {
	if err := o.only("a first test", nextFlags); err != nil {
		return err
	}
	if err := o.volume(); err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return err
	}
	if !o.given("film") || !o.given("speed") || !o.given("minutes") {
		return console.Usagef("plan needs a trial, or --film NAME --speed S --minutes M for a first test")
	}
	spec := o.first
	spec.WedgeFirst = new(sensito.Density(o.wedgeFirst))
	var err error
	if spec.Minutes, err = minutesFlag(o.minutes); err != nil {
		return err
	}
	spec.Strips, spec.Way, spec.Process.Agitation = o.strips, sensito.Kind(o.way), o.today.today.Conditions.Agitation
	spec.Process.Developer, spec.Process.Dilution = sensito.SplitDilution(o.developer)
	if spec.Way == sensito.Camera {
		if err := o.only("--way camera", []string{"wedge-count", "wedge-step", "wedge-first", "seconds", "lux"}); err != nil {
			return err
		}
	} else if err := o.only("a wedge", []string{"step-stops"}); err != nil {
		return err
	}
	if err := o.limits(spec); err != nil {
		return err
	}
	p, err := testplan.FirstTest(spec)
	if err != nil {
		return console.Usage(err)
	}
	if o.skeleton != "" {
		if err := s.Free(o.skeleton, o.force); err != nil {
			return err
		}
	}
	out, err := s.render(&o.options, report.NewFirstTest(p, o.solution), func() (*plot.Figure, error) {
		return plot.FirstTest(p, o.drawn)
	})
	if err != nil {
		return err
	}
	if o.skeleton != "" {
		if err := s.WriteOutput(o.skeleton, notebook.Skeleton(p), o.force); err != nil {
			return err
		}
		fmt.Fprintf(s.Err, "sensito: wrote %s\n", o.skeleton)
	}
	return s.write(out)
}

// limits checks the flags of a first test of which its spec would take a zero for
// the default.
func (o *planOptions) limits(spec testplan.FirstTestSpec) error {
	return notZero(o.given, limited{"strips", float64(o.strips), 2, 12}, limited{"temperature", spec.Process.TemperatureC, 1, 60},
		limited{"wedge-count", float64(spec.WedgeCount), 6, 200}, limited{"wedge-step", float64(spec.WedgeStep), 0.02, 0.5},
		limited{"seconds", spec.Seconds, 1e-4, 1000}, limited{"lux", spec.IlluminanceLx, 1e-4, 1e6}, limited{"step-stops", spec.StopStep, 0.25, 2})
}

// only returns a usage error when one of the flags is given, which the kind of
// test named does not have.
func (o *planOptions) only(kind string, not []string) error {
	for _, name := range not {
		if o.given(name) {
			return console.Usagef("--%s does not go with %s", name, kind)
		}
	}
	return nil
}

// volume checks the flags of the developer's volume.
func (o *planOptions) volume() error {
	switch v := o.solution; {
	case o.given("developer-ml") != o.given("strip-cm2"):
		return console.Usagef("--developer-ml and --strip-cm2 go together: give both")
	case o.given("developer-ml") && !(v.MLPerRoll >= 1 && v.MLPerRoll <= 1e4):
		return console.Usagef("--developer-ml %g is outside 1 to 10000 ml", v.MLPerRoll)
	case o.given("strip-cm2") && !(v.StripCm2 >= 1 && v.StripCm2 <= 1e4):
		return console.Usagef("--strip-cm2 %g is outside 1 to 10000 cm2", v.StripCm2)
	}
	return nil
}

// wanted are the values of --wanted.
var wanted = map[string]testplan.Wanted{"time": testplan.WantedMinutes, "ei": testplan.WantedIndex}

// ask returns what the flags ask of the answer.
func (o *planOptions) ask() (testplan.Options, error) {
	var ask testplan.Options
	if err := o.volume(); err != nil {
		return ask, err
	}
	var known bool
	if ask.Wanted, known = wanted[o.wanted]; !known {
		return ask, console.Usagef("--wanted %q is neither time nor ei", o.wanted)
	}
	var err error
	if ask.Within, err = parseWithin(o.within); err != nil {
		return ask, err
	}
	if err = notZero(o.given, limited{"strips", float64(o.strips), 1, 12}); err != nil {
		return ask, err
	}
	ask.MaxStrips = o.strips
	if err := ask.Check(); err != nil {
		return ask, console.Usage(err)
	}
	return ask, nil
}

var errWithin = errors.New("is not a share like 5%, or stops like 0.1stops, above zero")

// parseWithin reads the value of --within as a share.
func parseWithin(text string) (float64, error) {
	number, of := strings.TrimSpace(text), testplan.ShareOfStops
	switch {
	case strings.HasSuffix(number, "%"):
		number, of = strings.TrimSuffix(number, "%"), func(v float64) float64 { return v / 100 }
	case strings.HasSuffix(number, "stops"):
		number = strings.TrimSuffix(number, "stops")
	case strings.HasSuffix(number, "stop"):
		number = strings.TrimSuffix(number, "stop")
	default:
		return 0, console.Usagef("--within %q %w", text, errWithin)
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(v > 0) {
		return 0, console.Usagef("--within %q %w", text, errWithin)
	}
	return of(v), nil
}
