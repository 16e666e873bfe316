package ask

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/pictures"
	"sensito/sensito/notebook/store"
	"sensito/sensito/picture"
	"sensito/sensito/picture/look"
	"sensito/sensito/printable"
)

// Picture asks for the densities of strips in pictures of them.
type Picture struct {
	steps                            int
	patch, scaleSD                   float64
	ends, tabletEnds, fog, anchors   []string
	minutes, grades                  []string
	opaque, clear, channel, encoding string
	tablet, by, keep, into, empty    string
	opened                           map[string]PictureFile // by name, since who answers a question asks again
	marks                            marks

	Made string // the date, which a calibration holds

	// Open reads a picture by its path; nil reads it from the streams.
	Open func(path string) (PictureFile, error)

	given func(flag string) bool
}

// marks are the flags that are texts, read.
type marks struct {
	ends, tabletEnds []picture.Ends
	fog              []picture.Place
	anchors          []picture.Anchor
	opaque, clear    *picture.Point
	minutes          []sensito.Minutes
	strips           int // 0 where no ends are given
}

// Channels are the values of --channel, Encodings those of --encoding that are words.
var (
	Channels  = []string{"red", "green", "blue", "grey"}
	Encodings = []string{"auto", "linear", "srgb"}
)

// Register adds the flags of the question.
func (q *Picture) Register(f *pflag.FlagSet) {
	q.given = f.Changed
	f.StringArrayVar(&q.ends, "ends", nil, "where a strip lies, `X,Y:X,Y` in pixels: the middle of the outer edge of its first step, and of its last; repeat it for another strip")
	f.IntVar(&q.steps, "steps", 0, "steps `N` between the ends, those of the trial unless given")
	f.Float64Var(&q.patch, "patch", 0, "width `PX` of the middle of each step that is read, in pixels; 60 % of what is found unless given")
	f.StringArrayVar(&q.fog, "fog", nil, "where base plus fog is read: `X,Y`, or step=22 for the place after step 21; once a strip, or step=N for all")
	f.StringVar(&q.opaque, "opaque", "", "a place `X,Y` on black tape beside the steps, in the picture of the tablet and of the strip alike: the check of glare")
	f.StringVar(&q.clear, "clear", "", "a clear place `X,Y`, likewise: the check of exposure")
	f.StringVar(&q.channel, "channel", "", "`CHANNEL` to read: red, green, blue or grey; green unless given, or the only one")
	f.StringVar(&q.tablet, "tablet", "", "the densities of a tablet that lies in the picture, from `FILE`")
	f.StringArrayVar(&q.tabletEnds, "tablet-ends", nil, "where the tablet lies, `X,Y:X,Y`, its first step first")
	f.Float64Var(&q.scaleSD, "scale-sd", 0, "how well the tablet's scale of density is known, as a share `SD`; 0.02 nominal and 0.005 by a certificate unless given")
	f.StringVar(&q.encoding, "encoding", "auto", "how values stand for light: auto (any rising curve, by the tablet), linear, srgb, or a number, the `EXPONENT`")
	f.StringVar(&q.keep, "keep", "", "keep the calibration by the tablet in a new `FILE`")
	f.StringVar(&q.by, "by", "", "read by the calibration in `FILE`, made of a picture under the same conditions")
	f.StringVar(&q.empty, "empty", "", "a picture of the empty light table or glass, in `FILE`, from the same place with the same settings: what is read is made even by it")
	f.StringArrayVar(&q.anchors, "anchor", nil, "a step of the first strip that a densitometer read too, `STEP=DENSITY`; may be repeated")
	f.StringVar(&q.into, "into", "", "add the strips to the `TRIAL`")
	f.StringArrayVar(&q.minutes, "minutes", nil, "development time `M:SS` of a strip, in the order of --ends")
	f.StringArrayVar(&q.grades, "grade", nil, "`GRADE` or filter of a strip of paper, in the order of --ends, for what is printed")
}

// A MissingFlag is the usage error of a flag without which the question cannot be asked, and
// that somebody at a terminal may be asked for.
type MissingFlag struct {
	Flag string
	error
}

func (e *MissingFlag) Unwrap() error { return e.error }

// MostPictures of the same strips are read at once.
const MostPictures = 4

// limits of flags, beyond what any picture has.
const (
	leastSteps, mostSteps = 5, 200
	leastPatch, mostPatch = 3, 10_000
	leastScale, mostScale = 0.0001, 0.2
	leastPower, mostPower = 0.2, 5
)

