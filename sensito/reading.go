package sensito

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/internal/check"
	"sensito/sensito/printable"
)

// Zero says what the densitometer was set to zero on.
type Zero string

const (
	ZeroAir  Zero = "air"  // densities are absolute
	ZeroBase Zero = "base" // densities are above the film base
)

// Zeros are all of them.
var Zeros = []Zero{ZeroAir, ZeroBase}

// Unit says what readings are written in.
type Unit string

const (
	UnitDensity Unit = ""     // of a densitometer
	UnitEV      Unit = "EV"   // of a light meter over a light table
	UnitStep    Unit = "step" // of a step tablet beside the negative, matched by eye
)

// DefaultRepeatability is the standard deviation of one density reading when a
// notebook does not say: 0.01 (from memory, an ordinary bench densitometer).
const DefaultRepeatability Density = 0.01

// What one reading repeats to, as a standard deviation in its unit, and to which part of
// it a reading is rounded, when a notebook does not say: a hand-held meter put back on the
// same spot, and an eye between two steps (common practice, no source; TestBlindReadings).
const (
	defaultRepeatabilityEV, defaultReadsToEV     = 0.05, 0.1
	defaultRepeatabilityStep, defaultReadsToStep = 0.2, 0.5
	defaultReadsTo                               = 0.01
)

// Reading says how densities were read.
type Reading struct {
	Unit Unit

	// In Unit: one standard deviation, and the part of it that a reading is rounded to,
	// 1.0/3 for thirds; 0 means what is usual.
	Repeatability Density
	ReadsTo       float64

	Zero    Zero   // "" means ZeroAir
	Channel string // of light, such as blue, in which a stained negative was read; may be empty

	// What is off in all readings alike, as standard deviations; 0 when not stated: a
	// share of every density, and a density.
	ScaleSD  float64
	OffsetSD Density

	OpenEV []float64 // of UnitEV: readings of the bare light, whose mean counts

	// Of UnitStep: the density of each step of the tablet, from step 1, and the standard
	// deviation of each, which is that of all readings at that step.
	Tablet   []Density
	TabletSD Density
}

// Standard deviations in density beyond which a densitometer measures nothing: of one
// reading, and of all alike.
const maxRepeatability, maxAlikeSD Density = 0.5, 0.2

// What no reading is finer than, in its unit.
const leastRepeatability, leastReadsTo = 0.0001, 0.001

// maxChannel is the length of the longest name of a channel, in characters.
const maxChannel = 40

// withDefaults returns the reading with what is usual in place of zeros.
func (r Reading) withDefaults() Reading {
	if r.Repeatability == 0 {
		r.Repeatability = map[Unit]Density{UnitEV: defaultRepeatabilityEV, UnitStep: defaultRepeatabilityStep}[r.Unit]
	}
	if r.Repeatability == 0 {
		r.Repeatability = DefaultRepeatability
	}
	if r.Zero == "" {
		r.Zero = ZeroAir
	}
	r.OpenEV, r.Tablet = slices.Clone(r.OpenEV), slices.Clone(r.Tablet)
	return r
}

// check notes what is wrong in f, and says whether readings can be told as densities.
func (r Reading) check(f *check.Faults, m Material) bool {
	unit, most := map[Unit]string{UnitEV: " EV", UnitStep: " steps"}[r.Unit], maxRepeatability
	if r.Unit != UnitDensity {
		most = 2
	}
	f.Within("reading.repeatability", float64(r.Repeatability), leastRepeatability, float64(most), unit)
	if r.ReadsTo != 0 {
		f.Within("reading.reads_to", r.ReadsTo, leastReadsTo, float64(most), unit)
	}
	f.Within("reading.scale_sd", r.ScaleSD, 0, 0.2, "")
	f.Within("reading.offset_sd", float64(r.OffsetSD), 0, float64(maxAlikeSD), "")
	f.Within("reading.tablet_sd", float64(r.TabletSD), 0, float64(maxAlikeSD), "")
	if !slices.Contains(Zeros, r.Zero) {
		f.Add("reading.zero", "%q is neither %q nor %q", r.Zero, ZeroAir, ZeroBase)
	}
	f.Line("reading.channel", r.Channel, maxChannel)
	if strings.TrimSpace(r.Channel) != r.Channel {
		f.Add("reading.channel", "%q has blanks at its ends", r.Channel)
	}
	before := len(*f)
	switch r.Unit {
	case UnitDensity, UnitEV, UnitStep:
	default:
		f.Add("reading.unit", "%q is not density, %s or %s", r.Unit, UnitEV, UnitStep)
		return false
	}
	if m == PaperMaterial && r.Unit != UnitDensity {
		f.Add("reading.unit", "%q is of film; a paper is read by reflection, in densities", r.Unit)
	}
	r.checkOpen(f)
	r.checkTablet(f)
	return len(*f) == before
}

