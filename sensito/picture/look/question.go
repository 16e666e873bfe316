// Package look asks a picture for everything at once: where the strips and the tablet lie, the calibration, the densities, and
// what is to be told of them.
//
// Begin with Question: its Read finds, calibrates and reads.
package look

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/picture"
)

// A Question is what is asked of one picture.
type Question struct {
	Channel string          // red, green, blue or grey; "" is green, or the only one
	Rows    []picture.Row   // the strips
	Fog     []picture.Place // where base plus fog of each strip is read; empty where that is not asked

	Tablet    *picture.Tablet // whose steps lie in the picture itself; nil where By has the calibration
	TabletRow picture.Row
	Name      string               // of the calibration that is made of the tablet
	By        *picture.Calibration // of an earlier picture, taken under the same conditions
	Told      picture.Taken        // of the picture that it is made of
	Encoding  string               // as of Calibrating

	Opaque, Clear *picture.Point   // of black tape, and of a clear place; nil where they are not asked
	Anchors       []picture.Anchor // steps of the first strip that a densitometer read too: Read is found here
}

// A Strip is a row of steps as it was found and read.
type Strip struct {
	Lattice   *picture.Lattice
	Patches   []picture.Patch
	Densities []picture.Density // of its steps in their order; empty where nothing is known to read them by
	Fog       *picture.Density  // nil where it was not asked, or nothing is known to read it by
	FogPatch  *picture.Patch
	Warnings  sensito.Warnings

	found sensito.Warnings // those of finding it
}

// Seen is what a picture shows.
type Seen struct {
	Plane         int // that was read
	Tablet        *Strip
	Strips        []Strip
	Opaque, Clear *picture.Patch
	Calibration   *picture.Calibration // by which densities were read; nil where nothing is known
	Warnings      sensito.Warnings
}

// Plane returns the place of the channel of a name in the picture, of "" that of green or of the only one. The
// error names those that are there.
func Plane(im *picture.Image, channel string) (int, error) {
	for i, p := range im.Planes {
		if p.Name == channel || channel == "" && (p.Name == "green" || len(im.Planes) == 1) {
			return i, nil
		}
	}
	var names []string
	for _, p := range im.Planes {
		names = append(names, p.Name)
	}
	return 0, fmt.Errorf("the picture has no channel %s; it has %s", channel, strings.Join(names, ", "))
}

// Read finds the strips in a picture, and their densities as far as there is a tablet. An error says what must be
// done before anything can be read.
func (q Question) Read(im *picture.Image) (*Seen, error) {
	channel := q.Channel
	if q.By != nil {
		if channel = q.By.Picture.Channel; q.Channel != "" && channel != "" && channel != q.Channel {
			return nil, fmt.Errorf("the calibration is of the %s channel, and %s is asked for", channel, q.Channel)
		}
		channel = cmp.Or(channel, q.Channel)
	}
	plane, err := Plane(im, channel)
	if err != nil {
		return nil, err
	}
	seen := &Seen{Plane: plane}
	if q.Tablet != nil {
		if seen.Tablet, err = locate(im, plane, q.TabletRow); err != nil {
			return nil, fmt.Errorf("the tablet: %w", err)
		}
	}
	for i, row := range q.Rows {
		s, err := locate(im, plane, row)
		if err != nil {
			return nil, q.ofStrip(i, err)
		}
		if len(q.Fog) > 0 {
			if s.FogPatch, err = s.beside(im, plane, q.Fog[i]); err != nil {
				return nil, q.ofStrip(i, fmt.Errorf("base plus fog: %w", err))
			}
		}
		seen.Strips = append(seen.Strips, *s)
	}
	if err := q.checks(im, seen); err != nil {
		return nil, err
	}
	if seen.Calibration = q.By; q.Tablet != nil {
		if seen.Calibration, seen.Warnings, err = q.calibrate(im, seen); err != nil {
			return nil, err
		}
	}
	if seen.Calibration == nil {
		return seen, nil
	}
	if err := q.densities(im, seen); err != nil {
		return nil, err
	}
	q.stains(im, seen)
	seen.Warnings = append(seen.Warnings, evenness(im, seen)...)
	return seen, nil
}

// mostFallOff is how much darker the light may be along a row before it is told: 0.9 %, as a density. Of films pictured by a
// camera whose corners are 1 % darker the index is covered as it should be, by one of 4 % in a third (TestEvenness).
const mostFallOff = 0.004

// evenness warns of light that is not even, or of which nothing tells whether it is.
func evenness(im *picture.Image, seen *Seen) sensito.Warnings {
	var rows []*picture.Lattice
	for _, s := range seen.Strips {
		rows = append(rows, s.Lattice)
	}
	if seen.Tablet != nil {
		rows = append(rows, seen.Tablet.Lattice)
	}
	by, ok := seen.Calibration.FallOff(im, seen.Plane, rows...)
	darker := 100 * (1 - math.Pow(10, -by))
	switch {
	case !ok && im.Empty == nil:
		return sensito.Warnings{sensito.Warn("light_not_checked")}
	case by <= mostFallOff:
		return nil
	case im.Empty == nil:
		return sensito.Warnings{sensito.Warn("light_falls_off", darker)}
	}
	return sensito.Warnings{sensito.Warn("light_falls_off/2", darker)}
}

