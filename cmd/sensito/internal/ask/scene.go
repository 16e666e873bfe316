package ask

import (
	"errors"
	"fmt"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/listing"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// Scene asks for the exposure index and the development time of one scene, or of a roll of
// scenes.
type Scene struct {
	Aim
	shadow, highlight string
	meterIndex        float64
	roll              string
	Today             Today

	aperture, time   string
	filters          []string
	extension, focal float64

	ownIndex  float64 // of the photographer's choice
	exposedAt float64
	keep      string
}

// Register adds the flags of the question.
func (q *Scene) Register(f *pflag.FlagSet) {
	q.registerScene(f)
	f.StringVar(&q.aperture, "aperture", "", "`N` of f/N: gives the time")
	f.StringVar(&q.time, "time", "", "time `T` of the shutter, 1/60, 2 or 1:30: gives the aperture")
	f.StringArrayVar(&q.filters, "filter", nil, "factor of a filter `F`, 2x or +1 stop; may be repeated")
	f.Float64Var(&q.extension, "extension", 0, "from lens to film, in `MM`, with --focal: bellows factor")
	f.Float64Var(&q.focal, "focal", 0, "focal length of the lens in `MM`")
	f.Float64Var(&q.ownIndex, "index", 0, "expose at an `INDEX` of your own: a push, or more exposure than needed")
	f.Float64Var(&q.exposedAt, "exposed-at", 0, "the film has been exposed at an `INDEX`")
	f.StringVar(&q.keep, "keep", string(scene.KeepHighlight), "`WHAT` stays as it is without: highlight or metered (the density of that tone), or range")
}

// registerScene adds the flags that say what the scene is, what it is to suit and
// how it is developed.
func (q *Scene) registerScene(f *pflag.FlagSet) {
	q.Aim.Register(f)
	q.Today.Register(f)
	q.registerRange(f, "range of the scene in `STOPS`")
	f.StringVar(&q.shadow, "shadow", "", "spot reading of a shadow and the zone it is placed on, `EV@ZONE`: 8@III, \"10 1/3@2.5\"")
	f.StringVar(&q.highlight, "highlight", "", "spot reading of a highlight and the zone where it is wanted, `EV@ZONE`")
	f.Float64Var(&q.meterIndex, "meter-index", float64(camera.DefaultMeterIndex), "the `INDEX` that was set on the meter")
	f.StringVar(&q.roll, "roll", "", "the scenes of a roll, a CSV `FILE` or - for standard input")
}

// A SceneAnswer is what Scene.Ask found.
type SceneAnswer struct {
	Answer  *scene.Answer   // nil for a roll
	Setting *camera.Setting // of the camera; nil unless asked
	Roll    *scene.Roll     // nil for one scene
	Level   float64         // of the intervals

	// Beside is what a control log in the folder of the trial says of its process, and
	// BesideLog the path of that log; nil and "" where a log is given, for a roll, and for
	// a trial from standard input.
	Beside    *listing.Beside
	BesideLog string
}

// Report returns the result to be written.
func (a *SceneAnswer) Report() (report.Report, error) {
	if a.Roll != nil {
		return report.NewRoll(a.Roll, a.Level), nil
	}
	r, err := report.NewScene(a.Answer, a.Setting, a.Level)
	if err == nil && a.Beside != nil {
		r.Beside(a.Beside, func(corrects bool) string {
			if corrects {
				return "--control " + a.BesideLog + " --correct gives that time"
			}
			return "--control " + a.BesideLog + " tells more"
		})
	}
	return r, err
}

// Figure draws the answer.
func (a *SceneAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence = a.Level
	if a.Roll != nil {
		return plot.Roll(a.Roll, o)
	}
	return plot.Scene(a.Answer, o)
}

// Ask answers for the film trial at path. An error is of usage where the flags cannot be
// asked together.
func (q *Scene) Ask(from console.Streams, path string) (*SceneAnswer, error) {
	s := Files{from}
	if err := q.sense(path); err != nil {
		return nil, err
	}
	if err := q.senseIndex(); err != nil {
		return nil, err
	}
	today, err := q.Today.Sense(path, q.paper, q.roll)
	if err != nil {
		return nil, err
	}
	if q.given("roll") {
		return q.askRoll(s, path, today)
	}
	metering, stops, err := q.metered()
	if err != nil {
		return nil, err
	}
	shot, err := q.shot()
	if err != nil {
		return nil, err
	}
	aimed, err := q.Aim.Scene(s, path, stops)
	if err != nil {
		return nil, err
	}
	aimed.Metering = metering
	if aimed.Today, err = q.Today.read(s, today); err != nil {
		return nil, err
	}
	f, err := q.Family(s, path)
	if err != nil {
		return nil, err
	}
	a := &SceneAnswer{Level: q.Level}
	if given := q.givenIndex(); given != nil {
		a.Answer, err = scene.ForIndex(f, aimed, *given)
	} else {
		a.Answer, err = scene.For(f, aimed)
	}
	if err != nil {
		return nil, err
	}
	if q.Today.control == "" {
		a.Beside, a.BesideLog = s.besideOf(path, f)
	}
	if shot != nil {
		if a.Setting, err = a.Answer.Setting(*shot); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// givenIndex returns the index that is given, nil for none.
func (q *Scene) givenIndex() *scene.Given {
	switch {
	case q.given("index"):
		return &scene.Given{Index: sensito.Speed(q.ownIndex), Keep: scene.Kept(q.keep)}
	case q.given("exposed-at"):
		return &scene.Given{Index: sensito.Speed(q.exposedAt), Exposed: true, Keep: scene.Kept(q.keep)}
	}
	return nil
}

// senseIndex returns a usage error for flags of an index that is given which do not go
// together, or are outside their limits.
func (q *Scene) senseIndex() error {
	given := q.givenIndex()
	switch {
	case given == nil && q.given("keep"):
		return console.Usagef("--keep goes with --index or --exposed-at")
	case given == nil:
		return nil
	case q.given("index") && q.given("exposed-at"):
		return console.Usagef("--index and --exposed-at exclude each other: give one of them")
	case q.given("roll"):
		return console.Usagef("--index and --exposed-at ask for one scene, since the frames of a roll do not keep one tone alike: leave out --roll and give the --range of a typical frame")
	case given.Exposed && (q.given("aperture") || q.given("time")):
		return console.Usagef("--exposed-at is of film that has been exposed: leave out --aperture and --time")
	}
	if err := given.Check(); err != nil {
		return console.Usage(err)
	}
	return nil
}

// askRoll finds one development time for the scenes of a file.
func (q *Scene) askRoll(s Files, path string, today scene.Today) (*SceneAnswer, error) {
	const anyRange = 20 // stops; those of the file are checked when it has been read
	index, err := q.index()
	if err != nil {
		return nil, err
	}
	aimed, err := q.Aim.Scene(s, path, anyRange)
	if err != nil {
		return nil, err
	}
	frames, err := s.Roll(q.roll, index)
	if err != nil {
		return nil, err
	}
	if aimed.Today, err = q.Today.read(s, today); err != nil {
		return nil, err
	}
	f, err := q.Family(s, path)
	if err != nil {
		return nil, err
	}
	a := &SceneAnswer{Level: q.Level}
	if a.Roll, err = scene.ForRoll(f, aimed, frames); err != nil {
		return nil, err
	}
	return a, nil
}

// sense returns a usage error for flags that do not go together.
func (q *Scene) sense(path string) error {
	spots := q.given("shadow") || q.given("highlight")
	scenes := 0
	for _, given := range []bool{q.given("range"), spots, q.given("roll")} {
		if given {
			scenes++
		}
	}
	shot := q.given("aperture") || q.given("time")
	inTheLight := q.given("filter") || q.given("extension") || q.given("focal")
	switch {
	case scenes == 0:
		return console.Usagef("scene needs --range STOPS, the range of the scene (a normal one has 7), or --shadow EV@ZONE and --highlight EV@ZONE, or --roll FILE")
	case scenes > 1:
		return console.Usagef("--range, --shadow with --highlight, and --roll exclude each other: give one of them")
	case spots && !(q.given("shadow") && q.given("highlight")):
		return console.Usagef("--shadow and --highlight go together: give both")
	case q.given("meter-index") && q.given("range"):
		return console.Usagef("--meter-index goes with spot readings: --shadow and --highlight, or those of --roll")
	case (shot || inTheLight) && !spots:
		return console.Usagef("--aperture, --time, --filter, --extension and --focal go with spot readings: give --shadow and --highlight")
	case q.given("aperture") && q.given("time"):
		return console.Usagef("--aperture and --time exclude each other: give one of them")
	case inTheLight && !shot:
		return console.Usagef("--filter, --extension and --focal need --aperture or --time")
	case q.given("extension") != q.given("focal"):
		return console.Usagef("--extension and --focal go together: give both")
	case q.roll == "-" && (path == "-" || q.paper == "-"):
		return console.Usagef("standard input is one file: only one of the trial, --paper and --roll can be -")
	}
	return nil
}

// index returns the index that was set on the meter.
func (q *Scene) index() (sensito.Speed, error) {
	if err := camera.CheckMeterIndex(sensito.Speed(q.meterIndex)); err != nil {
		return 0, console.Usagef("--meter-index: %w", err)
	}
	return sensito.Speed(q.meterIndex), nil
}

// metered returns the spot readings, if there are any, and the range of the
// scene.
func (q *Scene) metered() (*camera.Metering, float64, error) {
	if q.given("range") {
		return nil, q.scene.Stops, nil
	}
	index, err := q.index()
	if err != nil {
		return nil, 0, err
	}
	m := &camera.Metering{Index: index}
	var errs []error
	for _, spot := range []struct {
		flag, text string
		to         *camera.SpotReading
	}{{"shadow", q.shadow, &m.Shadow}, {"highlight", q.highlight, &m.Highlight}} {
		if *spot.to, err = camera.ParseSpotReading(spot.text); err != nil {
			errs = append(errs, fmt.Errorf("--%s %w", spot.flag, err))
		}
	}
	if len(errs) > 0 {
		return nil, 0, console.Usage(errors.Join(errs...))
	}
	stops, err := m.Range()
	if err != nil {
		return nil, 0, console.Usage(err)
	}
	return m, stops, nil
}

// shot returns the aperture or the time and the factors, nil without either.
func (q *Scene) shot() (*camera.Shot, error) {
	if !q.given("aperture") && !q.given("time") {
		return nil, nil
	}
	c := &camera.Shot{}
	var errs []error
	read := func(flag string, err error) {
		if err != nil {
			errs = append(errs, fmt.Errorf("--%s %w", flag, err))
		}
	}
	var err error
	if q.given("aperture") {
		c.Aperture, err = sensito.ParseFNumber(q.aperture)
		read("aperture", err)
	} else {
		c.Time, err = sensito.ParseSeconds(q.time)
		read("time", err)
	}
	for _, text := range q.filters {
		f, err := camera.ParseFactor(text)
		read("filter", err)
		c.Filters = append(c.Filters, f)
	}
	if q.given("extension") {
		if c.Bellows, err = camera.BellowsFactor(q.extension, q.focal); err != nil {
			errs = append(errs, err)
		}
	}
	if len(errs) > 0 {
		return nil, console.Usage(errors.Join(errs...))
	}
	return c, nil
}
