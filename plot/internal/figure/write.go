package figure

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"sensito/plot/internal/canvas"
	"sensito/plot/internal/parts"
)

// The formats that Write knows.
const (
	SVG = "svg"
	PNG = "png"
	PDF = "pdf"
	CSV = "csv" // the numbers that are drawn
)

// FormatOf returns the format that a file's ending stands for. The error names
// the endings that are known.
func FormatOf(path string) (string, error) {
	ending := filepath.Ext(path)
	switch f := strings.TrimPrefix(strings.ToLower(ending), "."); f {
	case SVG, PNG, PDF, CSV:
		return f, nil
	}
	return "", fmt.Errorf("%s: %q is not an ending for a figure; use .svg, .png, .pdf or .csv", path, ending)
}

// Write writes a figure as svg, png (200 dots per inch, 300 for a card) or pdf, or
// the numbers that it draws as csv.
// The same figure gives the same bytes. Nothing is written when the error is not
// of w; it is a *MissingLetterError where no font has a letter of a png or pdf.
func Write(w io.Writer, fig *Figure, format string) error {
	write, known := map[string]func(io.Writer, canvas.Drawing) error{SVG: canvas.SVG, PNG: canvas.PNG, PDF: canvas.PDF}[format]
	if format == CSV {
		return writeCSV(w, fig)
	}
	if !known {
		return fmt.Errorf("figure format %q is not svg, png, pdf or csv", format)
	}
	d := canvas.Drawing{
		Title: fig.Title, Width: fig.Width, Height: fig.Height,
		Paper: fig.theme.Colour(parts.Paper), DPI: cmp.Or(fig.dpi, PngDPI), Software: fig.software, Fallback: fig.Fallback, Draw: fig.Draw,
	}
	if b, ok := fig.body.(interface{ Description() string }); ok {
		d.Description = b.Description()
	}
	var out bytes.Buffer
	if err := write(&out, d); err != nil {
		return err
	}
	_, err := out.WriteTo(w)
	return err
}

// Resolutions of a PNG, in dots per inch.
const (
	PngDPI  = 200
	cardDPI = 300 // small type, to be printed
)

// Font is one that a person gives for letters that the built-in ones lack: those
// have Latin, Greek and Cyrillic.
type Font = canvas.Font

// ParseFont reads a TrueType or OpenType file.
func ParseFont(data []byte) (*Font, error) { return canvas.ParseFont(data) }

// MissingLetterError is that of Write where no font has a letter. An SVG holds
// every letter, for its reader to draw.
type MissingLetterError = canvas.MissingLetterError
