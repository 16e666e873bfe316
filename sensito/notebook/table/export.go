package table

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
)

// ExportForms are the forms that a trial can be exported in: a table with a row
// for each reading, one with a column for each strip, measurement data in
// CGATS.17, JSON with the keys of a notebook, and the notebook itself.
var ExportForms = []string{"csv", "wide", "cgats", "json", "toml"}

// Export returns the trial in one of ExportForms. Import gives an equal trial
// back of all but the wide form, and of CGATS one with densities for what was read; lost says in words what a form leaves out, one
// thing each. Date is when the export is made, for a form that says it. The
// error is for a form that is not one of them, and for a trial that a form has
// no place for.
func Export(t *sensito.Trial, form, date string) (data []byte, lost []string, err error) {
	switch form {
	case "csv":
		return writeCSV(longRows(t)), logLost(t), nil
	case "wide":
		return exportWide(t)
	case "cgats":
		in, lost := inDensity(t)
		data, err = exportCGATS(in, date)
		return data, append(lost, logLost(t)...), err
	case "json":
		return exportJSON(t), nil, nil
	case "toml":
		return notebook.Format(t), nil, nil
	}
	return nil, nil, fmt.Errorf("%q is not one of %s", form, strings.Join(ExportForms, ", "))
}

// inDensity returns the trial with its readings as densities, for a form that has
// nothing else, and says so where they were read otherwise.
func inDensity(t *sensito.Trial) (in *sensito.Trial, lost []string) {
	in = t.InDensity()
	if how := t.Reading().How(); in != t {
		lost = append(lost, how+": densities are written in place of what was read")
	}
	return in, lost
}

// logLost says that a table of readings has no place for what was developed, nor for a
// calibration that no strip has.
func logLost(t *sensito.Trial) []string {
	lost := unusedCalibrations(t)
	if len(t.Done()) > 0 {
		lost = append(lost, "the log of developments")
	}
	return lost
}

// FileName returns a name for the file of a trial, made of its title or, where
// it has none, of its film and developer: letters, digits and dashes, without an
// ending.
func FileName(t *sensito.Trial) string {
	name := t.Title()
	if strings.TrimSpace(name) == "" {
		name = t.Film().Name + " " + t.Process().Developer
	}
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	name = strings.Join(words, "-")
	const longest = 60
	if runes := []rune(name); len(runes) > longest {
		name = strings.TrimRight(string(runes[:longest]), "-")
	}
	if name == "" {
		return "trial"
	}
	return name
}

// tabular is a trial taken apart into what a table can hold.
type tabular struct {
	trial     *sensito.Trial
	constants []constant // of the trial, exposures aside
	exposure  string     // column of the exposures
	exposures []string   // by step
	strips    []sensito.StripSpec
	of        []map[string]string // by strip, what columns of a strip hold
}

// evenWedge are the columns of which a table has the exposures of the steps instead.
var evenWedge = []string{"wedge_first", "wedge_step", "wedge_count"}

