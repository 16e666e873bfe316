package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// sceneOptions are the flags of scene.
type sceneOptions struct {
	aimOptions
	shadow, highlight string
	meterIndex        float64
	roll              string
	today             todayOptions

	aperture, time   string
	filters          []string
	extension, focal float64

	ownIndex  float64 // of the photographer's choice
	exposedAt float64
	keep      string
}

func newSceneCmd(s streams) *cobra.Command {
	o := &sceneOptions{}
	cmd := &cobra.Command{
		Use:   "scene TRIAL (--range STOPS | --shadow EV@ZONE --highlight EV@ZONE | --roll FILE)",
		Short: "Exposure index and development time for one scene, or for a roll of scenes",
		Long: `Gives the development time at which the tones of a scene span the density range
of the aim, the exposure index at that time, the density range that the two
deliver, and where each tone falls on the negative and, with a tested paper, in
the print.

The index lays an even tone, --shadow-stops below the metered one, on the speed
point without flare, as a test exposure shows. Time and tones count flare, which
lifts the shadows above that: a reserve.

The scene is a range in stops, from the darkest to the lightest tone that must
keep detail; or two spot readings with the zones they go with, from which the
camera is set too; or a file of the scenes of a roll, which share one
development time. That file is a table (CSV) with a header: name, and range_stops
or shadow and highlight.

With a control log it says how far the process of today is from the trial's, and
with --correct gives time and index for that process. With --at, --agitation or
--dilution the time is for those conditions, and that of the trial is told
beside it.

With --index the index is yours, as for a push, and with --exposed-at the film has
been exposed at it. The time then keeps the lightest tone at the net density that
it has in the answer without, or with --keep the metered tone, or the density range
of the scene. The answer says which shadows fall below the speed point and which
grade prints it.`,
		Example: `  sensito scene larkfield-brinewater.toml --range 7
  sensito scene larkfield-brinewater.toml --range 9 --density-range 1.25 --flare veil=0.01
  sensito scene larkfield-brinewater.toml --range 7 --paper slate.toml --grade 2
  sensito scene larkfield-brinewater.toml --shadow 8@III --highlight 13@VIII --aperture 16 --filter 2x
  sensito scene larkfield-brinewater.toml --roll harbour.csv --plot roll.svg
  sensito scene larkfield-brinewater.toml --range 7 --control control.toml --correct
  sensito scene larkfield-brinewater.toml --range 7 --index 160
  sensito scene larkfield-brinewater.toml --range 7 --exposed-at 40 --keep range
  sensito scene larkfield-brinewater.toml --range 7 --at 22.5
  sensito scene larkfield-brinewater.toml --range 7 --at 70F --ends-at 75F --agitation intermittent`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error { return s.scene(o, args[0]) },
	}
	o.registerScene(cmd)
	o.registerFull(cmd, "what goes with time and index, and what the error of the time is made of")
	f := cmd.Flags()
	f.StringVar(&o.aperture, "aperture", "", "`N` of f/N: gives the time")
	f.StringVar(&o.time, "time", "", "time `T` of the shutter, 1/60, 2 or 1:30: gives the aperture")
	f.StringArrayVar(&o.filters, "filter", nil, "factor of a filter `F`, 2x or +1 stop; may be repeated")
	f.Float64Var(&o.extension, "extension", 0, "from lens to film, in `MM`, with --focal: bellows factor")
	f.Float64Var(&o.focal, "focal", 0, "focal length of the lens in `MM`")
	f.Float64Var(&o.ownIndex, "index", 0, "expose at an `INDEX` of your own: a push, or more exposure than needed")
	f.Float64Var(&o.exposedAt, "exposed-at", 0, "the film has been exposed at an `INDEX`")
	f.StringVar(&o.keep, "keep", string(scene.KeepHighlight), "`WHAT` stays as it is without: highlight or metered (the density of that tone), or range")
	return cmd
}

