package scene

import (
	"fmt"
	"math"
	"strconv"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
	"sensito/sensito/paper"
)

// DefaultCallier is the Callier coefficient of a condenser enlarger where none
// is given. It depends on the film, its density and its development: measured
// values lie between 1.3 and 1.5 (from memory).
const DefaultCallier = 1.3

// paperRange returns the log exposure range of the print material.
func (s Scene) paperRange() sensito.LogRange {
	if s.Paper != nil {
		return s.Paper.LogRange.Value
	}
	return sensito.LogRange(s.DensityRange)
}

// Wanted returns the density range that the negative must span. A scan has no
// print material: there the lightest tone may reach ScanMax, gross, so base
// plus fog counts.
func (s Scene) Wanted(fog sensito.Density) sensito.NetDensity {
	if s.ScanMax != 0 {
		return s.ScanMax.Above(fog) - curve.SpeedPointDensity
	}
	return paper.NegativeRange(s.paperRange(), s.Callier)
}

// WantedSD returns the standard deviation of the density range that comes from
// the print material's own test.
func (s Scene) WantedSD() float64 {
	if s.Paper == nil {
		return 0
	}
	return float64(paper.NegativeRange(s.Paper.LogRange.StdErr, s.Callier))
}

// TimeFor returns the development time that gives the density wanted, and that
// density, which stands with the error too. With a scan it depends on base plus
// fog, and so on the time, but so little that a few rounds settle it.
func (s Scene) TimeFor(time func(wanted float64) (minutes float64, err error), fog func(minutes float64) float64, about sensito.NetDensity) (minutes, wanted float64, err error) {
	wanted = float64(about)
	const rounds = 40
	for range rounds {
		if minutes, err = time(wanted); err != nil {
			return 0, wanted, err
		}
		settled := wanted
		if wanted = float64(s.Wanted(sensito.Density(fog(minutes)))); math.Abs(wanted-settled) < 1e-9 {
			return minutes, wanted, nil
		}
	}
	return 0, wanted, fmt.Errorf("fog grows with the density: %w", fit.ErrBeyondLimit)
}

// AimOpen says that the print material may have a longer range than its test
// shows, so that the negative may need a longer density range and more time.
func (s Scene) AimOpen() bool {
	return s.ScanMax == 0 && s.Paper != nil && s.Paper.LogRange.AtLeast
}

// AimWarnings returns what the reader must know of the print material's test.
func (s Scene) AimWarnings() sensito.Warnings {
	var out sensito.Warnings
	if s.Paper != nil {
		for _, w := range s.Paper.WarningsAlone() {
			w.Code = "paper_" + w.Code
			out = append(out, w.Within(s.Paper.Name()))
		}
	}
	return out
}

// AimText returns in words what the negative is to suit.
func (s Scene) AimText() string {
	s = s.WithDefaults()
	if s.ScanMax != 0 {
		return fmt.Sprintf("a scan, the lightest tone at density %.2f", float64(s.ScanMax))
	}
	more := ""
	if s.AimOpen() {
		more = " or more"
	}
	text := fmt.Sprintf("a density range of %.2f%s", float64(s.Wanted(0)), more)
	switch {
	case s.Paper != nil:
		text += " to suit " + s.Paper.Name()
	case s.Grade != "":
		text += " to suit grade " + s.Grade
	}
	if s.Paper != nil || s.Grade != "" || s.Callier != 1 {
		text += " (" + s.paperRange().OfPaper(s.Paper == nil || !s.Paper.Pictured()) + more + ")"
	}
	if s.Callier != 1 {
		text += ", condenser enlarger, Callier coefficient " + strconv.FormatFloat(s.Callier, 'g', 3, 64)
	}
	return text
}

// PrintChoice is a print material that a negative may be printed on.
type PrintChoice struct {
	Name      string
	Range     sensito.LogRange   // log exposure range
	AtLeast   bool               // its test does not show how much longer it is
	Negative  sensito.NetDensity // density range of the negative that fills it
	low, high sensito.LogRange   // what it prints without a loss that matters
	pictured  bool               // its test was read in pictures
}

