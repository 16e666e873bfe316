package sensito

// Spec returns what NewTrial makes an equal trial from: what the trial stands
// for is left out of its strips, and readings that are a mean appear as Repeats.
// Nothing of it is shared with the trial.
func (t *Trial) Spec() TrialSpec {
	spec := TrialSpec{Title: t.title, Material: t.material, Film: t.film, Process: t.process,
		Exposures: t.exposures, Reading: t.reading, Repeating: t.repeating, Reciprocity: t.Reciprocity(),
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
	if s.seconds != t.exposures.seconds {
		spec.Seconds = s.seconds
	}
	if s.lx != t.exposures.illuminanceLx {
		spec.IlluminanceLx = s.lx
	}
	return spec
}
