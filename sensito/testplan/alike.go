package testplan

import (
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// retried returns the tested times, in minutes, for which another strip may be
// developed as one was. Two strips developed alike differ by what the process varies,
// whatever the law of growth; where the trial states how well it repeats there is
// nothing to learn of that, and where the law is guessed times that differ are needed.
func retried(f *development.Family, guessed bool) []float64 {
	if guessed || f.Trial.Repeating().Stated() {
		return nil
	}
	var out []float64
	for _, m := range f.Strips {
		if m.Warp == 0 && m.Apart == "" { // developed under the conditions of the trial
			out = append(out, float64(m.Strip.Minutes()))
		}
	}
	if out = slices.Compact(out); len(out) < 2 {
		return nil // a rate needs another time first
	}
	if last := len(out) - 1; last >= mostRetried {
		var some []float64
		for k := range mostRetried {
			some = append(some, out[k*last/(mostRetried-1)])
		}
		return some
	}
	return out
}

// mostRetried is how many times at most are tried again: of more, that many evenly spread,
// since neighbours then differ by less than the times of the grid do.
const mostRetried = 40

// nearest returns a time of the grid, in minutes, or the one retried that it differs
// from by no more than a step of the grid's clock.
func nearest(t float64, retried []float64) float64 {
	for _, at := range retried {
		if math.Abs(t-at) <= timeStep {
			return at
		}
	}
	return t
}

// warnProcess says what would tell how well the process repeats, where that is the
// largest part of the error of the time and not stated.
func (p *Proposal) warnProcess() {
	if p.Options.Wanted == WantedIndex || p.Answer == nil || p.Family.Trial.Repeating().Stated() {
		return
	}
	parts := p.Answer.Budget()
	if len(parts) == 0 || parts[0].Of != scene.PartProcess {
		return
	}
	p.Warnings.Add("process_decides", 100*parts[0].Share)
}

// Again returns those of the times proposed that have been tested already, rising.
func (p *Proposal) Again() []sensito.Minutes {
	var out []sensito.Minutes
	for _, c := range p.Chosen {
		if c.Again {
			out = append(out, c.Minutes)
		}
	}
	slices.Sort(out)
	return out
}
