package picture

import (
	"fmt"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/internal/check"
	"sensito/sensito/picture/internal/encoded"
)

// ErrNoTablet says that there is nothing to tell densities by.
var ErrNoTablet error = &sensito.Unanswerable{
	Reason: "a picture has no densities without a tablet in it: glare alone makes density 2 read 1.85",
	Hint:   "put one beside the strip",
}

// refuse returns why a picture gives no densities, and what to do, "" where the reason says so.
func refuse(hint, reason string, values ...any) error {
	return &sensito.Unanswerable{Reason: fmt.Sprintf(reason, values...), Hint: hint}
}

// A Calibration turns light into density. It is made by Calibrate or NewCalibration and not
// changed afterwards.
type Calibration struct {
	Name    string
	Tablet  Tablet
	Picture Taken
	Fit     Fitted

	tone *tone // of the values of the tablet, whatever the method
}

// Taken is how the picture of a tablet was made, as it is told to people.
type Taken struct {
	SHA256        string
	PixelsPerInch float64
	Bits          int
	Channels      int
	Device        string
	Software      string
	Profile       string
	Made          string // date
	Channel       string // that was read
	Surround      string // "mask", "open" or ""
	Empty         string // sum of the picture of the empty table by which it was made even; "" for none
}

// Encodings that may be told of a picture; a number above 0, the exponent of light, is one too.
const (
	AnyEncoding    = encoded.Any // any rising curve, which "" is too: that of the tablet
	LinearEncoding = encoded.Linear
	SRGBEncoding   = encoded.SRGB
)

// Methods of a calibration.
const (
	SmoothMethod = "smooth" // any rising curve
	GlareMethod  = "glare"  // a told encoding and glare
)

// Fitted is what a tablet came to.
type Fitted struct {
	Method   string
	Encoding string // that was told: AnyEncoding, LinearEncoding, SRGBEncoding or an exponent

	// Of each step of the tablet: the encoded value of its light, from 0 to 1, NaN where the
	// step is of no use, its standard deviation, and the part of the patch that was set aside.
	Value, ValueSD, Rejected []float64

	Exponent, ExponentSD float64 // of light by value that suits the tablet; NaN where the curve is any

	Opaque float64 // light of black tape as a part of clear; NaN where there was none
	Open   float64 // encoded value of a clear place; NaN where there was none
	Empty  float64 // encoded value of the empty table where the tablet lies; 0 where no picture of it was given

	ReadsTo float64 // the greatest density that is read
	StepSD  float64 // rms error of a step by itself that the tablet leaves

	// Covariance is that of the coefficients of 1, D and D² in the error of a density D which
	// all strips read by this calibration share.
	Covariance [3][3]float64

	Glare [4]float64 // GlareMethod: light of density 0, near and far glare, light in the dark

	// Of each step of the tablet: the light that would go astray to it if all of the picture's
	// did, by the near and the far tail of glare, as a part of clear; NaN where that is not known.
	Near, Far []float64
	Share     Shares // of the light that does

	Anchored [2]float64 // what is added to densities: coefficients of 1 and D
}

// Calibrating is a tablet in a picture: what a calibration is made of.
type Calibrating struct {
	Name    string
	Tablet  Tablet
	Patches []Patch // of the first steps of the tablet, all of them or fewer
	Image   *Image
	Plane   int
	Lattice *Lattice
	Told    Taken

	Encoding string // AnyEncoding, which "" is too, LinearEncoding, SRGBEncoding or an exponent

	Opaque, Clear *Patch // black tape and a clear place in the same picture, nil for none
}

