// Package notebooktest makes trials for property tests, and compares them. Begin
// with Trial, and Describe to compare two.
package notebooktest

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/printable"
)

// Trial returns a generator of trials of film and paper, of every kind of
// exposure, with whatever a notebook file can say of them.
func Trial() *rapid.Generator[*sensito.Trial] {
	return rapid.Custom(func(t *rapid.T) *sensito.Trial {
		trial, err := sensito.NewTrial(Spec().Draw(t, "spec"))
		if err != nil {
			t.Fatalf("not a trial: %v", err)
		}
		return trial
	})
}

// Spec returns a generator of what NewTrial makes a trial from. No strip is a copy
// of another, which an import would leave out.
func Spec() *rapid.Generator[sensito.TrialSpec] {
	return rapid.Custom(func(t *rapid.T) sensito.TrialSpec {
		s := sensito.TrialSpec{
			Title:       text(t, "title"),
			Film:        sensito.Film{Name: "F" + text(t, "name"), Batch: text(t, "batch"), Format: text(t, "format")},
			Process:     process(t),
			Repeating:   sensito.Repeating{TemperatureSDC: maybe(t, "temperature sd", 0.001, 5), TimeSD: sensito.Seconds(maybe(t, "time sd", 0.1, 600))},
			Reciprocity: reciprocity(t),
		}
		s.Process.Developer = text(t, "developer")
		if rapid.Bool().Draw(t, "paper") {
			s.Material = sensito.PaperMaterial
		} else {
			s.Film.RatedSpeed = sensito.Speed(maybe(t, "rated speed", 1, 6400))
		}
		s.Reading = reading(t, s.Material)
		s.Exposures = exposures(t, s)
		calibrations := calibrations(t, s)
		for range rapid.IntRange(1, 4).Draw(t, "strips") {
			s.Strips = append(s.Strips, strip(t, s.Material, s.Exposures, s.Reading, calibrations))
		}
		for _, strip := range s.Strips { // a table has those that are used, in this order
			for _, c := range calibrations {
				if strip.Calibration == c.Name && !slices.Contains(s.Calibrations, c) {
					s.Calibrations = append(s.Calibrations, c)
				}
			}
		}
		if s.Exposures.Kind() == sensito.Relative && s.Material == sensito.FilmMaterial && rapid.Bool().Draw(t, "frame") {
			f := sensito.Frame{Index: sensito.Speed(value(t, "frame index", 1, 6400)), Stops: value(t, "frame stops", -20, 20), Minutes: s.Strips[0].Minutes}
			for range rapid.IntRange(1, 3).Draw(t, "frame readings") {
				at := s.Reading.AsRead(density(t, 0.1, 2))
				if s.Reading.Unit == sensito.UnitStep {
					at = density(t, 1, float64(len(s.Reading.Tablet)))
				}
				f.Density = append(f.Density, at)
			}
			if e, err := s.Exposures.WithFrame(f); err == nil { // it is not tied otherwise
				s.Exposures = e
			}
		}
		return s
	}).Filter(func(s sensito.TrialSpec) bool {
		trial, err := sensito.NewTrial(s)
		return err != nil || !slices.ContainsFunc(trial.Strips(), func(s *sensito.Strip) bool { return s.CopyOf() > 0 })
	})
}

// Strip returns a generator of strips that the trial may have beside its own.
func Strip(of *sensito.Trial) *rapid.Generator[sensito.StripSpec] {
	return rapid.Custom(func(t *rapid.T) sensito.StripSpec {
		return strip(t, of.Material(), of.Exposures(), of.Reading(), of.Calibrations())
	})
}

// ControlStrip returns a generator of control strips made on the given date,
// with the given further patches.
func ControlStrip(date string, others ...string) *rapid.Generator[control.Strip] {
	return rapid.Custom(func(t *rapid.T) control.Strip {
		s := control.Strip{
			Date: date, Baseline: rapid.Bool().Draw(t, "baseline"), Fresh: rapid.Bool().Draw(t, "fresh"), Note: note(t, "note"),
			Patches: control.Patches{BaseFog: density(t, 0, 0.2), Low: density(t, 0.2, 1), High: density(t, 1.01, 6)},
		}
		for _, name := range others {
			if s.Others == nil {
				s.Others = map[string]sensito.Density{}
			}
			s.Others[name] = density(t, 0, 6)
		}
		return s
	})
}

