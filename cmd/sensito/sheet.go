package main

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// sheetOptions are the flags of sheet; those of the scene are as in scene.
type sheetOptions struct {
	sceneOptions
	minutes, films, vessel, least, uses, graduates string

	procedure, written string // files
	date, note, page   string

	done               bool
	temperature, ended string
	exposedAt          float64
}

func newSheetCmd(s streams) *cobra.Command {
	o := &sheetOptions{}
	pages := pageNames(plot.SheetPages())
	cmd := &cobra.Command{
		Use:   "sheet TRIAL (--range STOPS | --shadow EV@ZONE --highlight EV@ZONE | --roll FILE | --minutes TIME)",
		Short: "Process sheet of one session: volumes, steps by the clock, and the log of what was done",
		Long: `Writes what is done at the sink: how much of every bath to mix, and the steps with
their times, the running clock, temperatures and agitation, which of them are in
the dark and when light is safe. The development time is found as scene finds it,
or chosen with --minutes. With --plot it is a page to print, in large type, with
room to write.

The steps come from a procedure, a file of [[step]]s; the one used without
--procedure is common practice: write it with --write-procedure, and make it
yours. Least concentrate for the film is that of --least or of the procedure.

With --done the development that was carried out is appended to the file of the
trial: --minutes, --temperature and --ended as they were; with a scene, its time
as the one that was planned. sensito log tells what was done.`,
		Example: `  sensito sheet larkfield-brinewater.toml --range 7 --films "6x 4x5in" --vessel "tray 1l"
  sensito sheet larkfield-brinewater.toml --range 7 --at 22.5 --vessel "drum 300ml, 50 turns a minute" --plot sheet.pdf
  sensito sheet larkfield-brinewater.toml --minutes 6:30 --vessel "tank 1000ml" --procedure mine.toml
  sensito sheet --write-procedure mine.toml
  sensito sheet larkfield-brinewater.toml --range 7 --done --minutes 6:40 --temperature 20.5 --films "6x 4x5in"`,
		Args: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("write-procedure") && len(args) == 0 {
				return nil
			}
			return console.OneTrial(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.given("write-procedure"):
				if n := cmd.Flags().NFlag(); n > 2 || n == 2 && !o.given("force") || len(args) > 0 {
					return console.Usagef("--write-procedure writes a file to edit, and nothing else: give it alone")
				}
				return s.writeProcedure(o.written, o.force)
			case o.done:
				return s.logDone(o, args[0])
			}
			return s.sheet(o, args[0])
		},
	}
	o.registerScene(cmd)
	f := cmd.Flags()
	f.StringVar(&o.minutes, "minutes", "", "a development `TIME` that is chosen, 6:30 or 6.5; with --done the one that was given")
	f.StringVar(&o.films, "films", "", "`FILMS` processed at once: \"6x 4x5in\", \"2x 120, 135-36\"")
	f.StringVar(&o.vessel, "vessel", "", "`VESSEL` and volume of a bath: \"tank 1000ml\", \"open tank 3l\", \"tray 1l\", \"drum 300ml, 50 turns a minute\"")
	f.StringVar(&o.least, "least", "", "least `CONCENTRATE` of developer from the product's sheet: 6ml for 80 square inches, 6ml/film")
	f.StringVar(&o.uses, "uses", "", "use of the developer, `USE`: one-shot, 3, or 3 of 10")
	f.StringVar(&o.graduates, "graduates", "", "a `LIST` of your own graduates, capacity and mark in ml: 10/0.1,100/1")
	f.StringVar(&o.procedure, "procedure", "", "the steps, a `FILE`")
	f.StringVar(&o.written, "write-procedure", "", "write the usual steps to a new `FILE`, to be edited")
	f.StringVar(&o.date, "date", "", "`DATE` of the session, like 2026-03-01; today unless given")
	f.StringVar(&o.note, "note", "", "a `NOTE` for the sheet or the log")
	f.BoolVar(&o.done, "done", false, "append what was done to the file of the trial")
	f.StringVar(&o.temperature, "temperature", "", "with --done: temperature `T` of the developer at the start, 20.5 or 69F")
	f.StringVar(&o.ended, "ended", "", "with --done: temperature `T` at the end")
	f.Float64Var(&o.exposedAt, "exposure-index", 0, "with --done: exposure `INDEX` at which the films were exposed")
	f.StringVar(&o.page, "page", pages[0], "size of the `PAGE` drawn: "+strings.Join(pages, " or "))
	return cmd
}

// usualProcedure is the file of the demo that holds the usual steps.
const usualProcedure = "demo/procedure.toml"

func (s streams) writeProcedure(path string, force bool) error {
	data, err := demoFiles.ReadFile(usualProcedure)
	if err != nil {
		return err
	}
	if err := s.WriteOutput(path, data, force); err != nil {
		return err
	}
	fmt.Fprintf(s.Err, "sensito: wrote %s\n", path)
	return nil
}

func (s streams) readProcedure(path string) (*darkroom.Procedure, error) {
	if path != "" {
		return console.ReadInput(s.Streams, path, notebook.ReadProcedure)
	}
	data, err := demoFiles.ReadFile(usualProcedure)
	if err != nil {
		return nil, err
	}
	return notebook.ReadProcedure("the usual procedure", bytes.NewReader(data))
}

