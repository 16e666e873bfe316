package picture

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/picture/internal/encoded"
)

// A Density is what was read of one step. Value and SD are NaN where it was not, and Why says
// so in words. SD is the error that a step has by itself; what all strips share is
// Calibration.Covariance.
type Density struct {
	Step      int // as that of its Patch
	Value, SD float64
	Why       string
}

// A Frame is the picture that is read.
type Frame struct {
	Same          bool   // strip and tablet are both in it
	Opaque, Clear *Patch // black tape and a clear place in it, nil for none
}

// How much black tape and a clear place may differ between the pictures of tablet and strip, as
// parts of clear. Of 10e-4 density 2 moves by 0.04. TestGlareCheck and TestExposureCheck hold them.
const (
	mostGlareApart, oddGlareApart = 10e-4, 5e-4
	mostOpenApart, oddOpenApart   = 0.04, 0.015
)

// sameEmpty refuses a picture that is made even otherwise than that of the tablet.
func (c *Calibration) sameEmpty(im *Image) error {
	switch {
	case im.Empty == nil && c.Picture.Empty == "":
		return nil
	case im.Empty == nil:
		return refuse("read it with the same empty picture", "the calibration was made with a picture of the empty table, and without it this one would be read by another light")
	case c.Picture.Empty == "":
		return refuse("make the calibration with it too", "the calibration was made without a picture of the empty table, so that the light of its tablet is not even")
	case c.Picture.Empty != im.Empty.SHA256:
		return refuse("give the same, or make the calibration anew", "the calibration was made with another picture of the empty table")
	}
	return nil
}

// compared refuses a picture that was made otherwise than that of the tablet.
func (c *Calibration) compared(im *Image, frame Frame) (w sensito.Warnings, err error) {
	if err := c.sameEmpty(im); err != nil || frame.Same {
		return nil, err
	}
	if im.About.Format == "JPEG" {
		return nil, refuse("save 16 bits as TIFF or PNG, or picture the tablet beside the strip", "a JPEG is processed, and its tones follow the scene")
	}
	switch {
	case frame.Opaque == nil || math.IsNaN(c.Fit.Opaque):
		w = append(w, sensito.Warn("glare_not_checked"))
	default:
		here := c.tone.light(frame.Opaque.Mean(nil))
		const hint = "surround, lid or mask differ; picture both alike"
		switch apart := math.Abs(here - c.Fit.Opaque); {
		case apart > mostGlareApart:
			return nil, refuse(hint, "the black tape reads %.4f of clear here and %.4f in the calibration", here, c.Fit.Opaque)
		case apart > oddGlareApart:
			w = append(w, sensito.Warn("glare_differs", here, c.Fit.Opaque))
		}
	}
	if frame.Clear != nil && !math.IsNaN(c.Fit.Open) {
		if err := c.isTable(*frame.Clear, "the clear place"); err != nil {
			return nil, err
		}
		here := c.tone.light(c.even(*frame.Clear, frame.Clear.Mean(nil))) / c.tone.light(c.Fit.Open)
		switch apart := math.Abs(here - 1); {
		case !(apart <= mostOpenApart):
			return nil, refuse("automatic exposure is on", "the exposure differs by %.0f %% from the calibration", 100*apart)
		case apart > oddOpenApart:
			w = append(w, sensito.Warn("exposure_differs", 100*apart))
		}
	}
	return w, nil
}

// Read returns the densities of patches of a picture, in their order; l is the row that they
// are of; without it glare counts as alike everywhere. The error is ErrNoTablet for a nil calibration, sensito.Unanswerable where the picture was made
// otherwise than that of the tablet, or where no step can be read.
func (c *Calibration) Read(im *Image, plane int, l *Lattice, patches []Patch, frame Frame) ([]Density, sensito.Warnings, error) {
	if c == nil {
		return nil, nil, ErrNoTablet
	}
	warnings, err := c.compared(im, frame)
	if err != nil {
		return nil, nil, err
	}
	under, err := c.lightOf(im, plane, l)
	if err != nil {
		return nil, nil, err
	}
	var out []Density
	read := 0
	for _, p := range patches {
		what := fmt.Sprintf("step %d", p.Step)
		if p.Step == 0 {
			what = "base plus fog"
		}
		if err := c.isTable(p, what); err != nil {
			return nil, nil, err
		}
		d := c.readStep(p, im.Bits, under)
		if d.Why == "" {
			read++
		}
		out = append(out, d)
	}
	if read == 0 && len(out) > 0 {
		return nil, nil, refuse("", "%s", out[0].Why)
	}
	warnings = append(warnings, c.patchWarnings(im, patches)...)
	return out, append(warnings, unread(out)...), nil
}

// A seen patch is its density, the standard deviation as the curve alone has it, and by how
// much glare may move it besides; lit says that more of it is there than at the tablet's steps.
type seen struct {
	d, sd, glare float64
	lit          bool
}

// underLight returns what is seen of a patch.
type underLight func(p Patch, bits int) seen