// Done returns a generator of developments that a log may hold.
func Done() *rapid.Generator[sensito.Done] {
	return rapid.Custom(func(t *rapid.T) sensito.Done {
		d := sensito.Done{
			Date:    rapid.SampledFrom([]string{"2026-03-02", "2024-02-29", "1969-12-31"}).Draw(t, "date"),
			Minutes: minutes(t), PlannedC: maybe(t, "planned temperature", 1, 60), TemperatureC: maybe(t, "temperature", 1, 60), EndedC: maybe(t, "ended", 1, 60), Note: note(t, "note"),
			Dilution: rapid.SampledFrom([]string{"", "1+31", "stock"}).Draw(t, "dilution"), Agitation: rapid.SampledFrom([]sensito.Agitation{"", sensito.AgitationNone}).Draw(t, "agitation"),
			Index: sensito.Speed(maybe(t, "index", 1, 6400)), For: rapid.SampledFrom([]string{"", "a scene of 7 stops (N)"}).Draw(t, "for"),
		}
		if rapid.Bool().Draw(t, "planned") {
			d.Planned = minutes(t)
		}
		if films := rapid.SampledFrom([]string{"", "6x 4x5in", "2x 120, 135-36", "9x12cm", "3x 24.5x36mm"}).Draw(t, "films"); films != "" {
			var err error
			if d.Films, err = sensito.ParseFilms(films); err != nil {
				t.Fatalf("no films: %v", err)
			}
		}
		return d
	})
}

// reading says how strips were read, in any unit.
func reading(t *rapid.T, m sensito.Material) sensito.Reading {
	r := sensito.Reading{
		Repeatability: sensito.Density(maybe(t, "repeatability", 0.0001, 0.5)),
		ReadsTo:       rapid.SampledFrom([]float64{0, 0.02, 0.1, 0.25, 1.0 / 3}).Draw(t, "reads to"),
		Zero:          rapid.SampledFrom([]sensito.Zero{"", sensito.ZeroAir, sensito.ZeroBase}).Draw(t, "zero"),
		Channel:       strings.TrimSpace(rapid.StringMatching(`[a-zA-Z '=]{0,12}`).Draw(t, "channel")),
		ScaleSD:       maybe(t, "scale", 0.0001, 0.2),
		OffsetSD:      sensito.Density(maybe(t, "offset", 0.0001, 0.2)),
	}
	if m == sensito.PaperMaterial {
		return r
	}
	r.Unit = rapid.SampledFrom([]sensito.Unit{sensito.UnitDensity, sensito.UnitDensity, sensito.UnitEV, sensito.UnitStep}).Draw(t, "unit")
	switch r.Unit {
	case sensito.UnitEV:
		for range rapid.IntRange(1, 3).Draw(t, "bare light") {
			r.OpenEV = append(r.OpenEV, value(t, "open", 8, 14))
		}
	case sensito.UnitStep:
		r.Tablet = wedge(t, rapid.IntRange(3, 31).Draw(t, "tablet steps"))
		r.TabletSD = sensito.Density(maybe(t, "tablet sd", 0.0001, 0.2))
	}
	return r
}

// calibrations are those of pictures in which strips of a trial may have been read.
func calibrations(t *rapid.T, s sensito.TrialSpec) []sensito.Calibration {
	if s.Reading.Unit != sensito.UnitDensity || s.Reading.Zero == sensito.ZeroBase {
		return nil
	}
	var out []sensito.Calibration
	for i := range rapid.IntRange(0, 2).Draw(t, "calibrations") {
		out = append(out, Calibration(fmt.Sprintf("%s%d", rapid.StringMatching(`[!-~äø]([ -~]{0,20}[!-~])?`).Draw(t, "calibration name"), i)).Draw(t, "calibration"))
	}
	return out
}

// Calibration returns a generator of calibrations of a name.
func Calibration(name string) *rapid.Generator[sensito.Calibration] {
	return rapid.Custom(func(t *rapid.T) sensito.Calibration {
		c := sensito.Calibration{Name: name, Repeatability: sensito.Density(value(t, "repeatability", 0.0001, 0.5))}
		for range rapid.IntRange(0, 3).Draw(t, "directions") {
			var d [3]float64
			for i := range d {
				d[i] = rapid.Float64Range(-0.1, 0.1).Draw(t, "off")
			}
			for i := range d {
				for j := range d {
					c.Covariance[i][j] += d[i] * d[j]
				}
			}
		}
		return c
	})
}