// Calibrate returns the calibration by the tablet. The error is ErrNoTablet, joins faults of
// the tablet, or is sensito.Unanswerable: fewer than FewestSteps steps are of use, steps of it read alike,
// its first is clipped.
func Calibrate(q Calibrating) (*Calibration, sensito.Warnings, error) {
	if len(q.Tablet.Density) == 0 {
		return nil, nil, ErrNoTablet
	}
	tablet, err := NewTablet(q.Tablet)
	if err != nil {
		return nil, nil, err
	}
	decode, err := encoded.By(q.Encoding)
	if err != nil {
		return nil, nil, err
	}
	c := &Calibration{Name: q.Name, Tablet: tablet, Picture: q.Told}
	steps, warnings, err := q.values(tablet)
	if err != nil {
		return nil, nil, err
	}
	c.Fit = Fitted{Method: SmoothMethod, Share: assumedShares(), Encoding: AnyEncoding, Exponent: math.NaN(), ExponentSD: math.NaN(), Opaque: math.NaN(), Open: math.NaN(),
		Value: steps.value, ValueSD: steps.sd, Rejected: steps.rejected}
	if err := c.prepare(); err != nil {
		return nil, nil, err
	}
	rounds := 1
	if q.Image.Empty != nil { // by which the curve changes that it is decoded by
		c.Picture.Empty, rounds = q.Image.Empty.SHA256, 2
		c.Fit.Empty = q.emptyValue(steps.value)
	}
	c.Fit.Value = slices.Clone(steps.value)
	for range rounds {
		for i, p := range q.Patches { // values in linear and even light, by the curve of the values as they are
			if math.IsNaN(steps.value[i]) {
				continue
			}
			if err := c.isTable(p, fmt.Sprintf("step %d of the tablet", i+1)); err != nil {
				return nil, nil, err
			}
			c.Fit.Value[i] = c.even(p, c.tone.meanInLight(steps.value[i], p.SD()))
		}
		if err := c.prepare(); err != nil {
			return nil, nil, err
		}
	}
	warnings = append(warnings, c.toneWarnings(q)...)
	cov, how := c.tone.cov, tabletSD{tablet.scaleSD(), c.tone.slopes()}
	if decode != nil {
		g, why := q.underGlare(c, decode)
		if g != nil {
			c.Fit.Share = g.share
			c.Fit.Method, c.Fit.Encoding, c.Fit.Glare = GlareMethod, q.Encoding, [4]float64{g.a, g.near, g.far, g.dark}
			cov, how.scale = g.cov, math.Hypot(how.scale, g.exponentSD)
			c.Fit.Exponent, c.Fit.ExponentSD = g.exponent, g.exponentSD
		} else {
			warnings = append(warnings, *why)
		}
	}
	if decode == nil && q.Lattice != nil {
		c.Fit.Share = q.shares(c)
	}
	if err := c.places(q); err != nil {
		return nil, nil, err
	}
	if err := c.spread(cov, how); err != nil {
		return nil, nil, err
	}
	if q.Opaque != nil {
		c.Fit.Opaque = c.tone.light(q.Opaque.Mean(nil))
	}
	if q.Clear != nil {
		if err := c.isTable(*q.Clear, "the clear place"); err != nil {
			return nil, nil, err
		}
		c.Fit.Open = c.even(*q.Clear, q.Clear.Mean(nil))
	}
	return c, warnings, nil
}

