package session

import (
	"fmt"
	"math"
	"time"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/development"
)

// Reading is a temperature that was keyed in.
type Reading struct {
	In      time.Duration // from when the step began; 0 of one that was taken ahead
	Celsius float64
}

// Correction is how the time of the developer differs from the plan by what was read
// of its temperature, so that the film gets the same contrast. The work of the plan
// is done when the integral of the rate is that of the plan: W = ∫ r dt, T linear
// between readings, the last one holding.
type Correction struct {
	From, To Reading       // the first, or the plan's temperature at pouring in, and the last
	Total    time.Duration // how long the step now lasts in all
	More     time.Duration // than was planned; negative for less

	// Low and High are the ends of the 95 % interval of More, by the coefficient and,
	// where it is stated, the thermometer.
	Low, High time.Duration

	// Late says that when the last reading was keyed in less was left than anybody
	// can act on: what is to be done is to pour out.
	Late bool
}

const (
	// lateBelow is how little is left when a correction is no longer worth telling.
	lateBelow = 15 * time.Second

	// tellInterval is how wide the interval of a correction is that is shown.
	tellInterval = 3 * time.Second
)

// Wide says whether the interval is worth showing: 3 s or wider.
func (c Correction) Wide() bool { return c.High-c.Low >= tellInterval }

// Text says from what to what the temperature went and by how much the time changes:
// "From 22.5 °C at pouring in to 21.9 °C at 2:30: 13 seconds more (6 to 21), for the
// same contrast."
func (c Correction) Text() string {
	text := fmt.Sprintf("From %s at pouring in to %s at %s: ", sensito.Celsius(c.From.Celsius), sensito.Celsius(c.To.Celsius), ClockText(c.To.In))
	if c.To.In == 0 {
		text = fmt.Sprintf("%s at pouring in: ", sensito.Celsius(c.To.Celsius))
	}
	more, low, high := seconds(c.More), seconds(c.Low), seconds(c.High)
	word, sign := "more", 1
	if more < 0 {
		word, sign = "less", -1
		low, high = high, low
	}
	if more == 0 && !c.Wide() {
		return text + "the time stays."
	}
	amount := fmt.Sprintf("%d seconds %s", sign*more, word)
	if sign*more == 1 {
		amount = "1 second " + word
	}
	if sign*more >= 120 {
		amount = ClockText(time.Duration(sign*more)*time.Second) + " " + word
	}
	if c.Wide() {
		amount += fmt.Sprintf(" (%d to %d)", sign*low, sign*high)
	}
	return text + amount + ", for the same contrast."
}

// seconds rounds a duration to them.
func seconds(d time.Duration) int { return int(math.Round(d.Seconds())) }

// drift is a temperature over time: linear between its points, of which the first is
// at 0, and the last holding.
type drift []Reading

// rate returns the rate at a temperature over that at the reference.
func (r *Rate) rate(ln, celsius float64) float64 {
	return math.Exp(ln * fit.TensOfDegrees(r.ReferenceC, celsius))
}

// planned returns the work of the plan, in minutes at the reference temperature.
func (r *Rate) planned(ln float64, planned sensito.Minutes) float64 {
	return float64(planned) * development.MeanRate(ln, r.ReferenceC, r.Celsius, r.EndC)
}

// done returns the work of a drift until a time, in minutes at the reference
// temperature.
func (r *Rate) done(ln float64, d drift, until time.Duration) float64 {
	work := 0.0
	for i, from := range d {
		end, endC := until, from.Celsius
		if i+1 < len(d) {
			if next := d[i+1]; next.In <= until {
				end, endC = next.In, next.Celsius
			} else {
				endC = from.Celsius + (next.Celsius-from.Celsius)*float64(until-from.In)/float64(next.In-from.In)
			}
		}
		if end > from.In {
			work += (end - from.In).Minutes() * development.MeanRate(ln, r.ReferenceC, from.Celsius, endC)
		}
		if end == until {
			break
		}
	}
	return work
}

