package plot

import (
	"io"

	"sensito/plot/internal/developed"
	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/planned"
	"sensito/plot/internal/strips"
	"sensito/sensito/curve"
	"sensito/sensito/logbook"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
	"sensito/sensito/testplan"
)

// Options say how a figure is drawn. The zero value is the recommended run.
type Options = figure.Options

// Figure is a drawing of known size, ready for Write.
type Figure = figure.Figure

// Font is one that a person gives for letters that the built-in ones lack: those
// have Latin, Greek and Cyrillic.
type Font = figure.Font

// MissingLetterError is that of Write where no font has a letter. An SVG holds
// every letter, for its reader to draw.
type MissingLetterError = figure.MissingLetterError

// The formats that Write knows.
const (
	SVG = figure.SVG
	PNG = figure.PNG
	PDF = figure.PDF
	CSV = figure.CSV // the numbers that are drawn
)

// FormatOf returns the format that a file's ending stands for. The error names
// the endings that are known.
func FormatOf(path string) (string, error) { return figure.FormatOf(path) }

// ParseFont reads a TrueType or OpenType file.
func ParseFont(data []byte) (*Font, error) { return figure.ParseFont(data) }

// Themes returns how a figure may look, the usual one first: for white paper, for a
// slide seen from afar, for a dark page.
func Themes() []string { return parts.Themes() }

// Write writes a figure as svg, png (200 dots per inch, 300 for a card) or pdf, or
// the numbers that it draws as csv. The same figure gives the same bytes. Nothing is
// written when the error is not of w; it is a *MissingLetterError where no font has a
// letter of a png or pdf.
func Write(w io.Writer, fig *Figure, format string) error { return figure.Write(w, fig, format) }

// PageFigure says how a figure stands in a page of HTML.
type PageFigure = figure.PageFigure

// OnPage is a figure for a page of HTML, at both widths.
type OnPage = figure.OnPage

// WriteForPage writes a figure made with Options.Page as an SVG element for a page of
// HTML: without header, style, script and references, in px. Its colours are those that
// the page's sheet gives the Classes; a tone keeps its grey. Nothing is written when
// the error is not of w. It is for programs that use the library; ForPage has both widths.
func WriteForPage(w io.Writer, f *Figure, p PageFigure) error { return figure.WriteForPage(w, f, p) }

// ForPage draws a figure for a page of HTML, 620 and 330 px wide, of which the page's
// sheet shows one: build is a builder with its values, o what it is asked besides Page,
// Width and Height. The identifiers of both begin with that of p. The error is that of
// the builder, or of an ID that is no name.
func ForPage(build func(Options) (*Figure, error), o Options, p PageFigure) (OnPage, error) {
	return figure.ForPage(build, o, p)
}

// Classes returns, for whoever writes the sheet, the classes of the elements of such a
// figure, but for "patch", a tone, and "redback", what stands behind it.
func Classes() []string { return parts.Classes() }

// Curves returns the characteristic curves of strips of one trial, from the shortest
// development, the lightest, to the longest: readings as open symbols, those set aside
// crossed out, the fitted curve with the confidence band of its density, thin where
// there are no readings, and the speed points with their intervals. Both axes have the
// same scale: one unit of log exposure is as long as one unit of density. A strip
// alone is drawn with its contrast-index ray, the readings of its base and what its
// readings differ by from the curve, and with Options.Triangle the triangle of ISO 6.
// The error is for options outside their limits, no strip with a curve, too many, or
// strips of different trials. Strips without a curve are left out.
func Curves(ms []*curve.Measured, o Options) (*Figure, error) { return strips.Curves(ms, o) }

// CurvesFor is Curves with the strips that an answer rests on and, among their curves,
// the one that it asks for, as it is under the conditions of the trial, with the scene as
// a bracket along the exposures. The error is that of Curves, or for an answer whose time
// has no curve.
func CurvesFor(p *scene.Answer, o Options) (*Figure, error) {
	tested := p.Tested()
	c, err := p.Family.CurveAt(tested.Minutes.Value)
	if err != nil {
		return nil, err
	}
	slower := p.SpeedPoint.Value.Sub(tested.SpeedPoint.Value)
	return strips.CurvesAsked(p.Family.Strips, &strips.Asked{
		Curve: c, Time: parts.Planned(tested.Minutes.Value), Scene: "the scene, " + inStops(p.Scene.Stops),
		Darkest: p.Ends[0].Film.Add(-slower), Lightest: p.Ends[1].Film.Add(-slower),
	}, o)
}

// Paper returns the characteristic curves of a paper, one for each grade, laid on
// their speed points so that their contrasts are compared, from the softest, the
// lightest, to the hardest; and below them a bar for each grade from white to black,
// with its ISO range and speed. A strip alone is drawn on its own exposures, with the
// ends of its range and what its readings differ by from the curve. The error is for
// options outside their limits, no strip with a curve, or too many. Strips without a
// curve are left out.
func Paper(p *paper.Paper, o Options) (*Figure, error) { return strips.Paper(p, o) }

// Log returns the times of a log of developments against their dates, a panel for each
// film, with a symbol for each developer: solid for films, open for test strips, and a
// dash where another time was planned. Below are the temperatures, with a line from
// begin to end. The error is for options outside their limits, no development, or more
// films than a page can hold.
func Log(l *logbook.Log, o Options) (*Figure, error) { return developed.Log(l, o) }

// Proposal returns the interval of the answer now and as each thing proposed would
// leave it, a row each: what is chosen together in its order, each row with all
// before it, then single strips that would do instead. The interval that is wanted
// is shaded. Confidence is the proposal's own. The error is for options outside
// their limits.
func Proposal(p *testplan.Proposal, o Options) (*Figure, error) { return planned.Proposal(p, o) }

// FirstTest returns what a first test of a film exposes and for how long it
// develops: the exposures of the steps on a scale of log exposure, with where the
// speed point is expected and what a strip should show; below it the times, with the
// published one. The error is for options outside their limits or too small a page.
func FirstTest(p *testplan.FirstProposal, o Options) (*Figure, error) { return planned.FirstTest(p, o) }

// Keyed is a strip as far as it is keyed in, and Judged the reading keyed in last.
type (
	Keyed  = strips.Keyed
	Judged = strips.Judged
)

// Keying returns a strip as far as it is keyed in: the readings with a smooth curve
// through those of neighbouring steps, the nearest other strip in grey, and of the
// reading keyed in last what was expected, as a ring; one that is questioned is crossed,
// with its value, and dashes lead from the curve to the ring. Nothing is drawn of a step
// that is not read. Both axes have the same scale, and the figure of one strip the same
// size whatever is read. The error is for options outside their limits or too small a page.
func Keying(k Keyed, o Options) (*Figure, error) { return strips.Keying(k, o) }
