package enter

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"sensito/cmd/sensito/internal/told"
	"sensito/cmd/sensito/internal/typed"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/control"
	"sensito/sensito/darkroom"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/scene"
)

// densityOf returns a checked density.
func (a answers) density(key string) sensito.Density { return sensito.Density(a.number(key)) }

// A controlList is a control log.
type controlList struct{ strips []control.Strip }

func (l *controlList) noun() string { return "strip" }
func (l *controlList) count() int   { return len(l.strips) }

func (l *controlList) head() []question {
	aimed := func(a answers) bool { return a["aim_base_fog"] != "" }
	return []question{
		{key: "title", ask: "Title", hint: "what is watched, as the tank and its developer", whole: true},
		{key: "film", ask: "Film of the strips", hint: "as its trial calls it: with film and developer a scene of that trial finds the log"},
		{key: "developer", ask: "Developer, dilution, like Ashlar 1+4", parse: typed.Developer},
		{key: "developed", ask: "Minutes for which strips are developed", parse: typed.Minutes},
		{key: "aim_base_fog", ask: "Aim: base plus fog (Enter: by the strips)", parse: typed.Density,
			hint: "the aim is the mean of strips in a process known to be right; without it the first strips are"},
		{key: "aim_low", ask: "Aim: low patch", parse: typed.Density, need: true, when: aimed},
		{key: "aim_high", ask: "Aim: high patch", parse: typed.Density, need: true, when: aimed},
	}
}

func (l *controlList) questions() []question {
	qs := []question{
		{key: "date", ask: "Date", parse: typed.Date, need: true},
		{key: "base_fog", ask: "Base plus fog", parse: typed.Density, need: true},
		{key: "low", ask: "Low patch", parse: typed.Density, need: true},
		{key: "high", ask: "High patch", parse: typed.Density, need: true},
	}
	if len(l.strips) > 0 {
		for _, name := range slices.Sorted(maps.Keys(l.strips[0].Others)) {
			qs = append(qs, question{key: "patches." + name, ask: "Patch " + name, parse: typed.Density, need: true})
		}
	}
	return append(qs,
		question{key: "fresh", ask: "First after the process was set right", choices: []string{"yes", "no"}, usual: "no"},
		question{key: "note", ask: "Note", whole: true})
}

func (l *controlList) offers() answers { return answers{"date": time.Now().Format(time.DateOnly)} }

func (l *controlList) answers(n int) answers {
	s := l.strips[n-1]
	one := func(d sensito.Density) string { return told.Densities([]sensito.Density{d}) }
	a := answers{"date": s.Date, "base_fog": one(s.BaseFog), "low": one(s.Low), "high": one(s.High),
		"fresh": map[bool]string{true: "yes", false: "no"}[s.Fresh], "note": s.Note}
	for name, d := range s.Others {
		a["patches."+name] = one(d)
	}
	return a
}

func (l *controlList) title(n int) string {
	s := l.strips[n-1]
	return fmt.Sprintf("Strip %d, %s, low %s, high %s", n, s.Date, told.Densities([]sensito.Density{s.Low}), told.Densities([]sensito.Density{s.High}))
}

func (l *controlList) read(data []byte) error {
	log, err := notebook.ReadControl("the log", bytes.NewReader(data))
	if err != nil {
		return err
	}
	l.strips = log.Strips()
	return nil
}

// strip returns the strip of the answers, with what they cannot say of the one before.
func (l *controlList) strip(a answers, was control.Strip) control.Strip {
	s := control.Strip{Date: a["date"], Fresh: a["fresh"] == "yes", Note: a["note"], Baseline: was.Baseline,
		Patches: control.Patches{BaseFog: a.density("base_fog"), Low: a.density("low"), High: a.density("high")}}
	for key := range a {
		if name, ok := strings.CutPrefix(key, "patches."); ok {
			if s.Others == nil {
				s.Others = map[string]sensito.Density{}
			}
			s.Others[name] = a.density(key)
		}
	}
	return s
}

