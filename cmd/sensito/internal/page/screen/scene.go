package screen

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/listing"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	"sensito/sensito/scene"
)

// SceneAsked is what the screen of a scene is made of.
type SceneAsked struct {
	Trial  *sensito.Trial
	Answer *scene.Answer // nil where there is none, and for a roll
	Words  report.Words
	Beside *listing.Beside // what a control log says; nil for none
	Level  float64         // of the intervals
	Tones  *plot.OnPage

	Corrected *scene.Answer // by that log; nil where it asks for no other time

	Roll  *scene.Roll
	Links SceneLinks
}

// SceneLinks are the addresses that the screen of a scene leads to, "" for those that it
// does not.
type SceneLinks struct {
	Trial, Log                   string
	Develop, Card, Sheet         string
	Correct, Place, Spots, Range string
	Tone                         string // the way to the print
}

// A Scene is the screen of a scene, or of a roll of scenes.
type Scene struct {
	Lead    []Run
	Figures []Figure
	Says    []string
	Fault   *Fault // in place of an answer
	Actions []Action
	Notes   []Note
	Asking  *Asking

	TableHead string // above figure and table
	Tones     *plot.OnPage
	Table     *Table
	OfTones   []Note
	Warnings  []string
}

// An Action is a link that looks like a button.
type Action struct {
	Address, Text string
	First         bool // the main one of a page
}

// A Fault says why there is no answer, and what would have one.
type Fault struct {
	Err   error
	Says  string
	Why   []string
	Links []Action
}

// NewScene returns the screen of a scene that has an answer.
func NewScene(a SceneAsked) *Scene {
	s := &Scene{Tones: a.Tones, Warnings: WarningTexts(a.Words.Warnings), TableHead: "Where each tone lands"}
	if a.Roll != nil {
		s.TableHead = "The frames"
		s.roll(a)
		return s
	}
	p := a.Answer
	s.Lead = sceneLead(a.Links.Trial, p.Family.Trial, p.Scene)
	s.Figures = []Figure{timeFigureAt("develop", &p.Minutes, a.Level)}
	if p.AtIndex != nil {
		s.Figures = append(s.Figures, givenFigure(p.AtIndex))
	} else if p.ExposureIndex != nil {
		s.Figures = append(s.Figures, indexFigureAt("set the meter to", p.ExposureIndex, a.Level))
	}
	s.says(a)
	s.actions(a.Links)
	s.notes(a)
	s.tones(a)
	return s
}

// sceneLead says what is developed, and what the negative is to suit.
func sceneLead(at string, t *sensito.Trial, s scene.Scene) []Run {
	name := Run{Text: printable.Text(t.Name()), Address: at}
	rest := ", for " + s.AimText()
	if c := s.Today.Conditions.TemperatureC; c != nil {
		rest += "; the developer at " + strings.Replace(sensito.Celsius(*c), " ", space, 1)
		if end := s.Today.Conditions.EndC; end != nil {
			rest += ", drifting to " + strings.Replace(sensito.Celsius(*end), " ", space, 1)
		}
	}
	return []Run{name, {Text: printable.Text(rest) + "."}}
}

// givenFigure is an index that is given, with how far it is from the film's own.
func givenFigure(a *scene.AtIndex) Figure {
	about := "set the meter to"
	if a.Exposed {
		about = "it was exposed at"
	}
	_, over, _ := strings.Cut(answers.Index(a), ", ")
	return Figure{about, speed(a.Index), over}
}

// says are the sentences under the answer.
func (s *Scene) says(a SceneAsked) {
	p := a.Answer
	add := func(text string) {
		if text != "" {
			s.Says = append(s.Says, printable.Text(text))
		}
	}
	add(a.Words.Expose)
	if p.AtIndex != nil {
		ends, err := p.PrintEnds()
		if err != nil || ends == nil {
			ends = &scene.PrintEnds{}
		}
		add(answers.Shadows(p, a.Level))
		add(answers.PrintOn(p, ends, a.Level))
		add(answers.Kept(p))
	}
	var text []string
	if was := p.AsTested; was != nil {
		text = append(text, fmt.Sprintf("As tested, it would be %s (%s).", clock(was.Minutes.Value), intervalAt(&was.Minutes, a.Level, clock)))
	}
	if was := p.Uncorrected; was != nil {
		text = append(text, fmt.Sprintf("Without the correction it would be %s (%s).", clock(was.Minutes.Value), intervalAt(&was.Minutes, a.Level, clock)))
	}
	if outside := answers.Outside(p.Extrapolation); outside != "" {
		text = append(text, "The time lies "+outside+": test a strip there before relying on it.")
	}
	if d := p.Delivered; d != nil && p.AtIndex == nil {
		two := func(v sensito.NetDensity) string { return fixed(float64(v), 2) }
		text = append(text, fmt.Sprintf("The negative will have a density range of %s (%s).", two(d.Value), intervalAt(d, a.Level, two)))
	}
	add(strings.Join(append(text, printed(p)...), " "))
}

