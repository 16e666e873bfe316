package ask

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/plot"
	"sensito/sensito"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/notebook/store"
	"sensito/sensito/picture"
	"sensito/sensito/picture/look"
	"sensito/sensito/report"
	"sensito/sensito/report/pictured"
)

// A PictureAnswer is what Picture.Ask found.
type PictureAnswer struct {
	Files []PictureFile
	Empty *PictureFile // of the empty table; nil where none was given

	// Proposed are where rows of steps seem to lie, in the first picture, where nobody has marked one: to be
	// looked at, and asked again with one of them. Nothing is read then.
	Proposed      []*picture.Lattice
	ProposedFlag  string // "ends" or "tablet-ends"
	ProposedSteps int

	Strips      []pictured.Strip
	Calibration *picture.Calibration // by which it was read; nil where there is none
	Warnings    sensito.Warnings

	SameFrame bool                  // the tablet lies in the picture itself
	repeats   [][][]picture.Density // of each strip, a list a picture
	fogs      [][]picture.Density   // of each strip, one a picture
	into      []byte                // the trial as it was read
	plane     int
}

// Report returns the result to be written.
func (a *PictureAnswer) Report() (report.Report, error) {
	r := pictured.Result{Calibration: a.Calibration, SameFrame: a.SameFrame, Strips: a.Strips, Warnings: a.Warnings}
	for _, f := range a.Files {
		r.Files = append(r.Files, pictured.File{Name: f.Name, SHA256: f.SHA256, Image: f.Image})
		r.Channel = f.Image.Planes[a.plane].Name
	}
	if e := a.Empty; e != nil {
		r.Empty = &pictured.File{Name: e.Name, SHA256: e.SHA256, Image: e.Image}
	}
	return pictured.New(r), nil
}

// join puts together what the pictures say of each strip.
func (a *PictureAnswer) join(q *Picture) {
	for i := range a.Files[0].Seen.Strips {
		s := pictured.Strip{}
		if i < len(q.marks.minutes) {
			s.Minutes = q.marks.minutes[i]
		}
		if i < len(q.grades) {
			s.Grade = q.grades[i]
		}
		var all [][]picture.Density
		var fogs []picture.Density
		for _, f := range a.Files {
			one := f.Seen.Strips[i]
			s.Rows = append(s.Rows, one.Lattice)
			s.Warnings = append(s.Warnings, ofFile(a, f, one.Warnings)...)
			if one.Densities != nil {
				all = append(all, one.Densities)
			}
			if one.Fog != nil {
				fogs = append(fogs, *one.Fog)
			}
		}
		s.Densities = look.Mean(all...)
		if len(fogs) > 0 {
			s.Fog = &look.Mean(fogLists(fogs)...)[0]
		}
		if s.Fog == nil && q.into != "" {
			s.Warnings = append(s.Warnings, look.WithoutFog())
		}
		if q.into != "" && a.Files[0].Seen.Calibration != nil {
			s.Warnings = append(s.Warnings, look.Unsure(a.Files[0].Seen.Calibration, s.Densities)...)
		}
		a.Strips, a.repeats, a.fogs = append(a.Strips, s), append(a.repeats, all), append(a.fogs, fogs)
	}
	for _, f := range a.Files {
		a.Warnings = append(a.Warnings, ofFile(a, f, f.Seen.Warnings)...)
	}
	a.Calibration = a.Files[0].Seen.Calibration
}

func fogLists(fogs []picture.Density) [][]picture.Density {
	var out [][]picture.Density
	for _, f := range fogs {
		out = append(out, []picture.Density{f})
	}
	return out
}

// ofFile returns warnings as those of one picture, where there are several.
func ofFile(a *PictureAnswer, f PictureFile, all sensito.Warnings) sensito.Warnings {
	if len(a.Files) == 1 {
		return all
	}
	var out sensito.Warnings
	for _, w := range all {
		out = append(out, w.Within(f.Name))
	}
	return out
}

// Doubt returns why the ends of a strip, or of the tablet, may be off by a whole step, "" where nothing says so.
func (a *PictureAnswer) Doubt() string {
	all := slices.Clone(a.Warnings)
	for _, s := range a.Strips {
		all = append(all, s.Warnings...)
	}
	for _, w := range all {
		if slices.Contains(look.OfEnds, w.Code) {
			return w.Message()
		}
	}
	return ""
}

// Figure draws what was found over the first picture.
func (a *PictureAnswer) Figure(o plot.Options) (*plot.Figure, error) { return a.Drawing(0, o) }

