package scene

import (
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/development"
)

// Drift is how far the process of today is from that of a trial, by a log of
// control strips of the same film and developer. The log's centre is taken to be
// where the process was when the strips of the trial were developed.
type Drift struct {
	Control *control.Evaluation // the log, evaluated against the family
	AsOf    string              // date of the last control strip, YYYY-MM-DD

	// InControl says that no chart signals; then nothing is corrected, and
	// FirstSignal and Since, dates otherwise, are "".
	InControl          bool
	FirstSignal, Since string

	// As of Control; nil when that cannot be told.
	TimePercent    *sensito.Estimate[float64] // by which to develop longer
	SpeedStops     *sensito.Estimate[float64] // at the longer time; negative is a loss
	SpeedUnchanged *sensito.Estimate[float64] // at the time of the trial
	Fog            *sensito.Estimate[float64] // density that base plus fog has gained, at the longer time

	Warnings sensito.Warnings // those of Control, and why something cannot be told
}

// NewDrift evaluates a control log against the family. The error is that of
// control.Log.Evaluate.
func NewDrift(f *development.Family, l *control.Log) (*Drift, error) {
	c, err := l.Evaluate(control.Options{Family: f})
	if err != nil {
		return nil, err
	}
	strips := l.Strips()
	d := &Drift{Control: c, AsOf: strips[len(strips)-1].Date, InControl: c.First == nil,
		TimePercent: c.TimePercent, SpeedStops: c.SpeedStops, SpeedUnchanged: c.SpeedUnchanged, Fog: c.Fog, Warnings: slices.Clone(c.Warnings)}
	if s := c.First; s != nil {
		d.FirstSignal, d.Since = strips[s.Index-1].Date, strips[s.Since-1].Date
	}
	return d, nil
}

// lnFactor returns the logarithm of the factor that percent stand for, and its
// standard error.
func lnFactor(percent *sensito.Estimate[float64]) (ln, sd float64) {
	return math.Log1p(percent.Value / 100), percent.StdErr / (100 + percent.Value)
}

// todaysTime is how well the time of today is known, as a standard deviation of
// ln t, for a process that does then what the trial's did.
type todaysTime struct{ lnSD, dof float64 }

// time returns how well the corrected time is known by the log.
func (d *Drift) time() todaysTime {
	_, sd := lnFactor(d.TimePercent)
	return todaysTime{sd, d.TimePercent.DoF}
}

// Correctable returns an error, Unanswerable, when the process has changed and
// the log does not tell what that means in time. Only what is correctable may be
// corrected.
func (d *Drift) Correctable() error {
	if d.InControl || d.TimePercent != nil {
		return nil
	}
	u := &sensito.Unanswerable{
		Reason: "the process has changed, and the log does not tell by how much to develop longer",
		Hint:   "set the process right, or test it anew",
		Way:    sensito.Uncorrected,
	}
	for _, w := range d.Warnings {
		switch w.Code {
		case "no_minutes":
			u.Reason += ": " + w.Message()
			u.Hint = "state in the log for how long its strips are developed, minutes"
		case "no_change_told":
			u.Reason += ": " + w.Message()
		}
	}
	return u
}

// Minutes returns a development time of the trial corrected for the process of
// today: longer by TimePercent, with its error added as independent, in the
// logarithm. Nil stays nil; in control the time is returned as it is.
func (d *Drift) Minutes(e *sensito.Estimate[sensito.Minutes]) *sensito.Estimate[sensito.Minutes] {
	if e == nil || d.InControl {
		return e
	}
	ln, sd := lnFactor(d.TimePercent)
	return e.Scaled(ln, sd, d.TimePercent.DoF)
}

// Speed returns a speed or an exposure index at a time of the trial as it is
// at the corrected time today, by SpeedStops with its error added. Nil stays nil;
// in control, and where SpeedStops is nil, it is returned as it is.
func (d *Drift) Speed(e *sensito.Estimate[sensito.Speed]) *sensito.Estimate[sensito.Speed] {
	if e == nil || d.InControl || d.SpeedStops == nil {
		return e
	}
	return e.Scaled(d.SpeedStops.Value*math.Ln2, d.SpeedStops.StdErr*math.Ln2, d.SpeedStops.DoF)
}

// SpeedPoint returns a speed point at a time of the trial as it is at the corrected
// time today; see Speed.
func (d *Drift) SpeedPoint(e sensito.Estimate[sensito.LogExposure]) sensito.Estimate[sensito.LogExposure] {
	if d.InControl || d.SpeedStops == nil {
		return e
	}
	lost := sensito.LogRange(-d.SpeedStops.Value) * sensito.Stop
	sd, dof := fit.Joined(float64(e.StdErr), e.DoF, d.SpeedStops.StdErr*float64(sensito.Stop), d.SpeedStops.DoF)
	e.Value, e.StdErr, e.DoF = e.Value.Add(lost), sensito.LogExposure(sd), dof
	return e
}

// BaseFog returns base plus fog at a time of the trial as it is at the corrected
// time today, by Fog with its error added. In control, and where Fog is nil, it is
// returned as it is.
func (d *Drift) BaseFog(e sensito.Estimate[sensito.Density]) sensito.Estimate[sensito.Density] {
	if d.InControl || d.Fog == nil {
		return e
	}
	sd, dof := fit.Joined(float64(e.StdErr), e.DoF, d.Fog.StdErr, d.Fog.DoF)
	e.Value, e.StdErr, e.DoF = e.Value+sensito.Density(d.Fog.Value), sensito.Density(sd), dof
	return e
}

// scanned warns where fog that the process has gained takes part of the density
// that a scanner bears, which the time was told without.
func (d *Drift) scanned(s Scene) sensito.Warnings {
	const least = 0.02 // a reading of most densitometers
	if s.ScanMax == 0 || d.Fog == nil || math.Abs(d.Fog.Value) < least {
		return nil
	}
	return sensito.Warnings{sensito.Warn("scan_fog", d.Fog.Value, float64(s.ScanMax)+d.Fog.Value, float64(s.ScanMax))}
}
