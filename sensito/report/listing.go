package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/darkroom"
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
	Trials   []ListedTrial   `json:"trials"`
	Controls []ListedControl `json:"control_logs"`
	Rolls    []ListedRoll    `json:"rolls"`
	Steps    []ListedSteps   `json:"procedures"`
	Broken   []ListedFault   `json:"broken"`
	Others   []string        `json:"others"` // files of another kind

	level float64
}

// ListedTrial is a trial of film or paper. What could not be had is null.
type ListedTrial struct {
	File         string           `json:"file"`
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
	Ranges       []ListedRange    `json:"iso_ranges"`     // of a paper

	conditions string
}

// ListedStrip is one strip of a trial.
type ListedStrip struct {
	Minutes     *float64 `json:"minutes"` // null when not stated
	Grade       string   `json:"grade"`   // or filter; of a paper
	StepsRead   int      `json:"steps_read"`
	NextStep    *int     `json:"next_step"` // where keying in goes on; null of a complete strip
	BaseFogRead bool     `json:"base_fog_read"`
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

	rounded string
}

// ListedControl is a control log.
type ListedControl struct {
	File      string           `json:"file"`
	Log       string           `json:"log"`
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
	Fault string `json:"fault"` // the first
	More  int    `json:"more"`  // how many others follow
}

// NewListing returns the listing of a folder without any file, with intervals
// at the given level of confidence.
func NewListing(folder string, level float64) *Listing {
	return &Listing{Schema: "sensito/listing/1", Notebook: folder, Trials: []ListedTrial{}, Controls: []ListedControl{},
		Rolls: []ListedRoll{}, Steps: []ListedSteps{}, Broken: []ListedFault{}, Others: []string{}, level: level}
}

// AddTrial adds a trial of film or paper.
func (r *Listing) AddTrial(file string, s *listing.Trial) {
	t := s.Trial
	p := t.Process()
	l := ListedTrial{
		File: file, Trial: name(t), Material: "film", Name: t.Film().Name, Batch: t.Film().Batch,
		Developer: p.Developer, Dilution: p.Dilution, TemperatureC: stated(p.TemperatureC), Agitation: string(p.Agitation),
		Exposure: string(t.Exposures().Kind()), Steps: t.Exposures().Len(), Strips: []ListedStrip{},
		Complete: len(s.Missing) == 0, Missing: s.Missing,
		Speed: quantity(s.Speed, r.level, unitOne), ISO: s.ISO,
		Normal: quantity(s.Normal, r.level, unitMinutes), Ranges: []ListedRange{},
		conditions: filmText(t),
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
	for _, strip := range t.Strips() {
		listed := ListedStrip{Minutes: stated(float64(strip.Minutes())), Grade: strip.Grade(), StepsRead: strip.StepsRead(), BaseFogRead: len(strip.BaseFog()) > 0}
		if next := strip.NextStep(); next > 0 {
			listed.NextStep = &next
		}
		l.Strips = append(l.Strips, listed)
	}
	for _, p := range s.Paper {
		if p.LogRange != nil {
			l.Ranges = append(l.Ranges, ListedRange{p.Grade, quantity(p.ISORange(), r.level, unitOne), roundedRange(p)})
		}
	}
	r.Trials = append(r.Trials, l)
}

// AddControl adds a control log.
func (r *Listing) AddControl(file string, s *listing.Control) {
	strips := s.Log.Strips()
	l := ListedControl{File: file, Log: s.Log.Title(), Strips: len(strips), FirstDate: strips[0].Date, LastDate: strips[len(strips)-1].Date, Missing: s.Missing}
	if c := s.Control; c != nil {
		l.InControl = new(c.First == nil)
		if c.First != nil {
			l.Signal = &strips[c.First.Index-1].Date
		}
	}
	r.Controls = append(r.Controls, l)
}

// AddRoll adds the scenes of a roll.
func (r *Listing) AddRoll(file string, frames []scene.Frame) {
	byRange := func(a, b scene.Frame) int { return cmp.Compare(a.Stops, b.Stops) }
	r.Rolls = append(r.Rolls, ListedRoll{file, len(frames), slices.MinFunc(frames, byRange).Stops, slices.MaxFunc(frames, byRange).Stops})
}

// AddProcedure adds a procedure.
func (r *Listing) AddProcedure(file string, p *darkroom.Procedure) {
	r.Steps = append(r.Steps, ListedSteps{file, p.Title(), len(p.Steps())})
}

// AddBroken adds a file that cannot be read, and why.
func (r *Listing) AddBroken(file string, err error) {
	r.Broken = append(r.Broken, listedFault(file, err))
}

func listedFault(file string, err error) ListedFault {
	first, _, _ := strings.Cut(err.Error(), "\n")
	l := ListedFault{File: file, Fault: first}
	if list, ok := err.(interface{ Unwrap() []error }); ok {
		l.More = len(list.Unwrap()) - 1
	}
	return l
}

// AddOther adds a file of another kind.
func (r *Listing) AddOther(file string) { r.Others = append(r.Others, file) }

// Text writes one block a file, in the order of their names, then what is
// broken and what is not of the notebook.
func (r *Listing) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Paragraph("", "  ", r.Notebook+": "+r.count())
	for _, t := range r.Trials {
		w.Printf("\n%s\n", printable.Text(t.File))
		w.entry(t.Material, t.conditions)
		w.entry("strips", t.strips())
		w.entry("gives", t.gives())
		w.missing(t.Missing)
	}
	for _, c := range r.Controls {
		w.Printf("\n%s\n", printable.Text(c.File))
		w.entry("log", c.Log)
		dates := c.FirstDate
		if c.LastDate != c.FirstDate {
			dates += " to " + c.LastDate
		}
		w.entry("strips", fmt.Sprintf("%d, %s", c.Strips, dates))
		switch {
		case c.Signal != nil:
			w.entry("gives", "out of control: first signal "+*c.Signal)
		case c.InControl != nil:
			w.entry("gives", "in control")
		}
		w.missing(c.Missing)
	}
	for _, l := range r.Rolls {
		w.Printf("\n%s\n", printable.Text(l.File))
		w.entry("roll", fmt.Sprintf("scenes: %d, of %s to %s stops", l.Scenes, short(l.Least), short(l.Most)))
	}
	for _, p := range r.Steps {
		w.Printf("\n%s\n", printable.Text(p.File))
		w.entry("steps", strings.TrimPrefix(fmt.Sprintf("%s; %d steps", p.Procedure, p.Steps), "; "))
	}
	for _, b := range r.Broken {
		w.Printf("\n%s\n", printable.Text(b.File))
		text := b.Fault
		if b.More > 0 {
			text += fmt.Sprintf(" (and %d more)", b.More)
		}
		w.entry("broken", text)
	}
	if len(r.Others) > 0 {
		w.Printf("\n")
		w.Paragraph("", "  ", "Not of a notebook: "+strings.Join(r.Others, ", "))
	}
	return w.Err
}