// tabulate takes a trial apart.
func tabulate(t *sensito.Trial) *tabular {
	src := &source{values: treeOf(t)}
	out := &tabular{trial: t, strips: t.Spec().Strips}
	for i, c := range tableColumns {
		if c.of != ofTrial && c.of != ofEither || c.key == "" {
			continue
		}
		if v := src.get(src.keyOf(&tableColumns[i])); v != nil && !slices.Contains(evenWedge, c.name) {
			out.constants = append(out.constants, constant{&tableColumns[i], cell{text: cellText(v)}})
		}
	}
	if r := t.Reciprocity(); r != nil && len(r.Pairs) > 0 {
		var metered, corrected []string
		for _, p := range r.Pairs {
			metered, corrected = append(metered, grammar.Number(p.Metered)), append(corrected, grammar.Number(p.Corrected))
		}
		out.constants = append(out.constants,
			constant{columnNamed("reciprocity_metered_s"), cell{text: strings.Join(metered, " ")}},
			constant{columnNamed("reciprocity_corrected_s"), cell{text: strings.Join(corrected, " ")}})
	}
	e := t.Exposures()
	switch {
	case e.Wedge() != nil:
		out.exposure, out.exposures = colWedge, texts(e.Wedge(), grammar.Hundredths)
	case e.Kind() == sensito.Camera:
		out.exposure, out.exposures = colStopsOf, texts(e.Stops(), grammar.Number)
	default:
		out.exposure, out.exposures = colLogH, texts(e.RelativeLogH(), grammar.Number)
	}
	list, _ := src.values["strip"].([]any)
	for _, v := range list {
		strip := v.(map[string]any) // as Format writes it
		texts := map[string]string{}
		for _, c := range tableColumns {
			if c.of == ofStrip && c.key != "" && strip[c.key] != nil && c.name != colBaseFog {
				texts[c.name] = cellText(strip[c.key])
			}
		}
		if m, ok := strip[colMinutes].(string); ok {
			minutes, _ := grammar.ClockMinutes(m)
			texts[colMinutes] = grammar.Number(minutes)
		}
		calibrationTexts(t.Strips()[len(out.of)].Calibration(), texts)
		out.of = append(out.of, texts)
	}
	return out
}

// cellText returns a value of a notebook as a table holds it.
func cellText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		return grammar.Number(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case []any:
		parts := make([]string, len(v))
		for i, one := range v {
			parts[i] = cellText(one)
		}
		return strings.Join(parts, " ")
	}
	return fmt.Sprint(v) // a date
}

func texts[T any](xs []T, text func(T) string) []string {
	out := make([]string, len(xs))
	for i, x := range xs {
		out[i] = text(x)
	}
	return out
}

// stripColumns returns the columns that any strip fills, in order.
func (t *tabular) stripColumns() []string {
	var names []string
	for _, c := range tableColumns {
		if slices.ContainsFunc(t.of, func(m map[string]string) bool { return m[c.name] != "" }) {
			names = append(names, c.name)
		}
	}
	return names
}

// readings returns what was read of a step of a strip, the mean aside.
func readings(s sensito.StripSpec, step int) []sensito.Density {
	if several := s.Repeats[step]; len(several) > 0 {
		return several
	}
	if d := s.Density[step-1]; d == d {
		return []sensito.Density{d}
	}
	return nil
}

// longRows returns the table of a trial with a row for each reading, and one for
// a step without any. What holds for the trial stands in every row.
func longRows(trial *sensito.Trial) [][]string {
	t := tabulate(trial)
	names := t.stripColumns()
	lead := func(name string) bool { return name == colMinutes || name == colGrade }
	header := []string{colStrip}
	for _, name := range names {
		if lead(name) {
			header = append(header, name)
		}
	}
	read := colDensity
	if trial.Reading().Unit != sensito.UnitDensity {
		read = "reading" // of no density
	}
	header = append(header, colStep, t.exposure, read)
	for _, name := range names {
		if !lead(name) {
			header = append(header, name)
		}
	}
	var constants []string
	for _, c := range t.constants {
		header, constants = append(header, c.name), append(constants, c.text)
	}
	rows := [][]string{header}
	for i, s := range t.strips {
		add := func(step, exposure, density string) {
			var row []string
			for _, name := range header[:len(header)-len(constants)] {
				switch name {
				case colStrip:
					row = append(row, strconv.Itoa(i+1))
				case colStep:
					row = append(row, step)
				case t.exposure:
					row = append(row, exposure)
				case read:
					row = append(row, density)
				default:
					row = append(row, t.of[i][name])
				}
			}
			rows = append(rows, append(row, constants...))
		}
		for _, d := range s.BaseFog {
			add("base", "", grammar.Hundredths(d))
		}
		for j, exposure := range t.exposures {
			step, read := strconv.Itoa(j+1), readings(s, j+1)
			for _, d := range read {
				add(step, exposure, grammar.Hundredths(d))
			}
			if len(read) == 0 {
				add(step, exposure, "")
			}
		}
	}
	return rows
}

