package canvas

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"image"
	"image/color"
	"io"
	"strings"
	"unicode/utf16"
)

// pdfFile is a file that grows object by object (ISO 32000-1, 7.5).
type pdfFile struct {
	bytes.Buffer
	offsets []int // of the objects, the first of which is number 1
}

// next is the number of the object that is added next.
func (f *pdfFile) next() int { return len(f.offsets) + 1 }

// object adds an object and returns its number.
func (f *pdfFile) object(format string, values ...any) int {
	n := f.next()
	f.offsets = append(f.offsets, f.Len())
	fmt.Fprintf(f, "%d 0 obj\n", n)
	fmt.Fprintf(f, format, values...)
	f.WriteString("\nendobj\n")
	return n
}

// stream adds data as an object, with entries of its dictionary beside its length,
// and returns its number.
func (f *pdfFile) stream(data []byte, entries string) int {
	var packed bytes.Buffer
	z, _ := zlib.NewWriterLevel(&packed, zlib.BestCompression) // no error for a level there is
	_, _ = z.Write(data)                                       // a bytes.Buffer takes all
	_ = z.Close()
	return f.object("<</Length %d/Filter/FlateDecode%s>>\nstream\n%s\nendstream", packed.Len(), entries, packed.Bytes())
}

// file writes the page with all that it uses.
func (c *pdfCanvas) file(w io.Writer) error {
	var f pdfFile
	f.WriteString("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
	var fonts, images, alphas strings.Builder
	for _, font := range c.fonts {
		n, err := font.add(&f)
		if err != nil {
			return err
		}
		fmt.Fprintf(&fonts, "/%s %d 0 R", font.name, n)
	}
	for i, img := range c.images {
		fmt.Fprintf(&images, "/I%d %d 0 R", i, f.image(img))
	}
	for _, a := range append(c.alphas, 255) {
		fmt.Fprintf(&alphas, "/A%d<</ca %.3f/CA %.3[2]f>>", a, float64(a)/255)
	}
	content := f.stream([]byte(c.String()), "")
	var size output
	size.lengths(0, 0, c.d.Width, c.d.Height)
	if size.err != nil {
		return size.err
	}
	page := f.object("<</Type/Page/Parent %d 0 R/MediaBox [%s]/Contents %d 0 R/Resources<</Font<<%s>>/XObject<<%s>>/ExtGState<<%s>>>>>>",
		f.next()+1, size.String(), content, &fonts, &images, &alphas)
	pages := f.object("<</Type/Pages/Kids[%d 0 R]/Count 1>>", page)
	catalog := f.object("<</Type/Catalog/Pages %d 0 R/Lang(%s)/ViewerPreferences<</DisplayDocTitle true>>>>", pages, language)
	about := ""
	if c.d.Description != "" {
		about = "/Subject" + pdfText(c.d.Description)
	}
	info := f.object("<</Title%s%s>>", pdfText(c.d.Title), about)

	at := f.Len()
	fmt.Fprintf(&f, "xref\n0 %d\n0000000000 65535 f \n", f.next())
	for _, offset := range f.offsets {
		fmt.Fprintf(&f, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&f, "trailer\n<</Size %d/Root %d 0 R/Info %d 0 R>>\nstartxref\n%d\n%%%%EOF\n", f.next(), catalog, info, at)
	_, err := f.WriteTo(w)
	return err
}

// pdfText returns a text outside the page (ISO 32000-1, 7.9.2.2).
func pdfText(s string) string { return "<feff" + hexUTF16(s) + ">" }

func hexUTF16(s string) string {
	var b strings.Builder
	for _, unit := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04x", unit)
	}
	return b.String()
}

// image adds an image and how far it covers what is below it.
func (f *pdfFile) image(img image.Image) int {
	size := img.Bounds()
	var pixels, cover []byte
	for y := size.Min.Y; y < size.Max.Y; y++ {
		for x := size.Min.X; x < size.Max.X; x++ {
			p := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
			pixels = append(pixels, p.R, p.G, p.B)
			cover = append(cover, p.A)
		}
	}
	common := fmt.Sprintf("/Type/XObject/Subtype/Image/Width %d/Height %d/BitsPerComponent 8", size.Dx(), size.Dy())
	mask := f.stream(cover, common+"/ColorSpace/DeviceGray")
	return f.stream(pixels, fmt.Sprintf("%s/ColorSpace/DeviceRGB/SMask %d 0 R", common, mask))
}
