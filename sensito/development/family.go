package development

import (
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
)

// Family is a trial's strips taken together: contrast, speed and fog against
// development time.
type Family struct {
	Trial  *sensito.Trial
	Strips []*curve.Measured // that belong together, by rising time

	Quantity string // the contrast that Contrast describes: QuantityContrastIndex or QuantityAverageGradient
	Model    string // "first order", "first order with induction" or "two times"

	// The kinetics of the contrast. Limit is nil when the strips do not bound
	// it; Induction is nil without one.
	Limit, Rate, Induction *sensito.Estimate[float64]

	// Temperature is how the rate follows the temperature, where strips at several
	// were developed and tell it; nil otherwise.
	Temperature *TemperatureLaw

	// When the ISO density difference is 0.80, and the speed then. Nil too where strips
	// were read in pictures (Trial.NotISO).
	ISOMinutes *sensito.Estimate[sensito.Minutes]
	ISOSpeed   *sensito.Estimate[sensito.Speed]

	// NoContrast says why the strips give no law of contrast, in which case the
	// fields above mean nothing. A scene may still be answered from the strips.
	NoContrast error

	Warnings sensito.Warnings

	// The laws of the strips, for the rooms that answer from them: of the contrast,
	// of the speed point against Development (nil where no strip reaches it), and of
	// base plus fog against Fogging.
	Growth      Growth
	SpeedPoints *fit.Trend
	Fog         fit.Trend

	stated    *camera.Reciprocity // what the trial states; nil where it states nothing, and with notStated
	notStated error

	apart  []*curve.Measured   // exposed for other times than the trial's; not among Strips
	tested *camera.Reciprocity // by these; nil without, and with noTest
	noTest error               // why they give no law

	others []*curve.Measured // developed otherwise, which measure what that does
	parts  MeasuredParts
	lnQ10  float64 // by which the times of strips at other temperatures count

	table    *Table
	contrast int // column of the contrast
}

// The contrasts that a family can describe.
const (
	QuantityContrastIndex   = "contrast_index"
	QuantityAverageGradient = "average_gradient"
)

// Fogging measures a development time by what base plus fog depends on most simply:
// the time itself, in minutes (common practice, no source).
func Fogging(minutes float64) float64 { return minutes }

// Development measures a development time by what the speed depends on most
// simply: the contrast that it gives, or the time itself where there is no law
// of that.
func (f *Family) Development(minutes float64) float64 {
	if f.NoContrast != nil {
		return math.Log(minutes)
	}
	return f.Growth.Development(minutes)
}

// SpeedPointIn returns the law of the speed points of a table that holds the family's
// strips: the speed point at a development time, with the values taken from rows.
func (f *Family) SpeedPointIn(tb *Table) func(rows [][]float64, minutes float64) float64 {
	law := tb.PlaceTrend(curve.ColumnSpeedPoint, tb.Rows, f.Development)
	return func(rows [][]float64, minutes float64) float64 {
		return tb.TrendLike(curve.ColumnSpeedPoint, rows, law).At(f.Development(minutes))
	}
}

// tabulate joins the quantities of the strips.
func (f *Family) tabulate() {
	f.table = tableOf(f.Strips)
}

func tableOf(strips []*curve.Measured) *Table {
	tb := NewTable(strips, func(m *curve.Measured) (fit.Derived, error) { return m.Derived, nil })
	for _, i := range []int{curve.ColumnIndex, curve.ColumnGradient, curve.ColumnISO} {
		tb.Unsteady(i, Scatter)
	}
	return tb
}

// contrastColumn returns the column of the contrast that the family describes.
func (f *Family) contrastColumn() int {
	index, _, _ := f.table.Column(curve.ColumnIndex, f.table.Rows)
	gradient, _, _ := f.table.Column(curve.ColumnGradient, f.table.Rows)
	if len(gradient) > len(index) {
		return curve.ColumnGradient
	}
	return curve.ColumnIndex
}

