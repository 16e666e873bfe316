package enter

import (
	"cmp"
	"context"
	"errors"
	"os"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/instrument"
	"sensito/sensito"
	"sensito/sensito/entry"
)

// options are the flags of the command.
type options struct {
	source  instrument.Options
	draft   draft
	strip   int
	minutes string
	grade   string
	fog     int
	plain   bool
	strict  bool
	undo    bool

	given func(flag string) bool
}

// NewCommand returns the command that keys in readings.
func NewCommand(s console.Streams) *cobra.Command {
	o := &options{draft: draft{}}
	cmd := &cobra.Command{
		Use:   "enter TRIAL [--minutes M:SS]",
		Short: "Key in readings, step after step",
		Long: `Keys in a strip of a trial: base plus fog, then step after step, with the density
to be expected shown and a reading far from it questioned at once. The file is
saved after every reading; a strip that was interrupted goes on where it was.
The version before the last save is kept: --undo puts it back, and --undo again
takes that back. It is .NAME.sensito-before beside the file. A trial that does not
exist yet is built by questions, or by flags.

Each line is a reading or one of these:

` + language + `
Lines may come from a pipe, one step a line; nothing is asked then, and a reading
far from the expected is kept and told. Base plus fog is marked, fog 0.11, or
comes first with --fog 2. Readings that cannot be those of the steps in their
order are refused: a first one that may be base plus fog, two in a row far off,
densities that fall where the exposures rise, one more than there are steps. The
lines must reach the last step or end with stop.

With --from readings come from an instrument, and lines can still be typed; with
nobody at a terminal it ends by itself after the last step.`,
		Example: `  sensito enter tern-ashlar.toml --minutes 9:30
  sensito enter tern-ashlar.toml                 # goes on with the strip
  sensito enter tern-ashlar.toml --minutes 12 --from /dev/ttyUSB0 --baud 9600
  sensito enter tern-ashlar.toml --minutes 7 --fog 2 < readings.txt
  sensito enter tern-ashlar.toml --undo
  sensito enter new.toml --film "Tern 400" --speed 400 --developer "Ashlar 1+4" --lux 2 --seconds 0.5 --minutes 9`,
		Args: console.OneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.given = cmd.Flags().Changed
			if o.undo {
				if cmd.Flags().NFlag() > 1 {
					return console.Usagef("--undo puts back what was there before the last save: give it alone")
				}
				return undo(s, args[0])
			}
			return o.run(cmd.Context(), s, args[0])
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.strip, "strip", 0, "go on with strip `N`, counting from 1")
	f.StringVar(&o.minutes, "minutes", "", "begin a strip that was developed for so many minutes, as `5:30` or 5.5")
	f.StringVar(&o.grade, "grade", "", "grade or contrast filter of a new strip of paper")
	f.IntVar(&o.fog, "fog", fogReadings, "the first `N` readings are of base plus fog, 0 for none; through a pipe they are only if this says so")
	f.BoolVar(&o.plain, "plain", false, "questions line by line, without colours")
	f.BoolVar(&o.strict, "strict", false, "through a pipe, refuse a reading far from the expected")
	f.BoolVar(&o.undo, "undo", false, "put back the file as it was before the last save, by this command or another")
	o.draft.register(cmd)
	o.source.Register(cmd)
	return cmd
}

// run keys in one strip.
func (o *options) run(ctx context.Context, s console.Streams, path string) error {
	if ctx == nil {
		ctx = context.Background()
	}
	asks := console.IsTerminal(s.In)
	minutes, err := o.check(path)
	if err != nil {
		return err
	}
	o.source.In = s.In
	var from *instrument.Source // opened first: without it nothing is to be saved
	if o.source.From != "" {
		if from, err = o.source.Open(); err != nil {
			return err
		}
	}
	file, number, err := o.stripFor(ctx, s, path, minutes, asks)
	if err != nil {
		if from != nil {
			_ = from.Close()
		}
		return err
	}
	e := &enterer{streams: s, file: file, asks: asks && o.source.From != "-", strict: o.strict, name: console.StandardInput,
		bold: asks && !o.plain && console.Emphasised(s.Terminal)}
	if unit := file.trial.Reading().Unit; from != nil && unit != sensito.UnitDensity {
		_ = from.Close()
		return console.Usagef("--from takes densities of an instrument, but %s is read in unit = %q", path, unit)
	}
	s.NoteLocks(path)
	file.strip = stripText(file.trial, number)
	e.Keying = entry.NewKeying(file.trial, number)
	o.foggy(e)
	if from != nil {
		e.meter = from.Begin(o.source)
		defer e.meter.Close()
		if o.source.From != "-" {
			e.name = o.source.From
		}
	}
	defer s.Heed()()
	if o.source.From == "" || e.asks {
		e.typed = typedLines(ctx, s.In)
	}
	if e.asks {
		e.heading()
	}
	err = e.run(ctx)
	if err != nil && !errors.As(err, &console.Interruption{}) && !errors.As(err, &console.CutOffError{}) {
		return err
	}
	return cmp.Or(err, file.summary(s.Out, number))
}

// foggy sets how many readings of base plus fog come first.
func (o *options) foggy(e *enterer) {
	e.fogFirst = o.fog
	if !e.asks {
		e.InOrder()
	}
	switch {
	case o.given("fog"):
		e.StateOrder()
		if e.At() == 1 && !e.Begun() {
			e.ClearFog() // of an earlier try
		}
		e.fogs = o.fog
	case e.asks && e.At() == 1 && len(e.BaseFog()) == 0 && len(e.Readings(1)) == 0:
		e.fogs = o.fog
	}
}

// maxFog is more readings of base plus fog than anybody takes.
const maxFog = 20

// check returns the development time that the flags give, 0 for none.
func (o *options) check(path string) (sensito.Minutes, error) {
	switch {
	case path == "-":
		return 0, console.Usagef("enter needs a file to keep the readings in, not standard input")
	case o.given("strip") && o.strip < 1:
		return 0, console.Usagef("--strip %d is below 1", o.strip)
	case o.fog < 0 || o.fog > maxFog:
		return 0, console.Usagef("--fog %d is outside 0 to %d", o.fog, maxFog)
	case o.given("strip") && o.given("minutes"):
		return 0, console.Usagef("--strip goes on with a strip and --minutes begins one: give one of them")
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return 0, console.Usagef("%s is a folder; name the file of a trial in it", path)
	}
	if err := o.source.Check(); err != nil {
		return 0, err
	}
	if !o.given("minutes") {
		return 0, nil
	}
	m, err := sensito.ParseMinutes(o.minutes)
	if err != nil {
		return 0, console.Usagef("--minutes %w", err)
	}
	return m, nil
}