func strip(t *rapid.T, m sensito.Material, e sensito.Exposures, r sensito.Reading, known []sensito.Calibration) sensito.StripSpec {
	lowest, highest, thin := 0.0, 6.0, 1.0
	if r.Zero == sensito.ZeroBase {
		lowest = -0.5
	}
	switch r.Unit {
	case sensito.UnitEV:
		lowest, highest = float64(r.AsRead(5)), float64(r.AsRead(0))
		thin = highest
	case sensito.UnitStep:
		lowest, highest, thin = 1, float64(len(r.Tablet)), 3
	}
	s := sensito.StripSpec{
		Minutes: minutes(t),
		Note:    note(t, "note"),
		Process: process(t),
		Date:    rapid.SampledFrom([]string{"", "2026-03-02", "2024-02-29", "1969-12-31"}).Draw(t, "developed"),
	}
	if i := rapid.IntRange(0, len(known)).Draw(t, "by"); i > 0 {
		s.Calibration, s.Picture = known[i-1].Name, text(t, "picture")
	}
	if m == sensito.PaperMaterial {
		s.Grade = rapid.SampledFrom([]string{"", "2", "00", "1 1/2", "\"hard\""}).Draw(t, "grade")
		if rapid.Bool().Draw(t, "no time") {
			s.Minutes = 0
		}
	}
	if e.Kind() == sensito.Contact {
		s.Seconds = sensito.Seconds(maybe(t, "seconds", 1e-3, 1000))
		s.IlluminanceLx = maybe(t, "lux", 1e-3, 1000)
	}
	for range rapid.IntRange(0, 3).Draw(t, "fogs") {
		s.BaseFog = append(s.BaseFog, density(t, lowest, thin))
	}
	for i := range e.Len() {
		d := density(t, lowest, highest)
		switch rapid.IntRange(0, 12).Draw(t, "kind of reading") {
		case 0:
			d = sensito.Density(math.NaN())
		case 1:
			if s.Repeats == nil {
				s.Repeats = map[int][]sensito.Density{}
			}
			for range rapid.IntRange(1, 3).Draw(t, "repeats") {
				s.Repeats[i+1] = append(s.Repeats[i+1], density(t, lowest, highest))
			}
		case 2:
			s.Ignore = append([]int{i + 1}, s.Ignore...)
		}
		s.Density = append(s.Density, d)
	}
	if rapid.Bool().Draw(t, "interrupted") {
		s.NextStep = rapid.IntRange(1, e.Len()).Draw(t, "next step")
	}
	return s
}

func exposures(t *rapid.T, s sensito.TrialSpec) sensito.Exposures {
	must := func(e sensito.Exposures, err error) sensito.Exposures {
		if err != nil {
			t.Fatalf("no exposures: %v", err)
		}
		return e
	}
	n := rapid.IntRange(3, 31).Draw(t, "steps")
	meter := sensito.MeterConstants{K: maybe(t, "meter k", 5, 30), Q: maybe(t, "meter q", 0.2, 1)}
	var e sensito.Exposures
	switch rapid.SampledFrom([]sensito.Kind{sensito.Contact, sensito.Camera, sensito.Relative}).Draw(t, "kind") {
	case sensito.Contact:
		e = must(sensito.NewContact(value(t, "lux", 1e-6, 1e7), value(t, "seconds", 1e-6, 1e6), wedge(t, n)))
		e = must(e.WithMeter(meter))
	case sensito.Camera:
		stops := rapid.SliceOfN(rapid.Float64Range(-20, 20), n, n).Draw(t, "stops")
		if rapid.Bool().Draw(t, "whole stops") {
			for i := range stops {
				stops[i] = math.Round(stops[i]*3) / 3
			}
		}
		e = must(sensito.NewCamera(sensito.Speed(value(t, "index", 1, 6400)), stops, meter))
	case sensito.Relative:
		logH := make([]sensito.LogExposure, n)
		for i := range logH {
			logH[i] = sensito.LogExposure(value(t, "log h", -20, 20))
		}
		e = must(sensito.NewRelative(logH))
		if rapid.Bool().Draw(t, "wedged") {
			e = must(sensito.NewRelativeWedge(wedge(t, n)))
		}
		if s.Film.RatedSpeed != 0 && rapid.Bool().Draw(t, "tied") {
			e = must(e.TiedTo(sensito.LogExposure(value(t, "reference", -20, 20)), s.Film.RatedSpeed))
		}
		e = must(e.WithMeter(meter))
	}
	if e.Wedge() != nil {
		e = must(e.WithWedgeSD(sensito.LogRange(maybe(t, "wedge sd", 0.0001, 0.2))))
	}
	return must(e.WithCommonSD(sensito.LogRange(maybe(t, "log h sd", 0, 1))))
}

