package sensito

import "math"

// Print is how even tones, exposed without flare, print on the paper of a plan.
// The print is exposed so that the net density of the speed point and the
// density range of the aim above it gets the paper's white point, T of ISO 6846;
// a negative thinner by the paper's range over the Callier coefficient then gets
// its black point, S.
type Print struct {
	Tones []*Estimate[Density] // of Plan.Tones; nil where the negative is unknown

	// Where the two points are reached, in stops from the metered exposure; nil
	// where the strips do not reach.
	Black, White *Estimate[float64]
}

// Print returns the print densities of the plan's tones. They are those of the
// time told: its own error is not counted, that of the negative's densities and
// of the paper's curve is. It returns nil without a tested paper, and for a
// scan.
func (p *Plan) Print() (*Print, error) {
	paper := p.Scene.Paper
	if paper == nil || paper.Fit == nil || paper.LogRange == nil || p.Scene.ScanMax != 0 {
		return nil, nil
	}
	white := SpeedPointDensity + p.DensityRange // of the negative
	out := &Print{Tones: make([]*Estimate[Density], len(p.Tones))}
	for i, t := range p.Tones {
		if t.NetDensity == nil {
			continue
		}
		e, err := p.printed(*t.NetDensity, white)
		if err != nil {
			return nil, err
		}
		out.Tones[i] = &e
	}

	// The tone at the end of the film's range has the white point by the choice
	// of the time, and the one on the speed point the black point; what is
	// uncertain is the film's density at the one and the paper's range at the
	// other.
	const aside LogRange = 0.05
	at := []LogRange{0, aside, p.FilmRange - aside, p.FilmRange, p.FilmRange + aside}
	developed, err := p.Family.developed(p.growth, at)
	if err != nil {
		return nil, err
	}
	net, dof := developed.estimates(p.Minutes.Value)
	v := net.values
	place := func(at LogRange, sd, slope, dof float64) *Estimate[float64] {
		if !(slope > 0) || math.IsNaN(sd) {
			return nil
		}
		return &Estimate[float64]{Value: at.Stops() - p.Scene.ShadowStops, StdErr: sd / slope / float64(Stop), DoF: dof}
	}
	out.Black = place(0, p.Scene.wantedSD(), (v[1]-v[0])/float64(aside), paper.LogRange.DoF)
	slope := (v[4] - v[2]) / float64(2*aside)
	if math.IsNaN(slope) { // the strips end there
		slope = (v[3] - v[2]) / float64(aside)
	}
	out.White = place(p.FilmRange, net.sd(3), slope, dof)
	return out, nil
}

// printed returns the print density of a net density, white being the one that
// prints at the white point.
func (p *Plan) printed(net Estimate[NetDensity], white NetDensity) (Estimate[Density], error) {
	paper, callier := p.Scene.Paper, p.Scene.Callier
	r := LogRange(callier) * LogRange(white-net.Value)
	e, err := paper.printAt(r)
	if err != nil {
		return e, err
	}
	slope := paper.Fit.Curve.Slope(paper.White.Value.Add(r))
	e.StdErr = Density(math.Hypot(float64(e.StdErr), slope*callier*float64(net.StdErr)))
	e.DoF = math.Min(e.DoF, net.DoF)
	return e, nil
}
