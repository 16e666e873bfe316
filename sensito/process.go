package sensito

// Condition is one in which strips may be developed otherwise, with what it was
// in place of the trial's where that matters.
type Condition string

const (
	ConditionTemperature Condition = "temperature"
	ConditionAgitation   Condition = "agitation"
	ConditionDilution    Condition = "dilution"
)

// differingIn returns the conditions in which two developments differ.
func differingIn(a, b Process) []Condition {
	var out []Condition
	if a.TemperatureC != b.TemperatureC {
		out = append(out, ConditionTemperature)
	}
	if a.Agitation != b.Agitation {
		out = append(out, ConditionAgitation)
	}
	if a.Dilution != b.Dilution {
		out = append(out, ConditionDilution)
	}
	return out
}

// OnlyIn says whether a strip differs from its trial in one condition alone, and
// both say which it was.
func (s *Strip) OnlyIn(c Condition) bool {
	p, t := s.process, s.trial.process
	if d := differingIn(p, t); len(d) != 1 || d[0] != c {
		return false
	}
	switch c {
	case ConditionTemperature:
		return p.TemperatureC != 0 && t.TemperatureC != 0
	case ConditionAgitation:
		return p.Agitation != AgitationUnstated && t.Agitation != AgitationUnstated
	}
	return p.Dilution != "" && t.Dilution != ""
}

func SameProcess(a, b Process) bool {
	return a.TemperatureC == b.TemperatureC && a.Dilution == b.Dilution && a.Agitation == b.Agitation
}

// apartFactor is by how much the exposure time of a strip may differ from the
// trial's before the two are kept apart, where the longer one is above
// KeepsSpeed: within it they differ by no more than about a sixth of a stop
// (common practice, no source).
const apartFactor = 2

// ExposedApart says whether the strip was exposed for so different a time that
// its speed does not compare with the trial's.
func (s *Strip) ExposedApart() bool {
	t, usual := s.seconds, s.trial.exposures.seconds
	const rounding = 1 + 1e-9
	return max(t, usual) > KeepsSpeed && max(t, usual) > apartFactor*rounding*min(t, usual)
}
