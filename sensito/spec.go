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

// Spec returns what NewTrial makes an equal trial from: what the trial stands
// for is left out of its strips, and readings that are a mean appear as Repeats.
// Nothing of it is shared with the trial.
func (t *Trial) Spec() TrialSpec {
	spec := TrialSpec{Title: t.title, Material: t.material, Film: t.film, Process: t.process,
		Exposures: t.exposures, Reading: t.Reading(), Repeating: t.repeating, Reciprocity: t.Reciprocity(),
		Q10: t.q10, Q10SD: t.q10SD, Done: t.Done(), Calibrations: t.Calibrations()}
	for _, s := range t.strips {
		spec.Strips = append(spec.Strips, s.Spec())
	}
	return spec
}

// Spec returns what stands for the strip in the Spec of its trial.
func (s *Strip) Spec() StripSpec {
	t := s.trial
	spec := StripSpec{Minutes: s.minutes, Grade: s.grade, BaseFog: s.BaseFog(), Note: s.note,
		NextStep: s.next, Date: s.date, Picture: s.picture, Calibration: s.calibration, Process: s.process.Unlike(t.process)}
	for _, step := range s.steps {
		spec.Density = append(spec.Density, step.Density)
		if step.Ignored {
			spec.Ignore = append(spec.Ignore, step.Number)
		}
		if len(step.Repeats) > 0 {
			if spec.Repeats == nil {
				spec.Repeats = map[int][]Density{}
			}
			spec.Repeats[step.Number] = append([]Density(nil), step.Repeats...)
		}
	}
	if s.asRead != nil {
		as := t.reading.kept(*s.asRead) // a copy
		spec.BaseFog, spec.Density, spec.Repeats = as.BaseFog, as.Density, as.Repeats
	}
	if s.seconds != t.exposures.seconds {
		spec.Seconds = s.seconds
	}
	if s.lx != t.exposures.illuminanceLx {
		spec.IlluminanceLx = s.lx
	}
	return spec
}

// InDensity returns the trial with densities for what was read in another unit, and what
// is known of their errors; the trial itself where they are densities already. The error
// of each step of a tablet is left out, since densities do not have it.
func (t *Trial) InDensity() *Trial {
	if t.reading.Unit == UnitDensity {
		return t
	}
	const places = 1e4 // of a density, beyond what any reading shows
	told := func(ds []Density) {
		for i, d := range ds {
			ds[i] = Density(math.Round(float64(d)*places) / places)
		}
	}
	spec, r := t.Spec(), t.reading
	within := func(sd, least float64) float64 { return min(max(sd, least), float64(maxRepeatability)) }
	in := Reading{Repeatability: Density(within(float64(r.StatedSD()), leastRepeatability)), ReadsTo: within(r.Width(), leastReadsTo),
		Zero: r.Zero, Channel: r.Channel}
	in.ScaleSD, in.OffsetSD = r.AlikeSD()
	in.OffsetSD = min(in.OffsetSD, maxAlikeSD)
	spec.Reading = in
	if frame := spec.Exposures.Frame(); frame != nil {
		for i, v := range frame.Density {
			frame.Density[i] = r.Density(v)
		}
		told(frame.Density)
		spec.Exposures.frame = frame
	}
	for i, s := range spec.Strips {
		s = r.InDensity(s)
		told(s.BaseFog)
		told(s.Density)
		for _, again := range s.Repeats {
			told(again)
		}
		spec.Strips[i] = s
	}
	out, err := NewTrial(spec)
	if err != nil {
		panic("sensito: " + err.Error()) // densities of readings that were checked
	}
	return out
}

// InDensity returns a strip whose readings are densities in place of what was read.
func (r Reading) InDensity(s StripSpec) StripSpec {
	if r.Unit == UnitDensity {
		return s
	}
	told := func(vs []Density) []Density {
		var out []Density
		for _, v := range vs {
			out = append(out, r.Density(v))
		}
		return out
	}
	s.BaseFog, s.Density = told(s.BaseFog), told(s.Density)
	repeats := s.Repeats
	s.Repeats = nil
	for step, vs := range repeats {
		if s.Repeats == nil {
			s.Repeats = map[int][]Density{}
		}
		s.Repeats[step] = told(vs)
	}
	return s
}

// kept returns what was read of a strip where that is no density, nil otherwise.
func (r Reading) kept(s StripSpec) *StripSpec {
	if r.Unit == UnitDensity {
		return nil
	}
	out := StripSpec{BaseFog: slices.Clone(s.BaseFog), Density: slices.Clone(s.Density)}
	for step, vs := range s.Repeats {
		if len(vs) == 0 || step < 1 || step > len(out.Density) { // told as a fault
			continue
		}
		out.Density[step-1] = AverageDensity(vs)
		if len(vs) > 1 {
			if out.Repeats == nil {
				out.Repeats = map[int][]Density{}
			}
			out.Repeats[step] = slices.Clone(vs)
		}
	}
	return &out
}

