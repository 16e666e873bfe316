package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

type enterOptions struct {
	source  sourceOptions
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

func newEnterCmd(s streams) *cobra.Command {
	o := &enterOptions{draft: draft{}}
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
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.given = cmd.Flags().Changed
			if o.undo {
				if cmd.Flags().NFlag() > 1 {
					return usagef("--undo puts back what was there before the last save: give it alone")
				}
				return s.undo(args[0])
			}
			return s.enter(cmd.Context(), o, args[0])
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
	o.source.register(cmd)
	return cmd
}

// enter keys in one strip.
func (s streams) enter(ctx context.Context, o *enterOptions, path string) error {
	if ctx == nil {
		ctx = context.Background()
	}
	asks := isTerminal(s.in)
	minutes, err := o.check(path)
	if err != nil {
		return err
	}
	o.source.in = s.in
	var from *source // opened first: without it nothing is to be saved
	if o.source.from != "" {
		if from, err = o.source.open(); err != nil {
			return err
		}
	}
	file, number, err := s.stripFor(ctx, o, path, minutes, asks)
	if err != nil {
		if from != nil {
			_ = from.close()
		}
		return err
	}
	e := &enterer{file: file, work: s.work, out: s.err, screen: s.terminal, asks: asks && o.source.from != "-", strict: o.strict, name: standardInput,
		bold: asks && !o.plain && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && isTerminal(s.terminal)}
	s.noteLocks(path)
	file.strip = stripText(file.trial, number)
	e.Keying = entry.NewKeying(file.trial, number)
	o.foggy(e)
	if from != nil {
		e.meter = from.begin(o.source)
		defer e.meter.close()
		if o.source.from != "-" {
			e.name = o.source.from
		}
	}
	defer s.work.heed()()
	if o.source.from == "" || e.asks {
		e.typed = typedLines(ctx, s.in)
	}
	if e.asks {
		s.heading(e)
	}
	err = e.run(ctx)
	if err != nil && !errors.As(err, &interruption{}) && !errors.As(err, &cutOffError{}) {
		return err
	}
	return cmp.Or(err, s.summary(file, number))
}

// foggy sets how many readings of base plus fog come first.
func (o *enterOptions) foggy(e *enterer) {
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
func (o *enterOptions) check(path string) (sensito.Minutes, error) {
	switch {
	case path == "-":
		return 0, usagef("enter needs a file to keep the readings in, not standard input")
	case o.given("strip") && o.strip < 1:
		return 0, usagef("--strip %d is below 1", o.strip)
	case o.fog < 0 || o.fog > maxFog:
		return 0, usagef("--fog %d is outside 0 to %d", o.fog, maxFog)
	case o.given("strip") && o.given("minutes"):
		return 0, usagef("--strip goes on with a strip and --minutes begins one: give one of them")
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return 0, usagef("%s is a folder; name the file of a trial in it", path)
	}
	if err := o.source.check(); err != nil {
		return 0, err
	}
	if !o.given("minutes") {
		return 0, nil
	}
	m, err := sensito.ParseMinutes(o.minutes)
	if err != nil {
		return 0, usagef("--minutes %w", err)
	}
	return m, nil
}

// stripFor opens the trial, or builds it, and returns the strip to go on with or
// a new one, which is in the file already.
func (s streams) stripFor(ctx context.Context, o *enterOptions, path string, minutes sensito.Minutes, asks bool) (*kept, int, error) {
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return s.newTrial(ctx, o, path, minutes, asks)
	}
	if names := o.draft.given(o.given); len(names) > 0 {
		return nil, 0, usagef("--%s is for a new trial, but %s is there", names[0], path)
	}
	file, err := s.open(path)
	if err != nil {
		return nil, 0, err
	}
	strips := file.trial.Strips()
	switch {
	case o.strip > len(strips):
		return nil, 0, usagef("--strip %d is outside 1 to %d", o.strip, len(strips))
	case o.strip > 0:
		return file, o.strip, nil
	case minutes == 0 && o.grade == "":
		if i := slices.IndexFunc(strips, func(s *sensito.Strip) bool { return s.NextStep() > 0 }); i >= 0 {
			return file, i + 1, nil
		}
		if i := slices.IndexFunc(strips, notBegun); i >= 0 {
			return file, i + 1, nil
		}
	}
	paper := file.trial.Material() == sensito.PaperMaterial
	if o.grade != "" && !paper {
		return nil, 0, usagef("--grade is of paper, and %s is a film", path)
	}
	if minutes == 0 && !paper {
		if !asks || o.source.from == "-" {
			return nil, 0, usagef("every strip of %s is complete; begin another with --minutes M:SS", path)
		}
		if minutes, err = s.askMinutes(ctx, o, len(strips)+1); err != nil {
			return nil, 0, err
		}
	}
	if i := slices.IndexFunc(strips, func(s *sensito.Strip) bool {
		return s.Minutes() == minutes && s.Grade() == o.grade && notBegun(s)
	}); i >= 0 {
		return file, i + 1, nil
	}
	number := 0
	err = s.save(path, func() (err error) {
		number, err = file.append(emptyStrip(minutes, o.grade, file.trial.Exposures().Len()))
		return err
	})
	return file, number, err
}

// notBegun says whether nothing of the strip has been read.
func notBegun(s *sensito.Strip) bool {
	return len(s.BaseFog()) == 0 && !slices.ContainsFunc(s.Steps(), func(step sensito.Step) bool { return !math.IsNaN(float64(step.Density)) })
}

// emptyStrip is a strip whose first step comes next.
func emptyStrip(minutes sensito.Minutes, grade string, steps int) sensito.StripSpec {
	return sensito.StripSpec{Minutes: minutes, Grade: grade, NextStep: 1,
		Density: slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, steps)}
}