// NewCalibration returns the calibration of a file. The error joins all faults, each a
// sensito.FieldError by its key.
func NewCalibration(spec Calibration) (*Calibration, error) {
	var f check.Faults
	c := &Calibration{Name: spec.Name, Picture: spec.Picture, Fit: spec.Fit}
	f.Line("name", c.Name, 100)
	tablet, err := NewTablet(spec.Tablet)
	f.Join(err)
	c.Tablet = tablet
	if _, err := encoded.By(c.Fit.Encoding); err != nil {
		f.Add("fit.encoding", "%v", err)
	}
	if c.Fit.Method != SmoothMethod && c.Fit.Method != GlareMethod {
		f.Add("fit.method", "%q is not %s or %s", c.Fit.Method, SmoothMethod, GlareMethod)
	}
	if c.Fit.Method == GlareMethod && !(c.Fit.Glare[0] > 0) {
		f.Add("fit.glare", "is missing, or its first number is not above 0")
	}
	n := len(tablet.Density)
	for key, list := range map[string][]float64{"fit.value": c.Fit.Value, "fit.value_sd": c.Fit.ValueSD, "fit.rejected": c.Fit.Rejected, "fit.near": c.Fit.Near, "fit.far": c.Fit.Far} {
		most := 1.
		if key == "fit.near" || key == "fit.far" {
			most = mostAstray
		}
		if len(list) != n {
			f.Add(key, "has %d numbers for a tablet of %d steps", len(list), n)
		}
		for i, v := range list {
			if !math.IsNaN(v) {
				f.WithinAt(key, i, v, 0, most, "")
			}
		}
	}
	if (c.Fit.Empty != 0) != (c.Picture.Empty != "") || math.IsNaN(c.Fit.Empty) {
		f.Add("fit.empty", "goes with picture.empty_sha256: both tell of the empty table, or neither")
	} else {
		f.Within("fit.empty", c.Fit.Empty, 0, 1, "")
	}
	f.Within("fit.reads_to", c.Fit.ReadsTo, 0, steepestTablet, "")
	f.Within("fit.step_sd", c.Fit.StepSD, 0, 1, "")
	if !isCovariance(c.Fit.Covariance) {
		f.Add("fit.covariance", "is not a covariance: three rows of three numbers, alike across its diagonal, with no variance below 0")
	}
	if m := c.Fit.Share.Cov; !(m[0][0] >= 0 && m[1][1] >= 0 && math.Abs(m[0][1]-m[1][0]) <= 1e-9*math.Sqrt(m[0][0]*m[1][1]) && m[0][1]*m[1][0] <= m[0][0]*m[1][1]*(1+1e-9)) {
		f.Add("fit.share_covariance", "is not a covariance: two rows of two numbers, alike across its diagonal, with no variance below 0")
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	if err := c.prepare(); err != nil {
		f.Add("fit.value", "%v", err)
		return nil, f.Err()
	}
	return c, nil
}

// emptyValue returns the mean of the empty picture where those steps of the tablet lie that are of use.
func (q *Calibrating) emptyValue(value []float64) float64 {
	var all []float64
	for i, p := range q.Patches {
		if !math.IsNaN(value[i]) {
			all = append(all, p.Empty)
		}
	}
	return mean(all)
}

// prepare makes the curve of the values of the steps.
func (c *Calibration) prepare() error {
	var steps []toneStep
	for i, v := range c.Fit.Value {
		if !math.IsNaN(v) && !(v > 0) {
			return refuse("", "step %d of the tablet reads nothing", i+1)
		}
		if !math.IsNaN(v) {
			steps = append(steps, toneStep{c.Tablet.Density[i], v, c.Tablet.DensitySD, c.Fit.ValueSD[i]})
		}
	}
	if len(steps) < FewestSteps {
		return refuse("", "%d steps of the tablet are of use; a calibration needs %d", len(steps), FewestSteps)
	}
	t, err := newTone(steps)
	if err != nil {
		return refuse("are the densities those of this tablet, from its first step on?", "no falling curve goes through the steps of the tablet")
	}
	c.tone = t
	return nil
}

// stepValues are what the steps of a tablet came to, NaN where one is of no use.
type stepValues struct{ value, sd, rejected []float64 }

// values reads the patches of the tablet.
func (q *Calibrating) values(t Tablet) (v stepValues, warnings sensito.Warnings, err error) {
	n := len(t.Density)
	if len(q.Patches) > n {
		return v, nil, refuse("", "%d steps were found, and the tablet has %d densities", len(q.Patches), n)
	}
	for i := range n {
		v.value, v.sd, v.rejected = append(v.value, math.NaN()), append(v.sd, math.NaN()), append(v.rejected, math.NaN())
		if i >= len(q.Patches) {
			continue
		}
		p := q.Patches[i]
		m := p.Mean(nil)
		switch {
		case i == 0 && p.High > mostClipped:
			return v, nil, refuse("expose less", "step 1 is at the top of the range")
		case p.High > mostClipped, p.Low > mostClipped, !(m > 0):
			where := "bottom"
			if p.High > mostClipped {
				where = "top"
			}
			warnings = append(warnings, warnStep(i+1, sensito.Warn("tablet_step_clipped", i+1, where)))
			continue
		}
		v.value[i], v.sd[i], v.rejected[i] = m, p.MeanSD(nil, q.Image.Bits), float64(p.SetAside)/float64(max(p.Pixels, 1))
		if p.Empty > 0 {
			v.sd[i] = math.Hypot(v.sd[i], m*p.EmptySD/p.Empty)
		}
	}
	ends, err := t.falling(v)
	return v, append(warnings, ends...), err
}

func warnStep(step int, w sensito.Warning) sensito.Warning {
	w.Step = step
	return w
}

// alikeBy is how many standard deviations of the difference two steps of a tablet that do not
// read alike are apart at least; the density between closer ones is known to half their distance at
// best, far worse than MostSD. TestTabletReadsAlike holds it.
const alikeBy = 2

// lighterBy is by what part of its value a step reads lighter than the one before where that is
// an error; what is open beside the tablet's last step may brighten it by less, since glare is
// strongest nearby. TestTabletReadsAlike holds it.
const lighterBy = 0.10

// falling leaves out the steps of a tablet from where two read alike, which is where the device or
// glare ends, and refuses a tablet whose light rises anywhere.
func (t Tablet) falling(v stepValues) (w sensito.Warnings, err error) {
	density, value, place := t.kept(v.value)
	end := len(value)
	for i := 1; i < len(value); i++ {
		before, here := place[i-1], place[i]
		apart := alikeBy * math.Hypot(v.sd[before], v.sd[here])
		switch fall := value[i-1] - value[i]; {
		case fall > apart:
			continue
		case value[len(value)-1] > value[0]:
			return nil, refuse("mark the ends the other way round", "the first step of the tablet should be its lightest, and is not")
		case fall < -max(apart, lighterBy*value[i-1]):
			return nil, refuse("see that the ends are those of the tablet, and that nothing lies on it", "step %d of the tablet reads lighter than step %d (%.5f, %.5f)", here+1, before+1, value[i], value[i-1])
		case i < end:
			end = i
			w = append(w, sensito.Warn("tablet_ends", before+1, here+1, value[i], density[i-1]))
		}
	}
	if end < FewestSteps && end < len(value) {
		return nil, refuse("expose more, and see what lights the lid and the surround", "steps %d and %d of the tablet read alike (%.5f): the device ends at %.1f, and a calibration needs %d steps", place[end-1]+1, place[end]+1, value[end], density[end-1], FewestSteps)
	}
	for _, i := range place[end:] {
		v.value[i] = math.NaN()
	}
	return w, nil
}

// toneWarnings tells what is odd about the curve, and about patches.
func (c *Calibration) toneWarnings(q Calibrating) (w sensito.Warnings) {
	if c.tone.corrected() {
		w = append(w, sensito.Warn("tones_corrected"))
	}
	if q.Image.About.Format == "JPEG" {
		w = append(w, sensito.Warn("jpeg_tones"))
	}
	if c.Tablet.scatters() {
		w = append(w, sensito.Warn("tablet_not_silver", c.Tablet.MadeOf, 100*callierSD))
	}
	return append(w, c.patchWarnings(q.Image, q.Patches)...)
}

// underGlare fits the model of glare by a told encoding, or says why it is not taken.
func (q *Calibrating) underGlare(c *Calibration, decode func(float64) float64) (*glareFit, *sensito.Warning) {
	decode = encoded.Tabled(decode)
	scene := newSurround(q.Image, q.Plane, decode, q.Lattice.Pitch())
	var steps []glareStep
	for i, p := range q.Patches {
		if math.IsNaN(c.Fit.Value[i]) {
			continue
		}
		near, far := scene.astray(p)
		light, fall := p.Mean(decode), c.fallOff(p, decode)
		sd := math.Hypot(p.MeanSD(decode, q.Image.Bits), math.Ln10*light*c.emptySD(p))
		steps = append(steps, glareStep{c.Tablet.Density[i], light / fall, near, far, c.Tablet.DensitySD, sd / fall})
	}
	g, err := fitGlare(steps)
	var w sensito.Warning
	switch {
	case err != nil:
		w = sensito.Warn("encoding_not_kept/3", q.Encoding)
	case !g.agrees(c.Tablet.ScaleSD):
		w = sensito.Warn("encoding_not_kept", q.Encoding, g.exponent, g.exponentSD)
	case !g.fits(c.Tablet.Known, len(steps)):
		w = sensito.Warn("encoding_not_kept/2", q.Encoding, g.chi2/float64(g.dof), g.alike)
	case g.exponentSD > mostExponentSD:
		w = sensito.Warn("encoding_not_kept/4", q.Encoding, g.exponentSD)
	default:
		g.share = g.shares(steps)
		return g, nil
	}
	return nil, &w
}

func isCovariance(m [3][3]float64) bool {
	for i := range 3 {
		for j := range 3 {
			v := m[i][j]
			if math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v-m[j][i]) > 1e-9*math.Sqrt(m[i][i]*m[j][j]) || i == j && v < 0 {
				return false
			}
			if i != j && v*v > m[i][i]*m[j][j]*(1+1e-9) {
				return false
			}
		}
	}
	return slices.ContainsFunc(m[:], func(row [3]float64) bool { return row != [3]float64{} })
}
