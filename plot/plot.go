package plot

import (
	"io"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
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