// checkOpen notes what is wrong with the readings of the bare light.
func (r Reading) checkOpen(f *check.Faults) {
	switch {
	case r.Unit != UnitEV && len(r.OpenEV) > 0:
		f.Add("reading.open_ev", "goes with unit = %q", UnitEV)
	case r.Unit == UnitEV && len(r.OpenEV) == 0:
		f.Add("reading.open_ev", "is missing: readings in EV are told from that of the bare light")
	}
	for i, v := range r.OpenEV {
		key := "reading.open_ev"
		if len(r.OpenEV) > 1 {
			key = fmt.Sprintf("reading.open_ev[%d]", i+1)
		}
		f.Within(key, v, -10, 30, " EV")
	}
}

// checkTablet notes what is wrong with the tablet.
func (r Reading) checkTablet(f *check.Faults) {
	const key = "reading.tablet"
	switch {
	case r.Unit != UnitStep && (len(r.Tablet) > 0 || r.TabletSD > 0):
		f.Add(key, "goes with unit = %q", UnitStep)
		return
	case r.Unit != UnitStep:
		return
	case len(r.Tablet) == 0:
		f.Add(key, "is missing: list the densities of its steps, or give tablet_first, tablet_step and tablet_count")
		return
	}
	checkCount(f, key, len(r.Tablet))
	checkWedge(f, key, r.Tablet)
}

// limits returns the lowest and the highest number that a reading may be.
func (r Reading) limits() (lowest, highest Density) {
	var least Density
	if r.Zero == ZeroBase {
		least = -0.5 // a base a little thinner than the one zeroed on
	}
	switch r.Unit {
	case UnitEV:
		return r.AsRead(MaxReading), r.AsRead(least)
	case UnitStep:
		return 1, Density(len(r.Tablet))
	}
	return least, MaxReading
}

// CheckReading returns what is wrong with a reading, in its unit, as the reason of a
// FieldError; nil for nothing.
func (r Reading) CheckReading(v Density) error {
	lowest, highest := r.limits()
	meant := Density(r.third(float64(v)))
	switch {
	case meant >= lowest && meant <= highest:
		return nil
	case r.Unit == UnitEV && v > highest:
		return fmt.Errorf("%g EV is brighter than the bare light, %.4g EV (open_ev)", v, r.open())
	case r.Unit == UnitEV:
		return fmt.Errorf("%g EV is outside %.4g to %.4g EV, the bare light", v, lowest, highest)
	case r.Unit == UnitStep:
		return fmt.Errorf("step %g is outside %g to %g, those of the tablet", v, lowest, highest)
	case v < 0 && r.Zero == ZeroAir:
		return fmt.Errorf("density %g is negative (set reading.zero to \"base\" if the densitometer was zeroed on the base)", v)
	}
	return fmt.Errorf("density %g is outside %g to %g", v, lowest, highest)
}

// open returns the reading of the bare light, in EV.
func (r Reading) open() float64 {
	read := r.openEV()
	first, further := read[0], 0.0
	for _, v := range read {
		further += v - first // so that the mean of equal readings is one of them
	}
	return first + further/float64(len(read))
}

// openEV returns the readings of the bare light as they are meant: in thirds where each of
// them can be one, since 12.4 is none and 12.3 beside it is not either.
func (r Reading) openEV() []float64 {
	var meant []float64
	for _, v := range r.OpenEV {
		at := r.nearThird(v)
		if math.Abs(3*at-math.Round(3*at)) > 1e-9 {
			return r.OpenEV
		}
		meant = append(meant, at)
	}
	return meant
}

// nearThird returns a number that is written for a third, 9.3 for 9 1/3, as it is meant,
// where readings are in thirds.
func (r Reading) nearThird(v float64) float64 {
	const written = 0.04 // from 0.3 to 1/3, and a little
	if math.Abs(3*r.readsTo()-1) >= 0.01 {
		return v
	}
	if at := math.Round(3*v) / 3; math.Abs(v-at) < written {
		return at
	}
	return v
}

// third is nearThird of what is read over the bare light or beside the tablet. What can be
// read stays so: over a light of 8.93 EV 8.92 is not 9.
func (r Reading) third(v float64) float64 {
	lowest, highest := r.limits()
	if at := r.nearThird(v); at >= float64(lowest) && at <= float64(highest) {
		return at
	}
	return v
}

// readsTo returns what a reading is rounded to, in its unit.
func (r Reading) readsTo() float64 {
	switch {
	case r.ReadsTo != 0:
		return r.ReadsTo
	case r.Unit == UnitEV:
		return defaultReadsToEV
	case r.Unit == UnitStep:
		return defaultReadsToStep
	}
	return defaultReadsTo
}

