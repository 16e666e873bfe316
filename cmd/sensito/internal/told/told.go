package told

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/notebook"
	"sensito/sensito/printable"
)

// Name names a strip for people.
func Name(s *sensito.Strip) string {
	return Title(s.Number(), sensito.StripSpec{Grade: s.Grade(), Minutes: s.Minutes()})
}

// Title names the strip of a number.
func Title(number int, s sensito.StripSpec) string {
	name := fmt.Sprintf("Strip %d", number)
	if s.Grade != "" {
		name += ", grade " + s.Grade
	}
	if s.Minutes > 0 {
		name += ", " + s.Minutes.Clock(1) + " min"
	}
	return name
}

// Summary writes what the strip of the number, from 1, came to.
func Summary(w io.Writer, t *sensito.Trial, number int) error {
	strip := t.Strips()[number-1]
	twice := 0
	for _, step := range strip.Steps() {
		if len(step.Repeats) > 0 {
			twice++
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d of %d steps read", Name(strip), strip.StepsRead(), len(strip.Steps()))
	if twice > 0 {
		fmt.Fprintf(&b, ", %d of them more than once", twice)
	}
	fmt.Fprintln(&b)
	if sd, steps := strip.RepeatSpread(); steps > 0 {
		fmt.Fprintf(&b, "Readings of one step scatter by %.3f (%d of the steps); stated is %.3f\n", float64(sd), steps, float64(t.Reading().StatedSD()))
	}
	if strip.NextStep() == 0 && t.Material() == sensito.FilmMaterial {
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

// Text returns all that a trial says of a strip, so that two can be
// compared although NaN differs from itself; "" where there is no such strip.
func Text(t *sensito.Trial, number int) string {
	strips := t.Strips()
	if number < 1 || number > len(strips) {
		return ""
	}
	spec := strips[number-1].Spec()
	spec.Process = strips[number-1].Process() // what strips say alike is stated only as long as all say it
	return fmt.Sprintf("%+v", spec)
}

// Undone writes which strips and developments differ from one text of a trial to
// another, as far as both are trials.
func Undone(b *strings.Builder, path string, from, to []byte) {
	was, err := notebook.Read(path, bytes.NewReader(from))
	if err != nil {
		return
	}
	is, err := notebook.Read(path, bytes.NewReader(to))
	if err != nil {
		return
	}
	before, now := was.Strips(), is.Strips()
	for i := range max(len(before), len(now)) {
		switch {
		case i >= len(now):
			fmt.Fprintf(b, "%s, with %d steps read, is out.\n", Name(before[i]), before[i].StepsRead())
		case i >= len(before):
			fmt.Fprintf(b, "%s, with %d steps read, is in.\n", Name(now[i]), now[i].StepsRead())
		case Text(was, i+1) != Text(is, i+1):
			fmt.Fprintf(b, "%s has %d of %d steps read; it had %d.\n", Name(now[i]), now[i].StepsRead(), len(now[i].Steps()), before[i].StepsRead())
		}
	}
	if n, had := len(is.Done()), len(was.Done()); n != had {
		fmt.Fprintf(b, "%s in the log; it had %d.\n", printable.Counted(n, "development"), had)
	}
}

// Readings writes readings of a trial as they are read, in their unit.
func Readings(r sensito.Reading, readings []sensito.Density) string {
	if r.Unit == sensito.UnitDensity {
		return Densities(readings)
	}
	out := make([]string, len(readings))
	for i, v := range readings {
		out[i] = r.Written(v)
	}
	return strings.Join(out, " and ")
}

// Densities writes readings as they are read.
func Densities(ds []sensito.Density) string {
	out := make([]string, len(ds))
	for i, d := range ds {
		if out[i] = strconv.FormatFloat(float64(d), 'f', -1, 64); len(out[i]) < 4 || out[i][len(out[i])-3] == '.' {
			out[i] = fmt.Sprintf("%.2f", float64(d))
		}
	}
	return strings.Join(out, " and ")
}

// Exposures describes how steps were exposed, in a few words.
func Exposures(e sensito.Exposures) string {
	switch e.Kind() {
	case sensito.Contact:
		return fmt.Sprintf("wedge of %d steps, %g lx, %g s", e.Len(), e.IlluminanceLx(), float64(e.Seconds()))
	case sensito.Camera:
		return fmt.Sprintf("camera, %d steps, index %g", e.Len(), float64(e.MeterIndex()))
	}
	return fmt.Sprintf("%d steps, relative", e.Len())
}