// registerScene adds the flags that say what the scene is, what it is to suit and
// how it is developed.
func (o *sceneOptions) registerScene(cmd *cobra.Command) {
	o.register(cmd)
	o.look.register(cmd)
	o.today.register(cmd)
	f := cmd.Flags()
	f.Float64Var(&o.scene.Stops, "range", 0, "range of the scene in `STOPS`")
	f.StringVar(&o.shadow, "shadow", "", "spot reading of a shadow and the zone it is placed on, `EV@ZONE`: 8@III, \"10 1/3@2.5\"")
	f.StringVar(&o.highlight, "highlight", "", "spot reading of a highlight and the zone where it is wanted, `EV@ZONE`")
	f.Float64Var(&o.meterIndex, "meter-index", float64(camera.DefaultMeterIndex), "the `INDEX` that was set on the meter")
	f.StringVar(&o.roll, "roll", "", "the scenes of a roll, a CSV `FILE` or - for standard input")
}

func (s streams) scene(o *sceneOptions, path string) error {
	if err := o.sense(path); err != nil {
		return err
	}
	if err := o.senseIndex(); err != nil {
		return err
	}
	if err := o.today.sense(path, o.paper, o.roll); err != nil {
		return err
	}
	if o.given("roll") {
		return s.roll(o, path)
	}
	metering, stops, err := o.metered()
	if err != nil {
		return err
	}
	shot, err := o.shot()
	if err != nil {
		return err
	}
	aimed, err := s.aim(&o.aimOptions, path, stops)
	if err != nil {
		return err
	}
	aimed.Metering = metering
	if aimed.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	ask := func() (*scene.Answer, error) { return scene.For(f, aimed) }
	if given := o.givenIndex(); given != nil {
		ask = func() (*scene.Answer, error) { return scene.ForIndex(f, aimed, *given) }
	}
	p, err := ask()
	if err != nil {
		return err
	}
	var setting *scene.Setting
	if shot != nil {
		if setting, err = p.Setting(*shot); err != nil {
			return err
		}
	}
	r, err := report.NewScene(p, setting, o.confidence)
	if err != nil {
		return err
	}
	return s.finish(&o.options, r, func() (*plot.Figure, error) {
		return plot.Scene(p, o.drawn)
	})
}

// givenIndex returns the index that is given, nil for none.
func (o *sceneOptions) givenIndex() *scene.Given {
	switch {
	case o.given("index"):
		return &scene.Given{Index: sensito.Speed(o.ownIndex), Keep: scene.Kept(o.keep)}
	case o.given("exposed-at"):
		return &scene.Given{Index: sensito.Speed(o.exposedAt), Exposed: true, Keep: scene.Kept(o.keep)}
	}
	return nil
}

// senseIndex returns a usage error for flags of an index that is given which do not go
// together, or are outside their limits.
func (o *sceneOptions) senseIndex() error {
	given := o.givenIndex()
	switch {
	case given == nil && o.given("keep"):
		return console.Usagef("--keep goes with --index or --exposed-at")
	case given == nil:
		return nil
	case o.given("index") && o.given("exposed-at"):
		return console.Usagef("--index and --exposed-at exclude each other: give one of them")
	case o.given("roll"):
		return console.Usagef("--index and --exposed-at ask for one scene, since the frames of a roll do not keep one tone alike: leave out --roll and give the --range of a typical frame")
	case given.Exposed && (o.given("aperture") || o.given("time")):
		return console.Usagef("--exposed-at is of film that has been exposed: leave out --aperture and --time")
	}
	if err := given.Check(); err != nil {
		return console.Usage(err)
	}
	return nil
}

// roll finds one development time for the scenes of a file.
func (s streams) roll(o *sceneOptions, path string) error {
	const anyRange = 20 // stops; those of the file are checked when it has been read
	index, err := o.index()
	if err != nil {
		return err
	}
	aimed, err := s.aim(&o.aimOptions, path, anyRange)
	if err != nil {
		return err
	}
	frames, err := s.readRoll(o.roll, index)
	if err != nil {
		return err
	}
	if aimed.Today, err = s.asToday(&o.today); err != nil {
		return err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return err
	}
	r, err := scene.ForRoll(f, aimed, frames)
	if err != nil {
		return err
	}
	return s.finish(&o.options, report.NewRoll(r, o.confidence), func() (*plot.Figure, error) {
		return plot.Roll(r, o.drawn)
	})
}