// printed says how the tones come out in the print.
func printed(p *scene.Answer) []string {
	r, err := p.Reproduce()
	if err != nil { // without a tested paper
		return nil
	}
	tones := r.Tones
	var close []string
	for _, run := range scene.RunTogether(tones, func(t scene.Reproduced) scene.Tone { return t.Tone }) {
		from, to := tones[run[0]], tones[run[1]]
		apart := fixed(math.Abs(math.Round(100*float64(from.Print.Value))-math.Round(100*float64(to.Print.Value)))/100, 2)
		close = append(close, fmt.Sprintf("from %s to %s stops (%s apart)", signed(from.Stops), signed(to.Stops), apart))
	}
	own := fmt.Sprintf("the metered tone has %s times its own contrast.", fixed(r.Mid.Gradient, 1))
	if len(close) == 0 {
		return []string{"All tones part well in the print, and " + own}
	}
	return []string{fmt.Sprintf("The tones %s lie close in the print; all others part well, and %s", listed(close), own)}
}

func toneEstimates(all []scene.Reproduced) []scene.Tone {
	var out []scene.Tone
	for _, t := range all {
		out = append(out, t.Tone)
	}
	return out
}

func (s *Scene) actions(l SceneLinks) {
	for _, a := range []Action{{l.Develop, "Develop this now", true}, {l.Card, "Card", false}, {l.Sheet, "Process sheet", false}} {
		if a.Address != "" {
			s.Actions = append(s.Actions, a)
		}
	}
}

// notes say how sure the answer is, what the process and the conditions have to do with it,
// and what the readings were.
func (s *Scene) notes(a SceneAsked) {
	if parts := a.Answer.Budget(); len(parts) > 0 {
		first, smaller := answers.ErrorPart(parts[0], a.Answer.Family.Trial)
		text := fmt.Sprintf("%s\u00a0%% of the range is %s", fixed(100*parts[0].Share, 0), first)
		for _, p := range parts[1:min(len(parts), 3)] {
			of, _ := answers.ErrorPart(p, a.Answer.Family.Trial)
			text += fmt.Sprintf(", %s\u00a0%% %s", fixed(100*p.Share, 0), of)
		}
		s.note("Why so wide.", text+". What makes it smaller: "+smaller+".")
	}
	s.beside(a)
	s.note("Today.", a.Words.Conditions)
	s.note("The process.", a.Words.Process)
	s.note("The readings.", strings.Join(a.Words.Exposure, " "))
}

// note adds one of a sentence, none for "".
func (s *Scene) note(about, text string) {
	if text != "" {
		s.Notes = append(s.Notes, Note{About: about, Text: say(text)})
	}
}

// beside says what the control log of the notebook has of the process, and leads to the
// answer corrected for it.
func (s *Scene) beside(a SceneAsked) {
	b := a.Beside
	if b == nil || b.Drift == nil || b.Drift.InControl {
		return
	}
	text := linked(answers.Process(b.Drift.Control, b.File)+".", "has been out of control", a.Links.Log)
	if a.Links.Correct != "" {
		text = append(text, Run{Text: " "}, Run{Text: "Correct for it", Address: a.Links.Correct})
		rest := "."
		if c := a.Corrected; c != nil {
			rest = fmt.Sprintf(": %s in place of %s", clock(c.Minutes.Value), clock(a.Answer.Minutes.Value))
			if c.ExposureIndex != nil && c.AtIndex == nil {
				rest += ", at an index of " + setting(c.ExposureIndex.Value)
			}
			rest += "."
		}
		text = append(text, Run{Text: rest})
	}
	s.Notes = append(s.Notes, Note{About: "The process.", Text: text, Marked: true})
}

