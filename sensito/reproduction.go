package sensito

import (
	"fmt"
	"math"
	"slices"
)

// Reproduction follows the tones of a scene to the print (L. A. Jones, "On the
// theory of tone reproduction", J. Franklin Inst. 190, 39, 1920, from memory):
// through the camera's flare to the exposure of the film, through the film's
// curve to the negative, and through the paper's curve to the print.
type Reproduction struct {
	Plan  *Plan // with Scene.Paper
	Film  Curve // at the time of the plan
	Veil  float64
	Tones []Reproduced // whole stops from the metered tone, and the two ends of the scene
	Line  []Reproduced // closely spaced, for drawing; without uncertainties

	// SpeedPoint is where the darkest tone of the scene lands, PaperWhite where
	// the lightest one prints: 0.04 above the paper's minimum density.
	SpeedPoint LogExposure
	PaperWhite LogExposure

	// Mid is the metered tone, or the middle of a scene that does not hold it;
	// without uncertainties.
	Mid Reproduced

	// Lift is how much more exposure flare gives the darkest tone than its own
	// luminance does. The exposure index places that tone on the speed point
	// without flare; at the index, all tones land Lift further up.
	Lift LogRange

	Warnings []Warning
}

// Reproduced is one tone on its way. Estimates are nil on the Line, and where
// the film's exposures do not reach.
type Reproduced struct {
	Stops      float64     // from the metered tone, 0.30103 log luminance each
	Film       LogExposure // at the film
	Net        NetDensity
	PaperLogH  LogExposure
	Print      Density
	Gradient   float64 // density of the print lost per log luminance of the scene; 1 is equal tone
	NetOf      *Estimate[NetDensity]
	PrintOf    *Estimate[Density]
	OutOfReach bool // the film's strips do not reach there
}

// Reproduce follows the tones of the plan's scene to a print on its paper. The
// darkest tone of the scene lands on the speed point, as in the computation of
// the time, and the print is exposed so that the lightest one gets the paper's
// white point, T of ISO 6846. A fixed loss by flare counts as the veil that
// loses as much. The error is Unanswerable without a tested paper.
func (p *Plan) Reproduce() (*Reproduction, error) {
	paper := p.Scene.Paper
	if paper == nil || paper.Fit == nil || paper.White == nil {
		return nil, &Unanswerable{
			Reason: "a tone reproduction needs the curve of the paper",
			Hint:   "print the step wedge on the paper, read it, and name that trial with --paper",
		}
	}
	r := &Reproduction{Plan: p, Veil: p.Scene.Flare.Veil(p.sceneLog()), PaperWhite: paper.White.Value, Warnings: []Warning{}}
	r.Warnings = append(r.Warnings, p.Warnings...)
	low, high := -p.Scene.ShadowStops, p.Scene.Stops-p.Scene.ShadowStops
	r.Lift = LogRange(math.Log10(1 + r.Veil*math.Exp2(p.Scene.Stops)))
	// The lightest tone is a place of the grid, so that a film that just reaches
	// it need not be followed beyond; its neighbours keep apart for smooth slopes.
	end := r.atFilm(high)
	grid := slices.DeleteFunc(developedGrid(), func(at LogRange) bool { return math.Abs(float64(at-end)) < float64(developedStep)/2 })
	grid = append(grid, end)
	slices.Sort(grid)
	all, err := p.Family.developed(p.growth, grid)
	if err != nil {
		return nil, err
	}
	if r.Film, err = all.curve(p.Minutes.Value); err != nil {
		return nil, err
	}
	if r.SpeedPoint, err = SpeedPoint(r.Film); err != nil {
		return nil, err
	}

	const each = 20 // places a stop on the line
	n := int(math.Ceil((high - low) * each))
	for i := range n + 1 {
		r.Line = append(r.Line, r.follow(low+(high-low)*float64(i)/float64(n)))
	}
	mid := 0.0
	if high < 0 {
		mid = (low + high) / 2
	}
	r.Mid = r.follow(mid)
	stops := []float64{low}
	for s := math.Floor(low) + 1; s < high; s++ {
		stops = append(stops, s)
	}
	stops = append(stops, high)
	for _, s := range stops {
		r.Tones = append(r.Tones, r.follow(s))
	}
	if err := r.estimate(); err != nil {
		return nil, err
	}
	for _, t := range r.Tones {
		if t.OutOfReach {
			r.Warnings = append(r.Warnings, Warning{Code: "extrapolated", Message: "some tones need the film's curve beyond the exposures of its strips"})
			break
		}
	}
	return r, nil
}

