package report

import (
	"cmp"
	"io"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/curve"
	"sensito/sensito/listing"
	"sensito/sensito/paper"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Listing is the report of a folder: what is to be done, what each of its files is, what
// it lacks and what it comes to.
type Listing struct {
	folder   string
	notebook *listing.Notebook
	toDo     []listing.Task
	level    float64
}

// NewListing reports what the notebook in a folder holds, with intervals at the given
// level of confidence.
func NewListing(folder string, n *listing.Notebook, level float64) *Listing {
	return &Listing{folder, n, n.ToDo(), level}
}

// The kinds of entries, as MarshalJSON and the count have them.
func isBroken(e listing.Entry) bool { return e.Err != nil }
func isTrial(e listing.Entry) bool  { return e.Trial != nil }
func isLog(e listing.Entry) bool    { return e.Control != nil }
func isRoll(e listing.Entry) bool   { return e.Roll != nil }
func isSteps(e listing.Entry) bool  { return e.Procedure != nil }
func isTablet(e listing.Entry) bool { return e.Tablet != nil }
func isOther(e listing.Entry) bool {
	return !isBroken(e) && !isTrial(e) && !isLog(e) && !isRoll(e) && !isSteps(e) && !isTablet(e)
}

// of returns the entries of a kind, the newest first.
func (r *Listing) of(kind func(listing.Entry) bool) []listing.Entry {
	return slices.DeleteFunc(slices.Clone(r.notebook.Entries), func(e listing.Entry) bool { return !kind(e) })
}

// others returns the names of files of another kind.
func (r *Listing) others() []string {
	out := []string{}
	for _, e := range r.of(isOther) {
		out = append(out, e.File)
	}
	return out
}

// MarshalJSON writes all that is known of the files, lists by kind.
func (r *Listing) MarshalJSON() ([]byte, error) {
	return object{
		{"schema", "sensito/listing/1"},
		{"notebook", r.folder},
		{"to_do", objects(r.toDo, r.task)}, // the most urgent first
		{"trials", objects(r.of(isTrial), r.trial)},
		{"control_logs", objects(r.of(isLog), logListed)},
		{"rolls", objects(r.of(isRoll), func(e listing.Entry) object {
			byRange := func(a, b scene.Frame) int { return cmp.Compare(a.Stops, b.Stops) }
			return object{{"file", e.File}, {"scenes", len(e.Roll)}, {"least_range_stops", slices.MinFunc(e.Roll, byRange).Stops}, {"most_range_stops", slices.MaxFunc(e.Roll, byRange).Stops}}
		})},
		{"procedures", objects(r.of(isSteps), func(e listing.Entry) object {
			return object{{"file", e.File}, {"procedure", e.Procedure.Title()}, {"steps", len(e.Procedure.Steps())}}
		})},
		{"tablets", objects(r.of(isTablet), func(e listing.Entry) object {
			return object{{"file", e.File}, {"name", words(e.Tablet.Name)}, {"steps", e.Tablet.Steps}, {"reads_to", stated(e.Tablet.ReadsTo)}}
		})},
		{"broken", objects(r.of(isBroken), faultListed)},
		{"others", r.others()},
	}.MarshalJSON()
}

// task is something to be done. What is not of its kind is null, and steps empty.
func (r *Listing) task(t listing.Task) object {
	var number, minutes, density, expected, since, percent, by, more any
	steps := append([]int{}, t.Steps...)
	if s := t.Strip; s != nil {
		number, minutes = s.Number(), stated(float64(s.Minutes()))
	}
	base := t.Base
	if q := t.Reading; q != nil {
		density, expected = q.Density, q.Expected
		if base = q.Step == 0; !base {
			steps = []int{q.Step}
		}
	}
	if c := t.Entry.Control; c != nil {
		since = words(answers.LeftOn(c.Control))
		if c.Drift != nil {
			percent, by = quantity(c.Drift.TimePercent, r.level, unitPercent), c.By
		}
	}
	if t.More > 0 {
		more = t.More
	}
	line, fault, _ := t.Entry.Fault()
	return object{
		{"kind", t.Kind}, {"file", t.Entry.File}, {"text", answers.Task(t)},
		{"strip", number}, {"minutes", minutes}, {"steps", steps}, {"base", base}, // to be read
		{"density", density}, {"expected", expected}, // of a questioned reading
		{"since", since}, {"time_percent", percent}, {"by", by}, // of a process: by the file of the trial that tells the time
		{"strips", more}, {"line", numbered(line)}, {"fault", words(fault)},
	}
}

// trial is one of film or paper. What could not be had is null.
func (r *Listing) trial(e listing.Entry) object {
	s, t, p := e.Trial, e.Trial.Trial, e.Trial.Trial.Process()
	material := "film"
	if t.Material() == sensito.PaperMaterial {
		material = "paper"
	}
	var speedMinutes, contrast, met any
	if s.Speed != nil {
		speedMinutes = stated(float64(s.SpeedMinutes))
	}
	if t.Pictured() == nil { // else it is not judged
		met = s.ISO
	}
	if s.LeastContrast != nil {
		contrast = object{{"quantity", s.Quantity}, {"least", quantity(s.LeastContrast, r.level, unitOne)}, {"most", quantity(s.MostContrast, r.level, unitOne)}}
	}
	ranged := slices.DeleteFunc(slices.Clone(s.Paper), func(p *paper.Strip) bool { return p.LogRange == nil })
	return object{
		{"file", e.File}, {"date", words(s.Newest)}, {"first_date", words(s.First)}, {"last_date", words(s.Last)},
		{"trial", t.Name()}, {"material", material}, {"name", t.Film().Name}, {"batch", t.Film().Batch},
		{"developer", p.Developer}, {"dilution", p.Dilution}, {"temperature_c", stated(p.TemperatureC)}, {"agitation", p.Agitation},
		{"exposure", t.Exposures().Kind()}, {"steps", t.Exposures().Len()},
		{"strips", objects(s.Strips, stripListed)},
		{"complete", len(s.Missing) == 0}, {"missing", s.Missing},
		{"speed", quantity(s.Speed, r.level, unitOne)}, {"speed_min", speedMinutes}, {"iso_conditions_met", met}, // at that time
		{"contrast", contrast}, // of the strips
		{"normal_minutes", quantity(s.Normal, r.level, unitMinutes)}, {"exposure_index", quantity(s.Index, r.level, unitOne)}, // for seven stops
		{"iso_ranges", objects(ranged, func(p *paper.Strip) object {
			return object{{"grade", p.Grade}, {"iso_range", quantity(p.ISORange(), r.level, unitOne)}, // null of one read in a picture
				{"log_range", quantity(p.LogRange, r.level, unitOne)}}
		})},
	}
}

// stripListed is one strip of a trial.
func stripListed(s listing.Strip) object {
	return object{
		{"minutes", stated(float64(s.Minutes()))}, {"grade", s.Grade()}, {"date", words(s.Date())},
		{"steps_read", s.StepsRead()}, {"next_step", numbered(s.NextStep())}, // where keying in goes on; null of a complete strip
		{"base_fog_read", len(s.BaseFog()) > 0}, {"unread_steps", s.Unread}, {"ignored_steps", s.Ignored}, // by the photographer
		{"questioned", objects(s.Questioned, func(q curve.SetAside) object { // by the curve; step null is base plus fog
			return object{{"step", numbered(q.Step)}, {"density", q.Density}, {"expected", q.Expected}}
		})},
	}
}

func logListed(e listing.Entry) object {
	s := e.Control
	strips := s.Log.Strips()
	developer, dilution := s.Log.Developer()
	var in, signal any // null where it cannot be told
	if c := s.Control; c != nil {
		in = c.First == nil
		if c.First != nil {
			signal = strips[c.First.Index-1].Date
		}
	}
	return object{
		{"file", e.File}, {"date", s.Last}, {"first_date", s.First}, {"last_date", s.Last}, {"log", s.Log.Title()},
		{"film", words(s.Log.Film())}, {"developer", words(developer)}, {"dilution", words(dilution)},
		{"strips", len(strips)}, {"in_control", in}, {"first_signal", signal}, {"missing", s.Missing},
	}
}

// faultListed is a file that cannot be read: its first fault, and how many follow.
func faultListed(e listing.Entry) object {
	line, _, more := e.Fault()
	return object{{"file", e.File}, {"line", numbered(line)}, {"fault", firstFault(e.Err)}, {"more", more}}
}

// firstFault returns the first line of an error.
func firstFault(err error) string {
	first, _, _ := strings.Cut(err.Error(), "\n")
	return first
}

// mostTasks is how many tasks the text tells.
const mostTasks = 5

// Text writes what is to be done, then one block a file, the newest first, and what is not
// of the notebook.
func (r *Listing) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Paragraph("", "  ", r.folder+": "+r.count())
	if len(r.toDo) > 0 {
		w.Printf("\nTo be done:\n")
	}
	for _, t := range r.toDo[:min(mostTasks, len(r.toDo))] {
		w.Paragraph("- ", "  ", answers.Task(t))
	}
	if more := len(r.toDo) - mostTasks; more > 0 {
		w.Printf("and %d more: --json has them\n", more)
	}
	told := false // of something to do in a darkroom
	for _, e := range r.notebook.Entries {
		text := answers.Entry(e)
		if text == "" {
			continue
		}
		w.Printf("\n%s\n", listedHeading(e))
		say := func(text string) {
			if text != "" {
				w.Paragraph("  ", "  ", text)
			}
		}
		switch {
		case e.Trial != nil:
			say(e.Trial.Trial.Title())
			say(filmText(e.Trial.Trial))
			say(text)
			w.missing(e.Trial.Missing)
			told = told || e.Trial.Normal != nil
		case e.Control != nil:
			say(e.Control.Log.Title())
			say(text)
			w.missing(e.Control.Missing)
			told = told || e.Control.Drift != nil
		default:
			say(text)
		}
	}
	if others := r.others(); len(others) > 0 {
		w.Printf("\n")
		w.Paragraph("", "  ", "Not of a notebook: "+strings.Join(others, ", "))
	}
	if told {
		w.Closing(nil)
	}
	return w.Err
}