// readRoll reads the scenes of a roll; index was set on the meter that read
// them.
func (s streams) readRoll(path string, index sensito.Speed) ([]scene.Frame, error) {
	path, err := only(path, notebook.RollKind)
	if err != nil {
		return nil, err
	}
	frames, err := console.ReadInput(s.Streams, path, notebook.ReadRoll)
	for _, frame := range frames {
		if frame.Metering != nil {
			frame.Metering.Index = index
		}
	}
	return frames, err
}

// sense returns a usage error for flags that do not go together.
func (o *sceneOptions) sense(path string) error {
	spots := o.given("shadow") || o.given("highlight")
	scenes := 0
	for _, given := range []bool{o.given("range"), spots, o.given("roll")} {
		if given {
			scenes++
		}
	}
	shot := o.given("aperture") || o.given("time")
	inTheLight := o.given("filter") || o.given("extension") || o.given("focal")
	switch {
	case scenes == 0:
		return console.Usagef("scene needs --range STOPS, the range of the scene, or --shadow EV@ZONE and --highlight EV@ZONE, or --roll FILE")
	case scenes > 1:
		return console.Usagef("--range, --shadow with --highlight, and --roll exclude each other: give one of them")
	case spots && !(o.given("shadow") && o.given("highlight")):
		return console.Usagef("--shadow and --highlight go together: give both")
	case o.given("meter-index") && o.given("range"):
		return console.Usagef("--meter-index goes with spot readings: --shadow and --highlight, or those of --roll")
	case (shot || inTheLight) && !spots:
		return console.Usagef("--aperture, --time, --filter, --extension and --focal go with spot readings: give --shadow and --highlight")
	case o.given("aperture") && o.given("time"):
		return console.Usagef("--aperture and --time exclude each other: give one of them")
	case inTheLight && !shot:
		return console.Usagef("--filter, --extension and --focal need --aperture or --time")
	case o.given("extension") != o.given("focal"):
		return console.Usagef("--extension and --focal go together: give both")
	case o.roll == "-" && (path == "-" || o.paper == "-"):
		return console.Usagef("standard input is one file: only one of the trial, --paper and --roll can be -")
	}
	return nil
}

// index returns the index that was set on the meter.
func (o *sceneOptions) index() (sensito.Speed, error) {
	if err := camera.CheckMeterIndex(sensito.Speed(o.meterIndex)); err != nil {
		return 0, console.Usagef("--meter-index: %w", err)
	}
	return sensito.Speed(o.meterIndex), nil
}

// metered returns the spot readings, if there are any, and the range of the
// scene.
func (o *sceneOptions) metered() (*camera.Metering, float64, error) {
	if o.given("range") {
		return nil, o.scene.Stops, nil
	}
	index, err := o.index()
	if err != nil {
		return nil, 0, err
	}
	m := &camera.Metering{Index: index}
	var errs []error
	for _, spot := range []struct {
		flag, text string
		to         *camera.SpotReading
	}{{"shadow", o.shadow, &m.Shadow}, {"highlight", o.highlight, &m.Highlight}} {
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
func (o *sceneOptions) shot() (*scene.Shot, error) {
	if !o.given("aperture") && !o.given("time") {
		return nil, nil
	}
	c := &scene.Shot{}
	var errs []error
	read := func(flag string, err error) {
		if err != nil {
			errs = append(errs, fmt.Errorf("--%s %w", flag, err))
		}
	}
	var err error
	if o.given("aperture") {
		c.Aperture, err = sensito.ParseFNumber(o.aperture)
		read("aperture", err)
	} else {
		c.Time, err = sensito.ParseSeconds(o.time)
		read("time", err)
	}
	for _, text := range o.filters {
		f, err := camera.ParseFactor(text)
		read("filter", err)
		c.Filters = append(c.Filters, f)
	}
	if o.given("extension") {
		if c.Bellows, err = camera.BellowsFactor(o.extension, o.focal); err != nil {
			errs = append(errs, err)
		}
	}
	if len(errs) > 0 {
		return nil, console.Usage(errors.Join(errs...))
	}
	return c, nil
}