// SpeedPointAt adds to a speed point joined from several strips the error that their
// exposures share.
func (f *Family) SpeedPointAt(value, sd, dof float64) sensito.Estimate[sensito.LogExposure] {
	h := sensito.Estimate[sensito.LogExposure]{Value: sensito.LogExposure(value), StdErr: sensito.LogExposure(sd), DoF: dof}
	h.AddCommon(f.Trial.Exposures().CommonSD())
	return h
}

// together returns what strips of the family share whose curves were fitted together,
// nil where none were.
func (f *Family) together() *curve.Together {
	for _, m := range f.Strips {
		if m.Fit.Together != nil {
			return m.Fit.Together
		}
	}
	return nil
}

// Times returns the shortest and the longest development time of the family, at
// the temperature of the trial.
func (f *Family) Times() (lo, hi sensito.Minutes) {
	return f.Strips[0].Minutes(), f.Strips[len(f.Strips)-1].Minutes()
}

// At holds what a family says of one development time. Speed is nil when the
// exposures are relative or no strip reaches its speed point.
type At struct {
	Contrast sensito.Estimate[float64]
	Speed    *sensito.Estimate[sensito.Speed]
	BaseFog  sensito.Estimate[sensito.Density]
}

// At returns contrast, speed and fog at a development time. The error is
// NoContrast where there is no law.
func (f *Family) At(t sensito.Minutes) (At, error) {
	all, err := f.Along([]sensito.Minutes{t})
	if err != nil {
		return At{}, err
	}
	return all[0], nil
}

// Along returns contrast, speed and fog at each of several development times, as
// At, at hardly more cost than at one.
func (f *Family) Along(times []sensito.Minutes) ([]At, error) {
	if f.NoContrast != nil {
		return nil, f.NoContrast
	}
	inflate := map[int]float64{f.contrast: f.Growth.Scatter, curve.ColumnFog: f.Fog.Scatter}
	if f.SpeedPoints != nil {
		inflate[curve.ColumnSpeedPoint] = f.SpeedPoints.Scatter
	}
	u := f.Growth.Development
	const contrast, fog, speed, columns = 0, 1, 2, 3 // of each time
	d, err := f.table.Propagate(inflate, func(rows [][]float64) ([]float64, error) {
		g, err := f.table.Grow(f.contrast, rows, f.Growth)
		if err != nil {
			return nil, err
		}
		fogs, speeds := f.table.TrendLike(curve.ColumnFog, rows, f.Fog), fit.Trend{}
		if f.SpeedPoints != nil {
			speeds = f.table.TrendLike(curve.ColumnSpeedPoint, rows, *f.SpeedPoints)
		}
		out := make([]float64, columns*len(times))
		for k, t := range times {
			x, out := float64(t), out[columns*k:]
			out[contrast], out[fog] = g.At(x), fogs.At(Fogging(x))
			if f.SpeedPoints != nil {
				out[speed] = speeds.At(u(x))
			}
		}
		return out, nil
	})
	if err != nil {
		return nil, err
	}
	var all []At
	for k := range times {
		i := columns * k
		a := At{
			Contrast: sensito.Estimate[float64]{Value: d.Values[i+contrast], StdErr: d.SD(i + contrast), DoF: f.Growth.Behind(f.table.DoF)},
			BaseFog:  sensito.Estimate[sensito.Density]{Value: sensito.Density(d.Values[i+fog]), StdErr: sensito.Density(d.SD(i + fog)), DoF: fit.ScatterDoF(f.Fog.Scatter, f.Fog.DoF, f.table.DoF)},
		}
		if f.SpeedPoints != nil && f.Trial.Exposures().Absolute() {
			a.Speed = curve.SpeedEstimate(f.SpeedPointAt(d.Values[i+speed], d.SD(i+speed), fit.ScatterDoF(f.SpeedPoints.Scatter, f.SpeedPoints.DoF, f.table.DoF)), sensito.SpeedAt)
		}
		all = append(all, a)
	}
	return all, nil
}