// exportWide returns the table of a trial with a column for each strip.
func exportWide(trial *sensito.Trial) (data []byte, lost []string, err error) {
	t := tabulate(trial)
	header := []string{colStep, t.exposure}
	fogs := 0
	for i, s := range t.strips {
		if s.Minutes == 0 {
			return nil, nil, fmt.Errorf("strip %d has no development time, which heads the columns of the wide form", i+1)
		}
		minutes := t.of[i][colMinutes]
		if text, ok := grammar.ClockText(s.Minutes); ok {
			minutes = text
		}
		header = append(header, minutes)
		fogs = max(fogs, len(s.BaseFog))
	}
	rows := [][]string{header}
	for j := range fogs {
		row := []string{"base", ""}
		for _, s := range t.strips {
			text := ""
			if j < len(s.BaseFog) {
				text = grammar.Hundredths(s.BaseFog[j])
			}
			row = append(row, text)
		}
		rows = append(rows, row)
	}
	repeats := false
	for j, exposure := range t.exposures {
		row := []string{strconv.Itoa(j + 1), exposure}
		for _, s := range t.strips {
			repeats = repeats || len(s.Repeats[j+1]) > 1
			text := ""
			if d := s.Density[j]; d == d {
				text = grammar.Hundredths(d)
			}
			row = append(row, text)
		}
		rows = append(rows, row)
	}
	if repeats {
		lost = append(lost, "single readings of steps that were read more than once; their mean is written")
	}
	var names []string
	for _, c := range t.constants {
		names = append(names, c.name)
	}
	for _, name := range t.stripColumns() {
		if name != colMinutes {
			names = append(names, name+" of strips")
		}
	}
	if len(names) > 0 {
		lost = append(lost, strings.Join(names, ", "))
	}
	return writeCSV(rows), append(lost, logLost(trial)...), nil
}

// TableCSV returns a table of results: headings, then rows.
func TableCSV(headings []string, rows [][]string) []byte {
	return writeCSV(append([][]string{headings}, rows...))
}

// exportJSON returns a trial as one JSON object with the keys of a notebook, on
// lines of their own; times are numbers of minutes, and null is a step that was
// not read.
func exportJSON(t *sensito.Trial) []byte {
	tree := treeOf(t)
	list, _ := tree["strip"].([]any)
	for i, s := range t.Spec().Strips {
		if s.Minutes != 0 {
			list[i].(map[string]any)[colMinutes] = float64(s.Minutes)
		}
	}
	tree["schema"] = trialSchema
	var b bytes.Buffer
	jsonValue(&b, tree, "")
	b.WriteByte('\n')
	return b.Bytes()
}

// jsonOrder is how keys are ordered in JSON; others follow by the alphabet.
var jsonOrder = []string{"schema", "kind", "title", "film", "paper", "process", "exposure", "reading", "calibration", "strip", "reciprocity",
	"name", "minutes", "grade", "density"}

func jsonValue(b *bytes.Buffer, v any, indent string) {
	switch v := v.(type) {
	case map[string]any:
		keys := sortedKeys(v)
		slices.SortStableFunc(keys, func(x, y string) int { return rank(x) - rank(y) })
		b.WriteString("{")
		for i, key := range keys {
			if i > 0 {
				b.WriteString(",")
			}
			fmt.Fprintf(b, "\n%s  %s: ", indent, grammar.Quoted(key))
			jsonValue(b, v[key], indent+"  ")
		}
		b.WriteString("\n" + indent + "}")
	case []any:
		b.WriteString("[")
		for i, one := range v {
			if i > 0 {
				b.WriteString(", ")
			}
			jsonValue(b, one, indent)
		}
		b.WriteString("]")
	case float64:
		if v != v {
			b.WriteString("null")
			return
		}
		b.WriteString(grammar.Number(v))
	case string:
		b.WriteString(grammar.Quoted(v))
	case int64:
		b.WriteString(strconv.FormatInt(v, 10))
	default:
		b.WriteString(grammar.Quoted(fmt.Sprint(v))) // a date
	}
}

func rank(key string) int {
	if i := slices.Index(jsonOrder, key); i >= 0 {
		return i
	}
	return len(jsonOrder)
}
