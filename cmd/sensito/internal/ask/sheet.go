package ask

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/demo"
	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/notebook"
	"sensito/sensito/report"
)

// Sheet asks for the process sheet of one session; its time is that of Scene, or chosen.
type Sheet struct {
	Scene
	Made string // the date of the session unless one is given

	// Logs returns the other trials of film of the notebook, whose films count for a bath
	// that is kept; nil reads those beside the trial.
	Logs func() []*sensito.Trial

	minutes, films, vessel, least, uses, graduates string

	procedure        string // a file
	date, note, page string
}

// Register adds the flags of the question.
func (q *Sheet) Register(f *pflag.FlagSet) {
	pages := PageNames(plot.SheetPages())
	q.registerScene(f)
	f.StringVar(&q.minutes, "minutes", "", "a development `TIME` that is chosen, 6:30 or 6.5; with --done the one that was given")
	f.StringVar(&q.films, "films", "", "`FILMS` processed at once: \"6x 4x5in\", \"2x 120, 135-36\"")
	f.StringVar(&q.vessel, "vessel", "", "`VESSEL` and volume of a bath: \"tank 1000ml\", \"open tank 3l\", \"tray 1l\", \"drum 300ml, 50 turns a minute\"")
	f.StringVar(&q.least, "least", "", "least `CONCENTRATE` of developer from the product's sheet: 6ml for 80 square inches, 6ml/film")
	f.StringVar(&q.uses, "uses", "", "use of the developer, `USE`: one-shot, 3, or 3 of 10")
	f.StringVar(&q.graduates, "graduates", "", "a `LIST` of your own graduates, capacity and mark in ml: 10/0.1,100/1")
	f.StringVar(&q.procedure, "procedure", "", "the steps, a `FILE`; with --done whose baths the log names")
	f.StringVar(&q.date, "date", "", "`DATE` of the session, like 2026-03-01; today unless given")
	f.StringVar(&q.note, "note", "", "a `NOTE` for the sheet or the log")
	f.StringVar(&q.page, "page", pages[0], "size of the `PAGE` drawn: "+strings.Join(pages, " or "))
}

// A SheetAnswer is what Sheet.Ask found.
type SheetAnswer struct {
	Sheet *darkroom.Sheet
	Page  plot.Page // on which it is drawn
	Level float64   // of the intervals
}

// Report returns the result to be written.
func (a *SheetAnswer) Report() (report.Report, error) { return report.NewSheet(a.Sheet, a.Level), nil }

// Figure draws the sheet at the size of its page.
func (a *SheetAnswer) Figure(o plot.Options) (*plot.Figure, error) {
	o.Confidence, o.Width, o.Height = a.Level, a.Page.Width, a.Page.Height
	return plot.Sheet(a.Sheet, o)
}

// Ask answers for the film trial at path. An error is of usage where the flags cannot be
// asked together.
func (q *Sheet) Ask(from console.Streams, path string) (*SheetAnswer, error) {
	s := Files{from}
	a := &SheetAnswer{Level: q.Level}
	var err error
	if a.Page, err = plot.SheetPageNamed(q.page); err != nil {
		return nil, console.Usagef("--page %w", err)
	}
	spec, err := q.Session()
	if err != nil {
		return nil, err
	}
	if spec.Procedure, err = s.procedure(q.procedure); err != nil {
		return nil, err
	}
	if spec.Procedure.Counts() {
		if spec.Logs = s.otherLogs(path); q.Logs != nil {
			spec.Logs = q.Logs()
		}
	}
	if spec, err = q.timed(s, path, spec); err != nil {
		return nil, err
	}
	if a.Sheet, err = darkroom.NewSheet(spec); err != nil {
		return nil, err
	}
	a.Sheet.Warnings = console.WithFlags(a.Sheet.Warnings)
	return a, nil
}

// ToRun is Ask for a session by the clock: a time that was chosen has the coefficient of
// the trial too, where its strips give one, so that the clock can correct it.
func (q *Sheet) ToRun(from console.Streams, path string) (*SheetAnswer, error) {
	a, err := q.Ask(from, path)
	if err != nil || !q.given("minutes") {
		return a, err
	}
	if f, err := q.Family(Files{from}, path); err == nil {
		a.Sheet.Spec.Coefficient = f.CoefficientFor(a.Sheet.Spec.Under)
	}
	return a, nil
}