// String returns the name with the ISO range, or the log range of a paper that was read in
// pictures.
func (c PrintChoice) String() string {
	more := ""
	if c.AtLeast {
		more = " or more"
	}
	return fmt.Sprintf("%s (%s%s)", c.Name, c.Range.OfPaper(!c.pictured), more)
}

// printSlack is how far a negative's range may miss that of a tested paper: half
// the width of grade 2 in the published table.
const printSlack sensito.LogRange = 0.10

// Prints returns the print materials to choose from: the grades of the paper
// tested, or else those of the published table. A scan has none.
func (s Scene) Prints() []PrintChoice {
	if s.ScanMax != 0 {
		return nil
	}
	s = s.WithDefaults()
	var out []PrintChoice
	add := func(name string, r, low, high sensito.LogRange, atLeast, pictured bool) {
		out = append(out, PrintChoice{name, r, atLeast, paper.NegativeRange(r, s.Callier), low, high, pictured})
	}
	if s.Paper != nil {
		for _, p := range s.Paper.Siblings() {
			if p.LogRange != nil {
				r := p.LogRange.Value
				add(p.Name(), r, r-printSlack, r+printSlack, p.LogRange.AtLeast, p.Pictured())
			}
		}
		return out
	}
	for _, g := range paper.GradeTable() {
		add("grade "+g.Name, g.Middle(), g.Low, g.High, false, false)
	}
	return out
}

// suited is the print material for a negative.
type suited struct {
	paperRange sensito.LogRange // the log exposure range that prints it
	print      *PrintChoice     // that comes nearest; nil for a scan
	rest       sensito.LogRange // paperRange less that of print, 0 for a scan
	fits       bool             // paperRange lies within what the print materials span
	low, high  float64          // which is this
	more       string           // than the test of the longest shows
}

// suited returns the print material for a negative of a density range.
func (s Scene) suited(n sensito.NetDensity) suited {
	out := suited{paperRange: sensito.LogRange(float64(n) * s.Callier), low: math.Inf(1), high: math.Inf(-1)}
	nearest := math.Inf(1)
	for _, c := range s.Prints() {
		if c.AtLeast && float64(c.high) > out.high {
			out.more = " or more"
		}
		out.low, out.high = math.Min(out.low, float64(c.low)), math.Max(out.high, float64(c.high))
		if rest := float64(out.paperRange - c.Range); math.Abs(rest) < nearest {
			nearest = math.Abs(rest)
			out.print, out.rest = &c, sensito.LogRange(rest)
		}
	}
	out.fits = out.print == nil || float64(out.paperRange) >= out.low && float64(out.paperRange) <= out.high
	return out
}

// outOfPaper warns that none suits the negative of a density range, of what is named.
func (s suited) outOfPaper(name string, n sensito.NetDensity) sensito.Warning {
	if s.print != nil && s.print.pictured {
		return sensito.Warn("out_of_paper/2", name, float64(n), float64(s.paperRange), s.low, s.high, s.more)
	}
	return sensito.Warn("out_of_paper", name, float64(n), 100*float64(s.paperRange), 100*s.low, 100*s.high, s.more)
}

// serving returns the print material, of those that need a range that the film
// gives within lo to hi minutes, that comes nearest to the one wanted, and the
// time for it.
func (s Scene) serving(g development.Growth, wanted sensito.NetDensity, lo, hi float64) (c PrintChoice, minutes float64, ok bool) {
	nearest := math.Inf(1)
	for _, candidate := range s.Prints() {
		t, err := g.Time(float64(candidate.Negative))
		apart := math.Abs(float64(candidate.Negative - wanted))
		if err == nil && t >= lo && t <= hi && apart < nearest && float64(candidate.Negative) < development.LimitShare*g.Limit {
			c, minutes, ok, nearest = candidate, t, true, apart
		}
	}
	return c, minutes, ok
}

// advice returns what else would serve, as a clause, or "".
func (s Scene) advice(g development.Growth, wanted sensito.NetDensity, lo, hi float64) string {
	c, minutes, ok := s.serving(g, wanted, lo, hi)
	if !ok {
		return ""
	}
	return fmt.Sprintf("%v would serve at %s", c, sensito.Minutes(minutes).Clock(5))
}
