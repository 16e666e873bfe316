package table

import (
	"bytes"
	"slices"
	"strings"
)

// readCGATS reads trials of measurement data: a table with visual densities is
// read as any other, with what its keywords say of the trial.
func (im *importer) readCGATS(data []byte) ([]*source, error) {
	file, err := ReadCGATS(im.name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	im.o.Decimal = "point" // the only one of the format
	var sources []*source
	for i, t := range file.Tables {
		s := &sheet{grid: &grid{name: im.name, rows: append([][]string{slices.Clone(t.Fields)}, t.Rows...), lines: append([]int{t.Line}, t.Lines...)}}
		if !slices.ContainsFunc(t.Fields, func(f string) bool { c, _ := columnOf(f); return c != nil && c.name == colDensity }) {
			im.guess("table %d has no field D_VIS of visual densities and is passed over", i+1)
			continue
		}
		ours := t.value("ORIGINATOR") == originator
		im.keywords(s, t.Header, ours)
		if ours {
			s.ours()
		}
		found, err := im.tables(s)
		if err != nil {
			return nil, err
		}
		sources = append(sources, found...)
	}
	if sources == nil {
		return nil, im.refuse(1, "has no table with a field D_VIS of visual densities")
	}
	return sources, nil
}

// value returns the value of a keyword, "" where the table has none.
func (t *CGATSTable) value(keyword string) string {
	for _, h := range t.Header {
		if h.Keyword == keyword {
			return h.Value
		}
	}
	return ""
}

// keywords notes what the header of a table says of the trial. In a file of
// another origin, its description is the title.
func (im *importer) keywords(s *sheet, header []CGATSKeyword, ours bool) {
	var not []string
	for _, h := range header {
		c := columnNamed(strings.ToLower(h.Keyword))
		if c != nil && c.name != strings.ToLower(h.Keyword) {
			c = nil // another word for it may mean something else here
		}
		value := h.Value
		switch {
		case ours:
			value = unescaped(value)
		case c == nil && strings.HasSuffix(h.Keyword, "DESCRIPTOR") && h.Keyword != "TABLE_DESCRIPTOR":
			c = columnNamed(colTrial)
			im.guess("%s is read as the title", h.Keyword)
		}
		switch {
		case c == nil && !ours:
			not = append(not, h.Keyword)
		case c != nil && value != "":
			s.constants = append(s.constants, constant{c, cell{value, place{h.Line, h.Keyword}}})
		}
	}
	if len(not) > 0 {
		im.guess("not used: %s", strings.Join(not, ", "))
	}
}

// ours undoes what exportCGATS did to text, and drops the numbers of the rows.
func (s *sheet) ours() {
	numbered := s.rows[0][0] == "SAMPLE_ID"
	for i, row := range s.rows {
		if s.rows[i] = slices.Clone(row); numbered {
			s.rows[i] = s.rows[i][1:]
		}
		for j := range s.rows[i] {
			s.rows[i][j] = unescaped(s.rows[i][j])
		}
	}
}
