package table

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"sensito/sensito/notebook/internal/grammar"
)

// A small file can unpack to any size.
const (
	maxUnpacked = 64 << 20 // bytes, all parts of a workbook together
	maxWhole    = 8 << 20  // bytes of a part that is read as a whole
	maxSheets   = 1000
)

// readXLSX returns the cells of one sheet of a workbook (Office Open XML, ECMA-376
// Part 1) in rows that have any: the named sheet or, if sheet is "", the only
// one with cells. Hidden sheets count only if named: a reader of the
// workbook does not see them. Values are those stored: of a formula, its last
// result; of a number, its 15 digits, with a decimal point; a date is ISO text;
// a time is m:ss or h:mm:ss as the cell shows it. The error is of type Errors
// and names every bad cell of the sheet.
//
// This is not left to a library, as the ones at hand make the start of every
// command slower by more than reading a workbook takes.
func readXLSX(name string, data []byte, sheet string) (*grid, error) {
	g, faults, err := openWorkbook(name, data, sheet)
	switch {
	case err != nil:
		return nil, grammar.Errors{{File: name, Line: 1, Msg: err.Error()}}
	case len(faults) > 0:
		return nil, faults
	}
	return g, nil
}

func openWorkbook(name string, data []byte, sheet string) (*grid, grammar.Errors, error) {
	if bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")) {
		return nil, nil, errors.New("is a workbook in the old form (.xls) or one with a password; save it as .xlsx without a password")
	}
	w, err := newWorkbook(data)
	if err != nil {
		return nil, nil, err
	}
	if len(w.sheets) > maxSheets {
		return nil, nil, fmt.Errorf("has more than %d sheets", maxSheets)
	}
	var found *xlsxSheet
	var all, filled []string
	for _, s := range w.sheets {
		all = append(all, fmt.Sprintf("%q", s.Name))
		if sheet != "" && s.Name != sheet || sheet == "" && s.State != "" && s.State != "visible" {
			continue
		}
		got, err := w.readSheet(name, s)
		if err != nil {
			return nil, nil, fmt.Errorf("sheet %q: %w", s.Name, err)
		}
		if len(got.grid.rows) > 0 {
			found, filled = got, append(filled, fmt.Sprintf("%q", s.Name))
		}
		if sheet != "" {
			all = nil
			break
		}
	}
	switch {
	case sheet != "" && all != nil:
		return nil, nil, fmt.Errorf("has no sheet %q; its sheets are %s", sheet, strings.Join(all, ", "))
	case sheet != "" && found == nil:
		return nil, nil, fmt.Errorf("has no cells in sheet %q", sheet)
	case found == nil:
		return nil, nil, errors.New("has no cells")
	case len(filled) > 1:
		return nil, nil, fmt.Errorf("has cells in the sheets %s; name one of them", strings.Join(filled, ", "))
	}
	return found.grid, found.faults, nil
}

// workbook is an opened file.
type workbook struct {
	parts    map[string]*zip.File // by name in lower case, without a slash in front
	left     int64                // bytes that may still be unpacked
	sheets   []sheetEntry
	strings  []string
	formats  []cellFormat // by style
	from1904 bool         // days are counted from 1904
}

// sheetEntry is a sheet as the workbook lists it.
type sheetEntry struct {
	Name  string `xml:"name,attr"`
	State string `xml:"state,attr"` // hidden, veryHidden, or visible or ""
	ID    string `xml:"id,attr"`    // of the relationship
	part  string
}

// relationship is how one part of a workbook points to another.
type relationship struct {
	ID     string `xml:"Id,attr"`
	Type   string `xml:"Type,attr"`
	Target string `xml:"Target,attr"`
}

func newWorkbook(data []byte) (*workbook, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("is a damaged workbook: %w", err)
	}
	w := &workbook{parts: map[string]*zip.File{}, left: maxUnpacked}
	for _, f := range z.File {
		w.parts[partName(f.Name)] = f
	}
	main := ""
	rels, err := w.relationships("")
	if err != nil {
		return nil, err
	}
	for _, r := range rels {
		if path.Base(r.Type) == "officeDocument" {
			main = r.Target
		}
	}
	if path.Ext(main) != ".xml" {
		return nil, errors.New("is not a workbook in the .xlsx form; save it as .xlsx or CSV")
	}
	var book struct {
		Properties struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Sheets []sheetEntry `xml:"sheets>sheet"`
	}
	if err := w.decode(main, &book); err != nil {
		return nil, err
	}
	w.from1904 = book.Properties.Date1904 == "1" || book.Properties.Date1904 == "true"
	if rels, err = w.relationships(main); err != nil {
		return nil, err
	}
	sheets := map[string]string{} // parts by relationship
	for _, r := range rels {
		switch path.Base(r.Type) {
		case "sharedStrings":
			err = w.readStrings(r.Target)
		case "styles":
			err = w.readStyles(r.Target)
		case "worksheet":
			sheets[r.ID] = r.Target
		}
		if err != nil {
			return nil, err
		}
	}
	for _, s := range book.Sheets {
		if s.part = sheets[s.ID]; s.part != "" { // others hold a chart or a dialogue
			w.sheets = append(w.sheets, s)
		}
	}
	return w, nil
}