// total returns how long a development lasts in all for the work of the plan.
func (r *Rate) total(ln float64, planned sensito.Minutes, d drift) time.Duration {
	last := d[len(d)-1]
	left := (r.planned(ln, planned) - r.done(ln, d, last.In)) / r.rate(ln, last.Celsius)
	return last.In + time.Duration(left*float64(time.Minute))
}

// drift returns the temperatures of the readings over time, which begin with that of
// the plan where none was taken at pouring in. Of several readings at one time the last counts.
func (r *Rate) drift(readings []Reading) drift {
	d := drift{{0, r.Celsius}}
	for _, x := range readings {
		if last := &d[len(d)-1]; x.In <= last.In {
			last.Celsius = x.Celsius
		} else {
			d = append(d, x)
		}
	}
	return d
}

// correct returns the correction by the readings of a step, nil where there are
// none.
func (r *Rate) correct(planned sensito.Minutes, readings []Reading) *Correction {
	if r == nil || len(readings) == 0 {
		return nil
	}
	d := r.drift(readings)
	ln := math.Log(r.Q10)
	total := r.total(ln, planned, d)
	c := &Correction{From: d[0], To: d[len(d)-1], Total: total, More: total - duration(planned)}
	c.Late = total-c.To.In < lateBelow
	// Both ends by the coefficient, then the thermometer, whose readings err each by
	// itself: the plan's temperature is none of them.
	low, high := float64(r.total(math.Log(r.Low), planned, d)-total), float64(r.total(math.Log(r.High), planned, d)-total)
	if low > high {
		low, high = high, low
	}
	low, high = math.Min(low, 0), math.Max(high, 0)
	byReadings := 0.0
	for i := range d {
		if r.ThermometerC == 0 || i == 0 && readings[0].In > 0 {
			continue
		}
		const far = 0.05 // of a degree: the rate is straight so near
		moved := append(drift{}, d...)
		moved[i].Celsius += far
		byReadings += math.Pow(float64(r.total(ln, planned, moved)-total)/far*r.ThermometerC, 2)
	}
	off := fit.StudentT(level, math.Inf(1)) * math.Sqrt(byReadings)
	c.Low = c.More - time.Duration(math.Hypot(low, off))
	c.High = c.More + time.Duration(math.Hypot(high, off))
	return c
}

// Worth is what a development did, as the time that does the same at the temperature
// of the trial.
type Worth struct {
	Minutes, Planned sensito.Minutes
	Celsius          float64 // of the trial
}

// asPlanned is how far a development may be from the plan to be called so: half of
// the 5 s to which a time is planned.
const asPlanned = 2500 * time.Millisecond

// AsPlanned says whether it did what was planned, to within 2.5 s.
func (w Worth) AsPlanned() bool { return duration(w.Minutes-w.Planned).Abs() <= asPlanned }

// Text says it: "worth 7:15 at 20 °C, as planned", or how much more or less.
func (w Worth) Text() string {
	text := fmt.Sprintf("worth %s at %s, ", w.Minutes.Clock(1), sensito.Celsius(w.Celsius))
	switch off := duration(w.Minutes - w.Planned); {
	case w.AsPlanned():
		return text + "as planned"
	case off > 0:
		return text + ClockText(off) + " more than planned"
	default:
		return text + ClockText(-off) + " less than planned"
	}
}

// worth returns what a development of a length did.
func (r *Rate) worth(planned sensito.Minutes, readings []Reading, length time.Duration) *Worth {
	if r == nil {
		return nil
	}
	ln := math.Log(r.Q10)
	w := &Worth{Celsius: r.ReferenceC, Planned: sensito.Minutes(r.planned(ln, planned))}
	if len(readings) > 0 {
		w.Minutes = sensito.Minutes(r.done(ln, r.drift(readings), length))
		return w
	}
	// As the plan has it, to its end, and holding there.
	d := drift{{0, r.Celsius}, {duration(planned), r.EndC}}
	w.Minutes = sensito.Minutes(r.done(ln, d, length))
	return w
}
