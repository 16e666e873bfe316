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
type run struct {
	from, to LogRange
	fromNet  bool // the density counts from net 0.10, whatever it is at from
}

func (r run) length() LogRange { return r.to - r.from }

// run returns the part of the curve between the darkest and the lightest tone.
func (p Placement) run() run { return run{from: p.Above(p.Darkest), to: p.Above(p.Lightest)} }

// aimedRun returns the run over which the aim tells what the density must gain:
// that of the scene, or for a scan, whose lightest tone has a density of its
// own, from net density 0.10 on.
func (s Scene) aimedRun() run {
	r := s.Placement().run()
	if s.ScanMax != 0 {
		r.from, r.fromNet = 0, true
	}
	return r
}

// foot returns the density from which the gain over the run counts.
func (r run) foot(c Curve, m LogExposure) Density {
	if r.fromNet {
		return SpeedPointDensity.Over(BaseFog(c))
	}
	return c.Density(m.Add(r.from))
}

// rise returns the density that a curve with its speed point at m gains over
// the run. The error is ErrOutOfRange where it ends beyond sceneReach.
func (r run) rise(c Curve, m LogExposure) (float64, error) {
	end := m.Add(r.to)
	if _, hi := c.Domain(); end > hi.Add(sceneReach) {
		return 0, fmt.Errorf("log H %.2f: %w", float64(end), ErrOutOfRange)
	}
	return float64(c.Density(end) - r.foot(c, m)), nil
}

// slope returns how the rise changes as the speed point moves.
func (r run) slope(c Curve, m LogExposure) float64 {
	if r.fromNet {
		return c.Slope(m.Add(r.to))
	}
	return c.Slope(m.Add(r.to)) - c.Slope(m.Add(r.from))
}

// sceneReach is how far beyond the exposures of a strip a scene may follow its
// curve. That is further than reach, since what is not seen there counts as an
// error of its own; see unseenError.
const sceneReach = 1.5 * Stop

// unseenError is by which share the density gained beyond the last step of a
// strip may differ from what its curve says, as one standard deviation common to
// all strips: a shoulder may begin there, unseen (tuned by TestBlindBeyondTheWedge,
// held by TestUnseenBeyondTheLastStep).
const unseenError = 0.25

// unseen returns the standard deviation that this leaves in the density between
// the foot of the run and a place above the speed point, as a share of what the
// run gains: the mean over the strips.
func (f *Family) unseen(r run, at LogRange) float64 {
	sum, n := 0.0, 0.0
	for _, m := range f.Strips {
		c := m.Fit.Curve
		point, err := f.placedAt(m, c)
		if err != nil {
			continue
		}
		gain, err := r.rise(c, point)
		if err != nil {
			continue
		}
		n++
		if _, hi := c.Domain(); point.Add(at) > hi {
			sum += float64(c.Density(point.Add(at))-c.Density(hi)) / gain
		}
	}
	return unseenError * sum / math.Max(n, 1)
}

// placedAt returns where the speed point of a strip's development lies by the
// law of the family's strips, or of a strip of other conditions, whose curve is
// c, where it lies itself. The error is ErrOutOfRange where the strip does not
// reach its speed point.
func (f *Family) placedAt(m *Measured, c Curve) (LogExposure, error) {
	if m.apart != "" {
		return SpeedPoint(c)
	}
	if math.IsNaN(m.derived.values[colSpeedPoint]) {
		return 0, fmt.Errorf("strip %d does not reach its speed point: %w", m.Strip.number, ErrOutOfRange)
	}
	return LogExposure(f.speed.at(f.development(float64(m.Minutes())))), nil
}

// placedTable returns the quantities of the strips with what each gains over
// runs, in columns from sceneRise on; NaN where it does not reach.
func (f *Family) placedTable(strips []*Measured, runs ...run) *table {
	var with []*Measured // of the rows
	tb := newTable(strips, func(m *Measured) (derived, error) {
		d, err := deriveAll(m.Fit, func(c Curve) ([]float64, error) {
			point, err := f.placedAt(m, c)
			if err != nil {
				return nil, err
			}
			var row []float64
			for _, r := range runs {
				row = append(row, orNaN(r.rise(c, point)))
			}
			return row, nil
		})
		if err != nil {
			return derived{}, err
		}
		with = append(with, m)
		return m.derived.with(d), nil
	})
	tb.unsteady(colIndex, developmentScatter)
	tb.placed = &placedColumns{family: f, slopes: map[int][]float64{}}
	for _, m := range with {
		point, _ := f.placedAt(m, m.Fit.Curve) // known: it is among the rows
		tb.placed.point = append(tb.placed.point, float64(point))
	}
	for k, r := range runs {
		i := sceneRise + k
		tb.unsteady(i, developmentScatter)
		for j, m := range with {
			slope := 0.0 // a strip of other conditions is read from its own speed point
			if m.apart == "" {
				slope = r.slope(m.Fit.Curve, LogExposure(tb.placed.point[j]))
			}
			tb.placed.slopes[i] = append(tb.placed.slopes[i], slope)
		}
	}
	return tb
}
