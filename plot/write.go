package plot

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"path/filepath"
	"regexp"
	"strings"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
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
// of w.
func Write(w io.Writer, fig *Figure, format string) error {
	var out bytes.Buffer
	var err error
	switch format {
	case SVG:
		err = writeSVG(&out, fig)
	case PNG:
		err = writePNG(&out, fig)
	case PDF:
		err = writePDF(&out, fig)
	case CSV:
		err = writeCSV(&out, fig)
	default:
		err = fmt.Errorf("figure format %q is not svg, png, pdf or csv", format)
	}
	if err != nil {
		return err
	}
	_, err = out.WriteTo(w)
	return err
}

// svgFamily names the font in the drawing and fonts of the same widths, for
// readers that lack it.
const svgFamily = "font-family:'Liberation Sans',Arimo,Arial,Helvetica,sans-serif;"

var svgStart = regexp.MustCompile(`(?s)<!--.*?-->\n(<svg.*?>)\n`)

// writeSVG writes text as text: it can be searched, and stays small.
func writeSVG(out *bytes.Buffer, fig *Figure) error {
	c := vgsvg.NewWith(vgsvg.UseWH(fig.Width, fig.Height))
	fig.Draw(c)
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	s := strings.ReplaceAll(b.String(), "font-family:Liberation Sans;", svgFamily)
	at := svgStart.FindStringSubmatchIndex(s)
	if at == nil {
		return fmt.Errorf("figure %q: the drawing has no start", fig.Title)
	}
	out.WriteString(s[:at[0]] + s[at[2]:at[3]] + "\n<title>" + html.EscapeString(fig.Title) + "</title>\n" + s[at[1]:])
	return nil
}

// pdfCanvas encodes text in the code page of the PDF's font.
type pdfCanvas struct{ *vgpdf.Canvas }

// FillString replaces characters that the code page lacks.
func (c pdfCanvas) FillString(f font.Face, pt vg.Point, s string) {
	encoded, err := encoding.ReplaceUnsupported(charmap.Windows1252.NewEncoder()).String(s)
	if err != nil {
		encoded = s
	}
	c.Canvas.FillString(f, pt, strings.ReplaceAll(encoded, "\x1a", "?"))
}

// pdfDates are when a PDF was made; blanks of the same length keep the offsets
// in the file right.
var pdfDates = regexp.MustCompile(`/(CreationDate|ModDate) \(D:[^)]*\)`)

func writePDF(out *bytes.Buffer, fig *Figure) error {
	c := vgpdf.New(fig.Width, fig.Height)
	fig.Draw(pdfCanvas{c})
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	out.Write(pdfDates.ReplaceAllFunc(b.Bytes(), func(date []byte) []byte {
		return bytes.Repeat([]byte{' '}, len(date))
	}))
	return nil
}