// newTrial builds a trial that does not exist yet, with its first strip.
func (s streams) newTrial(ctx context.Context, o *enterOptions, path string, minutes sensito.Minutes, asks bool) (*kept, int, error) {
	switch {
	case o.strip > 0:
		return nil, 0, fmt.Errorf("%s does not exist, so it has no strip %d", path, o.strip)
	case filepath.Ext(path) != ".toml":
		return nil, 0, usagef("%s does not exist; the name of a new trial ends in .toml", path)
	case o.grade != "":
		return nil, 0, usagef("--grade is of paper; a trial of paper is begun in an editor")
	}
	if err := store.Free(path); err != nil {
		return nil, 0, err
	}
	if asks && o.source.from != "-" {
		if err := s.askTrial(ctx, o); err != nil {
			return nil, 0, err
		}
		if minutes == 0 {
			var err error
			if minutes, err = sensito.ParseMinutes(o.minutes); err != nil {
				return nil, 0, err
			}
		}
	} else if missing := o.draft.missing(); len(missing) > 0 || minutes == 0 {
		if minutes == 0 {
			missing = append(missing, "minutes")
		}
		return nil, 0, usagef("%s does not exist; a new trial needs --%s", path, strings.Join(missing, ", --"))
	}
	trial, err := o.draft.trial(minutes)
	if err != nil {
		return nil, 0, usageError{err}
	}
	if err := s.save(path, func() error { return store.CreateFile(path, notebook.Format(trial)) }); err != nil {
		return nil, 0, err
	}
	fmt.Fprintf(s.err, "sensito: wrote %s\n", path)
	file, err := s.open(path)
	return file, 1, err
}

// heading says what is being keyed in.
func (s streams) heading(e *enterer) {
	strip := e.Trial().Strips()[e.Number()-1]
	what := e.Trial().Title()
	if what == "" {
		what = e.Trial().Film().Name
	}
	fmt.Fprintf(s.err, "%s\n%s; help lists what can be typed, Ctrl-C interrupts.\n", what, stripName(strip))
}

// stripName names a strip for people.
func stripName(s *sensito.Strip) string {
	name := fmt.Sprintf("Strip %d", s.Number())
	if s.Grade() != "" {
		name += ", grade " + s.Grade()
	}
	if s.Minutes() > 0 {
		name += ", " + s.Minutes().Clock(1) + " min"
	}
	return name
}

// summary says on standard output what the strip came to.
func (s streams) summary(file *kept, number int) error {
	strip := file.trial.Strips()[number-1]
	twice := 0
	for _, step := range strip.Steps() {
		if len(step.Repeats) > 0 {
			twice++
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d of %d steps read", stripName(strip), stepsRead(strip), len(strip.Steps()))
	if twice > 0 {
		fmt.Fprintf(&b, ", %d of them more than once", twice)
	}
	fmt.Fprintln(&b)
	if sd, steps := strip.RepeatSpread(); steps > 0 {
		fmt.Fprintf(&b, "Readings of one step scatter by %.3f (%d of the steps); stated is %.3f\n", float64(sd), steps, float64(file.trial.Reading().Repeatability))
	}
	if strip.NextStep() == 0 && file.trial.Material() == sensito.FilmMaterial {
		measured(&b, strip)
	}
	_, err := io.WriteString(s.out, b.String())
	return err
}

// measured writes what the curve of a strip says, in a line, and what is amiss.
func measured(b *strings.Builder, strip *sensito.Strip) {
	m, err := curve.Measure(strip, curve.MeasureOptions{})
	if err != nil {
		fmt.Fprintf(b, "No curve: %v\n", err)
		return
	}
	var parts []string
	if m.BaseFog != nil {
		parts = append(parts, fmt.Sprintf("base plus fog %.2f", float64(m.BaseFog.Value)))
	}
	if m.Speed != nil {
		parts = append(parts, fmt.Sprintf("speed %.3g", float64(m.Speed.Value)))
	}
	if m.ContrastIndex != nil {
		parts = append(parts, fmt.Sprintf("contrast index %.2f", m.ContrastIndex.Value))
	}
	if m.AverageGradient != nil {
		parts = append(parts, fmt.Sprintf("average gradient %.2f", m.AverageGradient.Value))
	}
	parts = append(parts, fmt.Sprintf("readings scatter by %.3f", float64(m.Fit.ResidualSD)))
	text := strings.Join(parts, ", ")
	fmt.Fprintf(b, "%s%s\n", strings.ToUpper(text[:1]), text[1:])
	for _, w := range m.Warnings {
		if w.Code == "set_aside" || w.Code == "repeats_differ" {
			fmt.Fprintf(b, "Note: %s\n", w.Message)
		}
	}
}
