package enter

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
)

// another begins a strip of which the text says the development time, and of paper
// the grade; asked says that nothing else was expected.
func (e *enterer) another(text string, asked bool) error {
	grade, m, err := e.stripOf(text, asked)
	if err != nil {
		return e.fault(err)
	}
	if e.file.begun { // and nothing of it has been read
		e.SetMinutes(m)
		e.SetGrade(grade)
		if e.asks {
			e.say("%s.\n", told.Title(e.Number(), e.Spec()))
		}
		return nil
	}
	number, err := e.file.begin(emptyStrip(m, grade, e.Steps()))
	if err != nil {
		return e.fault(err)
	}
	e.start(number)
	return nil
}

// stripOf reads what a line says of another strip.
func (e *enterer) stripOf(text string, asked bool) (grade string, m sensito.Minutes, err error) {
	if e.Trial().Material() != sensito.PaperMaterial {
		if m, err = sensito.ParseMinutes(text); err == nil && asked {
			err = e.plausible(text, m)
		}
		return "", m, err
	}
	words := strings.Fields(text)
	last := words[len(words)-1]
	if m, err = sensito.ParseMinutes(last); strings.Contains(last, ":") {
		return strings.Join(words[:len(words)-1], " "), m, err
	}
	strips := e.Trial().Strips()
	return strings.Join(words, " "), strips[len(strips)-1].Minutes(), nil
}

// plausible refuses a time without its colon that may well be a reading too many.
func (e *enterer) plausible(text string, m sensito.Minutes) error {
	if _, err := e.Typed(text); err != nil { // which no reading looks like
		return nil
	}
	// In EV or steps most times are like readings.
	inDensity := e.Trial().Reading().Unit == sensito.UnitDensity
	near := inDensity && m >= 2 && m <= 60 && !strings.ContainsAny(text, ".,")
	for _, s := range e.Trial().Strips() {
		if r := float64(m / s.Minutes()); inDensity && math.Abs(math.Log(r)) < math.Log(4) && s.Minutes() > 0 {
			near = true
		}
	}
	if !near {
		return fmt.Errorf("all %d steps are read; if %s is a time, write %s", e.Steps(), text, m.Clock(1))
	}
	return nil
}

// offer returns what is offered for another strip, "" for nothing: what an earlier run
// was told of one, or the next time of the trial before.
func (e *enterer) offer() string {
	for _, text := range e.offered {
		m, _ := sensito.ParseMinutes(text)
		if !slices.ContainsFunc(e.file.trial.Strips(), func(s *sensito.Strip) bool { return s.Grade() == "" && s.Minutes() == m }) {
			return text
		}
	}
	return ""
}

// nextPrompt asks for another strip.
func (e *enterer) nextPrompt() string {
	what, like := "minutes", ", like 6:30"
	if e.Trial().Material() == sensito.PaperMaterial {
		what, like = "grade, or grade and minutes", ""
	}
	next := len(e.file.trial.Strips()) + 1
	if text := e.offer(); text != "" {
		return fmt.Sprintf("strip %d, %s [%s] (stop ends): ", next, what, text)
	}
	return fmt.Sprintf("strip %d, %s%s (Enter ends): ", next, what, like)
}

// begun returns what is known of a strip that was begun and has no reading.
func (e *enterer) begun() answers {
	return answers{"strip": strings.TrimSpace(e.Spec().Grade + " " + e.Spec().Minutes.Clock(1))}
}
