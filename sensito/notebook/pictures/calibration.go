package pictures

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/listing"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
	"sensito/sensito/notebook/store"
	"sensito/sensito/picture"
)

// ReadCalibration returns the calibration written in TOML in r; name stands for the file in
// errors, which are as for notebook.Read.
func ReadCalibration(name string, r io.Reader) (*picture.Calibration, error) {
	return decode(name, r, func(root *grammar.Table) *picture.Calibration {
		spec := picture.Calibration{Name: root.Text("name"), Tablet: readTablet(root), Picture: readTaken(root), Fit: readFitted(root)}
		c, err := picture.NewCalibration(spec)
		root.Absorb(err)
		return c
	})
}

// ReadEither returns the tablet of a file, and the calibration, nil where the file is of a tablet
// alone; see ReadCalibration.
func ReadEither(name string, r io.Reader) (picture.Tablet, *picture.Calibration, error) {
	data, err := store.ReadAll(name, r)
	if err != nil {
		return picture.Tablet{}, nil, err
	}
	if !grammar.Decode(data).Has("fit") {
		t, err := ReadTablet(name, bytes.NewReader(data))
		return t, nil, err
	}
	c, err := ReadCalibration(name, bytes.NewReader(data))
	if err != nil {
		return picture.Tablet{}, nil, err
	}
	return c.Tablet, c, nil
}

// Listed returns what the list of a notebook says of a file; see ReadCalibration.
func Listed(name string, r io.Reader) (*listing.Tablet, error) {
	t, c, err := ReadEither(name, r)
	if err != nil {
		return nil, err
	}
	out := &listing.Tablet{Name: t.Name, Steps: len(t.Density)}
	if c != nil {
		out.Name, out.ReadsTo = cmp.Or(c.Name, t.Name), c.Fit.ReadsTo
	}
	return out, nil
}

// ReadTablet returns the tablet of a file of a tablet or of a calibration; see ReadCalibration.
func ReadTablet(name string, r io.Reader) (picture.Tablet, error) {
	t, err := decode(name, r, func(root *grammar.Table) *picture.Tablet {
		t, err := picture.NewTablet(readTablet(root))
		root.Absorb(err)
		return &t
	})
	if err != nil {
		return picture.Tablet{}, err
	}
	return *t, nil
}

