package picture

import (
	"fmt"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/picture/internal/pixels"
)

// What of a step is read, and when it is told that it should not be.
const (
	// patchShare of a step's length is read, its middle (TestWidthAsked).
	patchShare = 0.6
	// blurInset times the sd of an edge what is read stays away from it: light of the neighbour within is then a
	// hundredth of the difference at the border of the patch, and far less in its mean (TestPatchMeans).
	blurInset = 2.5
	// mostInset of a step is left out at either end, so that something remains (TestPatchMeans).
	mostInset = 0.4
	// fewestPixels a patch must have (TestRefusedRows).
	fewestPixels = 200
	// keptValues of a patch are kept at most: the mean of more is no surer than uneven light lets it be
	// (TestValuesEvenlyTaken).
	keptValues = 1 << 16
	// mostClipped, mostSetAside and mostUneven are shares of pixels at either end of the range and of pixels set aside,
	// and a difference of density between quarters, from which on they are told (TestWarningsOfPatches).
	mostClipped, mostSetAside, mostUneven = 0.005, 0.10, 0.01
)

// A Patch is the light that came through one step.
type Patch struct {
	Step             int // from 1; 0 for a place beside the row
	Pixels, SetAside int // within the corners; of these set aside as dust, scratches and the like
	Corners          [4]Point
	Values           []uint16    // encoded, of the pixels kept; of more than 65536 as many, evenly taken
	Quadrants        [4][]uint16 // the same by quarter
	Low, High        float64     // shares of pixels at 0 and at full, before anything was set aside
	Empty, EmptySD   float64     // encoded mean of the empty picture within the corners, 0..1, and its sd; 0 where there is none
}

// Patches returns what is read of every step, with warnings: of pixels at the ends of the range, set aside, and of quarters that
// differ. The error is Unanswerable where a patch has too few pixels, and says how fine a picture would do.
func (l *Lattice) Patches(im *Image, plane int) ([]Patch, sensito.Warnings, error) {
	var out []Patch
	var warnings sensito.Warnings
	for step := 1; step <= l.Steps; step++ {
		p, told, err := l.Patch(im, plane, step)
		if err != nil {
			return nil, nil, err
		}
		out, warnings = append(out, p), append(warnings, told...)
	}
	return out, warnings, nil
}

// Patch is Patches for a single step. It may be one beyond the ends, where the lattice would have it, for base plus fog.
func (l *Lattice) Patch(im *Image, plane, step int) (Patch, sensito.Warnings, error) {
	p, err := patchWithin(im, plane, l.PatchCorners(step), fmt.Sprintf("step %d", step))
	if err != nil {
		return Patch{}, nil, err
	}
	p.Step = step
	var warnings sensito.Warnings
	if p.High > mostClipped {
		warnings = append(warnings, sensito.Warn("step_at_full", step, 100*p.High))
	}
	if p.Low > mostClipped {
		warnings = append(warnings, sensito.Warn("step_at_black", step, 100*p.Low))
	}
	if share := float64(p.SetAside) / float64(p.Pixels); share > mostSetAside {
		warnings = append(warnings, sensito.Warn("step_set_aside", step, 100*share))
	}
	if d := p.Uneven(nil); d > mostUneven {
		warnings = append(warnings, sensito.Warn("step_uneven", step, d))
	}
	for i := range warnings {
		warnings[i].Step = step
	}
	return p, warnings, nil
}

// PatchAt returns what is read at a place beside the row, such as base plus fog, black tape or a clear place: of a square
// about it with sides along the picture's, in pixels. Errors are as of Patches, or name a place outside the picture.
func PatchAt(im *Image, plane int, p Point, side float64) (Patch, error) {
	if plane < 0 || plane >= len(im.Planes) {
		return Patch{}, fmt.Errorf("the picture has no channel %d", plane+1)
	}
	h := side / 2
	return patchWithin(im, plane, [4]Point{{p.X - h, p.Y - h}, {p.X + h, p.Y - h}, {p.X + h, p.Y + h}, {p.X - h, p.Y + h}}, fmt.Sprintf("the place at %.0f,%.0f", p.X, p.Y))
}

// Side returns the side of a square of as many pixels as are read of a step, for PatchAt.
func (l *Lattice) Side() float64 {
	c := l.PatchCorners(1)
	return math.Sqrt(c[1].minus(c[0]).length() * c[2].minus(c[1]).length())
}

// patchWithin returns the patch within four corners, told as something.
func patchWithin(im *Image, plane int, corners [4]Point, what string) (Patch, error) {
	for _, c := range corners {
		if !im.within(c) {
			return Patch{}, outOfPicture(fmt.Sprintf("what is to be read of %s, at %%.0f,%%.0f,", what), im, c)
		}
	}
	var at [4][2]float64
	for i, c := range corners {
		at[i] = [2]float64{c.X, c.Y}
	}
	g := pixels.Within(pixels.Plane{Width: im.Width, Height: im.Height, Values: im.Planes[plane].Values}, at)
	p := Patch{Pixels: g.Inside, Corners: corners, Low: g.Share(0), High: g.Share(full)}
	if p.Pixels < fewestPixels {
		return Patch{}, tooFew(im, what, p.Pixels)
	}
	if !p.Clipped() { // what lies at one end of the range has no scatter that would tell dust
		g.SetAside(fullLevel(im.Bits))
	}
	kept := g.Kept()
	p.SetAside = p.Pixels - kept
	if kept < fewestPixels/4 {
		return Patch{}, &sensito.Unanswerable{Reason: fmt.Sprintf("of the %d pixels of %s only %d are even: the rest would be set aside as dust or scratches", p.Pixels, what, kept),
			Hint: "clean it, or read a narrower part of it"}
	}
	p.Values, p.Quadrants = g.Taken(kept, keptValues)
	if im.Empty == nil {
		return p, nil
	}
	bare, err := patchWithin(im.Empty.Image, plane, corners, what)
	switch {
	case err != nil:
		return Patch{}, fmt.Errorf("the empty picture: %w", err)
	case bare.High > mostClipped:
		return Patch{}, &sensito.Unanswerable{Reason: fmt.Sprintf("the empty picture is at the top of the range at %s, in %.0f %% of its pixels", what, 100*bare.High),
			Hint: "expose it for a shorter time: only its evenness counts"}
	}
	p.Empty, p.EmptySD = bare.Mean(nil), bare.MeanSD(nil, im.Empty.Bits)
	return p, nil
}

