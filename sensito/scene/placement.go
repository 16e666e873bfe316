package scene

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/development"
)

// Placement is where one exposure lays the tones of a scene on the film. The
// meter, set to the exposure index, lays an even tone ShadowStops below the
// metered one on the speed point; flare then lifts every tone of the scene by
// the same light. Time, index, tones and print stand on it alike. Tones count
// in stops from the metered one.
type Placement struct {
	Darkest, Lightest float64 // tones that must keep detail
	ShadowStops       float64 // from the tone on the speed point to the metered one
	Veil              float64 // as a fraction of the luminance of the lightest tone
}

// Placement returns where the scene's tones land. With spot readings the scene
// runs from zone I, whatever the index is set by.
func (s Scene) Placement() Placement {
	s = s.WithDefaults()
	darkest := -s.ShadowStops
	if s.Metering != nil {
		darkest = float64(darkestZone - camera.MeteredZone)
	}
	return Placement{Darkest: darkest, Lightest: darkest + s.Stops, ShadowStops: s.ShadowStops, Veil: s.Flare.Veil(s.logRange())}
}

// darkestZone is the zone of the darkest tone that must keep detail.
const darkestZone camera.Zone = 1

// Above returns how far above the speed point a tone lands on the film:
// log10 of 2^ShadowStops (2^stops + Veil 2^Lightest).
func (p Placement) Above(stops float64) sensito.LogRange {
	return sensito.LogRange(p.ShadowStops)*sensito.Stop + sensito.LogRange(math.Log10(math.Exp2(stops)+p.stray()))
}

// each returns Above of each of several tones.
func (p Placement) each(stops []float64) []sensito.LogRange {
	out := make([]sensito.LogRange, len(stops))
	for i, l := range stops {
		out[i] = p.Above(l)
	}
	return out
}

// stray returns the light of the veil, in luminances of the metered tone.
func (p Placement) stray() float64 { return p.Veil * math.Exp2(p.Lightest) }

// Lift returns how much more exposure the veil gives a tone than its own
// luminance does.
func (p Placement) Lift(stops float64) sensito.LogRange {
	return sensito.LogRange(math.Log10(1 + p.stray()/math.Exp2(stops)))
}

// own returns the share of a tone's light that is not the veil's: by how much
// the film's log exposure grows with the log luminance of the tone.
func (p Placement) own(stops float64) float64 {
	luminance := math.Exp2(stops)
	return luminance / (luminance + p.stray())
}

// Run is a part of a characteristic curve, by the distances of its ends from
// the speed point.
type Run struct {
	From, To sensito.LogRange
	fromNet  bool // the density counts from net 0.10, whatever it is at from
}

// Length returns how long the run is along the curve.
func (r Run) Length() sensito.LogRange { return r.To - r.From }

// Run returns the part of the curve between the darkest and the lightest tone.
func (p Placement) Run() Run { return Run{From: p.Above(p.Darkest), To: p.Above(p.Lightest)} }

// aimedRun returns the run over which the aim tells what the density must gain:
// that of the scene, or for a scan, whose lightest tone has a density of its
// own, from net density 0.10 on.
func (s Scene) aimedRun() Run {
	r := s.Placement().Run()
	if s.ScanMax != 0 {
		r.From, r.fromNet = 0, true
	}
	return r
}

// foot returns the density from which the gain over the run counts.
func (r Run) foot(c curve.Curve, m sensito.LogExposure) sensito.Density {
	if r.fromNet {
		return curve.SpeedPointDensity.Over(curve.BaseFog(c))
	}
	return c.Density(m.Add(r.From))
}

// Rise returns the density that a curve with its speed point at m gains over
// the run. The error is ErrOutOfRange where it ends beyond Reach.
func (r Run) Rise(c curve.Curve, m sensito.LogExposure) (float64, error) {
	end := m.Add(r.To)
	if _, hi := c.Domain(); end > hi.Add(Reach) {
		return 0, fmt.Errorf("log H %.2f: %w", float64(end), sensito.ErrOutOfRange)
	}
	return float64(c.Density(end) - r.foot(c, m)), nil
}

// slope returns how the rise changes as the speed point moves.
func (r Run) slope(c curve.Curve, m sensito.LogExposure) float64 {
	if r.fromNet {
		return c.Slope(m.Add(r.To))
	}
	return c.Slope(m.Add(r.To)) - c.Slope(m.Add(r.From))
}

// gained returns the density gained over the run where so much is kept.
func (r Run) gained(kept float64) float64 {
	if r.fromNet {
		return kept - float64(curve.SpeedPointDensity)
	}
	return kept
}

