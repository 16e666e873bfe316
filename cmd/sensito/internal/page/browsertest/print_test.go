package browsertest

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A paper is one that is printed on.
type paper struct {
	name          string
	width, height float64 // mm
}

var (
	a4     = paper{"A4", 210, 297}
	letter = paper{"Letter", 215.9, 279.4}
	card   = paper{"a card", 105, 148} // which its page asks for itself
)

// printed are pages that are printed, with how many sheets of paper they take.
var printed = []struct {
	at     string
	paper  paper
	sheets int
}{
	{"/t/larkfield-brinewater", a4, 3},
	{"/t/larkfield-brinewater", letter, 3},
	{"/scene?trial=larkfield-brinewater&range=7", a4, 2},
	{"/scene?trial=larkfield-brinewater&range=7", letter, 2},
	{"/sheet?trial=tern-ashlar&range=7", a4, 2},
	{"/sheet?trial=tern-ashlar&range=7", letter, 2},
	{"/card?trial=larkfield-brinewater", card, 1},
}

var (
	sheet    = regexp.MustCompile(`/Type\s*/Page\b`)
	mediaBox = regexp.MustCompile(`/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]`)
)

// Pages take as many sheets of paper as they should, each of that size.
func TestPrinted(t *testing.T) {
	atLength(t)
	s := serve(t, demoNotebook(t))
	b := letIn(s)
	const inch, points = 25.4, 72 // mm, of an inch
	for _, c := range printed {
		b.open(s.base + c.at)
		margin := 18 / inch // as the sheet of styles has it
		pdf := call(b, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: c.paper.width / inch, PaperHeight: c.paper.height / inch,
			MarginTop: &margin, MarginBottom: &margin, MarginLeft: &margin, MarginRight: &margin, PrintBackground: new(true), PreferCSSPageSize: new(c.paper == card)}).Data
		if shotFolder() != "" {
			require.NoError(t, os.WriteFile(filepath.Join(shotFolder(), fileName(c.at)+"-"+strings.ReplaceAll(c.paper.name, " ", "_")+".pdf"), pdf, 0o666))
		}
		assert.Equal(t, c.sheets, len(sheet.FindAll(pdf, -1)), "%s on %s", c.at, c.paper.name)
		boxes := mediaBox.FindAllSubmatch(pdf, -1)
		require.NotEmpty(t, boxes)
		for _, box := range boxes {
			for i, side := range []float64{c.paper.width, c.paper.height} {
				is, err := strconv.ParseFloat(string(box[i+1]), 64)
				require.NoError(t, err)
				assert.InDelta(t, side/inch*points, is, 1, "%s on %s", c.at, c.paper.name)
			}
		}
	}
}