// Check returns a usage error for flags that do not go together or are outside their limits.
func (q *Picture) Check(paths []string) error {
	switch {
	case len(paths) == 0:
		return console.Usagef("picture takes one picture, or several of the same strips")
	case len(paths) > MostPictures:
		return console.Usagef("picture takes %d pictures of the same strips at most; %d given", MostPictures, len(paths))
	case q.given("steps") && (q.steps < leastSteps || q.steps > mostSteps):
		return console.Usagef("--steps %d is outside %d to %d", q.steps, leastSteps, mostSteps)
	case q.given("patch") && !(q.patch >= leastPatch && q.patch <= mostPatch):
		return console.Usagef("--patch %g is outside %d to %d pixels", q.patch, leastPatch, mostPatch)
	case q.given("scale-sd") && !(q.scaleSD >= leastScale && q.scaleSD <= mostScale):
		return console.Usagef("--scale-sd %g is outside %g to %g", q.scaleSD, leastScale, mostScale)
	case q.given("channel") && !slices.Contains(Channels, q.channel):
		return console.Usagef("--channel %q is not one of %s", q.channel, strings.Join(Channels, ", "))
	}
	if v, err := strconv.ParseFloat(q.encoding, 64); !slices.Contains(Encodings, q.encoding) && !(err == nil && v >= leastPower && v <= mostPower) {
		return console.Usagef("--encoding %q is not one of %s, nor an exponent from %g to %d", q.encoding, strings.Join(Encodings, ", "), leastPower, mostPower)
	}
	if err := exclusive(q.given, "tablet", "by"); err != nil {
		return err
	}
	if !q.given("tablet") {
		if err := Without(q.given, "--tablet FILE", "tablet-ends", "keep", "scale-sd", "encoding"); err != nil {
			return err
		}
	}
	for i, path := range paths {
		for _, other := range append(paths[:i:i], "-", cmp.Or(q.empty, "-")) {
			if filepath.Clean(path) == filepath.Clean(other) {
				return console.Usagef("%s: a picture is a file of its own, each given once", path)
			}
		}
	}
	for _, file := range []string{q.into, q.keep} {
		if file == "-" || slices.Contains(append(paths[:len(paths):len(paths)], q.empty), file) && file != "" {
			return console.Usagef("%s is no file of its own: name one for what is written", file)
		}
	}
	return q.read(len(paths))
}

// read reads the texts of the flags, for so many pictures.
func (q *Picture) read(files int) error {
	m := marks{}
	var err error
	for _, list := range []struct {
		flag  string
		texts []string
		to    *[]picture.Ends
	}{{"ends", q.ends, &m.ends}, {"tablet-ends", q.tabletEnds, &m.tabletEnds}} {
		for _, text := range list.texts {
			e, err := picture.ParseEnds(text)
			if err != nil {
				return console.Usagef("--%s %w", list.flag, err)
			}
			*list.to = append(*list.to, e)
		}
	}
	for _, text := range q.minutes {
		t, err := Minutes(text)
		if err != nil {
			return err
		}
		m.minutes = append(m.minutes, t)
	}
	told := max(len(q.minutes), len(q.grades))
	m.strips = len(m.ends)
	switch {
	case len(q.minutes) > 0 && len(q.grades) > 0 && len(q.minutes) != len(q.grades):
		return console.Usagef("--minutes is given %d times and --grade %d times: once a strip each", len(q.minutes), len(q.grades))
	case m.strips == 0 || told == 0 || m.strips == told:
	case m.strips == told*files:
		m.strips = told
	default:
		return console.Usagef("--ends marks %s, and %d are told by --minutes or --grade", printable.Counted(m.strips, "strip"), told)
	}
	if n := len(m.tabletEnds); n > 1 && n != files {
		return console.Usagef("--tablet-ends is given %d times: once, or once for each picture", n)
	}
	for _, text := range q.fog {
		p, err := picture.ParsePlace(text)
		if err != nil {
			return console.Usagef("--fog %w", err)
		}
		m.fog = append(m.fog, p)
	}
	switch n := len(m.fog); {
	case n == 1 && m.fog[0].ByStep && m.strips > 0:
		m.fog = slices.Repeat(m.fog, m.strips)
	case n > 0 && m.strips > 0 && n != m.strips:
		return console.Usagef("--fog is given %d times for %d strips: once each, or step=N for all", n, m.strips)
	}
	if m.opaque, err = pointOf("opaque", q.opaque); err != nil {
		return err
	}
	if m.clear, err = pointOf("clear", q.clear); err != nil {
		return err
	}
	for _, text := range q.anchors {
		anchor, err := picture.ParseAnchor(text)
		if err != nil {
			return console.Usagef("--anchor %w", err)
		}
		m.anchors = append(m.anchors, anchor)
	}
	q.marks = m
	return nil
}

func pointOf(flag, text string) (*picture.Point, error) {
	if text == "" {
		return nil, nil
	}
	p, err := picture.ParsePoint(text)
	if err != nil {
		return nil, console.Usagef("--%s %w", flag, err)
	}
	return &p, nil
}