// calibrate returns the calibration by the tablet in a picture.
func (q Question) calibrate(im *picture.Image, seen *Seen) (*picture.Calibration, sensito.Warnings, error) {
	told := q.Told
	told.Bits, told.Channels, told.Channel = im.Bits, len(im.Planes), im.Planes[seen.Plane].Name
	a := im.About
	told.PixelsPerInch, told.Device, told.Software, told.Profile = a.PixelsPerInch, a.Device, a.Software, a.Encoding
	c, warnings, err := picture.Calibrate(picture.Calibrating{Name: q.Name, Tablet: *q.Tablet, Patches: seen.Tablet.Patches, Image: im, Plane: seen.Plane,
		Lattice: seen.Tablet.Lattice, Told: told, Encoding: q.Encoding, Opaque: seen.Opaque, Clear: seen.Clear})
	return c, append(within("the tablet", seen.Tablet.Warnings), warnings...), err
}

// stains warns of strips whose channels differ, where the picture has several and the tablet lies in it.
func (q Question) stains(im *picture.Image, seen *Seen) {
	if q.Tablet == nil || len(im.Planes) < 2 || len(seen.Strips) == 0 {
		return
	}
	all := make([][]picture.Channel, len(seen.Strips)) // of each strip, that which was read first
	for i, s := range seen.Strips {
		all[i] = []picture.Channel{{Name: im.Planes[seen.Plane].Name, Densities: s.Densities}}
	}
	for plane := range im.Planes {
		if plane == seen.Plane {
			continue
		}
		one := &Seen{Plane: plane, Tablet: &Strip{Lattice: seen.Tablet.Lattice}}
		var err error
		if one.Tablet.Patches, _, err = seen.Tablet.Lattice.Patches(im, plane); err != nil {
			return // which the channel that is read need not have
		}
		c, _, err := q.calibrate(im, one)
		if err != nil {
			return
		}
		for i, s := range seen.Strips {
			patches, _, err := s.Lattice.Patches(im, plane)
			if err != nil {
				continue
			}
			if ds, _, err := c.Read(im, plane, s.Lattice, patches, picture.Frame{Same: true}); err == nil {
				all[i] = append(all[i], picture.Channel{Name: im.Planes[plane].Name, Densities: ds})
			}
		}
	}
	for i := range seen.Strips {
		_, warnings := picture.Slopes(all[i])
		seen.Strips[i].Warnings = append(seen.Strips[i].Warnings, warnings...)
	}
}

// locate finds a row of steps and the light that came through each.
func locate(im *picture.Image, plane int, row picture.Row) (*Strip, error) {
	s := &Strip{}
	var of sensito.Warnings
	var err error
	if s.Lattice, s.Warnings, err = picture.Find(im, plane, row); err != nil {
		return nil, err
	}
	if s.Patches, of, err = s.Lattice.Patches(im, plane); err != nil {
		return nil, err
	}
	s.found = append(s.Warnings, of...)
	s.Warnings = s.found
	return s, nil
}

// beside returns the light at a place that belongs to a strip.
func (s *Strip) beside(im *picture.Image, plane int, at picture.Place) (*picture.Patch, error) {
	if !at.ByStep {
		p, err := picture.PatchAt(im, plane, at.At, s.Lattice.Side())
		return &p, err
	}
	p, warnings, err := s.Lattice.Patch(im, plane, at.Step)
	if at.Step < 1 || at.Step > s.Lattice.Steps { // else they are told of the step
		mark := "first"
		if at.Step > 0 {
			mark = "last"
		}
		if at.Step <= s.Lattice.Steps+1 { // right beyond the mark, where its edge belongs
			s.found = slices.DeleteFunc(s.found, func(w sensito.Warning) bool { return w.Code == beyondMark && w.Values[0] == mark })
		}
		s.found = append(s.found, warnings...)
		s.Warnings = s.found
	}
	return &p, err
}

// checks reads the black tape and the clear place.
func (q Question) checks(im *picture.Image, seen *Seen) error {
	var side float64
	switch {
	case seen.Tablet != nil:
		side = seen.Tablet.Lattice.Side()
	case len(seen.Strips) > 0:
		side = seen.Strips[0].Lattice.Side()
	}
	for _, c := range []struct {
		what string
		at   *picture.Point
		to   **picture.Patch
	}{{"the black tape", q.Opaque, &seen.Opaque}, {"the clear place", q.Clear, &seen.Clear}} {
		if c.at == nil {
			continue
		}
		p, err := picture.PatchAt(im, seen.Plane, *c.at, side)
		if err != nil {
			return fmt.Errorf("%s: %w", c.what, err)
		}
		*c.to = &p
	}
	return nil
}

