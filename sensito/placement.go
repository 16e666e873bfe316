package sensito

import (
	"fmt"
	"math"
)

// Placement is where one exposure lays the tones of a scene on the film. The
// meter, set to the exposure index, lays an even tone ShadowStops below the
// metered one on the speed point; flare then lifts every tone of the scene by
// the same light. Time, index, tones and print stand on it alike. Tones count
// in stops from the metered one.
type Placement struct {
	Darkest, Lightest float64 // tones that must keep detail
	ShadowStops       float64
	Veil              float64 // as a fraction of the luminance of the lightest tone
}

// Placement returns where the scene's tones land. With spot readings the scene
// runs from zone I, whatever the index is set by.
func (s Scene) Placement() Placement {
	s = s.withDefaults()
	darkest := -s.ShadowStops
	if s.Metering != nil {
		darkest = float64(darkestZone - meteredZone)
	}
	return Placement{Darkest: darkest, Lightest: darkest + s.Stops, ShadowStops: s.ShadowStops, Veil: s.Flare.Veil(s.logRange())}
}

// darkestZone is the zone of the darkest tone that must keep detail.
const darkestZone Zone = 1

// logRange returns the log luminance range of the scene.
func (s Scene) logRange() LogRange { return LogRange(s.Stops) * Stop }

// Above returns how far above the speed point a tone lands on the film:
// log10 of 2^ShadowStops (2^stops + Veil 2^Lightest).
func (p Placement) Above(stops float64) LogRange {
	return LogRange(p.ShadowStops)*Stop + LogRange(math.Log10(math.Exp2(stops)+p.stray()))
}

// stray returns the light of the veil, in luminances of the metered tone.
func (p Placement) stray() float64 { return p.Veil * math.Exp2(p.Lightest) }

// Lift returns how much more exposure the veil gives a tone than its own
// luminance does.
func (p Placement) Lift(stops float64) LogRange {
	return LogRange(math.Log10(1 + p.stray()/math.Exp2(stops)))
}

// own returns the share of a tone's light that is not the veil's: by how much
// the film's log exposure grows with the log luminance of the tone.
func (p Placement) own(stops float64) float64 {
	luminance := math.Exp2(stops)
	return luminance / (luminance + p.stray())
}

// run is a part of a characteristic curve, by the distances of its ends from
// the speed point.
type run struct{ from, to LogRange }

func (r run) length() LogRange { return r.to - r.from }

// run returns the part of the curve between the darkest and the lightest tone.
func (p Placement) run() run { return run{p.Above(p.Darkest), p.Above(p.Lightest)} }

// sceneReach is how far beyond the exposures of a strip a scene may follow its
// curve. That is further than reach, since what is not seen there counts as an
// error of its own; see unseenError.
const sceneReach = 2 * Stop

// rise returns the density that a curve with its speed point at m gains over
// the run. The error is ErrOutOfRange where it ends beyond sceneReach.
func (r run) rise(c Curve, m LogExposure) (float64, error) {
	end := m.Add(r.to)
	if _, hi := c.Domain(); end > hi.Add(sceneReach) {
		return 0, fmt.Errorf("log H %.2f: %w", float64(end), ErrOutOfRange)
	}
	return float64(c.Density(end) - c.Density(m.Add(r.from))), nil
}

// unseenError is by which share the density gained beyond the last step of a
// strip may differ from what its curve says, as one standard deviation common to
// all strips: a shoulder may begin there, unseen (TestBlindDelivered, where the
// wedge ends early).
const unseenError = 0.20

// unseen returns the standard deviation that this leaves in the density between
// the foot of the run and a place above the speed point, as a share of what the
// run gains: the mean over the strips.
func (r run) unseen(strips []*Measured, at LogRange) float64 {
	sum, n := 0.0, 0.0
	for _, s := range strips {
		c := s.Fit.Curve
		m, err := SpeedPoint(c)
		if err != nil {
			continue
		}
		gain, err := r.rise(c, m)
		if err != nil {
			continue
		}
		n++
		if _, hi := c.Domain(); m.Add(at) > hi {
			sum += float64(c.Density(m.Add(at))-c.Density(hi)) / gain
		}
	}
	return unseenError * sum / math.Max(n, 1)
}

// aimedRun returns the run over which the aim tells what the density must gain:
// that of the scene, or for a scan, whose lightest tone has a density of its
// own, from the speed point on.
func (s Scene) aimedRun() run {
	r := s.Placement().run()
	if s.ScanMax != 0 {
		r.from = 0
	}
	return r
}