// tonesTable is the table of where the tones of a scene land, with the largest errors of the
// densities of the negative and of the print.
func tonesTable(p *scene.Answer) (t *Table, net, inPrint float64) {
	place := p.Placement()
	film := "log H at the film"
	if !p.Family.Trial.Exposures().Absolute() {
		film = "log H, relative"
	}
	t = &Table{Name: "Table of tones", Heads: []Head{{Text: "Stops", Left: true}, {Text: "Tone", Left: true}, {Text: film}, {Text: "Negative, net", Address: term("Net density")}}}
	tones := keptTones(p, place)
	gradients := map[float64]float64{}
	if r, err := p.Reproduce(); err == nil {
		tones = toneEstimates(r.Tones)
		for _, at := range r.Tones {
			gradients[at.Stops] = at.Gradient
		}
		t.Heads = append(t.Heads, Head{Text: "Print"}, Head{Text: "Contrast, 1 as seen"})
	}
	for _, tone := range tones {
		row := Row{Head: Cell{Text: signed(tone.Stops)}, Cells: []Cell{{Text: toneName(tone.Stops, place), Soft: true, Left: true}, figure(float64(tone.Film), 2), bare(tone.NetDensity)}}
		if e := tone.NetDensity; e != nil {
			net = max(net, float64(e.StdErr))
		}
		if len(gradients) > 0 {
			row.Cells = append(row.Cells, bare(tone.Print), figure(gradients[tone.Stops], 2))
			if e := tone.Print; e != nil {
				inPrint = max(inPrint, float64(e.StdErr))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t, net, inPrint
}

// tones takes the table of the tones, and says where they are placed.
func (s *Scene) tones(a SceneAsked) {
	p := a.Answer
	var net, inPrint float64
	s.Table, net, inPrint = tonesTable(p)
	sure := "±" + deviation(net, 2) + " in the negative"
	if inPrint > 0 {
		sure += ", ±" + deviation(inPrint, 2) + " in the print"
	}
	s.OfTones = []Note{{About: "How sure.", Text: say("One standard deviation of the densities is at most " + sure + ". The patches show order, and where tones run together; a screen is no densitometer.")}}
	where := say(a.Words.Placement)
	if a.Links.Place != "" {
		where = append(where, Run{Text: " "}, Run{Text: "Place it elsewhere", Address: a.Links.Place})
		switch {
		case a.Links.Spots != "":
			where = append(where, Run{Text: ", or "}, Run{Text: "begin from two spot readings", Address: a.Links.Spots})
		case a.Links.Range != "":
			where = append(where, Run{Text: ", or "}, Run{Text: "begin from a range in stops", Address: a.Links.Range})
		}
		where = append(where, Run{Text: "."})
	}
	s.OfTones = append(s.OfTones, Note{About: "Placement.", Text: where})
	if a.Links.Tone != "" {
		s.OfTones = append(s.OfTones, Note{About: "The whole way", Text: []Run{{Text: "from the scene through film and paper to the print", Address: a.Links.Tone}, {Text: "."}}})
	}
}

// keptTones returns the tones of an answer that must keep detail, the ends among them.
func keptTones(p *scene.Answer, place scene.Placement) []scene.Tone {
	const near = 1e-9
	tones := slices.Clone(p.Ends[:])
	for _, t := range p.Tones {
		if t.Stops > place.Darkest+near && t.Stops < place.Lightest-near {
			tones = append(tones, t)
		}
	}
	slices.SortFunc(tones, func(a, b scene.Tone) int { return cmp.Compare(a.Stops, b.Stops) })
	return tones
}

func toneName(stops float64, p scene.Placement) string {
	const near = 1e-9
	switch {
	case math.Abs(stops-p.Darkest) < near:
		return "darkest"
	case math.Abs(stops-p.Lightest) < near:
		return "lightest"
	case stops == 0:
		return "metered"
	}
	return ""
}

// bare is the cell of a density without its error.
func bare[Q ~float64](e *sensito.Estimate[Q]) Cell {
	c := cell(e, 2)
	c.Error = ""
	return c
}

// WarningTexts are warnings as sentences. What they hint at is of the terminal.
func WarningTexts(all sensito.Warnings) []string {
	var out []string
	for _, w := range all {
		w.Hint = ""
		if text := printable.Text(capital(w.Message()) + "."); !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return out
}

// NewFault says why a question has no answer.
func NewFault(says string, err error) *Fault {
	f := &Fault{Err: err, Says: says}
	for line := range strings.Lines(err.Error()) {
		f.Why = append(f.Why, printable.Text(capital(strings.TrimRight(line, ".\n"))+"."))
	}
	if u := (*sensito.Unanswerable)(nil); errors.As(err, &u) && u.Hint != "" {
		f.Why = append(f.Why, printable.Text(capital(strings.TrimSuffix(u.Hint, "."))+"."))
	}
	return f
}

// SceneTitle is that of the page of a scene of so many stops.
func SceneTitle(stops float64) string {
	return "A scene of " + stopsOf(stops)
}

func stopsOf(v float64) string { return stops(math.Round(100*v) / 100) }