// A PictureFile is a picture that was read.
type PictureFile struct {
	Name   string
	SHA256 [sha256.Size]byte
	Image  *picture.Image
	Seen   *look.Seen // nil where the ends are only proposed
}

// Ask answers for pictures of the same strips, a reading each. An error is that of Check, a *MissingFlag, or says
// why the pictures cannot be read.
func (q *Picture) Ask(from console.Streams, paths []string) (*PictureAnswer, error) {
	if err := q.Check(paths); err != nil {
		return nil, err
	}
	a := &PictureAnswer{SameFrame: q.given("tablet")}
	trial, err := q.trial(from, a)
	if err != nil {
		return nil, err
	}
	asked := look.Question{Channel: q.channel, Name: q.name(paths[0]), Encoding: q.encoding,
		Opaque: q.marks.opaque, Clear: q.marks.clear, Anchors: q.marks.anchors, Fog: q.marks.fog}
	if asked.Tablet, asked.By, err = q.known(from); err != nil {
		return nil, err
	}
	if err := q.seenAlike(trial, asked.Tablet, asked.By); err != nil {
		return nil, err
	}
	steps, err := q.stepsOf(trial, asked.Tablet)
	if err != nil {
		return nil, err
	}
	for _, path := range paths {
		f, err := q.open(from, path)
		if err != nil {
			return nil, err
		}
		a.Files = append(a.Files, f)
	}
	if err := q.overEmpty(from, a); err != nil {
		return nil, err
	}
	if a.plane, err = look.Plane(a.Files[0].Image, q.channel); err != nil {
		return nil, ofPicture(paths[0], err)
	}
	if proposes, err := q.propose(a, asked.Tablet, steps); proposes || err != nil {
		return a, err
	}
	if q.into != "" && asked.Tablet == nil && asked.By == nil {
		return nil, ofPicture(paths[0], picture.ErrNoTablet)
	}
	for i := range a.Files {
		asked.Rows = nil
		for j := range q.marks.strips {
			ends := q.marks.ends[j]
			if n := i*q.marks.strips + j; len(q.marks.ends) > q.marks.strips {
				ends = q.marks.ends[n]
			}
			asked.Rows = append(asked.Rows, picture.Row{Ends: ends, Steps: steps, PatchPx: q.patch})
		}
		if asked.Tablet != nil {
			asked.Told = picture.Taken{SHA256: hex.EncodeToString(a.Files[i].SHA256[:]), Made: q.Made}
			asked.TabletRow = picture.Row{Ends: q.marks.tabletEnds[min(i, len(q.marks.tabletEnds)-1)], Steps: len(asked.Tablet.Density)}
		}
		if a.Files[i].Seen, err = asked.Read(a.Files[i].Image); err != nil {
			return nil, ofPicture(paths[i], err)
		}
	}
	a.join(q)
	return a, q.fits(a, trial)
}

// ofPicture names the picture that an error is of.
func ofPicture(path string, err error) error { return fmt.Errorf("%s: %w", path, err) }

// trial reads the trial that the strips are to go into, nil where none is named.
func (q *Picture) trial(from console.Streams, a *PictureAnswer) (*sensito.Trial, error) {
	if q.into == "" {
		return nil, nil
	}
	trial, err := console.ReadInput(from, q.into, func(name string, r io.Reader) (*sensito.Trial, error) {
		var err error
		if a.into, err = store.ReadAll(name, r); err != nil {
			return nil, err
		}
		return notebook.Read(name, bytes.NewReader(a.into))
	})
	switch {
	case err != nil:
		return nil, err
	case trial.Material() == sensito.PaperMaterial: // of one grade neither grade nor time need be told
	case q.given("grade"):
		return nil, console.Usagef("--grade is of paper, and %s is a film", q.into)
	case !q.given("minutes"):
		return nil, &MissingFlag{"minutes", console.Usagef("--into needs --minutes M:SS, the development time of each strip")}
	}
	return trial, nil
}

// known reads the tablet in the picture, or the calibration of an earlier one.
func (q *Picture) known(from console.Streams) (*picture.Tablet, *picture.Calibration, error) {
	if q.tablet != "" {
		t, err := console.ReadInput(from, q.tablet, pictures.ReadTablet)
		if q.given("scale-sd") {
			t.ScaleSD = q.scaleSD
		}
		return &t, nil, err
	}
	if q.by != "" {
		c, err := console.ReadInput(from, q.by, pictures.ReadCalibration)
		return nil, c, err
	}
	return nil, nil, nil
}