// ReadsToText returns what readings are said to be rounded to as it is written, 0.1 or
// 1/3; "" where it is not stated.
func (r Reading) ReadsToText() string {
	text := strconv.FormatFloat(r.ReadsTo, 'f', -1, 64)
	switch parts := math.Round(1 / r.ReadsTo); {
	case r.ReadsTo == 0:
		return ""
	case 1/parts == r.ReadsTo && len(text) > len("0.125"):
		return fmt.Sprintf("1/%.0f", parts)
	}
	return text
}

// Density returns the density that a reading, in its unit, tells: of UnitEV one of 0.301
// for each stop less than the bare light passes, of UnitStep that of the tablet, by a
// straight line between two steps. NaN stays NaN.
func (r Reading) Density(v Density) Density {
	switch r.Unit {
	case UnitEV:
		return Density((r.open() - r.third(float64(v))) * float64(Stop))
	case UnitStep:
		if math.IsNaN(float64(v)) {
			return v
		}
		i, share := tabletPlace(r.third(float64(v))-1, len(r.Tablet))
		return r.Tablet[i]*Density(1-share) + r.Tablet[i+1]*Density(share)
	}
	return v
}

// tabletPlace returns the interval of n values in which a place lies, counted from 0, and
// how far in it; beyond the ends they are those of the last interval.
func tabletPlace(at float64, n int) (i int, share float64) {
	i = min(max(int(math.Floor(at)), 0), n-2)
	return i, at - float64(i)
}

// AsRead returns the reading that tells a density, in its unit.
func (r Reading) AsRead(d Density) Density {
	switch r.Unit {
	case UnitEV:
		return Density(r.open() - float64(d)/float64(Stop))
	case UnitStep:
		i, share := r.TabletShare(d)
		return Density(1 + float64(i) + share)
	}
	return d
}

// TabletShare returns the interval of the tablet in which a density lies, from 0, and how
// far in it, from 0 at its lower number to 1.
func (r Reading) TabletShare(d Density) (i int, share float64) {
	rises := r.Tablet[1] > r.Tablet[0]
	i = 0
	for i < len(r.Tablet)-2 && d != r.Tablet[i+1] && (d > r.Tablet[i+1]) == rises {
		i++
	}
	return i, float64((d - r.Tablet[i]) / (r.Tablet[i+1] - r.Tablet[i]))
}

// PerUnit returns by how much the density changes with the reading at a density, as a
// positive number; 1 for UnitDensity.
func (r Reading) PerUnit(d Density) float64 {
	switch r.Unit {
	case UnitEV:
		return float64(Stop)
	case UnitStep:
		i, _ := r.TabletShare(d)
		return math.Abs(float64(r.Tablet[i+1] - r.Tablet[i]))
	}
	return 1
}

// perUnit is PerUnit as a root mean square over all that can be read.
func (r Reading) perUnit() float64 {
	if r.Unit != UnitStep {
		return r.PerUnit(0)
	}
	squares := 0.0
	for i, d := range r.Tablet[1:] {
		squares += math.Pow(float64(d-r.Tablet[i]), 2)
	}
	return math.Sqrt(squares / float64(len(r.Tablet)-1))
}

// StatedSD returns the standard deviation of one reading, as stated, in density.
func (r Reading) StatedSD() Density {
	r = r.withDefaults()
	return r.Repeatability * Density(r.perUnit())
}

// RoundingVariance returns the variance that rounding gives a reading, in density.
func (r Reading) RoundingVariance() float64 {
	return r.Width() * r.Width() / 12
}

// Width returns what a reading is rounded to, in density.
func (r Reading) Width() float64 { return r.readsTo() * r.perUnit() }

// AlikeSD returns what is off in all readings alike, as standard deviations: a share of
// every density, and a density, which the error of the bare light is part of.
func (r Reading) AlikeSD() (scale float64, offset Density) {
	if r.Unit != UnitEV {
		return r.ScaleSD, r.OffsetSD
	}
	n, mean, one := float64(len(r.OpenEV)), r.open(), float64(r.StatedSD())
	squares := PriorReadings * one * one
	for _, v := range r.openEV() {
		squares += math.Pow((v-mean)*float64(Stop), 2)
	}
	// Readings of one light are rounded alike, which no mean takes away.
	open := math.Sqrt(squares/(PriorReadings+n-1)/n + r.RoundingVariance())
	return r.ScaleSD, Density(math.Hypot(float64(r.OffsetSD), open))
}

// Words returns a density as it was read: 1.18, 8.4 EV, tablet step 7.5.
func (r Reading) Words(d Density) string { return r.Written(r.AsRead(d)) }

