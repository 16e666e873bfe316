package ask

import (
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/report"
	"sensito/sensito/testplan"
)

// Plan asks what to test next, of a trial, or for a first test, of which there is none.
type Plan struct {
	Aim
	wanted string
	within string
	strips int

	first      testplan.FirstTestSpec
	wedgeFirst float64
	minutes    string
	way        string
	developer  string // with its dilution
	Today      Today

	solution report.Solution
}

// The flags that only one of the two kinds of test has.
var (
	nextFlags = slices.Concat([]string{"range", "wanted", "within", "keep-all", "sd-from", "confidence"}, AimFlags,
		slices.DeleteFunc(slices.Clone(TodayFlags), func(flag string) bool { return flag == "agitation" })) // which a first test has too
	firstFlags = []string{"film", "speed", "minutes", "developer", "temperature", "way", "wedge-count", "wedge-step", "wedge-first",
		"seconds", "lux", "step-stops", "skeleton"}
)

// Register adds the flags of the question.
func (q *Plan) Register(f *pflag.FlagSet) {
	q.Aim.Register(f)
	q.Today.Register(f)
	q.registerRange(f, "range of the scene in `STOPS`")
	f.StringVar(&q.wanted, "wanted", "time", "`ANSWER` to sharpen: time, the development time, or ei, the exposure index")
	f.StringVar(&q.within, "within", "5%", "how far an end of its interval may lie away: `SHARE`, as 5% or 0.1stops")
	f.IntVar(&q.strips, "strips", 0, "at most so many strips (4); for a first test so many (5)")

	f.StringVar(&q.first.Film.Name, "film", "", "a first test of the film `NAME`")
	f.Float64Var((*float64)(&q.first.Film.RatedSpeed), "speed", 0, "its speed `S`, as on the box")
	f.StringVar(&q.minutes, "minutes", "", "the published `TIME`, 6:30 or 6.5")
	f.StringVar(&q.developer, "developer", "", "the developer `NAME`, with its dilution: \"Ashlar 1+4\"")
	f.Float64Var(&q.first.Process.TemperatureC, "temperature", 0, "temperature in degrees `C`")
	f.StringVar(&q.way, "way", string(sensito.Contact), "how to expose: contact, under a wedge, or camera, an even target")
	f.IntVar(&q.first.WedgeCount, "wedge-count", 21, "steps of the wedge")
	f.Float64Var((*float64)(&q.first.WedgeStep), "wedge-step", 0.15, "density between two steps of the wedge")
	f.Float64Var(&q.wedgeFirst, "wedge-first", 0.05, "density of its thinnest step")
	f.Float64Var(&q.first.Seconds, "seconds", 0, "exposure under the wedge in `S` seconds (1); gives the illuminance")
	f.Float64Var(&q.first.IlluminanceLx, "lux", 0, "illuminance at the film in `LX`; gives the seconds")
	f.Float64Var(&q.first.StopStep, "step-stops", 1, "stops between two exposures in the camera")

	f.Float64Var(&q.solution.MLPerRoll, "developer-ml", 0, "working developer in `ML` for a roll or 8x10 in, 516 cm2; with --strip-cm2")
	f.Float64Var(&q.solution.StripCm2, "strip-cm2", 0, "area of one strip in `CM2`")
}

// A PlanAnswer is what Plan.Ask found.
type PlanAnswer struct {
	Next     *testplan.Proposal      // nil for a first test
	First    *testplan.FirstProposal // nil for the next of a trial
	Solution report.Solution         // developer for the strips
}

// Report returns the result to be written.
func (a *PlanAnswer) Report() (report.Report, error) {
	if a.First != nil {
		return report.NewFirstTest(a.First, a.Solution), nil
	}
	return report.NewPlan(a.Next, a.Solution), nil
}

// Figure draws what the test would do for the answer, or how the first one is exposed.
func (a *PlanAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	if a.First != nil {
		return plot.FirstTest(a.First, o)
	}
	return plot.Proposal(a.Next, o)
}

// Ask plans the next test of the film trial at path, or without a path a first test. An
// error is of usage where the flags cannot be asked together.
func (q *Plan) Ask(from console.Streams, path string) (*PlanAnswer, error) {
	a := &PlanAnswer{}
	var err error
	if path == "" {
		a.First, err = q.firstTest()
	} else {
		a.Next, err = q.nextTest(Files{from}, path)
	}
	if err != nil {
		return nil, err
	}
	a.Solution = q.solution
	return a, nil
}

