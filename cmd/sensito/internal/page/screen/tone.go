package screen

import (
	"fmt"
	"strings"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/development"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// NewTone returns the screen of a scene that is followed to the print: that of its answer,
// with the figure and the table of the whole way.
func NewTone(a SceneAsked, r *scene.Reproduction) *Scene {
	s := NewScene(a)
	s.TableHead = "From the scene to the print"
	film, paper := "log H at the film", "log H at the paper"
	if !r.Answer.Family.Trial.Exposures().Absolute() {
		film += ", relative"
	}
	if !r.Answer.Scene.Paper.Strip.Trial().Exposures().Absolute() {
		paper += ", relative"
	}
	s.Table = &Table{Name: "Table of tones", Heads: []Head{{Text: "Stops", Left: true}, {Text: film}, {Text: "Negative, net", Address: term("Net density")},
		{Text: paper}, {Text: "Print"}, {Text: "Contrast, 1 as seen"}}}
	for _, t := range r.Tones {
		gradient := none("outside the exposures of the film")
		if t.Tone.Print != nil {
			gradient = figure(t.Gradient, 2)
		}
		s.Table.Rows = append(s.Table.Rows, Row{Head: Cell{Text: signed(t.Stops)},
			Cells: []Cell{figure(float64(t.Film), 2), cell(t.NetDensity, 2), figure(float64(t.PaperLogH), 2), cell(t.Tone.Print, 2), gradient}})
	}
	middle := "at the metered tone"
	if r.Mid.Stops != 0 {
		middle = "in the middle of the scene"
	}
	text := fmt.Sprintf("%s is %s; 1 would be that of the scene. The print is exposed so that the lightest tone gets the white point of the paper.", middle, fixed(r.Mid.Gradient, 2))
	if r.Lift > 0 {
		text += fmt.Sprintf(" Flare lifts the darkest tone by %s of log H.", fixed(float64(r.Lift), 2))
	}
	s.OfTones = []Note{{About: "Contrast", Text: say(text)}, {About: "±", Text: say("is one standard deviation.")}}
	s.Warnings = WarningTexts(r.Warnings)
	return s
}

// FamilyAsked is what the screen of a family is made of.
type FamilyAsked struct {
	Family   *development.Family
	Today    *scene.Adjustment // nil where today is as the trial
	Mark     *scene.Answer     // of the scene that is marked, nil for none
	Level    float64           // of the intervals
	Drawn    *plot.OnPage
	Warnings sensito.Warnings
	Trial    string // its address
}

// NewFamily returns the screen of a film over time: contrast, speed and fog of its strips,
// and the law of its contrast. The error says why there is no law.
func NewFamily(a FamilyAsked) (*Scene, error) {
	f := a.Family
	s := &Scene{Lead: []Run{{Text: printable.Text(f.Trial.Name()), Address: a.Trial}, {Text: ", over development time."}},
		TableHead: "Contrast, speed and fog", Tones: a.Drawn, Warnings: WarningTexts(a.Warnings)}
	iso, fastest := a.Today.Minutes(f.ISOMinutes), a.Today.Speed(f.ISOSpeed)
	if p := a.Mark; p != nil {
		s.Figures = append(s.Figures, timeFigureAt("develop", &p.Minutes, a.Level))
		s.Says = append(s.Says, printable.Text(fmt.Sprintf("For a scene of %s and %s.", stopsOf(p.Scene.Stops), p.Scene.AimText())))
		if outside := answers.Outside(p.Extrapolation); outside != "" {
			s.Says = append(s.Says, "The time lies "+outside+": test a strip there before relying on it.")
		}
	}
	if iso != nil {
		s.Figures = append(s.Figures, timeFigureAt("contrast of ISO 6 at", iso, a.Level))
		if fastest != nil {
			s.Figures = append(s.Figures, indexFigureAt("speed there", fastest, a.Level))
		}
	} else if notISO := f.Trial.NotISO(); len(notISO) > 0 {
		s.Says = append(s.Says, printable.Text(capital(notISO[0].Message())+"."))
	} else {
		s.Says = append(s.Says, "The contrast of ISO 6 is not met by these strips.")
	}
	if was := f.ISOMinutes; was != nil && (a.Today.Under() != nil || a.Today.Corrects()) {
		s.Says = append(s.Says, fmt.Sprintf("As tested, the contrast of ISO 6 is met at %s (%s).", clock(was.Value), intervalAt(was, a.Level, clock)))
	}
	name := strings.ReplaceAll(f.Quantity, "_", " ")
	law := fmt.Sprintf("The %s grows by this law: %s. Its limit is %s, its rate %s a minute", name, f.Model, sure(f.Limit, 3), sure(f.Rate, 3))
	if f.Induction != nil {
		law += ", from " + sure(f.Induction, 2) + " minutes on"
	}
	s.note("Growth.", law+".")
	if t := f.Temperature; t != nil {
		s.note("Temperature.", fmt.Sprintf("The rate at 30 °C is %s times that at 20.", fixed(t.Q10.Value, 2)))
	}
	if err := s.strips(f); err != nil {
		return nil, err
	}
	s.OfTones = append(s.OfTones, Note{About: "±", Text: say("is one standard deviation. The strips are as they were measured.")})
	return s, nil
}

// sure is an estimate with its standard deviation, in a sentence.
func sure(e *sensito.Estimate[float64], places int) string {
	c := cell(e, places)
	return strings.TrimSpace(c.Text + " " + c.Error)
}

// strips is the table of the strips of a family, with what the law has of each.
func (s *Scene) strips(f *development.Family) error {
	var times []sensito.Minutes
	elsewhere := false // at another temperature than the trial's
	for _, m := range f.Strips {
		times = append(times, m.Minutes())
		elsewhere = elsewhere || m.Minutes() != m.Strip.Minutes()
	}
	at, err := f.Along(times)
	if err != nil {
		return err
	}
	point := "Speed 0.8/H|Speed"
	if !f.Trial.Exposures().Absolute() {
		point = "Speed|Speed"
	}
	t := &Table{Name: "Table of strips", Heads: heads("min:s", "Base plus fog|Base plus fog", point, "Contrast index|Contrast index", "Average gradient|Average gradient", "By the law")}
	if elsewhere {
		t.Heads = append(t.Heads, Head{Text: "As at the trial’s temperature"})
	}
	count := map[sensito.Minutes]int{}
	for _, m := range f.Strips {
		count[m.Strip.Minutes()]++
	}
	for i, m := range f.Strips {
		name := m.Strip.Minutes().Clock(1)
		if count[m.Strip.Minutes()] > 1 {
			name += fmt.Sprintf(", strip %d", m.Strip.Number())
		}
		row := Row{Head: Cell{Text: name, Whole: true}, Cells: []Cell{cell(m.BaseFog, 3), cell(m.Speed, 0), cell(m.ContrastIndex, 3), cell(m.AverageGradient, 3), cell(&at[i].Contrast, 3)}}
		if elsewhere {
			row.Cells = append(row.Cells, Cell{Text: m.Minutes().Clock(1)})
		}
		t.Rows = append(t.Rows, row)
	}
	s.Table = t
	return nil
}
