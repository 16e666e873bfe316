package curve

import "sensito/sensito"

// PaperGrade is one grade of contrast of the old American numbering, by the log
// exposure ranges that belong to it.
type PaperGrade struct {
	Name      string           // "0" to "5"
	Low, High sensito.LogRange // its limits
}

// Middle returns the range in the middle of the grade, for which a negative is
// made.
func (g PaperGrade) Middle() sensito.LogRange { return (g.Low + g.High) / 2 }

// gradeTable splits log exposure ranges from 0.50 to 1.70 into six grades (ANSI
// PH2.2-1966, restated in print; the limits between the grades are from
// memory). The numbering was dropped in 1981 and lives on in the trade.
var gradeTable = [...]PaperGrade{
	{"0", 1.40, 1.70}, {"1", 1.15, 1.40}, {"2", 0.95, 1.15}, {"3", 0.80, 0.95}, {"4", 0.65, 0.80}, {"5", 0.50, 0.65},
}

// GradeTable returns the grades, the softest first.
func GradeTable() []PaperGrade { return append([]PaperGrade(nil), gradeTable[:]...) }

// GradeOf returns the grade that a log exposure range belongs to; a limit
// between two belongs to the softer. ok is false below 0.50 and above 1.70.
func GradeOf(r sensito.LogRange) (name string, ok bool) {
	if r > gradeTable[0].High {
		return "", false
	}
	for _, g := range gradeTable {
		if r >= g.Low {
			return g.Name, true
		}
	}
	return "", false
}

// GradeRange returns the log exposure range in the middle of a grade, "0" to
// "5"; ok is false for another name.
func GradeRange(name string) (r sensito.LogRange, ok bool) {
	for _, g := range gradeTable {
		if g.Name == name {
			return g.Middle(), true
		}
	}
	return 0, false
}

// NegativeRange returns the diffuse density range of a negative that fills the
// log exposure range r of a paper: r itself with a diffusion enlarger or in
// contact, r over the Callier coefficient, specular density over diffuse
// density, with a condenser enlarger. A coefficient of 0 means 1.
func NegativeRange(r sensito.LogRange, callier float64) sensito.NetDensity {
	if callier == 0 {
		callier = 1
	}
	return sensito.NetDensity(float64(r) / callier)
}