// Calibration is how densities were told from pictures of strips: by a tablet of known
// densities, whose errors are those of all strips that were read by it.
type Calibration struct {
	Name          string
	Repeatability Density // standard deviation of one reading beside what all have in common

	// Covariance is that of offset, scale and bend o, s and c: a density D is off by
	// o + s D + c D² on every strip.
	Covariance [3][3]float64
}

// What a calibration may hold (TestCalibrations). More of them in one trial than strips of
// a long session are a mistake, and each makes the fit of all strips longer.
const (
	maxCalibrations    = 20
	maxCalibrationName = 80  // characters
	maxPicture         = 300 // characters of a file and what it is known by

	maxVariance = 0.04 // the square of maxAlikeSD
)

// Beyond which a covariance is not taken for one that was rounded: of its largest
// entries, by how much two that mirror each other may differ and how far below zero a
// variance may lie (common practice, no source; TestCalibrations).
const roundedCovariance = 1e-3

// pictureReadsTo is the density that one from a picture is rounded to
// (TestRepeatabilityByCalibration).
const pictureReadsTo = 0.001

// check notes what is wrong with the calibration at a key.
func (c Calibration) check(f *check.Faults, key string) {
	f.Line(key+".name", c.Name, maxCalibrationName)
	switch {
	case strings.TrimSpace(c.Name) == "":
		f.Add(key+".name", "is missing")
	case strings.TrimSpace(c.Name) != c.Name:
		f.Add(key+".name", "%q has blanks at its ends", c.Name)
	}
	f.Within(key+".repeatability", float64(c.Repeatability), leastRepeatability, float64(maxRepeatability), "")
	key += ".covariance"
	largest := 0.0
	for i, row := range c.Covariance {
		for j, v := range row {
			if !(math.Abs(v) <= maxVariance) {
				f.Add(fmt.Sprintf("%s[%d][%d]", key, i+1, j+1), "%g is outside %g to %g, the square of %g", v, -maxVariance, maxVariance, maxAlikeSD)
				return
			}
			largest = math.Max(largest, math.Abs(v))
		}
	}
	for i := range c.Covariance {
		for j := range i {
			if a, b := c.Covariance[i][j], c.Covariance[j][i]; math.Abs(a-b) > roundedCovariance*largest {
				f.Add(fmt.Sprintf("%s[%d][%d]", key, i+1, j+1), "%g is not %g, which stands at [%d][%d]; a covariance is symmetric", a, b, j+1, i+1)
				return
			}
		}
	}
	if _, least := c.directions(); least < -roundedCovariance*largest {
		f.Add(key, "is none: with these entries the error of some density would have a variance below 0")
	}
}

// Directions returns independent directions of the error, one standard deviation each,
// as offset, scale and bend; fewer than three where these depend on each other, none
// where the calibration is exact.
func (c Calibration) Directions() [][3]float64 {
	out, _ := c.directions()
	return out
}

// directions is Directions, by Cholesky's factors with the largest of the variances left
// first, and the least variance that there is beyond those: about 0 where the covariance
// is one.
func (c Calibration) directions() (out [][3]float64, least float64) {
	const negligible = 1e-8 // of the largest variance
	left, enough := c.Covariance, 0.0
	for i := range left {
		for j := range i {
			mean := (left[i][j] + left[j][i]) / 2
			left[i][j], left[j][i] = mean, mean
		}
		enough = math.Max(enough, negligible*left[i][i])
	}
	for {
		k := 0
		for i := range left {
			if left[i][i] > left[k][k] {
				k = i
			}
		}
		if left[k][k] <= enough {
			break
		}
		root := math.Sqrt(left[k][k])
		var d [3]float64
		for i := range d {
			d[i] = left[i][k] / root
		}
		for i := range d {
			for j := range d {
				left[i][j] -= d[i] * d[j]
			}
		}
		for i := range d { // what is left of it is rounding
			left[i][k], left[k][i] = 0, 0
		}
		out = append(out, d)
	}
	for i := range left { // of two without a variance each as much below 0 as they go together
		least = math.Min(least, left[i][i])
		for j := range i {
			least = math.Min(least, -math.Abs(left[i][j]))
		}
	}
	return out, least
}

// checkCalibrations notes what is wrong with the calibrations of a trial.
func (s TrialSpec) checkCalibrations(f *check.Faults) {
	if len(s.Calibrations) > maxCalibrations {
		f.Add("calibration", "there are %d; a trial has at most %d", len(s.Calibrations), maxCalibrations)
	}
	for i, c := range s.Calibrations {
		key := fmt.Sprintf("calibration[%d]", i+1)
		c.check(f, key)
		if k := slices.IndexFunc(s.Calibrations[:i], func(o Calibration) bool { return o.Name == c.Name }); k >= 0 && c.Name != "" {
			f.Add(key+".name", "%q is the name of calibration %d too", c.Name, k+1)
		}
	}
	const calibration = "calibration[1]"
	switch {
	case len(s.Calibrations) == 0:
	case s.Reading.Unit != UnitDensity:
		f.Add(calibration, "goes with unit = \"density\", but the unit is %s", s.Reading.Unit)
	case s.Reading.Zero == ZeroBase:
		f.Add(calibration, "goes with zero = %q: a picture shows the base with the rest", ZeroAir)
	}
}

