package sensito

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// CopyOf returns the number of the earlier strip of the trial that this one is a
// copy of, 0 for none. A strip is known by what was read of it, how it was
// exposed and how it was developed: two pieces of film do not read alike to the
// last digit at every step and on their base, so such a strip was written down
// twice, and counted twice it would make every interval too narrow. Dates, or
// notes, that both strips have and that differ say that they are two pieces.
func (s *Strip) CopyOf() int { return s.copyOf }

// markCopies notes which strips are copies of earlier ones.
func markCopies(strips []*Strip) {
	if len(strips) < 2 {
		return
	}
	byReadings := map[string][]*Strip{}
	for _, s := range strips {
		if s == nil || !s.begun() {
			continue
		}
		key := s.readings()
		if i := slices.IndexFunc(byReadings[key], s.alike); i >= 0 {
			s.copyOf = byReadings[key][i].number
			continue
		}
		byReadings[key] = append(byReadings[key], s)
	}
}

// Copied says in words that the strip is a copy and is left out.
func (s *Strip) Copied() string {
	return fmt.Sprintf("strip %d is left out: it has the readings, exposure and development of strip %d; if it is another piece of film, give each its note", s.number, s.copyOf)
}

// begun says whether anything was read of the strip.
func (s *Strip) begun() bool {
	return len(s.baseFog) > 0 || slices.ContainsFunc(s.steps, func(step Step) bool { return !math.IsNaN(float64(step.Density)) })
}

// readings returns what was read of the strip, in a form that can be compared.
func (s *Strip) readings() string {
	var b []byte
	note := func(ds ...Density) {
		b = binary.AppendUvarint(b, uint64(len(ds)))
		for _, d := range ds {
			v := math.Round(float64(d) * 1e6) // a millionth is no reading
			if math.IsNaN(v) {
				v = math.MaxFloat64 // every NaN alike
			}
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v+0))
		}
	}
	note(s.baseFog...)
	for _, step := range s.steps {
		if len(step.Repeats) > 0 {
			note(step.Repeats...)
		} else {
			note(step.Density)
		}
	}
	return string(b)
}

// alike says whether a strip of the same readings was exposed and developed as
// this one.
func (s *Strip) alike(o *Strip) bool {
	same := func(a, b float64) bool { return math.Abs(a-b) <= 1e-6*math.Max(math.Abs(a), math.Abs(b)) }
	differ := func(a, b string) bool { return a != "" && b != "" && a != b }
	return same(float64(s.minutes), float64(o.minutes)) && s.grade == o.grade && SameProcess(s.process, o.process) &&
		same(float64(s.seconds), float64(o.seconds)) && same(s.lx, o.lx) && !differ(s.date, o.date) && !differ(s.note, o.note)
}