func (l *controlList) create(head answers, things []answers) ([]byte, error) {
	spec := control.LogSpec{Title: head["title"], Film: head["film"]}
	spec.Developer, spec.Dilution = sensito.SplitDilution(head["developer"])
	if head["developed"] != "" {
		spec.Minutes, _ = sensito.ParseMinutes(head["developed"]) // checked
	}
	if head["aim_base_fog"] != "" {
		spec.Aim = &control.Patches{BaseFog: head.density("aim_base_fog"), Low: head.density("aim_low"), High: head.density("aim_high")}
	}
	for _, a := range things {
		spec.Strips = append(spec.Strips, l.strip(a, control.Strip{}))
	}
	if _, err := control.NewLog(spec); err != nil {
		return nil, err
	}
	return notebook.FormatControl(spec), nil
}

func (l *controlList) insert(data []byte, _ int, a answers) ([]byte, error) {
	return notebook.AppendControl(data, l.strip(a, control.Strip{}))
}

func (l *controlList) replace(data []byte, n int, a answers) ([]byte, error) {
	return notebook.ReplaceControl(data, n, l.strip(a, l.strips[n-1]))
}

func (l *controlList) remove(data []byte, n int) ([]byte, error) {
	return notebook.RemoveControl(data, n)
}

// A rollList is the frames of a roll.
type rollList struct{ frames []scene.Frame }

func (l *rollList) noun() string     { return "frame" }
func (l *rollList) count() int       { return len(l.frames) }
func (l *rollList) head() []question { return nil }
func (l *rollList) offers() answers  { return nil }

func (l *rollList) questions() []question {
	return []question{
		{key: "name", ask: "Name", need: true},
		{key: "range_stops", ask: "Range in stops, or shadow like 8@III", need: true, parse: rangeOrSpot,
			hint: "the range from the darkest to the lightest tone that must keep detail, or the meter reading of the shadow on its zone"},
		{key: "highlight", ask: "Highlight, like 13@VIII", need: true, parse: spot, when: func(a answers) bool { return strings.Contains(a["range_stops"], "@") }},
	}
}

func spot(text string) (answer, words string, err error) {
	r, err := camera.ParseSpotReading(text)
	return r.String(), "", err
}

func rangeOrSpot(text string) (answer, words string, err error) {
	if strings.Contains(text, "@") {
		return spot(text)
	}
	return typed.Number(text)
}

func (l *rollList) answers(n int) answers {
	f := l.frames[n-1]
	if f.Metering != nil {
		return answers{"name": f.Name, "range_stops": f.Metering.Shadow.String(), "highlight": f.Metering.Highlight.String()}
	}
	return answers{"name": f.Name, "range_stops": typed.Written(f.Stops)}
}

func (l *rollList) title(n int) string {
	f := l.frames[n-1]
	return fmt.Sprintf("Frame %d, %s, %s stops", n, f.Name, strconv.FormatFloat(f.Stops, 'g', 3, 64))
}

func (l *rollList) read(data []byte) (err error) {
	l.frames, err = notebook.ReadRoll("the roll", bytes.NewReader(data))
	return err
}

func (l *rollList) frame(a answers) (scene.Frame, error) {
	f := scene.Frame{Name: a["name"]}
	if !strings.Contains(a["range_stops"], "@") {
		f.Stops = a.number("range_stops")
		return f, nil
	}
	m := &camera.Metering{}
	var err1, err2 error
	m.Shadow, err1 = camera.ParseSpotReading(a["range_stops"])
	m.Highlight, err2 = camera.ParseSpotReading(a["highlight"])
	if err := errors.Join(err1, err2); err != nil {
		return f, err
	}
	var err error
	f.Stops, err = m.Range()
	f.Metering = m
	return f, err
}

func (l *rollList) create(_ answers, things []answers) ([]byte, error) {
	var frames []scene.Frame
	for _, a := range things {
		f, err := l.frame(a)
		if err != nil {
			return nil, err
		}
		frames = append(frames, f)
	}
	data := notebook.FormatRoll(frames)
	_, err := notebook.ReadRoll("the roll", bytes.NewReader(data))
	return data, err
}