// listedHeading is the line that begins what is told of a file.
func listedHeading(e listing.Entry) string {
	text := printable.Text(e.File)
	if e.Trial != nil || e.Control != nil {
		text += ", " + answers.DateOf(e.Date())
	}
	return text
}

func (w *writer) missing(list sensito.Warnings) {
	first := "  missing: "
	for _, m := range list {
		w.Paragraph(first, strings.Repeat(" ", len(first)), m.Message())
		first = strings.Repeat(" ", len(first))
	}
}

// count says in words how many files there are of each kind.
func (r *Listing) count() string {
	of := func(m sensito.Material) func(listing.Entry) bool {
		return func(e listing.Entry) bool { return isTrial(e) && e.Trial.Trial.Material() == m }
	}
	var parts []string
	for _, c := range []struct {
		is       func(listing.Entry) bool
		kind, of string
	}{
		{of(sensito.FilmMaterial), "trial", " of film"}, {of(sensito.PaperMaterial), "trial", " of paper"}, {isLog, "control log", ""},
		{isRoll, "roll", ""}, {isSteps, "procedure", ""}, {isTablet, "calibration", " of pictures"}, {isBroken, "broken file", ""},
	} {
		if n := len(r.of(c.is)); n > 0 {
			parts = append(parts, printable.Counted(n, c.kind)+c.of)
		}
	}
	if parts == nil {
		return "nothing of a notebook"
	}
	return strings.Join(parts, ", ")
}
