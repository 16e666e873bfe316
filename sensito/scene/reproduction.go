package scene

import (
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// Reproduction follows the tones of a scene to the print (L. A. Jones, "On the
// theory of tone reproduction", J. Franklin Inst. 190, 39, 1920, from memory):
// through the camera's flare to the exposure of the film, through the film's
// curve to the negative, and through the paper's curve to the print.
type Reproduction struct {
	Answer *Answer      // with Scene.Paper
	Film   curve.Curve  // at the time of the answer
	Tones  []Reproduced // whole stops from the metered tone, and the two ends of the scene
	Line   []Reproduced // closely spaced, for drawing; without uncertainties

	// SpeedPoint is where an even tone without flare lands that is as dark as the
	// index places on it; PaperWhite is where the lightest tone of the scene
	// prints: 0.04 above the paper's minimum density.
	SpeedPoint sensito.LogExposure
	PaperWhite sensito.LogExposure

	// Mid is the metered tone, or the middle of a scene that does not hold it;
	// without uncertainties.
	Mid Reproduced

	// Lift is how much more exposure flare gives the darkest tone than its own
	// luminance does.
	Lift sensito.LogRange

	Warnings sensito.Warnings
}

// Reproduced is a tone with its values as plain numbers. The estimates of Tone
// are nil on the Line.
type Reproduced struct {
	Tone
	Net         sensito.NetDensity  // of the negative
	PaperLogH   sensito.LogExposure // that the paper gets
	Printed     sensito.Density     // of the print
	Gradient    float64             // density of the print lost per log luminance of the scene; 1 is equal tone
	BeyondSteps bool                // it lies beyond the strongest exposure of the film's strips
}

// Reproduce follows the tones of the answer's scene to a print on its paper. The
// exposures are those of the answer's index, with flare, and the print is exposed
// so that the lightest tone gets the paper's white point, T of ISO 6846. The
// error is Unanswerable without a tested paper.
func (p *Answer) Reproduce() (*Reproduction, error) {
	if !p.prints() {
		return nil, &sensito.Unanswerable{
			Reason: "a tone reproduction needs the curve of the paper",
			Hint:   "print the step wedge on the paper and read it",
			Way:    sensito.TestedPaper,
		}
	}
	r := &Reproduction{Answer: p, SpeedPoint: p.SpeedPoint.Value, PaperWhite: p.Scene.Paper.White.Value, Warnings: sensito.Warnings{}}
	r.Warnings = append(r.Warnings, p.Warnings...)
	low, high := p.placement.Darkest, p.placement.Lightest
	r.Lift = p.placement.Lift(low)
	stops := []float64{low}
	for s := math.Floor(low) + 1; s < high; s++ {
		stops = append(stops, s)
	}
	stops = append(stops, high)
	if err := r.film(stops); err != nil {
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
	tones, err := p.tones(stops)
	if err != nil {
		return nil, err
	}
	beyond := false
	for i, s := range stops {
		t := r.follow(s)
		if t.Tone = tones[i]; t.NetDensity != nil {
			t.Net = t.NetDensity.Value
		}
		if t.Tone.Print != nil {
			t.Printed = t.Tone.Print.Value
		}
		beyond = beyond || t.BeyondSteps
		r.Tones = append(r.Tones, t)
	}
	if beyond {
		r.Warnings = append(r.Warnings, sensito.Warn("extrapolated/5"))
	}
	return r, nil
}

// film takes the curve of the film at the time of the answer. The tones are places
// of the grid, so that the curve runs through them; its other places keep apart
// from them for smooth slopes.
func (r *Reproduction) film(stops []float64) error {
	p := r.Answer
	var tones []sensito.LogRange
	for _, s := range stops {
		tones = append(tones, p.placement.Above(s))
	}
	grid := slices.DeleteFunc(development.DevelopedGrid(), func(at sensito.LogRange) bool {
		return slices.ContainsFunc(tones, func(tone sensito.LogRange) bool {
			return math.Abs(float64(at-tone)) < float64(development.DevelopedStep)/2
		})
	})
	grid = append(grid, tones...)
	slices.Sort(grid)
	n, err := p.negative(grid)
	if err != nil {
		return err
	}
	r.Film, err = development.CurveThrough(r.SpeedPoint, p.BaseFog.Value, grid, n.nets(n.table.Rows))
	return err
}

// slope returns that of the film's curve about an exposure: over a stop, since what
// noise does to the shape of a curve is more than what a film does within one.
func (r *Reproduction) slope(h sensito.LogExposure) float64 {
	const half = sensito.Stop / 2
	return float64(r.Film.Density(h.Add(half))-r.Film.Density(h.Add(-half))) / float64(2*half)
}

// follow follows one tone by the film's curve.
func (r *Reproduction) follow(stops float64) Reproduced {
	p := r.Answer
	net := func(stops float64) sensito.NetDensity {
		return r.Film.Density(p.SpeedPoint.Value.Add(p.placement.Above(stops))).Above(curve.BaseFog(r.Film))
	}
	t := Reproduced{Tone: Tone{Stops: stops, Film: p.SpeedPoint.Value.Add(p.placement.Above(stops))}, Net: net(stops)}
	t.PaperLogH = r.PaperWhite.Add(sensito.LogRange(p.Scene.Callier) * sensito.LogRange(net(p.placement.Lightest)-t.Net))
	curve := p.Scene.Paper.Fit.Curve
	t.Printed = curve.Density(t.PaperLogH)
	t.Gradient = curve.Slope(t.PaperLogH) * p.Scene.Callier * r.slope(t.Film) * p.placement.own(stops) // the chain of the slopes
	_, strongest := p.Family.Trial.Exposures().Span()
	t.BeyondSteps = p.Tested().SpeedPoint.Value.Add(p.placement.Above(stops)) > strongest
	return t
}
