package notebook

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/control"
	"sensito/sensito/notebook/internal/grammar"
	"sensito/sensito/notebook/internal/trialfile"
)

// Format returns the trial as a notebook file in its canonical form, from which
// Read gives an equal trial: every number in full, keys in one order and
// aligned, strips in their order. What no file can hold is lost: a reciprocity
// law that was fitted, the developer of a single strip.
func Format(t *sensito.Trial) []byte { return format(t.Spec(), nil) }

// format prints a trial with remarks behind its values, by keys such as
// "exposure.seconds"; those of "strip" are repeated in every strip.
func format(s sensito.TrialSpec, remarks map[string]string) []byte {
	p := &printer{remarks: remarks}
	if s.Material != sensito.FilmMaterial {
		p.write("", false, []field{{"kind", quotedValue(string(s.Material))}, {"title", quotedValue(s.Title)}})
	} else {
		p.write("", false, []field{{"title", quotedValue(s.Title)}})
	}
	p.film(s)
	process := append(processFields(s.Process), field{"q10", known(s.Q10)}, field{"q10_sd", known(s.Q10SD)})
	if s.Repeating.Stated() {
		process = append(process, field{"temperature_sd_c", known(s.Repeating.TemperatureSDC)}, field{"time_sd_s", known(float64(s.Repeating.TimeSD))})
	}
	p.table("process", true, process)
	p.table("exposure", false, exposureFields(s.Exposures))
	if f := s.Exposures.Frame(); f != nil {
		p.table("exposure.frame", false, []field{{"meter_index", known(float64(f.Index))}, {"stops", plain(grammar.Number(f.Stops))},
			{"minutes", clock(f.Minutes)}, {"density", row(f.Density, grammar.Hundredths)}})
	}
	p.table("reading", s.Reading.Unit == sensito.UnitDensity, readingFields(s.Reading))
	for _, c := range s.Calibrations {
		p.list("calibration", calibrationFields(c))
	}
	for _, strip := range s.Strips {
		p.list("strip", stripFields(strip))
	}
	p.reciprocity(s.Reciprocity)
	for _, d := range s.Done {
		p.list("done", doneFields(d))
	}
	return p.Bytes()
}

func (p *printer) film(s sensito.TrialSpec) {
	f := []field{{"name", quotedValue(s.Film.Name)}, {"batch", quotedValue(s.Film.Batch)}, {"format", quotedValue(s.Film.Format)}}
	if s.Material == sensito.PaperMaterial {
		p.table("paper", true, f)
		return
	}
	p.table("film", true, append(f, field{"rated_speed", known(float64(s.Film.RatedSpeed))}))
}

func processFields(p sensito.Process) []field {
	return []field{
		{"developer", quotedValue(p.Developer)},
		{"dilution", quotedValue(p.Dilution)},
		{"temperature_c", known(p.TemperatureC)},
		{"agitation", quotedValue(string(p.Agitation))},
	}
}

func exposureFields(e sensito.Exposures) []field {
	f := []field{{"kind", quotedValue(string(e.Kind()))}}
	switch e.Kind() {
	case sensito.Contact:
		f = append(f, field{"illuminance_lx", known(e.IlluminanceLx())}, field{"seconds", known(float64(e.Seconds()))})
		f = append(f, wedgeFields("wedge", e.Wedge())...)
	case sensito.Camera:
		f = append(f, field{"meter_index", known(float64(e.MeterIndex()))}, field{"stops", row(e.Stops(), grammar.Number)})
	case sensito.Relative:
		if wedge := e.Wedge(); wedge != nil {
			f = append(f, wedgeFields("wedge", wedge)...)
		} else {
			f = append(f, field{"log_h", row(e.RelativeLogH(), grammar.Number)})
		}
		if h, ok := e.ReferenceSpeedPoint(); ok {
			f = append(f, field{"reference_speed_point_log_h", plain(grammar.Number(float64(h)))})
		}
	}
	meter, usual := e.Meter(), sensito.Exposures{}.Meter()
	if meter.K != usual.K {
		f = append(f, field{"meter_k", known(meter.K)})
	}
	if meter.Q != usual.Q {
		f = append(f, field{"meter_q", known(meter.Q)})
	}
	return append(f, field{"wedge_sd", known(float64(e.WedgeSD()))}, field{"log_h_sd", known(float64(e.CommonSD()))})
}