// densities reads the strips by the calibration.
func (q Question) densities(im *picture.Image, seen *Seen) error {
	if err := q.readAll(im, seen); err != nil || len(q.Anchors) == 0 {
		return err
	}
	if len(seen.Strips) == 0 {
		return errors.New("an anchor is a step of a strip: mark the strip too")
	}
	anchors := slices.Clone(q.Anchors)
	for i, a := range anchors {
		first := seen.Strips[0].Densities
		if a.Step < 1 || a.Step > len(first) {
			return fmt.Errorf("anchor %d=%g: the strip has %d steps", a.Step, a.Density, len(first))
		}
		d := first[a.Step-1]
		if math.IsNaN(d.Value) {
			return fmt.Errorf("anchor %d=%g: the step is not read in the picture: %s", a.Step, a.Density, d.Why)
		}
		anchors[i].Read = d.Value
	}
	anchored, err := seen.Calibration.Anchored(anchors)
	if err != nil {
		return err
	}
	seen.Calibration = anchored
	return q.readAll(im, seen)
}

func (q Question) readAll(im *picture.Image, seen *Seen) error {
	frame := q.frame(seen)
	for i := range seen.Strips {
		s := &seen.Strips[i]
		patches := s.Patches
		if s.FogPatch != nil {
			patches = append(slices.Clone(patches), *s.FogPatch)
		}
		ds, warnings, err := seen.Calibration.Read(im, seen.Plane, s.Lattice, patches, frame)
		if err != nil {
			return q.ofStrip(i, err)
		}
		if s.FogPatch != nil {
			s.Fog = &ds[len(ds)-1]
			ds = ds[:len(ds)-1]
		}
		s.Densities = ds
		s.Warnings = append(slices.Clone(s.found), warnings...)
	}
	return nil
}

// frame says how the picture stands to that of the calibration.
func (q Question) frame(seen *Seen) picture.Frame {
	return picture.Frame{Same: q.Tablet != nil, Opaque: seen.Opaque, Clear: seen.Clear}
}

// ofStrip says of which strip an error is, where there are several.
func (q Question) ofStrip(i int, err error) error {
	if len(q.Rows) < 2 {
		return err
	}
	return fmt.Errorf("strip %d: %w", i+1, err)
}

// within returns warnings as those of something that is told in words.
func within(what string, all sensito.Warnings) sensito.Warnings {
	var out sensito.Warnings
	for _, w := range all {
		out = append(out, w.Within(what))
	}
	return out
}

// OfEnds are the codes of warnings that the ends of a row may be off by a whole step.
var OfEnds = []string{beyondMark, "row_turns"}

const beyondMark = "step_beyond_mark"

// WithoutFog is the warning of a strip whose base plus fog was not read.
func WithoutFog() sensito.Warning { return sensito.Warn("picture_without_fog") }

// Unsure returns the warning of steps that are read, but not surely enough for a trial (Calibration.Repeats).
func Unsure(c *picture.Calibration, ds []picture.Density) sensito.Warnings {
	var steps []string
	_, most := c.Repeats()
	for _, d := range ds {
		if d.SD > most {
			steps = append(steps, strconv.Itoa(d.Step))
		}
	}
	if len(steps) == 0 {
		return nil
	}
	return sensito.Warnings{sensito.Warn("step_unsure", strings.Join(steps, ", "), most)}
}

// Used returns the steps of the tablet as they were used, with the reason where one was not.
func Used(c *picture.Calibration) []picture.Density {
	var out []picture.Density
	for i, d := range c.Tablet.Density {
		step := picture.Density{Step: i + 1, Value: d, SD: c.Tablet.DensitySD}
		if math.IsNaN(c.Fit.Value[i]) {
			step.Value, step.Why = math.NaN(), "left out of the calibration"
		}
		out = append(out, step)
	}
	return out
}

// Mean returns the mean of several readings of the same steps, with the error of the mean. Where one of them has no
// value the others stand; where none has, the reason of the first does.
func Mean(readings ...[]picture.Density) []picture.Density {
	if len(readings) == 0 {
		return nil
	}
	out := slices.Clone(readings[0])
	for i := range out {
		var sum, variance float64
		n := 0
		for _, r := range readings {
			if d := r[i]; !math.IsNaN(d.Value) {
				sum += d.Value
				variance += d.SD * d.SD
				n++
			}
		}
		if n > 0 {
			out[i] = picture.Density{Step: out[i].Step, Value: sum / float64(n), SD: math.Sqrt(variance) / float64(n)}
		}
	}
	return out
}

// Against says whether densities run against the exposures of a negative or a print: where more light came they are
// lower, for nearly all pairs of steps, as when the ends were exchanged. The exposures are logarithms, one a step.
func Against(ds []picture.Density, logH []float64) bool {
	with, against := 0, 0
	const apart = 0.05 // of density: less says nothing
	for i := range ds {
		for j := range i {
			d, h := ds[i].Value-ds[j].Value, logH[i]-logH[j]
			switch {
			case !(math.Abs(d) > apart) || h == 0: // or NaN
			case (d > 0) == (h > 0):
				with++
			default:
				against++
			}
		}
	}
	return against > 3*with && against > 2
}