// entry writes a named line of a file, none when there is nothing to say.
func (w *writer) entry(name, text string) {
	if text != "" {
		w.Paragraph(fmt.Sprintf("  %-9s", name), strings.Repeat(" ", 11), text)
	}
}

func (w *writer) missing(list sensito.Warnings) {
	name := "missing"
	for _, m := range list {
		w.entry(name, m.Message())
		name = ""
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

// strips returns times or grades of the strips, and how much of them is read
// where that is not all.
func (t ListedTrial) strips() string {
	label := ""
	var texts []string
	for _, s := range t.Strips {
		text := s.Grade
		switch {
		case text != "":
			label = "grade "
		case s.Minutes != nil:
			text = clock(*s.Minutes, 1)
		default:
			text = "-"
		}
		if s.StepsRead < t.Steps {
			text += fmt.Sprintf(" (%d read)", s.StepsRead)
		}
		texts = append(texts, text)
	}
	return fmt.Sprintf("%s%s; %d steps", label, strings.Join(texts, ", "), t.Steps)
}

// gives returns what the trial comes to, "" for nothing yet.
func (t ListedTrial) gives() string {
	var parts []string
	if t.Speed != nil {
		label := "speed"
		if t.ISO {
			label = "ISO"
		}
		parts = append(parts, fmt.Sprintf("%s %s at %s", label, t.Speed, clock(*t.SpeedMinutes, 1)))
	}
	if c := t.Contrast; c != nil {
		text := strings.ReplaceAll(c.Quantity, "_", " ") + " " + page.Fixed(c.Least.Value, 2)
		if c.Most.Value != c.Least.Value {
			text += " to " + page.Fixed(c.Most.Value, 2)
		}
		parts = append(parts, text)
	}
	if t.Normal != nil {
		parts = append(parts, fmt.Sprintf("N %s ±%s", clock(t.Normal.Value, 1), clock(t.Normal.SD, 1)))
	}
	var ranges []string
	for _, g := range t.Ranges {
		ranges = append(ranges, strings.TrimPrefix(g.Grade+": "+g.rounded, ": "))
	}
	if len(ranges) > 0 {
		parts = append(parts, "ISO range "+strings.Join(ranges, ", "))
	}
	return strings.Join(parts, "; ")
}

func short(v float64) string { return strconv.FormatFloat(math.Round(100*v)/100, 'f', -1, 64) }