func (l *rollList) insert(data []byte, _ int, a answers) ([]byte, error) {
	f, err := l.frame(a)
	if err != nil {
		return nil, err
	}
	return notebook.AppendFrame(data, f)
}

func (l *rollList) replace(data []byte, n int, a answers) ([]byte, error) {
	f, err := l.frame(a)
	if err != nil {
		return nil, err
	}
	return notebook.ReplaceFrame(data, n, f)
}

func (l *rollList) remove(data []byte, n int) ([]byte, error) { return notebook.RemoveFrame(data, n) }

// A procedureList is the steps of a procedure.
type procedureList struct{ steps []darkroom.ProcessStep }

func (l *procedureList) noun() string    { return "step" }
func (l *procedureList) count() int      { return len(l.steps) }
func (l *procedureList) offers() answers { return nil }

func (l *procedureList) head() []question {
	return []question{{key: "title", ask: "Title", whole: true}}
}

func (l *procedureList) questions() []question {
	plan := func(a answers) bool { return a["minutes"] == string(darkroom.TimeFromPlan) }
	bath := func(a answers) bool { return a["bath"] != "" }
	mixed := func(a answers) bool { return bath(a) && (a["dilution"] != "" || plan(a)) }
	clears := func(a answers) bool { return a["minutes"] == string(darkroom.TimeFromClearing) }
	yesNo := []string{"yes", "no"}
	return []question{
		{key: "name", ask: "Name", need: true},
		{key: "minutes", ask: "Minutes, from plan or from clearing", parse: stepTime,
			hint: "from plan: the development; from clearing: the fixer; Enter: until it is done"},
		{key: "clearing_minutes", ask: "Clearing time, minutes, if measured", parse: typed.Minutes, when: clears},
		{key: "clearing_factor", ask: "Times the clearing time", parse: typed.Number, usual: "2", when: clears},
		{key: "bath", ask: "Bath"},
		{key: "dilution", ask: "Dilution, like 1+4", parse: dilution, when: func(a answers) bool { return bath(a) && !plan(a) },
			hint: "as the sheet of the product says; its cautions count too"},
		{key: "changes", ask: "Changes of it, each so long (Enter: one)", parse: typed.Whole,
			when: func(a answers) bool {
				return bath(a) && a["dilution"] == "" && a["minutes"] != "" && !plan(a) && !clears(a)
			}},
		{key: "one_shot", ask: "Poured away after use", choices: yesNo, usual: "no", when: mixed},
		{key: "capacity", ask: "Capacity, like 20 films/l", when: func(a answers) bool { return mixed(a) && a["one_shot"] != "yes" }, parse: capacity},
		{key: "temperature_c", ask: "Temperature (Enter: the developer's)", parse: typed.Temperature, when: func(a answers) bool { return !plan(a) }},
		{key: "agitation", ask: "Agitation, in words"},
		{key: "dark", ask: "In the dark", choices: yesNo, need: true},
		{key: "critical", ask: "Time is critical", choices: yesNo, usual: "no", when: func(a answers) bool { return a["minutes"] != "" && !clears(a) }},
		{key: "drain_seconds", ask: "Seconds of it to drain", parse: typed.Number, when: func(a answers) bool { return a["minutes"] != "" }},
		{key: "note", ask: "Note", whole: true},
	}
}

func stepTime(text string) (answer, words string, err error) {
	for _, f := range []darkroom.TimeFrom{darkroom.TimeFromPlan, darkroom.TimeFromClearing} {
		if text == string(f) || "from "+text == string(f) {
			return string(f), string(f), nil
		}
	}
	return typed.Minutes(text)
}

func dilution(text string) (answer, words string, err error) {
	_, answer, otherwise, err := entry.ParseDeveloper("bath " + text)
	if err == nil && answer == "" {
		_, err = sensito.ParseDilution(text)
	}
	if otherwise {
		words = "= " + answer
	}
	return answer, words, err
}

