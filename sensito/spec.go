package sensito

import (
	"math"
	"slices"
)

// Spec returns what NewTrial makes an equal trial from: what the trial stands
// for is left out of its strips, and readings that are a mean appear as Repeats.
// Nothing of it is shared with the trial.
func (t *Trial) Spec() TrialSpec {
	spec := TrialSpec{Title: t.title, Material: t.material, Film: t.film, Process: t.process,
		Exposures: t.exposures, Reading: t.Reading(), Repeating: t.repeating, Reciprocity: t.Reciprocity(),
		Q10: t.q10, Q10SD: t.q10SD, Done: t.Done()}
	for _, s := range t.strips {
		spec.Strips = append(spec.Strips, s.Spec())
	}
	return spec
}

// Spec returns what stands for the strip in the Spec of its trial.
func (s *Strip) Spec() StripSpec {
	t := s.trial
	spec := StripSpec{Minutes: s.minutes, Grade: s.grade, BaseFog: s.BaseFog(), Note: s.note,
		NextStep: s.next, Date: s.date, Process: s.process.Unlike(t.process)}
	for _, step := range s.steps {
		spec.Density = append(spec.Density, step.Density)
		if step.Ignored {
			spec.Ignore = append(spec.Ignore, step.Number)
		}
		if len(step.Repeats) > 0 {
			if spec.Repeats == nil {
				spec.Repeats = map[int][]Density{}
			}
			spec.Repeats[step.Number] = append([]Density(nil), step.Repeats...)
		}
	}
	if s.asRead != nil {
		as := t.reading.kept(*s.asRead) // a copy
		spec.BaseFog, spec.Density, spec.Repeats = as.BaseFog, as.Density, as.Repeats
	}
	if s.seconds != t.exposures.seconds {
		spec.Seconds = s.seconds
	}
	if s.lx != t.exposures.illuminanceLx {
		spec.IlluminanceLx = s.lx
	}
	return spec
}

// InDensity returns the trial with densities for what was read in another unit, and what
// is known of their errors; the trial itself where they are densities already. The error
// of each step of a tablet is left out, since densities do not have it.
func (t *Trial) InDensity() *Trial {
	if t.reading.Unit == UnitDensity {
		return t
	}
	const places = 1e4 // of a density, beyond what any reading shows
	told := func(ds []Density) {
		for i, d := range ds {
			ds[i] = Density(math.Round(float64(d)*places) / places)
		}
	}
	spec, r := t.Spec(), t.reading
	within := func(sd, least float64) float64 { return min(max(sd, least), float64(maxRepeatability)) }
	in := Reading{Repeatability: Density(within(float64(r.StatedSD()), leastRepeatability)), ReadsTo: within(r.Width(), leastReadsTo),
		Zero: r.Zero, Channel: r.Channel}
	in.ScaleSD, in.OffsetSD = r.AlikeSD()
	in.OffsetSD = min(in.OffsetSD, maxAlikeSD)
	spec.Reading = in
	if frame := spec.Exposures.Frame(); frame != nil {
		for i, v := range frame.Density {
			frame.Density[i] = r.Density(v)
		}
		told(frame.Density)
		spec.Exposures.frame = frame
	}
	for i, s := range spec.Strips {
		s = r.InDensity(s)
		told(s.BaseFog)
		told(s.Density)
		for _, again := range s.Repeats {
			told(again)
		}
		spec.Strips[i] = s
	}
	out, err := NewTrial(spec)
	if err != nil {
		panic("sensito: " + err.Error()) // densities of readings that were checked
	}
	return out
}

// InDensity returns a strip whose readings are densities in place of what was read.
func (r Reading) InDensity(s StripSpec) StripSpec {
	if r.Unit == UnitDensity {
		return s
	}
	told := func(vs []Density) []Density {
		var out []Density
		for _, v := range vs {
			out = append(out, r.Density(v))
		}
		return out
	}
	s.BaseFog, s.Density = told(s.BaseFog), told(s.Density)
	repeats := s.Repeats
	s.Repeats = nil
	for step, vs := range repeats {
		if s.Repeats == nil {
			s.Repeats = map[int][]Density{}
		}
		s.Repeats[step] = told(vs)
	}
	return s
}

// kept returns what was read of a strip where that is no density, nil otherwise.
func (r Reading) kept(s StripSpec) *StripSpec {
	if r.Unit == UnitDensity {
		return nil
	}
	out := StripSpec{BaseFog: slices.Clone(s.BaseFog), Density: slices.Clone(s.Density)}
	for step, vs := range s.Repeats {
		if len(vs) == 0 || step < 1 || step > len(out.Density) { // told as a fault
			continue
		}
		out.Density[step-1] = AverageDensity(vs)
		if len(vs) > 1 {
			if out.Repeats == nil {
				out.Repeats = map[int][]Density{}
			}
			out.Repeats[step] = slices.Clone(vs)
		}
	}
	return &out
}
