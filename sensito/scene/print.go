package scene

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
)

// prints says whether the answer's tones can be followed to a print: on a tested
// paper, and not for a scan.
func (p *Answer) prints() bool {
	paper := p.Scene.Paper
	return paper != nil && paper.Fit != nil && paper.White != nil && paper.LogRange != nil && p.Scene.ScanMax == 0
}

// printed returns the print density of a tone whose net density is less than
// that of the lightest tone by below, with the standard deviation sd and its
// degrees of freedom. The lightest tone exposes the paper at its white point,
// and every lesser density of the negative more, by the printing density
// between them.
func (p *Answer) printed(below sensito.NetDensity, sd, dof float64) (sensito.Estimate[sensito.Density], error) {
	e, err := p.Scene.Paper.PrintAt(sensito.LogRange(p.Scene.Callier) * sensito.LogRange(below))
	if err != nil {
		return e, err
	}
	e.StdErr = sensito.Density(math.Hypot(float64(e.StdErr), p.printSlope(below)*sd))
	e.DoF = math.Min(e.DoF, dof)
	return e, nil
}

// printSlope returns the density of the print gained per density that a tone of
// the negative lies further below the lightest one than by below.
func (p *Answer) printSlope(below sensito.NetDensity) float64 {
	paper, callier := p.Scene.Paper, p.Scene.Callier
	return callier * paper.Fit.Curve.Slope(paper.White.Value.Add(sensito.LogRange(callier)*sensito.LogRange(below)))
}

// PrintEnds are the tones that print at the paper's black and white points, S
// and T of ISO 6846, in stops from the metered tone.
type PrintEnds struct{ Black, White *sensito.Estimate[float64] } // nil where the film's slope is unknown

// PrintEnds returns where the paper's black and white are reached: by the choice
// of the time at the darkest and the lightest tone of the scene. What is
// uncertain is the paper's range at the one and the film's density at the other.
// It returns nil without a tested paper, and for a scan. At an index that is given the
// black lies where the negative has the paper's range below the lightest tone, nil where
// that is below all tones.
func (p *Answer) PrintEnds() (*PrintEnds, error) {
	if !p.prints() {
		return nil, nil
	}
	darkest, reached := p.placement.Darkest, true
	if p.AtIndex != nil {
		if reached = p.AtIndex.black != nil; reached {
			darkest = *p.AtIndex.black
		}
	}
	const aside sensito.LogRange = 0.05
	at := p.placement
	r := Run{From: at.Above(darkest), To: at.Run().To}
	n, err := p.negative([]sensito.LogRange{r.From, r.From + aside, r.To - aside, r.To, r.To + aside})
	if err != nil {
		return nil, err
	}
	net := n.estimates()
	v := net.Values
	place := func(stops, sd, slope, dof float64) *sensito.Estimate[float64] {
		if slope *= at.own(stops) * float64(sensito.Stop); !(slope > 0) || math.IsNaN(sd) {
			return nil
		}
		return &sensito.Estimate[float64]{Value: stops, StdErr: sd / slope, DoF: dof}
	}
	slope := (v[4] - v[2]) / float64(2*aside)
	if math.IsNaN(slope) { // the strips end there
		slope = (v[3] - v[2]) / float64(aside)
	}
	unsure, dofBlack := p.Scene.WantedSD(), p.Scene.Paper.LogRange.DoF
	if p.AtIndex != nil {
		sd, dof := net.ErrorBetween(0, 3)
		unsure, dofBlack = fit.Joined(unsure, dofBlack, sd, dof)
	}
	black := place(darkest, unsure, (v[1]-v[0])/float64(aside), dofBlack)
	if !reached {
		black = nil
	}
	if black != nil {
		black.AtMost = p.Scene.AimOpen() // a paper of longer range has its black further down
	}
	sd, dof := net.Error(3)
	white := p.givenTime(netEstimate(v[3], sd, dof), p.today)
	return &PrintEnds{Black: black, White: place(at.Lightest, float64(white.StdErr), slope, white.DoF)}, nil
}