func capacity(text string) (answer, words string, err error) {
	_, err = darkroom.ParseCapacity(text)
	return text, "", err
}

func (l *procedureList) answers(n int) answers {
	s := l.steps[n-1]
	yes := func(v bool) string { return map[bool]string{true: "yes", false: "no"}[v] }
	num := func(v float64) string {
		if v == 0 {
			return ""
		}
		return typed.Written(v)
	}
	clearing := ""
	if s.Clearing > 0 {
		clearing = notebook.TimeText(darkroom.ProcessStep{Minutes: s.Clearing})
	}
	return answers{"name": s.Name, "minutes": notebook.TimeText(s), "changes": num(float64(s.Changes)), "clearing_minutes": clearing, "clearing_factor": num(s.ClearingFactor),
		"bath": s.Bath.Name, "dilution": s.Bath.Dilution, "one_shot": yes(s.Bath.OneShot), "capacity": s.Bath.Capacity,
		"temperature_c": num(s.TemperatureC), "agitation": s.Agitation, "dark": yes(s.Dark), "critical": yes(s.Critical),
		"drain_seconds": num(s.DrainSeconds), "note": s.Note}
}

func (l *procedureList) title(n int) string {
	s := l.steps[n-1]
	text := fmt.Sprintf("Step %d, %s", n, s.Name)
	if t := notebook.TimeText(s); t != "" {
		text += ", " + t
	}
	return text
}

func (l *procedureList) read(data []byte) error {
	p, err := notebook.ReadProcedure("the procedure", bytes.NewReader(data))
	if err != nil {
		return err
	}
	l.steps = p.Steps()
	return nil
}

// step returns the step of the answers, with what is not asked of the one before.
func (l *procedureList) step(a answers, was darkroom.ProcessStep) darkroom.ProcessStep {
	from, m, _ := notebook.StepTime(a["minutes"]) // checked
	s := darkroom.ProcessStep{Name: a["name"], From: from, Minutes: m, Changes: int(a.number("changes")), ClearingFactor: a.number("clearing_factor"),
		TemperatureC: a.number("temperature_c"), Agitation: a["agitation"], Dark: a["dark"] == "yes", Critical: a["critical"] == "yes",
		DrainSeconds: a.number("drain_seconds"), Note: a["note"],
		Bath: darkroom.Bath{Name: a["bath"], Dilution: a["dilution"], OneShot: a["one_shot"] == "yes", Capacity: a["capacity"], Mixed: was.Bath.Mixed, Least: was.Bath.Least}}
	if a["clearing_minutes"] != "" {
		s.Clearing, _ = sensito.ParseMinutes(a["clearing_minutes"]) // checked
	}
	return s
}

func (l *procedureList) create(head answers, things []answers) ([]byte, error) {
	spec := darkroom.ProcedureSpec{Title: head["title"]}
	for _, a := range things {
		spec.Steps = append(spec.Steps, l.step(a, darkroom.ProcessStep{}))
	}
	p, err := darkroom.NewProcedure(spec)
	var fault *sensito.FieldError
	if errors.As(err, &fault) && fault.Key == "step" && len(things) < darkroom.MaxProcessSteps {
		return nil, fmt.Errorf("%w: no step takes its minutes from plan, as the development does", errUnfinished)
	}
	if err != nil {
		return nil, err
	}
	return notebook.FormatProcedure(p), nil
}

func (l *procedureList) insert(data []byte, n int, a answers) ([]byte, error) {
	return notebook.InsertStep(data, n, l.step(a, darkroom.ProcessStep{}))
}

func (l *procedureList) replace(data []byte, n int, a answers) ([]byte, error) {
	return notebook.ReplaceStep(data, n, l.step(a, l.steps[n-1]))
}

func (l *procedureList) remove(data []byte, n int) ([]byte, error) {
	return notebook.RemoveStep(data, n)
}