// readingFields says how the strips were read.
func readingFields(r sensito.Reading) []field {
	f := []field{{"unit", quotedValue(string(r.Unit))}}
	if len(r.OpenEV) > 0 {
		f = append(f, field{"open_ev", row(r.OpenEV, grammar.Number)})
	}
	if len(r.Tablet) > 0 {
		f = append(f, wedgeFields("tablet", r.Tablet)...)
	}
	to := known(r.ReadsTo)
	if text := r.ReadsToText(); strings.Contains(text, "/") {
		to = quotedValue(text)
	}
	return append(f, field{"tablet_sd", known(float64(r.TabletSD))},
		field{"reads_to", to},
		field{"repeatability", plain(grammar.Number(float64(r.Repeatability)))},
		field{"channel", quotedValue(r.Channel)},
		field{"zero", quotedValue(string(r.Zero))},
		field{"scale_sd", known(r.ScaleSD)},
		field{"offset_sd", known(float64(r.OffsetSD))})
}

// wedgeFields gives a wedge or a tablet by its first step, its step and their number
// where that says exactly the same as the list.
func wedgeFields(what string, wedge []sensito.Density) []field {
	n := len(wedge)
	first, last := float64(wedge[0]), float64(wedge[n-1])
	for digits := 1; digits <= 9; digits++ {
		unit := math.Pow10(digits)
		step := math.Round((last-first)/float64(n-1)*unit) / unit
		t := &grammar.Table{Faults: &grammar.Faults{}, Path: "exposure",
			Values: map[string]any{"wedge_first": first, "wedge_step": step, "wedge_count": int64(n)}}
		if slices.Equal(trialfile.Wedge(t), wedge) {
			return []field{{what + "_first", plain(grammar.Number(first))}, {what + "_step", plain(grammar.Number(step))}, {what + "_count", plain(strconv.Itoa(n))}}
		}
	}
	return []field{wedgeList(what, wedge)}
}

// wedgeList gives a wedge or a tablet by the density of each step.
func wedgeList(what string, wedge []sensito.Density) field {
	return field{what, block(row(wedge, grammar.Hundredths))}
}

// stripFields gives a strip in the order of a notebook, with every key that a
// strip can have.
func stripFields(s sensito.StripSpec) []field {
	f := []field{{"grade", quotedValue(s.Grade)}, {"minutes", clock(s.Minutes)}}
	f = append(f, processFields(s.Process)[1:]...) // the developer is the trial's
	f = append(f,
		field{"illuminance_lx", known(s.IlluminanceLx)},
		field{"seconds", known(float64(s.Seconds))},
		field{"developed", plain(s.Date)},
		field{"note", quotedValue(s.Note)},
		field{"picture", quotedValue(s.Picture)},
		field{"calibration", quotedValue(s.Calibration)},
		field{"base_fog", row(s.BaseFog, grammar.Hundredths)},
		field{"ignore", value{}},
		field{"next_step", known(float64(s.NextStep))},
	)
	if len(s.Ignore) > 0 {
		f[len(f)-2].value = row(slices.Sorted(slices.Values(s.Ignore)), strconv.Itoa)
	}
	density := row(s.Density, grammar.Hundredths)
	for step, readings := range s.Repeats {
		if len(readings) > 1 {
			density.list[step-1] = row(readings, grammar.Hundredths)
		} else {
			density.list[step-1] = plain(grammar.Hundredths(readings[0]))
		}
	}
	return append(f, field{"density", block(density)})
}

// calibrationFields gives a calibration of pictures.
func calibrationFields(c sensito.Calibration) []field {
	rows := value{list: []value{}}
	for _, r := range c.Covariance {
		rows.list = append(rows.list, row(r[:], grammar.Number))
	}
	return []field{{"name", quotedValue(c.Name)}, {"repeatability", known(float64(c.Repeatability))}, {"covariance", rows}}
}

// controlFields gives a strip of a control log.
func controlFields(s control.Strip) []field {
	f := []field{
		{"date", plain(s.Date)},
		{"base_fog", plain(grammar.Hundredths(s.BaseFog))},
		{"low", plain(grammar.Hundredths(s.Low))},
		{"high", plain(grammar.Hundredths(s.High))},
	}
	var patches, baseline, fresh value
	if len(s.Others) > 0 {
		var texts []string
		for _, name := range slices.Sorted(maps.Keys(s.Others)) {
			texts = append(texts, name+" = "+grammar.Hundredths(s.Others[name]))
		}
		patches = plain("{ " + strings.Join(texts, ", ") + " }")
	}
	if s.Baseline {
		baseline = plain("true")
	}
	if s.Fresh {
		fresh = plain("true")
	}
	return append(f, field{"patches", patches}, field{"baseline", baseline}, field{"fresh", fresh}, field{"note", quotedValue(s.Note)})
}