// Written returns a reading, in its unit, in words: 1.18, 8.4 EV, tablet step 7.5.
func (r Reading) Written(v Density) string {
	text := strconv.FormatFloat(math.Round(100*float64(v))/100, 'f', -1, 64)
	switch r.Unit {
	case UnitEV:
		return text + " EV"
	case UnitStep:
		return "tablet step " + text
	}
	return fmt.Sprintf("%.2f", float64(v))
}

// How says in words how the strips were read, "" for a densitometer alone.
func (r Reading) How() string {
	var parts []string
	switch r.Unit {
	case UnitEV:
		parts = append(parts, "by a light meter in EV")
	case UnitStep:
		parts = append(parts, "by eye against a tablet of "+printable.Counted(len(r.Tablet), "step"))
	}
	if r.Channel != "" {
		parts = append(parts, "channel "+r.Channel)
	}
	if len(parts) == 0 {
		return ""
	}
	return "read " + strings.Join(parts, ", ")
}

// Repeatability returns the standard deviation of one reading: what the trial
// states, which counts as ten readings, together with the spread of the steps
// that were read more than once.
func (t *Trial) Repeatability() Density { return t.RepeatabilityBy("") }

// ReadingSD returns the standard deviation of one reading, rounding included.
func (t *Trial) ReadingSD() Density { return t.ReadingSDBy("") }

// spread is what the readings by a calibration, "" for the trial's Reading, repeat to: a sum
// of squares and its degrees of freedom.
type spread struct {
	calibration string
	sum, dof    float64
}

// pooled joins the stated repeatability with the spread of repeated readings, for
// each way in which strips were read.
// Readings too far apart to be of the same step are left out: one of them is a
// slip.
func (t *Trial) pooled() (all []spread) {
	for _, s := range t.strips {
		if s == nil || s.copyOf > 0 {
			continue
		}
		stated := t.statedSD(s.calibration)
		at := slices.IndexFunc(all, func(p spread) bool { return p.calibration == s.calibration })
		if at < 0 {
			at, all = len(all), append(all, spread{s.calibration, PriorReadings * float64(stated*stated), PriorReadings})
		}
		p := &all[at]
		for _, step := range s.steps {
			if len(step.Repeats) == 0 || s.apart(step.Repeats, stated) {
				continue
			}
			for _, d := range step.Repeats {
				p.sum += float64((d - step.Density) * (d - step.Density))
			}
			p.dof += float64(len(step.Repeats) - 1)
		}
	}
	return all
}

// repeatLimit is how many standard deviations of a difference two readings of
// one step may differ by. One pair in 4,000 does.
const repeatLimit = 3.7

// apart says whether the readings of a step differ by more than the
// repeatability and their rounding explain.
func (s *Strip) apart(readings []Density, repeatability Density) bool {
	lo, hi := readings[0], readings[0]
	for _, d := range readings {
		lo, hi = min(lo, d), max(hi, d)
	}
	one := float64(repeatability*repeatability) + s.RoundingVariance()
	return float64(hi-lo) > repeatLimit*math.Sqrt(2*one)
}

// RepeatWarnings names the steps whose readings are too far apart.
func RepeatWarnings(s *Strip) Warnings {
	var out Warnings
	for _, step := range s.steps {
		if len(step.Repeats) == 0 || !s.apart(step.Repeats, s.Repeatability()) {
			continue
		}
		read := make([]string, len(step.Repeats))
		for i, d := range step.Repeats {
			read[i] = s.trial.reading.Words(d)
		}
		w := Warn("repeats_differ", step.Number, strings.Join(read, " and "), float64(s.Repeatability()))
		w.Step = step.Number
		out = append(out, w)
	}
	return out
}

// AverageDensity returns the mean of the readings of one step.
func AverageDensity(readings []Density) Density {
	var sum Density
	for _, d := range readings {
		sum += d
	}
	return sum / Density(len(readings))
}

// RepeatSpread returns the standard deviation of one reading by the steps that
// were read more than once, and how many there are; 0 and 0 where there are none.
// Readings too far apart to be of the same step do not count.
func (s *Strip) RepeatSpread() (sd Density, steps int) {
	var sum float64
	dof := 0
	for _, step := range s.steps {
		if len(step.Repeats) == 0 || s.apart(step.Repeats, s.trial.statedSD(s.calibration)) {
			continue
		}
		for _, d := range step.Repeats {
			sum += float64((d - step.Density) * (d - step.Density))
		}
		dof += len(step.Repeats) - 1
		steps++
	}
	if dof == 0 {
		return 0, 0
	}
	return Density(math.Sqrt(sum / float64(dof))), steps
}

// PriorReadings is how many readings the stated repeatability is worth: it is
// trusted to about a third, and outweighed by a long strip that says otherwise.
const PriorReadings = 10