// decode reads a file of kind picture whole; the result of read counts where no fault was noted.
func decode[T any](name string, r io.Reader, read func(root *grammar.Table) *T) (*T, error) {
	data, err := store.ReadAll(name, r)
	if err != nil {
		return nil, err
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if k := notebook.KindOf(data); k != notebook.UnknownKind && k != notebook.PictureKind {
		return nil, grammar.Errors{{File: name, Line: 1, Msg: k.Instead(notebook.PictureKind.String())}}
	}
	root, err := grammar.Read(name, data)
	if err != nil {
		return nil, err
	}
	root.RefuseOthers([]string{"kind", "name", "tablet", "picture", "fit"})
	if kind := root.Text("kind"); kind != string(notebook.PictureKind) && root.Has("kind") && !root.Hidden("kind") {
		root.Add("kind", "%q is not %s", kind, notebook.PictureKind)
	}
	out := read(root)
	if err := root.Located(name, data); err != nil {
		return nil, err
	}
	return out, nil
}

// readTablet reads [tablet]: its densities listed, or in equal steps, which are nominal.
func readTablet(root *grammar.Table) picture.Tablet {
	t := root.Sub("tablet", "name", "density", "first", "step", "count", "density_sd", "scale_sd", "known", "geometry", "made_of")
	root.Need("tablet")
	out := picture.Tablet{Name: t.Text("name"), DensitySD: t.Nonzero("density_sd"), ScaleSD: t.Nonzero("scale_sd"), Known: t.Text("known"),
		Geometry: t.Text("geometry"), MadeOf: t.Text("made_of")}
	even := slices.DeleteFunc([]string{"first", "step", "count"}, func(name string) bool { return !t.Has(name) })
	switch {
	case !root.Has("tablet"):
		root.Hide("tablet")
	case len(even) == 0:
		if t.Need("density") {
			out.Density = t.Numbers("density", false)
		}
	case t.Has("density"):
		t.Add(t.Key(even[0]), "does not go with density; list the steps or give first, step and count, not both")
		t.Hide(t.Key("density"))
	default:
		out.Density = evenSteps(t)
		t.Hide(t.Key("density"))
		if out.Known == picture.Certificate {
			t.Add(t.Key("known"), "equal steps are those of a kind of tablet, which is nominal; list the densities of the certificate")
		}
	}
	return out
}

func evenSteps(t *grammar.Table) []float64 {
	for _, name := range []string{"first", "step", "count"} {
		t.Need(name)
	}
	first, step, count := t.Number("first"), t.Number("step"), t.Number("count")
	if math.IsNaN(first + step + count) { // told above
		return nil
	}
	if which, reason := sensito.CheckEvenWedge(first, step, count); which != "" {
		t.Add(t.Key(which), "%s", reason)
		return nil
	}
	var out []float64
	for _, d := range sensito.EvenWedge(sensito.Density(first), sensito.Density(step), int(count)) {
		out = append(out, float64(d))
	}
	return out
}

// readTaken reads [picture], which is told to people alone.
func readTaken(root *grammar.Table) picture.Taken {
	t := root.Sub("picture", "file_sha256", "pixels_per_inch", "bits", "channels", "device", "software", "profile", "made", "channel", "surround", "empty_sha256")
	out := picture.Taken{SHA256: t.Text("file_sha256"), PixelsPerInch: t.Nonzero("pixels_per_inch"), Device: t.Text("device"), Software: t.Text("software"),
		Profile: t.Text("profile"), Made: trialfile.DateOf(t, "made"), Channel: t.Text("channel"), Surround: t.Text("surround"), Empty: t.Text("empty_sha256")}
	if t.Has("bits") {
		out.Bits = t.Integer("bits", 1, 32)
	}
	if t.Has("channels") {
		out.Channels = t.Integer("channels", 1, 16)
	}
	if s := out.Surround; s != "" && s != "mask" && s != "open" {
		t.Add(t.Key("surround"), "%q is not mask or open", s)
	}
	return out
}

// readFitted reads [fit].
func readFitted(root *grammar.Table) picture.Fitted {
	t := root.Sub("fit", "method", "encoding", "value", "value_sd", "rejected", "exponent", "exponent_sd", "opaque", "open", "empty", "reads_to", "step_sd",
		"covariance", "glare", "near", "far", "share", "share_covariance", "anchored")
	if !root.Need("fit") {
		root.Hide("fit")
	} else {
		for _, name := range []string{"method", "value", "value_sd", "rejected", "reads_to", "step_sd", "covariance", "near", "far", "share", "share_covariance"} {
			t.Need(name)
		}
	}
	out := picture.Fitted{Method: t.Text("method"), Encoding: t.Text("encoding"), Value: t.Numbers("value", true), ValueSD: t.Numbers("value_sd", true),
		Rejected: t.Numbers("rejected", true), Exponent: t.Number("exponent"), ExponentSD: t.Number("exponent_sd"), Opaque: t.Number("opaque"),
		Open: t.Number("open"), ReadsTo: t.Number("reads_to"), StepSD: t.Number("step_sd")}
	if t.Has("empty") {
		out.Empty = t.Number("empty")
	}
	out.Near, out.Far = t.Numbers("near", true), t.Numbers("far", true)
	rows := t.List("covariance", "a list of three lists")
	if t.Has("covariance") && len(rows) != 3 {
		t.Add(t.Key("covariance"), "has %d rows; it is that of offset, scale and curvature, 3 by 3", len(rows))
	}
	for i, row := range rows[:min(3, len(rows))] {
		key := grammar.Element(t.Key("covariance"), i)
		numbers(t, key, row, out.Covariance[i][:])
	}
	if t.Has("share") {
		numbers(t, t.Key("share"), t.Values["share"], out.Share.Mean[:])
	}
	rows = t.List("share_covariance", "a list of two lists")
	if t.Has("share_covariance") && len(rows) != 2 {
		t.Add(t.Key("share_covariance"), "has %d rows; it is that of near and far glare, 2 by 2", len(rows))
	}
	for i, row := range rows[:min(2, len(rows))] {
		numbers(t, grammar.Element(t.Key("share_covariance"), i), row, out.Share.Cov[i][:])
	}
	if t.Has("glare") {
		numbers(t, t.Key("glare"), t.Values["glare"], out.Glare[:])
	}
	if t.Has("anchored") {
		numbers(t, t.Key("anchored"), t.Values["anchored"], out.Anchored[:])
	}
	return out
}

// numbers reads a list of as many numbers as there is room for.
func numbers(t *grammar.Table, key string, v any, to []float64) {
	list, ok := grammar.AsList(v)
	if !ok {
		t.Wrong(key, "a list of numbers", v)
		return
	}
	if len(list) != len(to) {
		t.Add(key, "has %d numbers, not %d", len(list), len(to))
		return
	}
	for i, x := range list {
		to[i] = t.FiniteIn(key, i, x, false)
	}
}

// FormatCalibration returns a calibration as a file, from which ReadCalibration gives an equal one.
func FormatCalibration(c *picture.Calibration) []byte {
	p := &printer{}
	p.text("kind", string(notebook.PictureKind))
	p.text("name", c.Name)
	p.tablet(c.Tablet)
	k := c.Picture
	p.header("picture")
	p.text("file_sha256", k.SHA256)
	p.known("pixels_per_inch", k.PixelsPerInch)
	p.known("bits", float64(k.Bits))
	p.known("channels", float64(k.Channels))
	p.text("device", k.Device)
	p.text("software", k.Software)
	p.text("profile", k.Profile)
	if k.Made != "" {
		p.line("made", k.Made)
	}
	p.text("channel", k.Channel)
	p.text("surround", k.Surround)
	p.text("empty_sha256", k.Empty)
	f := c.Fit
	p.header("fit")
	p.text("method", f.Method)
	p.text("encoding", f.Encoding)
	p.list("value", f.Value)
	p.list("value_sd", f.ValueSD)
	p.list("rejected", f.Rejected)
	p.number("exponent", f.Exponent)
	p.number("exponent_sd", f.ExponentSD)
	p.number("opaque", f.Opaque)
	p.number("open", f.Open)
	if f.Empty != 0 {
		p.number("empty", f.Empty)
	}
	p.number("reads_to", f.ReadsTo)
	p.number("step_sd", f.StepSD)
	var rows []string
	for _, row := range f.Covariance {
		rows = append(rows, "  "+listed(row[:])+",\n")
	}
	p.line("covariance", "[\n"+strings.Join(rows, "")+"]")
	if f.Glare != [4]float64{} {
		p.line("glare", listed(f.Glare[:]))
	}
	p.list("near", f.Near)
	p.list("far", f.Far)
	p.line("share", listed(f.Share.Mean[:]))
	p.line("share_covariance", "["+listed(f.Share.Cov[0][:])+", "+listed(f.Share.Cov[1][:])+"]")
	if f.Anchored != [2]float64{} {
		p.line("anchored", listed(f.Anchored[:]))
	}
	return p.Bytes()
}

// FormatTablet returns a tablet as a file of its own, from which ReadTablet gives an equal one.
// It is for programs that use the library.
func FormatTablet(t picture.Tablet) []byte {
	p := &printer{}
	p.text("kind", string(notebook.PictureKind))
	p.tablet(t)
	return p.Bytes()
}

// A printer writes keys with their values. What is not known is left out.
type printer struct{ bytes.Buffer }

func (p *printer) tablet(t picture.Tablet) {
	p.header("tablet")
	p.text("name", t.Name)
	p.list("density", t.Density)
	p.known("density_sd", t.DensitySD)
	p.known("scale_sd", t.ScaleSD)
	p.text("known", t.Known)
	p.text("geometry", t.Geometry)
	p.text("made_of", t.MadeOf)
}

func (p *printer) header(name string) { fmt.Fprintf(p, "\n[%s]\n", name) }

func (p *printer) line(key, value string) { fmt.Fprintf(p, "%s = %s\n", key, value) }

func (p *printer) text(key, s string) {
	if s != "" {
		p.line(key, grammar.Quoted(s))
	}
}

func (p *printer) number(key string, v float64) {
	if !math.IsNaN(v) {
		p.line(key, grammar.Number(v))
	}
}

func (p *printer) known(key string, v float64) {
	if v != 0 {
		p.line(key, strconv.FormatFloat(v, 'f', -1, 64))
	}
}

// inLine is how many numbers a line of a list has.
const inLine = 7

func (p *printer) list(key string, list []float64) {
	var b strings.Builder
	for part := range slices.Chunk(list, inLine) {
		b.WriteString("  " + strings.TrimSuffix(strings.TrimPrefix(listed(part), "["), "]") + ",\n")
	}
	p.line(key, "[\n"+b.String()+"]")
}

func listed(list []float64) string {
	texts := make([]string, len(list))
	for i, v := range list {
		texts[i] = grammar.Number(v)
	}
	return "[" + strings.Join(texts, ", ") + "]"
}