func (p *printer) reciprocity(r *sensito.StatedReciprocity) {
	if r == nil {
		return
	}
	if r.Law != "" {
		p.table("reciprocity", false, []field{{string(r.Law), plain(grammar.Number(r.Constant))}})
	}
	for _, pair := range r.Pairs {
		p.list("reciprocity", []field{
			{"metered_s", plain(grammar.Number(float64(pair.Metered)))},
			{"corrected_s", plain(grammar.Number(float64(pair.Corrected)))},
		})
	}
}

// A field is a key and what stands behind it.
type field struct {
	key string
	value
}

// A value is text as it stands in a file, or a list; the zero value is left out.
type value struct {
	text   string
	list   []value // not nil in a list
	blocky bool    // a list of several lines, however short
}

func plain(text string) value { return value{text: text} }

// known is a number that is left out when it is 0.
func known(v float64) value {
	if v == 0 {
		return value{}
	}
	return plain(grammar.Number(v))
}

func quotedValue(s string) value {
	if s == "" {
		return value{}
	}
	return plain(grammar.Quoted(s))
}

func row[T any](xs []T, text func(T) string) value {
	v := value{list: make([]value, len(xs))}
	for i, x := range xs {
		v.list[i] = plain(text(x))
	}
	return v
}

func block(v value) value { v.blocky = true; return v }

func (v value) absent() bool { return v.text == "" && v.list == nil }

// String returns the value on one line.
func (v value) String() string {
	if v.list == nil {
		return v.text
	}
	var b strings.Builder
	for i, e := range v.list {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(e.String())
	}
	return "[" + b.String() + "]"
}

// clock writes a time as minutes and seconds where that says exactly the same.
func clock(m sensito.Minutes) value {
	if text, ok := grammar.ClockText(m); ok {
		return plain(`"` + text + `"`)
	}
	return known(float64(m))
}

// lineWidth is how long a list may make a line before it is broken, and
// columns how many values its lines have then.
const (
	lineWidth = 80
	columns   = 7
)

// printer writes tables.
type printer struct {
	bytes.Buffer
	remarks map[string]string
}

// table writes a table unless it is empty; whole aligns it as if no key were
// left out.
func (p *printer) table(name string, whole bool, fields []field) {
	if slices.ContainsFunc(fields, func(f field) bool { return !f.absent() }) {
		p.header("[" + name + "]")
		p.write(name, whole, fields)
	}
}

// list writes one table of a list of tables.
func (p *printer) list(name string, fields []field) {
	p.header("[[" + name + "]]")
	p.write(name, false, fields)
}

func (p *printer) header(h string) {
	if p.Len() > 0 {
		p.WriteByte('\n')
	}
	p.WriteString(h + "\n")
}

func (p *printer) write(name string, whole bool, fields []field) {
	width := 0
	for _, f := range fields {
		if whole || !f.absent() {
			width = max(width, len(f.key))
		}
	}
	for _, f := range fields {
		if f.absent() {
			continue
		}
		remark := ""
		if r := p.remarks[grammar.Below(name, f.key)]; r != "" {
			remark = "  # " + r
		}
		fmt.Fprintf(p, "%-*s = ", width, f.key)
		if line := f.String(); !f.blocky && (f.list == nil || width+3+len(line) <= lineWidth) {
			fmt.Fprintf(p, "%s%s\n", line, remark)
		} else {
			fmt.Fprintf(p, "[%s\n%s]\n", remark, lined(f.list))
		}
	}
}

// lined writes the values of a list in columns.
func lined(list []value) string {
	var b strings.Builder
	width := 0
	for _, v := range list {
		if v.list == nil {
			width = max(width, len(v.text))
		}
	}
	for i, v := range list {
		last := i%columns == columns-1 || i == len(list)-1
		switch {
		case i%columns == 0:
			b.WriteString("  ")
		default:
			b.WriteByte(' ')
		}
		if last {
			fmt.Fprintf(&b, "%s,\n", v)
		} else {
			fmt.Fprintf(&b, "%-*s", width+1, v.String()+",")
		}
	}
	return b.String()
}
