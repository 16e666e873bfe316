package enter

import (
	"bytes"
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
	"sensito/cmd/sensito/internal/keyed"
	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// options are the flags of the command.
type options struct {
	source   instrument.Options
	facts    map[string]*string // of a new trial
	what     string
	strip    int
	frame    int
	step     int
	before   int
	delete   bool
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
was, and so do questions, whose answers are kept in .NAME.sensito-draft until then.
After the last step the next strip can follow. The version before the last save is
kept: --undo puts it back, and --undo again takes that back. It is
.NAME.sensito-before beside the file.

A file that does not exist yet is made by questions, a trial by flags too: a trial
of film or paper, a control log, a roll of frames (.csv), a procedure. Enter takes
what stands in brackets, as far as the last trial in the folder knows it. Control
strips, frames and steps follow each other; a line a; b; c, or a row pasted from a
table, answers several questions. --strip, --frame or --step N goes over one again,
and with --delete takes it out.

Each line is a reading or one of these; where a file says unit = "EV" or "step", a
reading is the number that was read, as 9.7 or 9 2/3:

` + keyed.Language(sensito.UnitDensity) + `
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
  sensito enter tern-ashlar.toml --strip 3 --delete
  sensito enter tern-ashlar.toml --undo
  sensito enter tank.toml --what control
  sensito enter harbour.csv                      # frames of a roll
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
	f.IntVar(&o.frame, "frame", 0, "go over frame `N` of a roll again, counting from 1")
	f.IntVar(&o.step, "step", 0, "go over step `N` of a procedure again, counting from 1")
	f.IntVar(&o.before, "before", 0, "put further steps of a procedure before step `N`")
	f.BoolVar(&o.delete, "delete", false, "take out the strip, frame or step that is named, once that is confirmed")
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
	d := openDraft(path, t.asks)
	err = o.enter(ctx, t, d, from, m)
	if t.asks {
		t.left()
	}
	if t.asks && store.ReadDraft(path) != nil {
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
	var data []byte
	what := ""
	if fresh {
		if err := o.whatIsNew(ctx, t, d); err != nil {
			return err
		}
		what = d.Answers["what"]
	} else {
		if data, err = store.ReadBytes(d.path); err != nil {
			return err
		}
		what = whatIs(data)
	}
	if l := listOf(what); l != nil {
		return o.things(ctx, t, &keeper{talk: t, list: l, draft: d, fresh: fresh, place: o.before}, data)
	}
	if o.frame > 0 || o.step > 0 || o.before > 0 {
		return console.Usagef("%s is a trial, which has strips: --strip N", d.path)
	}
	last := lastTrial(t.streams, d.path, what)
	var file *kept
	if fresh {
		file, err = o.newTrial(ctx, t, d, last)
	} else {
		file, err = o.openTrial(t, d, data)
	}
	switch {
	case err != nil:
		return err
	case o.delete:
		return o.deleteStrip(ctx, t, file)
	}
	return o.strips(ctx, t, file, last, from, m)
}

// things keys in the things of a list.
func (o *options) things(ctx context.Context, t *talk, k *keeper, data []byte) error {
	if k.fresh {
		if o.delete {
			return fmt.Errorf("%s does not exist", k.draft.path)
		}
		if err := k.begin(ctx); err != nil {
			return err
		}
		return k.enter(ctx)
	}
	for _, flag := range append(o.givenFacts(), "minutes", "grade", "fog", "from") {
		if o.given(flag) {
			return console.Usagef("--%s is of a trial, and %s is %s", flag, k.draft.path, notebook.KindOf(data))
		}
	}
	if err := k.list.read(data); err != nil {
		_, err = notebook.Read(k.draft.path, bytes.NewReader(data))
		return err
	}
	number := map[string]int{"strip": o.strip, "frame": o.frame, "step": o.step}[k.list.noun()]
	switch {
	case o.delete:
		return k.delete(ctx, number)
	case number > 0:
		return k.edit(ctx, number)
	}
	return k.enter(ctx)
}

// deleteStrip takes a strip out of a trial, once that is confirmed.
func (o *options) deleteStrip(ctx context.Context, t *talk, file *kept) error {
	strips := file.trial.Strips()
	if o.strip < 1 || o.strip > len(strips) {
		return console.Usagef("--strip %d is outside 1 to %d", o.strip, len(strips))
	}
	s := strips[o.strip-1]
	title := fmt.Sprintf("%s, %d of %d steps read", told.Name(s), s.StepsRead(), len(s.Steps()))
	if err := t.sure(ctx, "Delete "+title); err != nil {
		return err
	}
	was := told.Text(file.trial, o.strip)
	if err := t.streams.Save(file.path, func() error {
		_, err := store.Update(file.path, nil, func(old []byte) ([]byte, error) {
			trial, err := notebook.Read(file.path, bytes.NewReader(old))
			if err == nil && told.Text(trial, o.strip) != was {
				err = fmt.Errorf("%s: strip %d was changed by somebody else meanwhile; nothing was written", file.path, o.strip)
			}
			if err != nil {
				return nil, err
			}
			return notebook.RemoveStrip(old, o.strip)
		})
		return err
	}); err != nil {
		return err
	}
	t.streams.Tell("%s, is out; sensito enter %s --undo brings it back.\n", title, file.path)
	return nil
}

// strips keys in strips of a trial.
func (o *options) strips(ctx context.Context, t *talk, file *kept, last known, from *instrument.Source, m sensito.Minutes) error {
	if unit := file.trial.Reading().Unit; from != nil && unit != sensito.UnitDensity {
		return console.Usagef("--from takes densities of an instrument, but %s is read in unit = %q", file.path, unit)
	}
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
	case e.asks && e.Done() && err == nil:
		e.sayNext()
		return nil
	case file.begun, e.asks && e.Done(): // it was told
		return err
	}
	return cmp.Or(err, told.Summary(t.streams.Out, file.trial, e.Number()))
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
	case o.given("frame") && o.frame < 1:
		return 0, console.Usagef("--frame %d is below 1", o.frame)
	case o.given("step") && o.step < 1:
		return 0, console.Usagef("--step %d is below 1", o.step)
	case o.given("before") && o.before < 1:
		return 0, console.Usagef("--before %d is below 1", o.before)
	case o.delete && o.strip+o.frame+o.step == 0:
		return 0, console.Usagef("--delete takes out what is named by --strip N, --frame N or --step N")
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

const whatHint = "film, paper: a trial of strips under a step wedge; control: strips that watch a process; procedure: the steps of a process, for sensito sheet"

// whatIsNew finds what a file is that does not exist yet.
func (o *options) whatIsNew(ctx context.Context, t *talk, d *draft) error {
	switch {
	case o.strip > 0:
		return fmt.Errorf("%s does not exist, so it has no strip %d", d.path, o.strip)
	case filepath.Ext(d.path) == ".csv" && (!o.given("what") || o.what == whatRoll) && len(o.givenFacts()) == 0:
		d.Answers["what"] = whatRoll
		return store.Free(d.path)
	case filepath.Ext(d.path) != ".toml":
		return console.Usagef("%s does not exist; the name of a new trial ends in .toml", d.path)
	case o.given("what") && o.what == whatRoll:
		return console.Usagef("%s does not exist; the name of a new roll ends in .csv", d.path)
	}
	if err := store.Free(d.path); err != nil {
		return err
	}
	f := &form{talk: t, answers: d.Answers, questions: []question{{key: "what", ask: "What it is", hint: whatHint, choices: []string{whatFilm, whatPaper, whatControl, whatProcedure}, usual: whatFilm}}}
	switch {
	case o.given("what"):
		answer, _, err := f.questions[0].understood(o.what)
		if err != nil {
			return console.Usagef("--what %w", err)
		}
		f.fix(answers{"what": answer})
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
func (o *options) openTrial(t *talk, d *draft, data []byte) (*kept, error) {
	if names := o.givenFacts(); len(names) > 0 {
		return nil, console.Usagef("--%s is for a new trial, but %s is there", names[0], d.path)
	}
	return newKept(d.path, data, d, t.streams.Err)
}
