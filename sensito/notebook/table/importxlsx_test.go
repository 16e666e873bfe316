package table

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sensito/sensito/notebook/notebooktest"
)

// plainWorkbook returns a workbook of one sheet with the cells of a table in
// text, numbers as numbers.
func plainWorkbook(t *testing.T, table string) []byte {
	var sheet strings.Builder
	sheet.WriteString(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`)
	for i, line := range strings.Split(strings.TrimSpace(table), "\n") {
		fmt.Fprintf(&sheet, `<row r="%d">`, i+1)
		for j, c := range strings.Split(line, ",") {
			at := fmt.Sprintf("%c%d", 'A'+j, i+1)
			switch {
			case c == "":
			case plainNumber().MatchString(c):
				fmt.Fprintf(&sheet, `<c r="%s"><v>%s</v></c>`, at, c)
			default:
				fmt.Fprintf(&sheet, `<c r="%s" t="inlineStr"><is><t>%s</t></is></c>`, at, c)
			}
		}
		sheet.WriteString(`</row>`)
	}
	sheet.WriteString(`</sheetData></worksheet>`)
	const rels = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/`
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, part := range []struct{ name, text string }{
		{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`},
		{"_rels/.rels", rels + `officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="March" sheetId="1" r:id="rId1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", rels + `worksheet" Target="worksheets/sheet1.xml"/></Relationships>`},
		{"xl/worksheets/sheet1.xml", sheet.String()},
	} {
		w, err := z.Create(part.name)
		require.NoError(t, err)
		_, err = w.Write([]byte(part.text))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

// A workbook is read as the table in text that it would be.
func TestImportWorkbook(t *testing.T) {
	want, _ := imported(t, longTable1, ImportOptions{Values: light})
	got, guesses := imported(t, string(plainWorkbook(t, longTable1)), ImportOptions{Values: light})
	assert.Equal(t, notebooktest.Describe(want), notebooktest.Describe(got))
	assert.Equal(t, []string{"each row is a reading", "exposures are of the kind contact"}, guesses)

	_, err := Import("x", bytes.NewReader(plainWorkbook(t, "minutes,step,wedge,density\n5,1,0.05,1.2\n5,2,0.2,abc\n5,3,0.35,1\n")), ImportOptions{Values: light})
	require.EqualError(t, err, `x:3: density: "abc" is not a number`)
}
