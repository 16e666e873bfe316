package report

import (
	"cmp"
	"io"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Listing is the report of a folder: what each of its files is, what it lacks
// and what it comes to.
type Listing struct {
	Schema   string          `json:"schema"`
	Notebook string          `json:"notebook"`
	ToDo     []ListedTask    `json:"to_do"` // the most urgent first
	Trials   []ListedTrial   `json:"trials"`
	Controls []ListedControl `json:"control_logs"`
	Rolls    []ListedRoll    `json:"rolls"`
	Steps    []ListedSteps   `json:"procedures"`
	Broken   []ListedFault   `json:"broken"`
	Others   []string        `json:"others"` // files of another kind

	notebook *listing.Notebook
	level    float64
}

// ListedTask is something to be done. What is not of its kind is null, and steps empty.
type ListedTask struct {
	Kind        string    `json:"kind"` // of listing.TaskKind
	File        string    `json:"file"`
	Text        string    `json:"text"`
	Strip       *int      `json:"strip"`
	Minutes     *float64  `json:"minutes"` // of the strip
	Steps       []int     `json:"steps"`   // to be read
	Base        bool      `json:"base"`    // base plus fog is to be read
	Density     *float64  `json:"density"` // of a questioned reading, as read
	Expected    *float64  `json:"expected"`
	Since       *string   `json:"since"`        // of a process that left its aim
	TimePercent *Quantity `json:"time_percent"` // by which to develop longer
	By          *string   `json:"by"`           // the file of the trial that tells it
	Strips      *int      `json:"strips"`       // that are wanted
	Line        *int      `json:"line"`         // of a fault
	Fault       *string   `json:"fault"`
}

// ListedTrial is a trial of film or paper. What could not be had is null.
type ListedTrial struct {
	File         string           `json:"file"`
	Date         *string          `json:"date"` // of the newest strip, or else of the newest development in its log
	FirstDate    *string          `json:"first_date"`
	LastDate     *string          `json:"last_date"`
	Trial        string           `json:"trial"`
	Material     string           `json:"material"` // film or paper
	Name         string           `json:"name"`     // of the film or paper
	Batch        string           `json:"batch"`
	Developer    string           `json:"developer"`
	Dilution     string           `json:"dilution"`
	TemperatureC *float64         `json:"temperature_c"`
	Agitation    string           `json:"agitation"`
	Exposure     string           `json:"exposure"` // contact, camera or relative
	Steps        int              `json:"steps"`
	Strips       []ListedStrip    `json:"strips"`
	Complete     bool             `json:"complete"`
	Missing      sensito.Warnings `json:"missing"`
	Speed        *Quantity        `json:"speed"`
	SpeedMinutes *float64         `json:"speed_min"`
	ISO          bool             `json:"iso_conditions_met"` // at that time
	Contrast     *ListedContrast  `json:"contrast"`
	Normal       *Quantity        `json:"normal_minutes"` // for seven stops
	Index        *Quantity        `json:"exposure_index"` // at that time
	Ranges       []ListedRange    `json:"iso_ranges"`     // of a paper
}

// ListedStrip is one strip of a trial.
type ListedStrip struct {
	Minutes      *float64         `json:"minutes"` // null when not stated
	Grade        string           `json:"grade"`   // or filter; of a paper
	Date         *string          `json:"date"`    // when developed
	StepsRead    int              `json:"steps_read"`
	NextStep     *int             `json:"next_step"` // where keying in goes on; null of a complete strip
	BaseFogRead  bool             `json:"base_fog_read"`
	UnreadSteps  []int            `json:"unread_steps"`
	IgnoredSteps []int            `json:"ignored_steps"` // by the photographer
	Questioned   []ListedQuestion `json:"questioned"`    // by the curve
}

// ListedQuestion is a reading that cannot belong to the curve, and is set aside until it
// is made again.
type ListedQuestion struct {
	Step     *int    `json:"step"` // null for base plus fog, or the white of a paper
	Density  float64 `json:"density"`
	Expected float64 `json:"expected"`
}

// ListedContrast is the lowest and the highest contrast of the strips.
type ListedContrast struct {
	Quantity string    `json:"quantity"` // contrast_index or average_gradient
	Least    *Quantity `json:"least"`
	Most     *Quantity `json:"most"`
}

// ListedRange is the ISO range of one grade of a paper.
type ListedRange struct {
	Grade string    `json:"grade"`
	Range *Quantity `json:"iso_range"`
}

// ListedControl is a control log.
type ListedControl struct {
	File      string           `json:"file"`
	Date      string           `json:"date"` // of the last strip
	Log       string           `json:"log"`
	Film      *string          `json:"film"`
	Developer *string          `json:"developer"`
	Dilution  *string          `json:"dilution"`
	Strips    int              `json:"strips"`
	FirstDate string           `json:"first_date"`
	LastDate  string           `json:"last_date"`
	InControl *bool            `json:"in_control"`   // null when it cannot be told
	Signal    *string          `json:"first_signal"` // date of it; null without
	Missing   sensito.Warnings `json:"missing"`
}

// ListedRoll is a file of scenes.
type ListedRoll struct {
	File   string  `json:"file"`
	Scenes int     `json:"scenes"`
	Least  float64 `json:"least_range_stops"`
	Most   float64 `json:"most_range_stops"`
}

// ListedSteps is a procedure.
type ListedSteps struct {
	File      string `json:"file"`
	Procedure string `json:"procedure"` // its title
	Steps     int    `json:"steps"`
}

// ListedFault is a file that cannot be read.
type ListedFault struct {
	File  string `json:"file"`
	Line  *int   `json:"line"`  // of the first fault; null where it has none
	Fault string `json:"fault"` // the first
	More  int    `json:"more"`  // how many others follow
}

// NewListing reports what the notebook in a folder holds, with intervals at the given
// level of confidence.
func NewListing(folder string, n *listing.Notebook, level float64) *Listing {
	r := &Listing{Schema: "sensito/listing/1", Notebook: folder, ToDo: []ListedTask{}, Trials: []ListedTrial{}, Controls: []ListedControl{},
		Rolls: []ListedRoll{}, Steps: []ListedSteps{}, Broken: []ListedFault{}, Others: []string{}, notebook: n, level: level}
	for _, e := range n.Entries {
		switch {
		case e.Err != nil:
			r.Broken = append(r.Broken, listedFault(e))
		case e.Trial != nil:
			r.Trials = append(r.Trials, r.trial(e.File, e.Trial))
		case e.Control != nil:
			r.Controls = append(r.Controls, r.control(e.File, e.Control))
		case e.Roll != nil:
			byRange := func(a, b scene.Frame) int { return cmp.Compare(a.Stops, b.Stops) }
			r.Rolls = append(r.Rolls, ListedRoll{e.File, len(e.Roll), slices.MinFunc(e.Roll, byRange).Stops, slices.MaxFunc(e.Roll, byRange).Stops})
		case e.Procedure != nil:
			r.Steps = append(r.Steps, ListedSteps{e.File, e.Procedure.Title(), len(e.Procedure.Steps())})
		default:
			r.Others = append(r.Others, e.File)
		}
	}
	for _, t := range n.ToDo() {
		r.ToDo = append(r.ToDo, r.task(t))
	}
	return r
}

func (r *Listing) task(t listing.Task) ListedTask {
	l := ListedTask{Kind: string(t.Kind), File: t.Entry.File, Text: answers.Task(t), Steps: []int{}, Base: t.Base}
	if s := t.Strip; s != nil {
		l.Strip, l.Minutes = new(s.Number()), stated(float64(s.Minutes()))
	}
	l.Steps = append(l.Steps, t.Steps...)
	if q := t.Reading; q != nil {
		l.Density, l.Expected = new(float64(q.Density)), new(float64(q.Expected))
		if l.Base = q.Step == 0; !l.Base {
			l.Steps = []int{q.Step}
		}
	}
	if c := t.Entry.Control; c != nil {
		l.Since = words(answers.LeftOn(c.Control))
		if c.Drift != nil {
			l.TimePercent, l.By = quantity(c.Drift.TimePercent, r.level, unitPercent), words(c.By)
		}
	}
	if t.More > 0 {
		l.Strips = &t.More
	}
	if t.Entry.Err != nil {
		line, reason, _ := t.Entry.Fault()
		l.Line, l.Fault = numbered(line), &reason
	}
	return l
}

func (r *Listing) trial(file string, s *listing.Trial) ListedTrial {
	t := s.Trial
	p := t.Process()
	l := ListedTrial{
		File: file, Date: words(s.Newest), FirstDate: words(s.First), LastDate: words(s.Last),
		Trial: t.Name(), Material: "film", Name: t.Film().Name, Batch: t.Film().Batch,
		Developer: p.Developer, Dilution: p.Dilution, TemperatureC: stated(p.TemperatureC), Agitation: string(p.Agitation),
		Exposure: string(t.Exposures().Kind()), Steps: t.Exposures().Len(), Strips: []ListedStrip{},
		Complete: len(s.Missing) == 0, Missing: s.Missing,
		Speed: quantity(s.Speed, r.level, unitOne), ISO: s.ISO,
		Normal: quantity(s.Normal, r.level, unitMinutes), Index: quantity(s.Index, r.level, unitOne), Ranges: []ListedRange{},
	}
	if t.Material() == sensito.PaperMaterial {
		l.Material = "paper"
	}
	if l.Speed != nil {
		l.SpeedMinutes = stated(float64(s.SpeedMinutes))
	}
	if s.LeastContrast != nil {
		l.Contrast = &ListedContrast{s.Quantity, quantity(s.LeastContrast, r.level, unitOne), quantity(s.MostContrast, r.level, unitOne)}
	}
	for _, strip := range s.Strips {
		listed := ListedStrip{Minutes: stated(float64(strip.Minutes())), Grade: strip.Grade(), Date: words(strip.Date()),
			StepsRead: strip.StepsRead(), NextStep: numbered(strip.NextStep()), BaseFogRead: len(strip.BaseFog()) > 0,
			UnreadSteps: strip.Unread, IgnoredSteps: strip.Ignored, Questioned: []ListedQuestion{}}
		for _, q := range strip.Questioned {
			listed.Questioned = append(listed.Questioned, ListedQuestion{numbered(q.Step), float64(q.Density), float64(q.Expected)})
		}
		l.Strips = append(l.Strips, listed)
	}
	for _, p := range s.Paper {
		if p.LogRange != nil {
			l.Ranges = append(l.Ranges, ListedRange{p.Grade, quantity(p.ISORange(), r.level, unitOne)})
		}
	}
	return l
}

func (r *Listing) control(file string, s *listing.Control) ListedControl {
	strips := s.Log.Strips()
	developer, dilution := s.Log.Developer()
	l := ListedControl{File: file, Date: s.Last, Log: s.Log.Title(), Film: words(s.Log.Film()), Developer: words(developer), Dilution: words(dilution),
		Strips: len(strips), FirstDate: s.First, LastDate: s.Last, Missing: s.Missing}
	if c := s.Control; c != nil {
		l.InControl = new(c.First == nil)
		if c.First != nil {
			l.Signal = &strips[c.First.Index-1].Date
		}
	}
	return l
}

func listedFault(e listing.Entry) ListedFault {
	first, _, _ := strings.Cut(e.Err.Error(), "\n")
	line, _, more := e.Fault()
	return ListedFault{File: e.File, Line: numbered(line), Fault: first, More: more}
}

// numbered returns a number from 1 on, nil for 0.
func numbered(n int) *int {
	if n == 0 {
		return nil
	}
	return &n
}

// mostTasks is how many tasks the text tells.
const mostTasks = 5

// Text writes what is to be done, then one block a file, the newest first, and what is not
// of the notebook.
func (r *Listing) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Paragraph("", "  ", r.Notebook+": "+r.count())
	if len(r.ToDo) > 0 {
		w.Printf("\nTo be done:\n")
	}
	for _, t := range r.ToDo[:min(mostTasks, len(r.ToDo))] {
		w.Paragraph("- ", "  ", t.Text)
	}
	if more := len(r.ToDo) - mostTasks; more > 0 {
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
	if len(r.Others) > 0 {
		w.Printf("\n")
		w.Paragraph("", "  ", "Not of a notebook: "+strings.Join(r.Others, ", "))
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
	films := 0
	for _, t := range r.Trials {
		if t.Material == "film" {
			films++
		}
	}
	var parts []string
	for _, c := range []struct {
		n        int
		kind, of string
	}{
		{films, "trial", " of film"}, {len(r.Trials) - films, "trial", " of paper"}, {len(r.Controls), "control log", ""},
		{len(r.Rolls), "roll", ""}, {len(r.Steps), "procedure", ""}, {len(r.Broken), "broken file", ""},
	} {
		if c.n > 0 {
			parts = append(parts, printable.Counted(c.n, c.kind)+c.of)
		}
	}
	if parts == nil {
		return "nothing of a notebook"
	}
	return strings.Join(parts, ", ")
}
