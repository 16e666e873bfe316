package notebook

import (
	"math"
	"slices"
	"strings"

	"sensito/sensito"
	"sensito/sensito/testplan"
)

// Skeleton returns the file of a first test, ready to be read and to be filled
// in: every step of every strip is nan, not read.
func Skeleton(p *testplan.FirstProposal) []byte {
	s := p.Spec
	title := s.Film.Name
	if d := strings.TrimSpace(s.Process.Developer + " " + s.Process.Dilution); d != "" {
		title += " in " + d
	}
	spec := sensito.TrialSpec{Title: title, Film: s.Film, Process: s.Process, Exposures: p.Exposures,
		Reading: sensito.Reading{Repeatability: sensito.DefaultRepeatability, Zero: sensito.ZeroAir}}
	for _, t := range p.Minutes {
		nothing := slices.Repeat([]sensito.Density{sensito.Density(math.NaN())}, p.Exposures.Len())
		spec.Strips = append(spec.Strips, sensito.StripSpec{Minutes: t, Density: nothing})
	}
	return append([]byte("# Fill in what was done where it differs, and the readings in place of nan;\n"+
		"# a step that is not read stays nan.\n"), format(spec, skeletonRemarks)...)
}

var skeletonRemarks = map[string]string{
	"exposure.illuminance_lx": "at the film, nothing in between: as measured",
	"exposure.wedge_first":    "step 1 is the thinnest",
	"exposure.stops":          "from the metered exposure",
	"reading.zero":            "or \"base\"",
	"strip.base_fog":          "read twice",
}