// fullLevel returns what lies between two levels of a file, of 65535.
func fullLevel(bits int) float64 { return full / (math.Exp2(float64(bits)) - 1) }

// tooFew returns the error of too few pixels, with the resolution that would do.
func tooFew(im *Image, what string, pixels int) error {
	finer := math.Sqrt(fewestPixels / max(1, float64(pixels)))
	hint := fmt.Sprintf("picture it %.1f times as fine", math.Ceil(10*finer)/10)
	if ppi := im.About.PixelsPerInch; ppi > 0 {
		for _, usual := range []float64{75, 100, 150, 200, 300, 400, 600, 800, 1200, 1600, 2400, 3200, 4800} {
			if usual >= ppi*finer {
				hint = fmt.Sprintf("picture it at %.0f to the inch", usual)
				break
			}
		}
	}
	return &sensito.Unanswerable{Reason: fmt.Sprintf("%s has %d pixels to be read, and %d are needed", what, pixels, fewestPixels), Hint: hint}
}

// Mean returns the mean of decoded light: of decode(v) for encoded v of 0..1, of v itself where decode is nil. It is the mean
// since grain lets through the mean of its holes: the middle value of a grainy step is lower (TestMeanOfGrain).
func (p Patch) Mean(decode func(float64) float64) float64 { return meanOf(p.Values, decode) }

// meanOf returns the mean of decoded values.
func meanOf(values []uint16, decode func(float64) float64) float64 {
	sum := 0.0
	for _, v := range values {
		if x := float64(v) / full; decode != nil {
			sum += decode(x)
		} else {
			sum += x
		}
	}
	return sum / float64(len(values))
}

// SD returns the standard deviation of encoded values, 0..1, from pixel to pixel.
func (p Patch) SD() float64 {
	_, sd := p.scatter(nil)
	return sd
}

// scatter returns the mean of decoded values and their standard deviation from pixel to pixel; see Mean for decode.
func (p Patch) scatter(decode func(float64) float64) (m, sd float64) {
	m = p.Mean(decode)
	sum := 0.0
	for _, v := range p.Values {
		x := float64(v) / full
		if decode != nil {
			x = decode(x)
		}
		sum += (x - m) * (x - m)
	}
	return m, math.Sqrt(sum / float64(max(1, len(p.Values)-1)))
}

// MeanSD returns the standard error of Mean for a file of so many bits. It is that of the means of the quarters, in which
// uneven light and grain coarser than a pixel count, and no less than pixels for themselves would give. Where values
// scatter by less than half a level, rounding does not average out and is added (TestErrorOfTheMean).
func (p Patch) MeanSD(decode func(float64) float64, bits int) float64 {
	whole := p.Mean(decode)
	single := 0.0
	for _, v := range p.Values {
		x := float64(v) / full
		if decode != nil {
			x = decode(x)
		}
		single += (x - whole) * (x - whole)
	}
	n := float64(len(p.Values))
	single /= n * max(1, n-1)
	means := p.quarters(decode)
	m := mean(means)
	quarters := 0.0
	for _, q := range means {
		quarters += (q - m) * (q - m)
	}
	quarters /= float64(max(1, len(means)-1) * len(means))
	u2 := max(single, quarters)
	level := fullLevel(bits) / full
	if p.SD() < level/2 {
		slope := 1.0
		if decode != nil {
			at := p.Mean(nil)
			low, high := max(0, at-level/2), min(1, at+level/2)
			slope = (decode(high) - decode(low)) / (high - low)
		}
		u2 += level * slope * level * slope / 12
	}
	return math.Sqrt(u2)
}

// quarters returns the means of the quarters that have any pixels.
func (p Patch) quarters(decode func(float64) float64) []float64 {
	var out []float64
	for _, q := range p.Quadrants {
		if len(q) > 0 {
			out = append(out, meanOf(q, decode))
		}
	}
	return out
}

// Uneven returns by how much the quarters differ in density, beyond what noise from pixel to pixel explains; see Mean for
// decode. Without it an encoded picture looks more even than it is.
func (p Patch) Uneven(decode func(float64) float64) float64 {
	means := p.quarters(decode)
	if len(means) == 0 || slices.Min(means) <= 0 {
		return 0
	}
	noise := 0.0
	if m, sd := p.scatter(decode); m > 0 {
		noise = noiseOfQuarters * sd / m / math.Sqrt(float64(len(p.Values))/4) / math.Ln10
	}
	return max(0, math.Log10(slices.Max(means)/slices.Min(means))-noise)
}

// noiseOfQuarters is by how many standard errors of one the highest and lowest of four quarters differ in 98 of 100 where grain
// is as coarse as a pixel and a half (TestWarningsOfPatches).
const noiseOfQuarters = 6

// Clipped says whether too many pixels are at either end of the range: the mean is then not the light's.
func (p Patch) Clipped() bool { return p.Low > mostClipped || p.High > mostClipped }