// wedge returns an even wedge or an uneven one, which may fall.
func wedge(t *rapid.T, n int) []sensito.Density {
	step := value(t, "wedge step", 0.001, 0.15)
	first := value(t, "wedge first", 0, 1)
	if rapid.Bool().Draw(t, "falling") {
		first, step = first+float64(n)*step, -step
	}
	w := sensito.EvenWedge(sensito.Density(first), sensito.Density(step), n)
	if rapid.Bool().Draw(t, "uneven") {
		for i := range w {
			w[i] += sensito.Density(rapid.Float64Range(0, 0.4).Draw(t, "off") * math.Abs(step))
		}
	}
	return w
}

func process(t *rapid.T) sensito.Process {
	return sensito.Process{
		Dilution:     rapid.SampledFrom([]string{"", "", "stock", "1+19", "1+31.5"}).Draw(t, "dilution"),
		TemperatureC: maybe(t, "temperature", 1, 60),
		Agitation: rapid.SampledFrom([]sensito.Agitation{"", "", sensito.AgitationContinuous,
			sensito.AgitationIntermittent, sensito.AgitationNone}).Draw(t, "agitation"),
	}
}

func reciprocity(t *rapid.T) *sensito.StatedReciprocity {
	var r *sensito.StatedReciprocity
	switch rapid.IntRange(0, 4).Draw(t, "reciprocity") {
	case 1:
		r = &sensito.StatedReciprocity{Law: sensito.PowerLaw, Constant: value(t, "exponent", 1, 2)}
	case 2:
		r = &sensito.StatedReciprocity{Law: sensito.SchwarzschildLaw, Constant: value(t, "p", 0.5, 1)}
	case 3:
		r = &sensito.StatedReciprocity{Law: sensito.AdditiveLaw, Constant: value(t, "extra", 0, 10)}
	case 4:
		var pairs []sensito.ReciprocityPair
		metered, factor := value(t, "metered", 0.5, 2), 1.0
		for range rapid.IntRange(1, 4).Draw(t, "pairs") {
			metered *= value(t, "longer", 1.5, 5)
			factor *= value(t, "loss", 1, 2)
			pairs = append(pairs, sensito.ReciprocityPair{Metered: sensito.Seconds(metered), Corrected: sensito.Seconds(metered * factor)})
		}
		r = &sensito.StatedReciprocity{Pairs: pairs}
	}
	if err := r.Check(); err != nil {
		t.Fatalf("no law: %v", err)
	}
	return r
}

// text is any text, control characters and quotes among it, or none.
// text is a line that prints, of a title or a name.
func text(t *rapid.T, label string) string {
	return drawText(t, label, func(s string) error { return printable.CheckLine(s, printable.MaxName) })
}

// note is text that may have several lines.
func note(t *rapid.T, label string) string { return drawText(t, label, printable.CheckNote) }

// drawText begins, now and then, like the formula of a spreadsheet.
func drawText(t *rapid.T, label string, check func(string) error) string {
	any := rapid.OneOf(rapid.Rune(), rapid.SampledFrom([]rune("\n\t\r"))).Filter(func(r rune) bool { return check(string(r)) == nil })
	return rapid.OneOf(rapid.Just(""), rapid.StringMatching(`['=+@-]{0,3}[ -~äøπ]{1,20}`), rapid.StringOfN(any, 0, 60, -1)).Draw(t, label)
}

func density(t *rapid.T, lo, hi float64) sensito.Density {
	return sensito.Density(value(t, "density", lo, hi))
}