// seenAlike refuses a tablet that is seen otherwise than the strips of the trial: of paper by light that comes back.
func (q *Picture) seenAlike(trial *sensito.Trial, t *picture.Tablet, by *picture.Calibration) error {
	if by != nil {
		t = &by.Tablet
	}
	switch {
	case trial == nil || t == nil:
	case trial.Material() != sensito.PaperMaterial && t.Reflection():
		return console.Usagef("%s is a film, which light comes through, and the tablet is a grey scale on paper, geometry %q", q.into, t.Geometry)
	case trial.Material() == sensito.PaperMaterial && !t.Reflection():
		return console.Usagef("%s is a paper, read by light that comes back, which needs a grey scale on paper: one whose [tablet] says geometry = %q", q.into, picture.Reflection)
	}
	return nil
}

// name returns that of a calibration which is made of a picture: of the file that keeps it, or of the picture.
func (q *Picture) name(path string) string {
	if q.keep != "" {
		path = q.keep
	}
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

// stepsOf returns how many steps a strip has.
func (q *Picture) stepsOf(trial *sensito.Trial, tablet *picture.Tablet) (int, error) {
	switch {
	case trial != nil && q.given("steps") && q.steps != trial.Exposures().Len():
		return 0, console.Usagef("--steps %d: %s has %d exposures, one a step", q.steps, q.into, trial.Exposures().Len())
	case trial != nil:
		return trial.Exposures().Len(), nil
	case q.given("steps"):
		return q.steps, nil
	case tablet != nil && len(q.marks.ends) == 0:
		return len(tablet.Density), nil
	}
	return 0, &MissingFlag{"steps", console.Usagef("picture needs --steps N, the steps of a strip")}
}

// open reads a picture, once.
func (q *Picture) open(from console.Streams, path string) (PictureFile, error) {
	if f, ok := q.opened[path]; ok {
		return f, nil
	}
	if q.Open != nil {
		return q.Open(path)
	}
	in, err := console.ReadInput(from, path, pictures.From)
	if err != nil {
		return PictureFile{}, err
	}
	f := PictureFile{Name: filepath.Base(path), SHA256: in.SHA256, Image: in.Image}
	if q.opened == nil {
		q.opened = map[string]PictureFile{}
	}
	q.opened[path] = f
	return f, nil
}

// overEmpty lays the picture of the empty table under the others.
func (q *Picture) overEmpty(from console.Streams, a *PictureAnswer) error {
	if q.empty == "" {
		return nil
	}
	e, err := q.open(from, q.empty)
	if err != nil {
		return err
	}
	a.Empty = &e
	for i, f := range a.Files {
		if a.Files[i].Image, err = f.Image.Over(&picture.Empty{Image: e.Image, SHA256: hex.EncodeToString(e.SHA256[:])}); err != nil {
			return ofPicture(f.Name, err)
		}
	}
	return nil
}

// propose finds where the row of steps may lie that nobody has marked, and says whether there is one.
func (q *Picture) propose(a *PictureAnswer, tablet *picture.Tablet, steps int) (bool, error) {
	a.ProposedFlag, a.ProposedSteps = "ends", steps
	switch {
	case tablet != nil && len(q.marks.tabletEnds) == 0:
		a.ProposedFlag, a.ProposedSteps = "tablet-ends", len(tablet.Density)
	case q.marks.strips > 0, tablet != nil && q.into == "" && len(q.marks.minutes) == 0:
		return false, nil
	}
	im := a.Files[0].Image
	rows, err := picture.Propose(im, a.plane, a.ProposedSteps)
	if err != nil {
		return false, ofPicture(a.Files[0].Name, err)
	}
	for _, ends := range rows {
		l, _, err := picture.Find(im, a.plane, picture.Row{Ends: ends, Steps: a.ProposedSteps, PatchPx: q.patch})
		if err == nil && !slices.ContainsFunc(slices.Concat(q.marks.ends, q.marks.tabletEnds), l.Ends.SameRow) {
			a.Proposed = append(a.Proposed, l)
		}
	}
	if a.Proposed == nil {
		return false, console.Usagef("%s: nothing looks like a further row of %d steps; mark its ends with --%s X,Y:X,Y", a.Files[0].Name, a.ProposedSteps, a.ProposedFlag)
	}
	return true, nil
}

// fits returns an error where the strips cannot be those of the trial: their ends were exchanged.
func (q *Picture) fits(a *PictureAnswer, trial *sensito.Trial) error {
	if trial == nil {
		return nil
	}
	if len(a.Strips) == 0 {
		return console.Usagef("--into needs --ends X,Y:X,Y, where the strip lies")
	}
	for i, s := range a.Strips {
		if look.Against(s.Densities, logs(trial.Exposures().LogH())) {
			ends := s.Rows[0].Ends
			return console.WithHint(fmt.Errorf("strip %d gets less dense where it was exposed more: its ends were exchanged", i+1),
				fmt.Sprintf("--ends %s", picture.Ends{First: ends.Last, Last: ends.First}))
		}
	}
	return nil
}

func logs(hs []sensito.LogExposure) []float64 {
	var out []float64
	for _, h := range hs {
		out = append(out, float64(h))
	}
	return out
}