// partName returns the name of a part as it is looked up: names differ by more
// than case only in damaged files.
func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(name, `\`, "/"), "/"))
}

// relationships returns where a part points, with whole names; "" is the package
// itself.
func (w *workbook) relationships(part string) ([]relationship, error) {
	dir, base := path.Split(part)
	rels := dir + "_rels/" + base + ".rels"
	if w.parts[partName(rels)] == nil {
		return nil, nil
	}
	var list struct {
		Relationships []relationship `xml:"Relationship"`
	}
	if err := w.decode(rels, &list); err != nil {
		return nil, err
	}
	for i, r := range list.Relationships {
		if !strings.HasPrefix(r.Target, "/") {
			list.Relationships[i].Target = path.Join("/", dir, r.Target)
		}
	}
	return list.Relationships, nil
}

// decode reads a part as a whole.
func (w *workbook) decode(part string, into any) error {
	return w.open(part, maxWhole, func(d *xml.Decoder) error { return d.Decode(into) })
}

// open lets read go through a part of at most limit bytes.
func (w *workbook) open(part string, limit int64, read func(*xml.Decoder) error) error {
	f := w.parts[partName(part)]
	if f == nil {
		return fmt.Errorf("is a damaged workbook: it has no part %s", part)
	}
	// The reader below hands out no more than the size that the file states.
	if f.UncompressedSize64 > uint64(min(limit, w.left)) {
		return tooBig(fmt.Sprintf("unpacks to more than is read: %d MiB of a workbook, %d MiB of its lists", maxUnpacked>>20, maxWhole>>20))
	}
	w.left -= int64(f.UncompressedSize64)
	r, err := f.Open()
	if err != nil {
		return fmt.Errorf("is a damaged workbook: %s: %w", part, err)
	}
	defer r.Close()
	err = read(xml.NewDecoder(r))
	var big tooBig
	switch {
	case errors.As(err, &big):
		return big
	case err != nil:
		return fmt.Errorf("is a damaged workbook: %s: %w", part, err)
	}
	return nil
}

// tooBig is what a workbook has more of than is read.
type tooBig string

func (t tooBig) Error() string { return string(t) }

// elements calls each for every element of a part with its decoder behind the
// start.
func (w *workbook) elements(part string, each func(*xml.Decoder, *xml.StartElement) error) error {
	return w.open(part, maxUnpacked, func(d *xml.Decoder) error {
		for {
			token, err := d.Token()
			if err == io.EOF {
				return nil
			}
			if err != nil {
				return err
			}
			if start, ok := token.(xml.StartElement); ok {
				if err := each(d, &start); err != nil {
					return err
				}
			}
		}
	})
}

// richText is a text of one or more runs; how it is pronounced is no part of it.
type richText struct {
	Text string `xml:"t"`
	Runs []struct {
		Text string `xml:"t"`
	} `xml:"r"`
}

func (r *richText) String() string {
	text := r.Text
	for _, run := range r.Runs {
		text += run.Text
	}
	return text
}

// readStrings reads the texts that cells refer to by number.
func (w *workbook) readStrings(part string) error {
	return w.elements(part, func(d *xml.Decoder, start *xml.StartElement) error {
		if start.Name.Local != "si" {
			return nil
		}
		var text richText
		if err := d.DecodeElement(&text, start); err != nil {
			return err
		}
		w.strings = append(w.strings, text.String())
		return nil
	})
}

// readStyles reads how the numbers of each style are shown.
func (w *workbook) readStyles(part string) error {
	var styles struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Cells []struct {
			Format int `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := w.decode(part, &styles); err != nil {
		return err
	}
	own := map[int]string{}
	for _, f := range styles.Formats {
		own[f.ID] = f.Code
	}
	for _, c := range styles.Cells {
		code, ok := own[c.Format]
		if !ok {
			code = builtinFormat(c.Format)
		}
		w.formats = append(w.formats, formatOf(code))
	}
	return nil
}