// otherLogs returns the trials of film in the folder of one. Those that cannot be read are
// passed over, and so are all where files are confined.
func (s Files) otherLogs(path string) (logs []*sensito.Trial) {
	file, err := s.Only(path, notebook.FilmKind)
	if err != nil || file == "-" || s.Confined() {
		return nil
	}
	own, err := os.Stat(file)
	if err != nil {
		return nil
	}
	files, _, _ := s.expand(filepath.Dir(file), notebook.FilmKind)
	for _, other := range files {
		if info, err := os.Stat(other); err != nil || os.SameFile(own, info) {
			continue
		}
		if t, err := s.Film(other); err == nil {
			logs = append(logs, t)
		}
	}
	return logs
}

// Procedure reads that of --procedure; nil where the flag is not given.
func (q *Sheet) Procedure(from console.Streams) (*darkroom.Procedure, error) {
	if q.procedure == "" {
		return nil, nil
	}
	return Files{from}.procedure(q.procedure)
}

// procedure reads the steps from a file, or the usual ones for "".
func (s Files) procedure(path string) (*darkroom.Procedure, error) {
	if path != "" {
		return console.ReadInput(s.Streams, path, notebook.ReadProcedure)
	}
	data, err := demo.Read(demo.Procedure)
	if err != nil {
		return nil, err
	}
	return notebook.ReadProcedure("the usual procedure", bytes.NewReader(data))
}

// Session returns what the flags say is processed, and in what. The error is of usage.
func (q *Sheet) Session() (darkroom.SheetSpec, error) {
	spec := darkroom.SheetSpec{Note: q.note, Date: q.date}
	if !q.given("date") {
		spec.Date = q.Made
	}
	var err error
	read := func(flag string, parse func() error) {
		if err != nil || !q.given(flag) {
			return
		}
		if e := parse(); e != nil {
			err = console.Usagef("--%s %w", flag, e)
		}
	}
	read("films", func() (e error) { spec.Films, e = sensito.ParseFilms(q.films); return })
	read("vessel", func() (e error) { spec.Vessel, e = darkroom.ParseVessel(q.vessel); return })
	read("least", func() (e error) { spec.Least, _, e = darkroom.ParseLeast(q.least); return })
	read("uses", func() (e error) { spec.Uses, e = darkroom.ParseUses(q.uses); return })
	read("graduates", func() (e error) { spec.Graduates, e = darkroom.ParseGraduates(q.graduates); return })
	read("date", func() error { return sensito.CheckDate(q.date) })
	return spec, err
}

// Aimed says whether the flags ask for a computed time.
func (q *Sheet) Aimed() bool {
	return slices.ContainsFunc([]string{"range", "shadow", "highlight", "roll"}, q.given)
}

// timed completes the spec by the trial and the time, computed or chosen.
func (q *Sheet) timed(s Files, path string, spec darkroom.SheetSpec) (darkroom.SheetSpec, error) {
	none := darkroom.SheetSpec{}
	if q.given("minutes") && q.Aimed() {
		return none, console.Usagef("--minutes is a time that was chosen: leave it out with a scene, or give --done")
	}
	if !q.given("minutes") {
		if !q.Aimed() {
			return none, console.Usagef("sheet needs a scene, as scene does (--range STOPS, --shadow and --highlight, or --roll FILE), or --minutes TIME")
		}
		return q.Planned(s.Streams, path, spec)
	}
	minutes, err := q.Minutes()
	if err != nil {
		return none, err
	}
	if q.given("q10") || q.given("q10-sd") || q.given("control") || q.given("correct") {
		return none, console.Usagef("--q10, --q10-sd, --control and --correct find a time: leave them out with --minutes")
	}
	today, err := q.Today.Sense()
	if err != nil {
		return none, err
	}
	if _, err := q.Measure(); err != nil {
		return none, err
	}
	trial, err := s.Film(path)
	if err != nil {
		return none, err
	}
	spec.Under = today.Conditions
	return spec.Chosen(trial, minutes), nil
}

// Minutes returns the time of --minutes. The error is of usage.
func (q *Sheet) Minutes() (sensito.Minutes, error) { return Minutes(q.minutes) }

// Planned completes the spec by the trial and the time that Scene.Ask finds.
func (q *Sheet) Planned(from console.Streams, path string, spec darkroom.SheetSpec) (darkroom.SheetSpec, error) {
	a, err := q.Scene.Ask(from, path)
	switch {
	case err != nil:
		return spec, err
	case a.Roll != nil:
		return spec.ForRoll(a.Roll), nil
	}
	return spec.ForAnswer(a.Answer), nil
}
