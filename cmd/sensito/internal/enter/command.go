package enter

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/cmd/sensito/internal/instrument"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook/store"
)

// options are the flags of the command.
type options struct {
	source   instrument.Options
	facts    map[string]*string // of a new trial
	what     string
	strip    int
	minutes  string
	grade    string
	fog      int
	plain    bool
	strict   bool
	undo     bool
	noExpect bool

	given func(flag string) bool
}

// NewCommand returns the command that keys in readings.
func NewCommand(s console.Streams) *cobra.Command {
	o := &options{}
	cmd := &cobra.Command{
		Use:   "enter FILE [--minutes M:SS]",
		Short: "Key in readings, step after step",
		Long: `Keys in a strip of a trial: base plus fog, then step after step. What was expected
is told after each reading, and a reading far from it is questioned at once. The
file is saved after every reading; a strip that was interrupted goes on where it
was, and so do questions: what was answered is kept in .NAME.sensito-draft. After
the last step the next strip can follow. The version before the last save is kept:
--undo puts it back, and --undo again takes that back. It is .NAME.sensito-before
beside the file. A trial that does not exist yet is built by questions, or by
flags; answers stand in brackets as far as the last trial in the folder has them.

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
  sensito enter new.toml --film "Tern 400" --speed 400 --developer "Ashlar 1+4" --lux 2 --seconds 1/2 --minutes 9`,
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
	f.StringVar(&o.what, "what", "", "`KIND` of a new file: film, paper, control, roll or procedure")
	f.IntVar(&o.strip, "strip", 0, "go on with strip `N`, counting from 1, or go over it again")
	f.StringVar(&o.minutes, "minutes", "", "begin a strip that was developed for so many minutes, as `5:30` or 5.5")
	f.StringVar(&o.grade, "grade", "", "grade or contrast filter of a new strip of paper")
	f.IntVar(&o.fog, "fog", fogReadings, "the first `N` readings are of base plus fog, 0 for none; through a pipe they are only if this says so")
	f.BoolVar(&o.noExpect, "no-expect", false, "do not tell after a reading what was expected")
	f.BoolVar(&o.plain, "plain", false, "without bold type")
	f.BoolVar(&o.strict, "strict", false, "through a pipe, refuse a reading far from the expected or without its decimal point")
	f.BoolVar(&o.undo, "undo", false, "put back the file as it was before the last save, by this command or another")
	o.facts = register(cmd)
	o.source.Register(cmd)
	return cmd
}

// run keys in what a file has.
func (o *options) run(ctx context.Context, s console.Streams, path string) error {
	if ctx == nil {
		ctx = context.Background()
	}
	asks := console.IsTerminal(s.In)
	m, err := o.check(path)
	if err != nil {
		return err
	}
	o.source.In = s.In
	var from *instrument.Source // opened first: without it nothing is to be saved
	if o.source.From != "" {
		if from, err = o.source.Open(); err != nil {
			return err
		}
		defer from.Close()
	}
	t := &talk{streams: s, asks: asks && o.source.From != "-", name: console.StandardInput,
		bold: asks && !o.plain && console.Emphasised(s.Terminal)}
	defer s.Heed()()
	if o.source.From == "" || t.asks {
		t.typed = typedLines(ctx, s.In)
	}
	d := openDraft(path)
	err = o.enter(ctx, t, d, from, m)
	if t.asks {
		t.left()
	}
	if data := store.ReadDraft(path); data != nil && len(d.Answers) > 0 {
		s.Wrote(store.Draft(path))
		t.say("Answers kept; to go on: sensito enter %s\n", path)
	}
	if errors.Is(err, errStopped) {
		return nil
	}
	return err
}

// enter keys in the file of a draft.
func (o *options) enter(ctx context.Context, t *talk, d *draft, from *instrument.Source, m sensito.Minutes) error {
	_, err := os.Stat(d.path)
	fresh := errors.Is(err, fs.ErrNotExist)
	var file *kept
	var last known
	if fresh {
		if err := o.whatIsNew(ctx, t, d); err != nil {
			return err
		}
		last = lastTrial(t.streams, d.path, d.Answers["what"])
		file, err = o.newTrial(ctx, t, d, last)
	} else {
		file, err = o.openTrial(t, d)
		last = lastTrial(t.streams, d.path, map[bool]string{true: whatPaper}[err == nil && file.trial.Material() == sensito.PaperMaterial])
	}
	if err != nil {
		return err
	}
	return o.strips(ctx, t, file, last, from, m)
}

// strips keys in strips of a trial.
func (o *options) strips(ctx context.Context, t *talk, file *kept, last known, from *instrument.Source, m sensito.Minutes) error {
	number := 1
	if !file.fresh {
		var err error
		if number, err = o.stripFor(file, t, m); err != nil {
			return err
		}
	}
	e := &enterer{talk: t, file: file, strict: o.strict, expects: !o.noExpect, fogGiven: o.given("fog"), fogFirst: o.fog, offered: last.times()}
	if text := file.draft.Answers["strip"]; text != "" && t.asks {
		e.offered = append([]string{text}, e.offered...)
	}
	t.streams.NoteLocks(file.path)
	if from != nil {
		e.meter = from.Begin(o.source)
		defer e.meter.Close()
		if o.source.From != "-" {
			e.name = o.source.From
		}
	}
	if e.asks {
		e.heading()
	}
	if number == 0 {
		e.Keying = entry.NewKeying(file.trial, len(file.trial.Strips()))
		e.ToEnd()
		e.told = true
	} else {
		e.start(number)
	}
	err := e.run(ctx)
	if err != nil && !errors.As(err, &console.Interruption{}) && !errors.As(err, &console.CutOffError{}) {
		return err
	}
	switch {
	case file.begun && !file.fresh && e.asks:
		file.draft.Answers = e.begun()
		return cmp.Or(err, file.draft.keep())
	case file.begun, e.asks && e.Done(): // it was told
		return err
	}
	return cmp.Or(err, file.summary(t.streams.Out, e.Number()))
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

// whatIsNew finds what a file is that does not exist yet.
func (o *options) whatIsNew(ctx context.Context, t *talk, d *draft) error {
	switch {
	case o.strip > 0:
		return fmt.Errorf("%s does not exist, so it has no strip %d", d.path, o.strip)
	case filepath.Ext(d.path) != ".toml":
		return console.Usagef("%s does not exist; the name of a new trial ends in .toml", d.path)
	}
	if err := store.Free(d.path); err != nil {
		return err
	}
	f := &form{talk: t, answers: d.Answers, questions: []question{{key: "what", ask: "What it is", choices: []string{whatFilm, whatPaper}, usual: whatFilm}}}
	switch {
	case o.given("what"):
		f.fix(answers{"what": o.what})
	case o.given("paper"):
		f.fix(answers{"what": whatPaper})
	case len(o.givenFacts()) > 0:
		f.fix(answers{"what": whatFilm})
	}
	if t.asks {
		if err := f.fill(ctx); err != nil {
			return err
		}
	}
	f.usual()
	return nil
}

// givenFacts returns the flags of a new trial that are on the command line.
func (o *options) givenFacts() []string {
	var out []string
	for _, q := range trialQuestions {
		if o.given(q.key) {
			out = append(out, q.key)
		}
	}
	return out
}

// openTrial opens the file of a trial that is there.
func (o *options) openTrial(t *talk, d *draft) (*kept, error) {
	if names := o.givenFacts(); len(names) > 0 {
		return nil, console.Usagef("--%s is for a new trial, but %s is there", names[0], d.path)
	}
	data, err := store.ReadBytes(d.path)
	if err != nil {
		return nil, err
	}
	return newKept(d.path, data, d, t.streams.Err)
}