// checkPicture notes what is wrong with what a strip says of its picture.
func (s StripSpec) checkPicture(f *check.Faults, at check.Place, known []Calibration) {
	at.Line(f, "picture", s.Picture, maxPicture)
	switch {
	case s.Calibration == "" && s.Picture != "":
		at.Add(f, "picture", "goes with calibration, the name of the one that it was read by")
	case s.Calibration == "":
	case !slices.ContainsFunc(known, func(c Calibration) bool { return c.Name == s.Calibration }):
		reason := "is the name of no [[calibration]]"
		if printable.CheckLine(s.Calibration, maxCalibrationName) == nil {
			reason = fmt.Sprintf("%q %s", s.Calibration, reason)
		}
		at.Add(f, "calibration", "%s", reason)
	}
}

// Calibrations returns those that strips of the trial were read by.
func (t *Trial) Calibrations() []Calibration { return slices.Clone(t.calibrations) }

// Picture returns the file in which the strip was read, and what it is known by; "" for
// a strip that was not read in a picture.
func (s *Strip) Picture() string { return s.picture }

// Calibration returns the one that the strip was read by, nil for one that was read as
// the Reading of the trial says.
func (s *Strip) Calibration() *Calibration { return s.trial.calibrationOf(s.calibration) }

// Pictured returns the numbers of the strips that were read in pictures, nil for none.
func (t *Trial) Pictured() (numbers []int) {
	for _, s := range t.strips {
		if s.calibration != "" {
			numbers = append(numbers, s.number)
		}
	}
	return numbers
}

// stripsOf returns strips by their numbers: "strip 2", "strips 2, 4".
func stripsOf(numbers []int) string {
	text := "strip"
	if len(numbers) > 1 {
		text = "strips"
	}
	for i, n := range numbers {
		text += []string{" ", ", "}[min(i, 1)] + strconv.Itoa(n)
	}
	return text
}

// HowRead says in words how the strips of a trial were read, "" for a densitometer alone.
func (t *Trial) HowRead() string {
	pictured := t.Pictured()
	switch {
	case pictured == nil:
		return t.reading.How()
	case len(pictured) < len(t.strips):
		text := stripsOf(pictured) + " read in pictures"
		if how := t.reading.How(); how != "" {
			text += ", all " + how
		}
		return text
	case t.reading.Channel != "":
		return "read in pictures, channel " + t.reading.Channel
	}
	return "read in pictures"
}

// NotISO returns the warning that densities of the trial are not those of ISO 5, nor its speeds
// those of ISO 6, since strips were read in pictures: what the device sees is not diffuse density, and the tablet makes
// it so only for film that scatters light as the tablet does. It is empty where none was.
func (t *Trial) NotISO() Warnings {
	switch pictured := t.Pictured(); {
	case pictured == nil:
		return nil
	case len(pictured) < len(t.strips):
		return Warnings{Warn("not_iso/2", stripsOf(pictured))}
	}
	return Warnings{Warn("not_iso")}
}

func (t *Trial) calibrationOf(name string) *Calibration {
	for _, c := range t.calibrations {
		if c.Name == name {
			return &c
		}
	}
	return nil
}

// rounding returns the variance that rounding gives a reading by a calibration, "" for
// one as the Reading of the trial says.
func (t *Trial) rounding(calibration string) float64 {
	if calibration == "" {
		return t.reading.RoundingVariance()
	}
	return pictureReadsTo * pictureReadsTo / 12
}

// RoundingVariance returns the variance that rounding gives a reading of the strip.
func (s *Strip) RoundingVariance() float64 { return s.trial.rounding(s.calibration) }

// statedSD returns what one reading by a calibration is stated to repeat to, as rounding.
func (t *Trial) statedSD(calibration string) Density {
	if c := t.calibrationOf(calibration); c != nil {
		return c.Repeatability
	}
	return t.reading.StatedSD()
}

// RepeatabilityBy is Repeatability of readings by the calibration of a name, "" for those
// of the trial's Reading.
func (t *Trial) RepeatabilityBy(calibration string) Density {
	for _, p := range t.spreads {
		if p.calibration == calibration {
			return Density(math.Sqrt(p.sum / p.dof))
		}
	}
	return t.statedSD(calibration)
}

// ReadingSDBy is RepeatabilityBy, rounding included.
func (t *Trial) ReadingSDBy(calibration string) Density {
	sd := t.RepeatabilityBy(calibration)
	return Density(math.Sqrt(float64(sd*sd) + t.rounding(calibration)))
}

// Repeatability returns the standard deviation of one reading of the strip, as that of
// its trial.
func (s *Strip) Repeatability() Density { return s.trial.RepeatabilityBy(s.calibration) }

// ReadingSD returns the standard deviation of one reading of the strip, rounding included.
func (s *Strip) ReadingSD() Density { return s.trial.ReadingSDBy(s.calibration) }
