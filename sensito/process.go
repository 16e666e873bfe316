package sensito

import (
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/internal/check"
	"sensito/sensito/printable"
)

// Condition is one in which strips may be developed otherwise, with what it was
// in place of the trial's where that matters.
type Condition string

// The conditions in which strips of one trial may differ.
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

// SameProcess says whether two developments are alike in temperature, dilution and
// agitation; the developer is not compared.
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

// Agitation says how the developer was moved.
type Agitation string

// The ways of moving it; AgitationNone is stand development.
const (
	AgitationUnstated     Agitation = ""
	AgitationContinuous   Agitation = "continuous"
	AgitationIntermittent Agitation = "intermittent"
	AgitationNone         Agitation = "none"
)

// Agitations are the ways that can be stated.
var Agitations = []Agitation{AgitationContinuous, AgitationIntermittent, AgitationNone}

// Process is the development that a trial or a strip received.
type Process struct {
	Developer    string
	Dilution     string  // parts concentrate + parts water, as "1+19", or "stock"
	TemperatureC float64 // degrees Celsius; 0 when not stated
	Agitation    Agitation
}

// String returns the conditions in words, as far as they are stated.
func (p Process) String() string {
	var parts []string
	if d := strings.TrimSpace(p.Developer + " " + p.Dilution); d != "" {
		parts = append(parts, d)
	}
	if p.TemperatureC != 0 {
		parts = append(parts, strconv.FormatFloat(p.TemperatureC, 'f', -1, 64)+" °C")
	}
	switch p.Agitation {
	case AgitationUnstated:
	case AgitationNone:
		parts = append(parts, "no agitation")
	default:
		parts = append(parts, string(p.Agitation)+" agitation")
	}
	return strings.Join(parts, ", ")
}

// Or returns the process with zero fields taken from another.
func (p Process) Or(other Process) Process {
	if p.Developer == "" {
		p.Developer = other.Developer
	}
	if p.Dilution == "" {
		p.Dilution = other.Dilution
	}
	if p.TemperatureC == 0 {
		p.TemperatureC = other.TemperatureC
	}
	if p.Agitation == AgitationUnstated {
		p.Agitation = other.Agitation
	}
	return p
}

// CheckProcess adds a fault for everything in a development, whose table is told, that is
// outside its limits.
func CheckProcess(f *check.Faults, at check.Place, p Process) {
	at.Line(f, "developer", p.Developer, printable.MaxName)
	if p.Dilution != "" {
		at.AddError(f, "dilution", CheckDilution(p.Dilution))
	}
	if p.TemperatureC != 0 {
		if !(p.TemperatureC >= 1 && p.TemperatureC <= 60) {
			at.Add(f, "temperature_c", "%g degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20", p.TemperatureC)
		}
	}
	if p.Agitation != AgitationUnstated && !slices.Contains(Agitations, p.Agitation) {
		at.Add(f, "agitation", "%q is not continuous, intermittent or none", p.Agitation)
	}
}

// Named returns the words for a way to agitate.
func (a Agitation) Named() string {
	if a == AgitationNone {
		return "no agitation"
	}
	return string(a) + " agitation"
}

// Unlike returns the process without the fields that another has as well.
func (p Process) Unlike(other Process) Process {
	if p.Developer == other.Developer {
		p.Developer = ""
	}
	if p.Dilution == other.Dilution {
		p.Dilution = ""
	}
	if p.TemperatureC == other.TemperatureC {
		p.TemperatureC = 0
	}
	if p.Agitation == other.Agitation {
		p.Agitation = AgitationUnstated
	}
	return p
}
