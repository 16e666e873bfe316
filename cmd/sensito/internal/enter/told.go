package enter

import (
	"fmt"
	"io"
	"math"
	"strings"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// heading says what is being keyed in.
func (e *enterer) heading() {
	strip := e.Trial().Strips()[e.Number()-1]
	what := e.Trial().Title()
	if what == "" {
		what = e.Trial().Film().Name
	}
	e.say("%s\n%s; help lists what can be typed, Ctrl-C interrupts.\n", what, stripName(strip))
}

// stripName names a strip for people.
func stripName(s *sensito.Strip) string {
	name := fmt.Sprintf("Strip %d", s.Number())
	if s.Grade() != "" {
		name += ", grade " + s.Grade()
	}
	if s.Minutes() > 0 {
		name += ", " + s.Minutes().Clock(1) + " min"
	}
	return name
}

// summary writes what the strip came to.
func (k *kept) summary(w io.Writer, number int) error {
	strip := k.trial.Strips()[number-1]
	twice := 0
	for _, step := range strip.Steps() {
		if len(step.Repeats) > 0 {
			twice++
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d of %d steps read", stripName(strip), stepsRead(strip), len(strip.Steps()))
	if twice > 0 {
		fmt.Fprintf(&b, ", %d of them more than once", twice)
	}
	fmt.Fprintln(&b)
	if sd, steps := strip.RepeatSpread(); steps > 0 {
		fmt.Fprintf(&b, "Readings of one step scatter by %.3f (%d of the steps); stated is %.3f\n", float64(sd), steps, float64(k.trial.Reading().StatedSD()))
	}
	if strip.NextStep() == 0 && k.trial.Material() == sensito.FilmMaterial {
		measured(&b, strip)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// measured writes what the curve of a strip says, in a line, and what is amiss.
func measured(b *strings.Builder, strip *sensito.Strip) {
	m, err := curve.Measure(strip, curve.MeasureOptions{})
	if err != nil {
		fmt.Fprintf(b, "No curve: %v\n", err)
		return
	}
	var parts []string
	if m.BaseFog != nil {
		parts = append(parts, fmt.Sprintf("base plus fog %.2f", float64(m.BaseFog.Value)))
	}
	if m.Speed != nil {
		parts = append(parts, fmt.Sprintf("speed %.3g", float64(m.Speed.Value)))
	}
	if m.ContrastIndex != nil {
		parts = append(parts, fmt.Sprintf("contrast index %.2f", m.ContrastIndex.Value))
	}
	if m.AverageGradient != nil {
		parts = append(parts, fmt.Sprintf("average gradient %.2f", m.AverageGradient.Value))
	}
	parts = append(parts, fmt.Sprintf("readings scatter by %.3f", float64(m.Fit.ResidualSD)))
	text := strings.Join(parts, ", ")
	fmt.Fprintf(b, "%s%s\n", strings.ToUpper(text[:1]), text[1:])
	for _, w := range m.Warnings {
		if w.Code == "set_aside" || w.Code == "repeats_differ" {
			fmt.Fprintf(b, "Note: %s\n", w.Message())
		}
	}
}

// stepsRead returns how many steps of a strip have a reading.
func stepsRead(s *sensito.Strip) int {
	n := 0
	for _, step := range s.Steps() {
		if !math.IsNaN(float64(step.Density)) {
			n++
		}
	}
	return n
}