// nextTest plans the next test of a trial.
func (q *Plan) nextTest(s Files, path string) (*testplan.Proposal, error) {
	if err := q.only("a trial", firstFlags); err != nil {
		return nil, err
	}
	if !q.given("range") {
		return nil, console.Usagef("plan needs --range STOPS, the range of the scene (a normal one has 7)")
	}
	today, err := q.Today.Sense(path, q.paper)
	if err != nil {
		return nil, err
	}
	ask, err := q.ask()
	if err != nil {
		return nil, err
	}
	scene, err := q.Aim.Scene(s, path, q.scene.Stops)
	if err != nil {
		return nil, err
	}
	f, err := q.Family(s, path)
	if err != nil {
		return nil, err
	}
	if scene.Today, err = q.Today.read(s, today); err != nil {
		return nil, err
	}
	ask.Level = q.Level
	if ask.Measure, err = q.Measure(); err != nil {
		return nil, err
	}
	return testplan.Propose(f, scene, ask)
}

// firstTest plans a first test, of which there is no trial.
func (q *Plan) firstTest() (*testplan.FirstProposal, error) {
	if err := q.only("a first test", nextFlags); err != nil {
		return nil, err
	}
	if err := q.volume(); err != nil {
		return nil, err
	}
	if _, err := q.Measure(); err != nil {
		return nil, err
	}
	if !q.given("film") || !q.given("speed") || !q.given("minutes") {
		return nil, console.Usagef("plan needs a trial, or --film NAME --speed S --minutes M for a first test")
	}
	spec := q.first
	spec.WedgeFirst = new(sensito.Density(q.wedgeFirst))
	var err error
	if spec.Minutes, err = Minutes(q.minutes); err != nil {
		return nil, err
	}
	spec.Strips, spec.Way, spec.Process.Agitation = q.strips, sensito.Kind(q.way), q.Today.today.Conditions.Agitation
	spec.Process.Developer, spec.Process.Dilution = sensito.SplitDilution(q.developer)
	if spec.Way == sensito.Camera {
		if err := q.only("--way camera", []string{"wedge-count", "wedge-step", "wedge-first", "seconds", "lux"}); err != nil {
			return nil, err
		}
	} else if err := q.only("a wedge", []string{"step-stops"}); err != nil {
		return nil, err
	}
	if err := q.limits(spec); err != nil {
		return nil, err
	}
	p, err := testplan.FirstTest(spec)
	if err != nil {
		return nil, console.Usage(err)
	}
	return p, nil
}

// limits checks the flags of a first test of which its spec would take a zero for
// the default.
func (q *Plan) limits(spec testplan.FirstTestSpec) error {
	return notZero(q.given, limited{"strips", float64(q.strips), 2, 12}, limited{"temperature", spec.Process.TemperatureC, 1, 60},
		limited{"wedge-count", float64(spec.WedgeCount), 6, 200}, limited{"wedge-step", float64(spec.WedgeStep), 0.02, 0.5},
		limited{"seconds", spec.Seconds, 1e-4, 1000}, limited{"lux", spec.IlluminanceLx, 1e-4, 1e6}, limited{"step-stops", spec.StopStep, 0.25, 2})
}

// only returns a usage error when one of the flags is given, which the kind of
// test named does not have.
func (q *Plan) only(kind string, not []string) error {
	for _, name := range not {
		if q.given(name) {
			return console.Usagef("--%s does not go with %s", name, kind)
		}
	}
	return nil
}

// volume checks the flags of the developer's volume.
func (q *Plan) volume() error {
	switch v := q.solution; {
	case q.given("developer-ml") != q.given("strip-cm2"):
		return console.Usagef("--developer-ml and --strip-cm2 go together: give both")
	case q.given("developer-ml") && !(v.MLPerRoll >= 1 && v.MLPerRoll <= 1e4):
		return console.Usagef("--developer-ml %g is outside 1 to 10000 ml", v.MLPerRoll)
	case q.given("strip-cm2") && !(v.StripCm2 >= 1 && v.StripCm2 <= 1e4):
		return console.Usagef("--strip-cm2 %g is outside 1 to 10000 cm2", v.StripCm2)
	}
	return nil
}

// wanted are the values of --wanted.
var wanted = map[string]testplan.Wanted{"time": testplan.WantedMinutes, "ei": testplan.WantedIndex}

// Wanted returns the values of --wanted.
func Wanted() []string { return slices.Sorted(maps.Keys(wanted)) }

// ask returns what the flags ask of the answer.
func (q *Plan) ask() (testplan.Options, error) {
	var ask testplan.Options
	if err := q.volume(); err != nil {
		return ask, err
	}
	var known bool
	if ask.Wanted, known = wanted[q.wanted]; !known {
		return ask, console.Usagef("--wanted %q is neither time nor ei", q.wanted)
	}
	var err error
	if ask.Within, err = ParseWithin(q.within); err != nil {
		return ask, err
	}
	if err = notZero(q.given, limited{"strips", float64(q.strips), 1, 12}); err != nil {
		return ask, err
	}
	ask.MaxStrips = q.strips
	if err := ask.Check(); err != nil {
		return ask, console.Usage(err)
	}
	return ask, nil
}

var errWithin = errors.New("is not a share like 5%, or stops like 0.1stops, above zero")

// ParseWithin reads the value of --within as a share. The error is of usage.
func ParseWithin(text string) (float64, error) {
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