// lightOf returns how patches of a picture are turned into densities.
func (c *Calibration) lightOf(im *Image, plane int, l *Lattice) (underLight, error) {
	scene, clear, err := c.scene(im, plane, l)
	if err != nil {
		return nil, err
	}
	placed := func(p Patch, d float64) (sd float64, lit bool) {
		if scene == nil {
			return 0, false
		}
		near, far := scene.astray(p)
		return c.placed(d, near/clear, far/clear)
	}
	if c.Fit.Method == SmoothMethod {
		return func(p Patch, bits int) (s seen) {
			v := c.even(p, c.tone.meanInLight(p.Mean(nil), p.SD()))
			s.d = c.tone.densityOf(math.Log(v))
			_, slope, _ := c.tone.logs(min(max(s.d, c.tone.lo), c.tone.hi))
			s.sd = math.Hypot(p.MeanSD(nil, bits)/(slope*v), c.emptySD(p))
			s.glare, s.lit = placed(p, s.d)
			return s
		}, nil
	}
	decode, err := encoded.By(c.Fit.Encoding)
	if err != nil {
		return nil, err
	}
	decode = encoded.Tabled(decode)
	g := glareParts{c.Fit.Glare[0], c.Fit.Glare[1], c.Fit.Glare[2], c.Fit.Glare[3]}
	return func(p Patch, bits int) (s seen) {
		near, far := scene.astray(p)
		fall := c.fallOff(p, decode)
		d, slope := g.density(p.Mean(decode)/fall, near, far)
		s.d, s.sd = d, math.Hypot(slope*p.MeanSD(decode, bits)/fall, c.emptySD(p))
		s.glare, s.lit = placed(p, d)
		return s
	}, nil
}

// coarseLevel is the most density that one level of 8 bits may be where nothing spreads the
// levels, and quietPart the scatter of a pixel, in levels, below which that is so.
// TestEightBits holds both.
const (
	coarseLevel = 0.02
	quietPart   = 0.5
)

// edgeSDs is how many of its own standard deviations a step may lie beyond the tablet and
// still count as within; TestBeyondTablet holds it.
const edgeSDs = 2

// readStep returns the density of a patch, or why there is none.
func (c *Calibration) readStep(p Patch, bits int, under underLight) Density {
	none := func(format string, values ...any) Density {
		return Density{Step: p.Step, Value: math.NaN(), SD: math.NaN(), Why: fmt.Sprintf(format, values...)}
	}
	m := p.Mean(nil)
	switch {
	case p.High > mostClipped:
		return none("step %d is at the top of the range: expose less", p.Step)
	case p.Low > mostClipped || !(m > 0):
		return none("step %d is at the bottom of the range: the device ends there", p.Step)
	}
	at := under(p, bits)
	d, sd := at.d, at.sd
	edge := edgeSDs * sd
	first := c.tone.lo
	switch {
	case math.IsNaN(d) || d-edge > c.tone.hi:
		return none("the tablet ends at %.2f, step %d is beyond: not read", c.tone.hi, p.Step)
	case d+edge < first:
		return none("the tablet begins at %.2f, step %d is lighter: not read", first, p.Step)
	}
	// A patch that does not scatter over levels is rounded whole.
	level := 1 / (math.Pow(2, float64(bits)) - 1)
	_, slope, _ := c.tone.logs(min(max(d, first), c.tone.hi))
	if by := math.Abs(level / (slope * m)); bits <= 8 && p.SD() < quietPart*level && by > coarseLevel {
		return none("one level of 8 bits is %.2f at step %d, and nothing spreads them: save 16 bits", by, p.Step)
	}
	if sd = math.Hypot(sd, c.Fit.StepSD); sd > MostSD {
		return none("step %d reads to %.3f only, more than %.2f", p.Step, sd, MostSD)
	}
	if all := math.Hypot(sd, at.glare); all > MostSD {
		switch {
		case at.glare < sd:
			return none("step %d reads to %.3f only, more than %.2f", p.Step, all, MostSD)
		case at.lit:
			return none("step %d lies beside bare light, whose glare may move it by more than %.2f: mask that light", p.Step, MostSD)
		}
		return none("the tablet's steps as dense as step %d lie beside bare light, whose glare may move it by more than %.2f: mask both alike", p.Step, MostSD)
	}
	sd = math.Hypot(sd, at.glare)
	if d-edge > c.Fit.ReadsTo {
		return none("the calibration reads to %.2f, step %d is beyond: not read", c.Fit.ReadsTo, p.Step)
	}
	d += c.Fit.Anchored[0] + c.Fit.Anchored[1]*d
	return Density{Step: p.Step, Value: d, SD: sd}
}

// unread returns a warning for each reason for which steps were not read.
func unread(list []Density) (w sensito.Warnings) {
	var kinds []string
	why, steps := map[string]string{}, map[string][]string{}
	for _, d := range list {
		if d.Why == "" {
			continue
		}
		number := strconv.Itoa(d.Step)
		kind := strings.Replace(d.Why, "step "+number, "step", 1)
		if _, known := why[kind]; !known {
			kinds, why[kind] = append(kinds, kind), d.Why
		}
		steps[kind] = append(steps[kind], number)
	}
	for _, kind := range kinds {
		w = append(w, sensito.Warn("step_not_read", strings.Join(steps[kind], ", "), why[kind]))
	}
	return w
}

// patchWarnings tells what uneven light and coarse values do to patches. What is seen without
// a calibration was told when they were found; here it is the light that counts.
func (c *Calibration) patchWarnings(im *Image, patches []Patch) (w sensito.Warnings) {
	if im.Bits <= 8 {
		w = append(w, sensito.Warn("eight_bits"))
	}
	light := c.tone.lights()
	for _, p := range patches {
		encoded := p.Uneven(nil)
		if p.Clipped() || encoded == 0 || encoded > mostUneven { // 0: noise explains it
			continue
		}
		if by := p.Uneven(light); by > mostUneven {
			w = append(w, warnStep(p.Step, sensito.Warn("step_uneven", p.Step, by)))
		}
	}
	return w
}