func (s streams) sheet(o *sheetOptions, path string) error {
	page, err := plot.SheetPageNamed(o.page)
	switch {
	case err != nil:
		return console.Usagef("--page %w", err)
	case o.given("page") && o.plot == "":
		return console.Usagef("--page is the size of the page that --plot FILE draws: give both")
	case o.given("temperature") || o.given("ended"):
		return console.Usagef("--temperature and --ended are of what was done: give --done too, or --at for today's temperature")
	case o.given("exposure-index"):
		return console.Usagef("--exposure-index is of what was done: give --done too")
	}
	spec, err := o.session()
	if err != nil {
		return err
	}
	if spec.Procedure, err = s.readProcedure(o.procedure); err != nil {
		return err
	}
	if spec, err = s.timed(o, path, spec); err != nil {
		return err
	}
	sheet, err := darkroom.NewSheet(spec)
	if err != nil {
		return err
	}
	sheet.Warnings = console.WithFlags(sheet.Warnings)
	return s.finish(&o.options, report.NewSheet(sheet, o.confidence), func() (*plot.Figure, error) {
		return plot.Sheet(sheet, plot.Options{Confidence: o.confidence, Width: page.Width, Height: page.Height})
	})
}

// session reads the flags that say what is processed, and in what.
func (o *sheetOptions) session() (darkroom.SheetSpec, error) {
	spec := darkroom.SheetSpec{Note: o.note, Date: o.date}
	if !o.given("date") {
		spec.Date = today()
	}
	var err error
	read := func(flag string, parse func() error) {
		if err != nil || !o.given(flag) {
			return
		}
		if e := parse(); e != nil {
			err = console.Usagef("--%s %w", flag, e)
		}
	}
	read("films", func() (e error) { spec.Films, e = sensito.ParseFilms(o.films); return })
	read("vessel", func() (e error) { spec.Vessel, e = darkroom.ParseVessel(o.vessel); return })
	read("least", func() (e error) { spec.Least, _, e = darkroom.ParseLeast(o.least); return })
	read("uses", func() (e error) { spec.Uses, e = darkroom.ParseUses(o.uses); return })
	read("graduates", func() (e error) { spec.Graduates, e = darkroom.ParseGraduates(o.graduates); return })
	read("date", func() error { return sensito.CheckDate(o.date) })
	return spec, err
}

// aimed says whether the flags ask for a computed time.
func (o *sheetOptions) aimed() bool {
	return slices.ContainsFunc([]string{"range", "shadow", "highlight", "roll"}, o.given)
}

// timed completes the spec by the trial and the time, computed or chosen.
func (s streams) timed(o *sheetOptions, path string, spec darkroom.SheetSpec) (darkroom.SheetSpec, error) {
	none := darkroom.SheetSpec{}
	if o.given("minutes") && o.aimed() {
		return none, console.Usagef("--minutes is a time that was chosen: leave it out with a scene, or give --done")
	}
	if !o.given("minutes") {
		if !o.aimed() {
			return none, console.Usagef("sheet needs a scene, as scene does (--range STOPS, --shadow and --highlight, or --roll FILE), or --minutes TIME")
		}
		return s.planned(o, path, spec)
	}
	minutes, err := minutesFlag(o.minutes)
	if err != nil {
		return none, err
	}
	if o.given("q10") || o.given("q10-sd") || o.given("control") || o.given("correct") {
		return none, console.Usagef("--q10, --q10-sd, --control and --correct find a time: leave them out with --minutes")
	}
	if err := o.today.sense(); err != nil {
		return none, err
	}
	if err := o.check(); err != nil {
		return none, err
	}
	trial, err := s.readFilm(path)
	if err != nil {
		return none, err
	}
	spec.Under = o.today.today.Conditions
	return spec.Chosen(trial, minutes), nil
}

// planned finds the time as scene does.
func (s streams) planned(o *sheetOptions, path string, spec darkroom.SheetSpec) (darkroom.SheetSpec, error) {
	if err := o.sense(path); err != nil {
		return spec, err
	}
	if err := o.today.sense(path, o.paper, o.roll); err != nil {
		return spec, err
	}
	stops := 20.0 // stands for those of a roll, which are checked when it has been read
	metering := (*camera.Metering)(nil)
	var err error
	if !o.given("roll") {
		if metering, stops, err = o.metered(); err != nil {
			return spec, err
		}
	}
	aimed, err := s.aim(&o.aimOptions, path, stops)
	if err != nil {
		return spec, err
	}
	aimed.Metering = metering
	if aimed.Today, err = s.asToday(&o.today); err != nil {
		return spec, err
	}
	f, err := s.readFamily(&o.options, path)
	if err != nil {
		return spec, err
	}
	if !o.given("roll") {
		p, err := scene.For(f, aimed)
		if err != nil {
			return spec, err
		}
		return spec.ForAnswer(p), nil
	}
	index, err := o.index()
	if err != nil {
		return spec, err
	}
	frames, err := s.readRoll(o.roll, index)
	if err != nil {
		return spec, err
	}
	r, err := scene.ForRoll(f, aimed, frames)
	if err != nil {
		return spec, err
	}
	return spec.ForRoll(r), nil
}
