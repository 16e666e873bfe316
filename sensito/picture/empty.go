package picture

import (
	"fmt"
	"math"
	"strings"
)

// An Empty is a picture of the light table alone, or of the glass of a scanner, made from the same place as one of strips. It
// tells how the light falls off towards the corners, or to one side. Only its evenness counts, so that it may be exposed
// for a shorter time.
type Empty struct {
	*Image
	SHA256 string // of its file, by which a calibration knows it again
}

// mostUnlike is how many times as much light the empty table has where the tablet lies as elsewhere, or the other way
// round, at most: what differs by more is no table. TestEmptyRefused holds it.
const mostUnlike = 2

// Over returns the picture with an empty one beneath, by which all that is read of it is made even. The error says how the
// two differ.
func (im *Image) Over(e *Empty) (*Image, error) {
	const hint = "picture the empty table from the same place with the same settings, and crop neither"
	channels := func(im *Image) string {
		var names []string
		for _, p := range im.Planes {
			names = append(names, p.Name)
		}
		return strings.Join(names, ", ")
	}
	switch {
	case im.Width != e.Width || im.Height != e.Height:
		return nil, refuse(hint, "the empty picture has %d by %d pixels, and this one has %d by %d", e.Width, e.Height, im.Width, im.Height)
	case im.Bits != e.Bits:
		return nil, refuse(hint, "the empty picture has %d bits, and this one has %d", e.Bits, im.Bits)
	case channels(im) != channels(e.Image):
		return nil, refuse(hint, "the empty picture has %s, and this one has %s", channels(e.Image), channels(im))
	case e.About.Format == "JPEG":
		return nil, refuse("save 16 bits as TIFF or PNG", "the empty picture is a JPEG, which is processed, and its tones follow the scene")
	}
	out := *im
	out.Empty = e
	return &out, nil
}

// under reads the empty picture where a patch lies that is told as something.
func (p *Patch) under(e *Empty, plane int, what string) error {
	bare, err := patchWithin(e.Image, plane, p.Corners, what)
	switch {
	case err != nil:
		return fmt.Errorf("the empty picture: %w", err)
	case bare.High > mostClipped:
		return refuse("expose it for a shorter time: only its evenness counts", "the empty picture is at the top of the range at %s, in %.0f %% of its pixels", what, 100*bare.High)
	}
	p.Empty, p.EmptySD = bare.Mean(nil), bare.MeanSD(nil, e.Bits)
	return nil
}

// fallOff returns the light of the empty table at a patch as a part of that where the tablet lies; 1 where no empty picture
// tells.
func (c *Calibration) fallOff(p Patch, light func(v float64) float64) float64 {
	if c.Fit.Empty == 0 {
		return 1
	}
	return light(p.Empty) / light(c.Fit.Empty)
}

// even returns what the value of a patch would be if the table were as light there as where the tablet lies.
func (c *Calibration) even(p Patch, v float64) float64 {
	if c.Fit.Empty == 0 {
		return v
	}
	d := c.tone.densityOf(math.Log(v))
	was, _, _ := c.tone.logs(d)
	is, _, _ := c.tone.logs(d + math.Log10(c.fallOff(p, c.tone.light)))
	return v * math.Exp(is-was)
}

// emptySD returns the error of a density by that of the empty picture.
func (c *Calibration) emptySD(p Patch) float64 {
	if c.Fit.Empty == 0 {
		return 0
	}
	_, slope, _ := c.tone.logs(c.tone.lo)
	return math.Abs(p.EmptySD / (slope * p.Empty))
}

// isTable refuses an empty picture that is no table where something was read.
func (c *Calibration) isTable(p Patch, what string) error {
	if fall := c.fallOff(p, c.tone.light); !(fall > 1./mostUnlike && fall < mostUnlike) {
		return refuse("it is one of the table alone, without strips, at least where strips and tablet lie", "the empty picture has %.2f times as much light at %s as where the tablet lies", fall, what)
	}
	return nil
}

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