// Drawing draws what was found over one of the pictures.
func (a *PictureAnswer) Drawing(file int, o plot.Options) (*plot.Figure, error) {
	f := a.Files[file]
	seen := plot.Seen{Title: f.Name}
	if a.Proposed != nil {
		for i, l := range a.Proposed {
			name := "proposed"
			if len(a.Proposed) > 1 {
				name = fmt.Sprintf("row %d, proposed", i+1)
			}
			seen.Rows = append(seen.Rows, seenRow(l, name, true, nil))
		}
		return plot.Overlay(f.Image, a.plane, seen, o)
	}
	if t := f.Seen.Tablet; t != nil {
		seen.Rows = append(seen.Rows, seenRow(t.Lattice, "tablet", false, look.Used(a.Calibration)))
	}
	for i, s := range f.Seen.Strips {
		name := strings.TrimSpace("strip " + a.Strips[i].Grade)
		if len(a.Strips) > 1 && a.Strips[i].Grade == "" && a.Strips[i].Minutes == 0 {
			name = fmt.Sprintf("strip %d", i+1)
		}
		if m := a.Strips[i].Minutes; m > 0 {
			name += " " + m.Clock(1)
		}
		seen.Rows = append(seen.Rows, seenRow(s.Lattice, name, false, s.Densities))
		seen.Places = append(seen.Places, seenPlace("base plus fog", s.FogPatch)...)
	}
	seen.Places = append(seen.Places, seenPlace("black tape", f.Seen.Opaque)...)
	seen.Places = append(seen.Places, seenPlace("clear", f.Seen.Clear)...)
	return plot.Overlay(f.Image, a.plane, seen, o)
}

func seenRow(l *picture.Lattice, name string, proposed bool, read []picture.Density) plot.SeenRow {
	row := plot.SeenRow{Name: name, Proposed: proposed}
	for step := 1; step <= l.Steps; step++ {
		s := plot.SeenStep{Number: step, Corners: l.Corners(step), Patch: l.PatchCorners(step)}
		if len(read) > 0 && math.IsNaN(read[step-1].Value) {
			s.Why = read[step-1].Why
		}
		row.Steps = append(row.Steps, s)
	}
	return row
}

func seenPlace(name string, p *picture.Patch) []plot.SeenPlace {
	if p == nil {
		return nil
	}
	return []plot.SeenPlace{{Name: name, Corners: p.Corners}}
}

// AddPicture adds the strips of an answer to the file of the trial that it was asked for, but for those that the trial
// has, which it tells in words. What others added in between stays.
func AddPicture(path string, a *PictureAnswer) (left []string, err error) {
	_, err = store.Update(path, nil, func(old []byte) (text []byte, err error) {
		text, left, err = a.added(path, old)
		return text, err
	})
	return left, err
}

// Fits returns the error that AddPicture would have for the trial as it was read.
func (a *PictureAnswer) Fits(path string) error {
	_, _, err := a.added(path, a.into)
	return err
}

func (a *PictureAnswer) added(path string, old []byte) ([]byte, []string, error) {
	text, left, err := pictures.AppendStrips(old, a.into, a.specs(), a.common())
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	return text, left, nil
}

// digits are those that a covariance is written with.
const digits = 5

// common is what all strips of the answer err by alike.
func (a *PictureAnswer) common() sensito.Calibration {
	repeats, _ := a.Calibration.Repeats()
	c := sensito.Calibration{Name: a.Calibration.Name, Covariance: a.Calibration.Covariance(a.SameFrame),
		Repeatability: sensito.Density(math.Round(repeats*1e4) / 1e4)}
	for i := range c.Covariance {
		for j := range c.Covariance[i] {
			c.Covariance[i][j] = rounded(c.Covariance[i][j])
		}
	}
	return c
}

func rounded(v float64) float64 {
	out, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	return out
}

// specs are the strips for a trial.
func (a *PictureAnswer) specs() []sensito.StripSpec {
	var looked []pictures.Source
	for _, f := range a.Files {
		looked = append(looked, pictures.Source{Name: f.Name, SHA256: f.SHA256})
	}
	var empty *pictures.Source
	if e := a.Empty; e != nil {
		empty = &pictures.Source{Name: e.Name, SHA256: e.SHA256}
	}
	_, most := a.Calibration.Repeats()
	var out []sensito.StripSpec
	for i, s := range a.Strips {
		spec := sensito.StripSpec{Minutes: s.Minutes, Grade: s.Grade, Picture: pictures.Known(looked, empty), Calibration: a.Calibration.Name}
		for step, d := range s.Densities {
			if d.SD > most { // which look.Unsure has told
				d.Value = math.NaN()
			}
			spec.Density = append(spec.Density, thousandths(d.Value))
			if math.IsNaN(d.Value) {
				continue
			}
			var list []sensito.Density
			for _, r := range a.repeats[i] {
				if v := thousandths(r[step].Value); !math.IsNaN(float64(v)) {
					list = append(list, v)
				}
			}
			if len(list) > 1 {
				if spec.Repeats == nil {
					spec.Repeats = map[int][]sensito.Density{}
				}
				spec.Repeats[step+1] = list
			}
		}
		for _, f := range a.fogs[i] {
			if v := thousandths(f.Value); !math.IsNaN(float64(v)) {
				spec.BaseFog = append(spec.BaseFog, v)
			}
		}
		out = append(out, spec)
	}
	return out
}

// thousandths returns a density as it is written: to less than a picture tells.
func thousandths(d float64) sensito.Density { return sensito.Density(math.Round(d*1000) / 1000) }

// Left says in words which strips AddPicture would leave out of the trial as it was read, since it has them. The
// error is that of Fits.
func (a *PictureAnswer) Left(path string) ([]string, error) {
	_, left, err := a.added(path, a.into)
	return left, err
}