// sceneLog returns the log luminance range of the scene.
func (p *Plan) sceneLog() LogRange { return LogRange(p.Scene.Stops) * Stop }

// atFilm returns how far above the speed point a tone of the scene lands: with
// a veil v of the highlight, log10((L + v) / (Ls + v)) for luminances relative to
// the highlight's, Ls being the darkest.
func (r *Reproduction) atFilm(stops float64) LogRange {
	s := r.Plan.Scene
	relative := func(stops float64) float64 { return math.Exp2(stops-(s.Stops-s.ShadowStops)) + r.Veil }
	return LogRange(math.Log10(relative(stops) / relative(-s.ShadowStops)))
}

// atPaper returns how far from its white point a net density exposes the paper:
// the lightest tone exposes it there, and every lesser density of the negative
// more, by the printing density between them.
func (r *Reproduction) atPaper(net, lightest NetDensity) LogRange {
	return LogRange(r.Plan.Scene.Callier) * LogRange(lightest-net)
}

// lightest returns the net density of the lightest tone of the scene.
func (r *Reproduction) lightest() NetDensity {
	s := r.Plan.Scene
	return r.Film.Density(r.SpeedPoint.Add(r.atFilm(s.Stops - s.ShadowStops))).Above(BaseFog(r.Film))
}

// follow follows one tone.
func (r *Reproduction) follow(stops float64) Reproduced {
	t := Reproduced{Stops: stops, Film: r.SpeedPoint.Add(r.atFilm(stops))}
	t.Net = r.Film.Density(t.Film).Above(BaseFog(r.Film))
	t.PaperLogH = r.PaperWhite.Add(r.atPaper(t.Net, r.lightest()))
	curve := r.Plan.Scene.Paper.Fit.Curve
	t.Print = curve.Density(t.PaperLogH)
	// The chain of the slopes; of the flare, L / (L + v).
	luminance := math.Exp2(stops - (r.Plan.Scene.Stops - r.Plan.Scene.ShadowStops))
	t.Gradient = curve.Slope(t.PaperLogH) * r.Plan.Scene.Callier * r.Film.Slope(t.Film) * luminance / (luminance + r.Veil)
	_, hi := r.Film.Domain()
	t.OutOfReach = t.Film > hi.Add(rootTol)
	return t
}

// estimate adds to the tones their uncertainty: that of the negative's
// densities, all together, and that of the paper's curve about its white point.
func (r *Reproduction) estimate() error {
	at := make([]LogRange, len(r.Tones))
	for i, t := range r.Tones {
		at[i] = r.atFilm(t.Stops)
	}
	all, err := r.Plan.Family.developed(r.Plan.growth, at)
	if err != nil {
		return err
	}
	nets, dof := all.estimates(r.Plan.Minutes.Value)
	last := len(at) - 1
	for i := range r.Tones {
		t := &r.Tones[i]
		if v, sd := nets.values[i], nets.sd(i); !math.IsNaN(v) && !math.IsNaN(sd) {
			t.NetOf = &Estimate[NetDensity]{Value: t.Net, StdErr: NetDensity(sd), DoF: dof}
		}
		between := nets.sdBetween(last, i)
		paper, err := r.Plan.Scene.Paper.printAt(t.PaperLogH.Sub(r.PaperWhite))
		if err != nil || math.IsNaN(between) {
			continue
		}
		slope := r.Plan.Scene.Paper.Fit.Curve.Slope(t.PaperLogH)
		t.PrintOf = &Estimate[Density]{Value: t.Print, DoF: math.Min(dof, paper.DoF),
			StdErr: Density(math.Hypot(float64(paper.StdErr), slope*r.Plan.Scene.Callier*between))}
	}
	return nil
}

// sdBetween returns the standard deviation of the difference of two quantities.
func (d derived) sdBetween(i, j int) float64 {
	return math.Sqrt(math.Max(0, d.cov(i, i)+d.cov(j, j)-2*d.cov(i, j)))
}

// printAt returns the density at a distance from the paper's white point.
func (p *PaperStrip) printAt(r LogRange) (Estimate[Density], error) {
	return Derive(p.Fit, func(c Curve) (Density, error) {
		white, err := c.LogExposure(PaperWhiteDensity.Over(BaseFog(c)))
		if err != nil {
			return 0, fmt.Errorf("paper white: %w", err)
		}
		return c.Density(white.Add(r)), nil
	})
}