// of returns the density kept of a negative whose places are those of around a run, so
// many from the first on, and its slope by log exposure.
func (r Run) of(nets []float64) (kept, slope float64) {
	kept, slope = nets[1], (nets[1]-nets[0])/float64(aside)
	if !r.fromNet {
		kept -= nets[3]
		if foot := nets[3] - nets[2]; !math.IsNaN(foot) { // which is level below the wedge
			slope -= foot / float64(aside)
		}
	}
	return kept, slope
}

// aside is how far from a place on a curve its slope is taken.
const aside sensito.LogRange = 0.05

// around returns the ends of a run, each behind a place beside it.
func (r Run) around() []sensito.LogRange {
	if r.fromNet {
		return []sensito.LogRange{r.To - aside, r.To}
	}
	return []sensito.LogRange{r.To - aside, r.To, r.From - aside, r.From}
}

// Reach is how far beyond the exposures of a strip a scene may follow its
// curve. That is further than curve.Reach, since the strips of a film together tell how
// far their shape may bend there (TestBlindBeyondTheWedge).
const Reach = 1.5 * sensito.Stop

// placedAt returns where the speed point of a strip's development lies by the
// law of the family's strips, or of a strip of other conditions, whose curve is
// c, where it lies itself. The error is ErrOutOfRange where the strip does not
// reach its speed point.
func placedAt(f *development.Family, m *curve.Measured, c curve.Curve) (sensito.LogExposure, error) {
	if m.Apart != "" {
		return curve.SpeedPoint(c)
	}
	if math.IsNaN(m.Derived.Values[curve.ColumnSpeedPoint]) {
		return 0, fmt.Errorf("strip %d does not reach its speed point: %w", m.Strip.Number(), sensito.ErrOutOfRange)
	}
	return sensito.LogExposure(f.SpeedPoints.At(f.Development(float64(m.Minutes())))), nil
}

// ColumnRise is the column of a scene's table after those of the strips: the
// density rise over the scene.
const ColumnRise = curve.ColumnFractional + 1

// placedTable returns the quantities of the strips with what each gains over
// runs, in columns from ColumnRise on; NaN where it does not reach.
func placedTable(f *development.Family, strips []*curve.Measured, runs ...Run) *development.Table {
	var with []*curve.Measured // of the rows
	tb := development.NewTable(strips, func(m *curve.Measured) (fit.Derived, error) {
		d, err := curve.DeriveAll(m.Fit, func(c curve.Curve) ([]float64, error) {
			point, err := placedAt(f, m, c)
			if err != nil {
				return nil, err
			}
			var row []float64
			for _, r := range runs {
				row = append(row, fit.OrNaN(r.Rise(c, point)))
			}
			return row, nil
		})
		if err != nil {
			return fit.Derived{}, err
		}
		with = append(with, m)
		return m.Derived.With(d), nil
	})
	tb.Unsteady(curve.ColumnIndex, development.Scatter)
	placed := development.PlacedColumns{Family: f, Slopes: map[int][]float64{}}
	for _, m := range with {
		point, _ := placedAt(f, m, m.Fit.Curve) // known: it is among the rows
		placed.Point = append(placed.Point, float64(point))
	}
	for k, r := range runs {
		i := ColumnRise + k
		tb.Unsteady(i, development.Scatter)
		for j, m := range with {
			slope := 0.0 // a strip of other conditions is read from its own speed point
			if m.Apart == "" {
				slope = r.slope(m.Fit.Curve, sensito.LogExposure(placed.Point[j]))
			}
			placed.Slopes[i] = append(placed.Slopes[i], slope)
		}
	}
	if len(with) > 0 {
		tb.Place(placed)
	}
	return tb
}

// A Verdict holds the contrast of a negative against that of a normal one.
type Verdict int

// The verdicts: a normal negative has the default density range, 1.05, give or take
// 0.10, by which half a stop of the scene moves it.
const (
	Lower  Verdict = -1
	Near   Verdict = 0
	Higher Verdict = 1
)

// nearNormal is how far from the default density range a negative is still called
// near: half a stop of a normal scene.
const nearNormal = 0.10

// NormalRange returns the density range that a normal scene of seven stops, with the
// default flare, gets on a strip, and how it compares with a normal negative. It is
// not ok where the strip has no speed point or does not reach so far.
func NormalRange(m *curve.Measured) (density sensito.NetDensity, v Verdict, ok bool) {
	if m.Fit == nil || m.SpeedPoint == nil {
		return 0, Near, false
	}
	rise, err := Scene{Stops: camera.NormalStops}.Placement().Run().Rise(m.Fit.Curve, m.SpeedPoint.Value)
	if err != nil {
		return 0, Near, false
	}
	density = sensito.NetDensity(rise)
	switch {
	case density < DefaultDensityRange-nearNormal:
		v = Lower
	case density > DefaultDensityRange+nearNormal:
		v = Higher
	}
	return density, v, true
}