// value is a number as a person writes it, to two decimals, or any.
func value(t *rapid.T, label string, lo, hi float64) float64 {
	v := rapid.Float64Range(lo, hi).Draw(t, label)
	if rounded := math.Round(v*100) / 100; rounded >= lo && rounded <= hi && rapid.IntRange(0, 3).Draw(t, label+" in full") > 0 {
		return rounded
	}
	return v
}

// maybe is a number or, where nothing is said, 0.
func maybe(t *rapid.T, label string, lo, hi float64) float64 {
	if rapid.Bool().Draw(t, label+" unknown") {
		return 0
	}
	return value(t, label, lo, hi)
}

func minutes(t *rapid.T) sensito.Minutes {
	if rapid.Bool().Draw(t, "whole seconds") {
		s := rapid.IntRange(3, 86400).Draw(t, "time")
		return sensito.Minutes(float64(s/60) + float64(s%60)/60)
	}
	return sensito.Minutes(value(t, "minutes", 0.05, 1440))
}

// Describe returns everything that a trial tells, as text in which NaN equals
// NaN and numbers are in full: two trials are equal if it is.
func Describe(t *sensito.Trial) string {
	var b strings.Builder
	e := t.Exposures()
	reference, tied := e.ReferenceSpeedPoint()
	stated := t.Reciprocity()
	if stated == nil {
		stated = &sensito.StatedReciprocity{}
	}
	q10, q10SD := t.Q10()
	fmt.Fprintf(&b, "title %q, material %q, film %+v\nprocess %+v, q10 %v %v\nreading %+v, pooled %v, repeating %+v\n",
		t.Title(), t.Material(), t.Film(), t.Process(), q10, q10SD, t.Reading(), t.Repeatability(), t.Repeating())
	fmt.Fprintf(&b, "exposures %v %v lx %v s, index %v, meter %+v, sd %v, absolute %v, reference %v %v\n",
		e.Kind(), e.IlluminanceLx(), e.Seconds(), e.MeterIndex(), e.Meter(), positive(e.CommonSD()), e.Absolute(), positive(reference), tied)
	if f := e.Frame(); f != nil {
		fmt.Fprintf(&b, "frame %+v\n", *f)
	}
	fmt.Fprintf(&b, "wedge sd %v\n", positive(e.WedgeSD()))
	fmt.Fprintf(&b, "wedge %v stops %v relative %v log H %v\n", numbers(e.Wedge()), numbers(e.Stops()), numbers(e.RelativeLogH()), numbers(e.LogH()))
	fmt.Fprintf(&b, "reciprocity %s %v, pairs %v\n", stated.Law, positive(stated.Constant), stated.Pairs)
	for _, c := range t.Calibrations() {
		for i := range c.Covariance {
			c.Covariance[i] = [3]float64(numbers(c.Covariance[i][:]))
		}
		fmt.Fprintf(&b, "calibration %+v, pooled %v\n", c, t.RepeatabilityBy(c.Name))
	}
	for _, d := range t.Done() {
		fmt.Fprintf(&b, "done %+v\n", d)
	}
	for _, s := range t.Strips() {
		fmt.Fprintf(&b, "strip %d: %v min, %v s, %v lx, grade %q, process %+v, developed %q, note %q, next step %d, picture %q by %q, base fog %v\n",
			s.Number(), s.Minutes(), s.Seconds(), s.IlluminanceLx(), s.Grade(), s.Process(), s.Date(), s.Note(), s.NextStep(), s.Picture(), calibrationName(s), numbers(s.BaseFog()))
		for _, step := range s.Steps() {
			fmt.Fprintf(&b, "  %d: log H %v, density %v %v, ignored %v\n", step.Number, positive(step.LogH), positive(step.Density), numbers(step.Repeats), step.Ignored)
		}
	}
	return b.String()
}

func calibrationName(s *sensito.Strip) string {
	if c := s.Calibration(); c != nil {
		return c.Name
	}
	return ""
}

// positive drops the sign of a zero, which no file keeps.
func positive[T ~float64](v T) T {
	if v == 0 {
		return 0
	}
	return v
}

func numbers[T ~float64](xs []T) []T {
	var out []T
	for _, x := range xs {
		out = append(out, positive(x))
	}
	return out
}
