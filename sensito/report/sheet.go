package report

import (
	"fmt"
	"io"
	"strings"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/logbook"
	"sensito/sensito/printable"
	"sensito/sensito/report/internal/page"
)

// Sheet is the report of a process sheet.
type Sheet struct {
	told
	sheet *darkroom.Sheet
}

// NewSheet reports a process sheet, with intervals at the given level of
// confidence.
func NewSheet(s *darkroom.Sheet, level float64) *Sheet {
	return &Sheet{tell(s.Spec.Today, level, s.Warnings), s}
}

// MarshalJSON writes all that is known of the session. What is not stated is null.
func (r *Sheet) MarshalJSON() ([]byte, error) {
	s, spec, t := r.sheet, r.sheet.Spec, r.sheet.Spec.Trial
	var minutes *Quantity
	if spec.Minutes.StdErr > 0 {
		minutes = quantity(&spec.Minutes, r.level, unitMinutes)
	}
	var films, vessel, tray object
	var light any
	if s.FilmText() != "" {
		films = object{{"films", sensito.FilmList(spec.Films)}, {"area_sq_in", s.Area().SquareInches()}, {"area_cm2", s.Area()}}
	}
	if v := spec.Vessel; v.Stated() {
		vessel = object{{"kind", v.Kind}, {"volume_ml", v.Volume}, {"note", v.Note}}
	}
	if s.LightFrom <= len(s.Steps) {
		light = s.LightFrom
	}
	if o := s.Order; o != nil {
		tray = object{{"sheets", o.Sheets}, {"pass_s", o.PassS}, {"each_s", o.EachS}, {"text", o.Text()}}
	}
	return object{
		{"schema", "sensito/sheet/1"}, {"trial", t.Name()}, {"film", t.Film().Name}, {"batch", t.Film().Batch},
		{"date", words(spec.Date)},                                      // of the session
		{"procedure", spec.Procedure.Title()}, {"for", words(spec.For)}, // what the time is for; null of a chosen one
		{"minutes", minutes},           // null of a chosen time
		{"develop_minutes", s.Minutes}, // as it stands on the sheet
		{"exposure_index", quantity(spec.Index, r.level, unitOne)},
		{"delivered_density_range", quantity(spec.Delivered, r.level, unitOne)},           // null for a roll and of a chosen time
		{"temperature_c", stated(s.Process.TemperatureC)}, {"ends_at_c", spec.Under.EndC}, // null where it stays
		{"agitation", words(string(s.Process.Agitation))},
		{"conditions", r.conditions},
		{"minutes_as_tested", quantity(spec.AsTested, r.level, unitMinutes)}, // under the trial's conditions; null likewise
		{"today", r.today},               // null without a control log
		{"uncorrected", r.uncorrected()}, // null where nothing is corrected
		{"films", films}, {"vessel", vessel},
		{"baths", objects(s.Baths, sheetBath)}, {"steps", objects(s.Steps, sheetStep)},
		{"total_min", s.Total},                          // on the clock; null when a time is open
		{"light_safe_from_step", light}, {"tray", tray}, // null but for several sheets in a tray
		{"critical", darkroom.CriticalText}, {"note", spec.Note}, {"cautions", Cautions()},
		{"last_time", lastTime(logbook.LastTime(t, s.Process))}, // by the log of the trial; null where it tells of none
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// uncorrected returns time and index less the correction, nil where there is none.
func (r *Sheet) uncorrected() *Uncorrected {
	was := r.sheet.Spec.Uncorrected
	if was == nil {
		return nil
	}
	return uncorrected(&was.Minutes, was.Index, r.level)
}

func sheetBath(b darkroom.SheetBath) object {
	var concentrate, water, total any // null where nothing is diluted
	var use object                    // null unless it is kept and says when it was mixed
	if m := b.Mix; m != nil {
		concentrate, water, total = m.Concentrate, m.Water, m.Total
	}
	if u := b.Use; u != nil {
		use = object{
			{"logs", u.Logs}, {"times", u.Before}, {"times_without_films", u.Unknown}, {"times_without_baths", u.Unnamed},
			{"area_sq_in", u.Area.SquareInches()}, {"today_sq_in", u.Today.SquareInches()}, {"most_sq_in", stated(u.Most.SquareInches())},
		}
	}
	return object{
		{"name", b.Name}, {"steps", b.Steps}, {"ratio", words(b.Ratio())},
		{"concentrate_ml", concentrate}, {"water_ml", water}, {"total_ml", total},
		{"measure", words(b.Measure())}, // with graduates
		{"one_shot", b.OneShot}, {"capacity", words(b.Capacity)}, {"mixed", words(b.Mixed)}, {"use", use},
	}
}

// sheetStep is one step; minutes and clock are null where a time is open.
func sheetStep(s darkroom.SheetStep) object {
	var changes, each, water any // null for one filling; water, of all of them, without a vessel too
	if s.Changes > 0 {
		changes, each, water = s.Changes, s.Minutes, stated(float64(s.Water))
	}
	from := "stated"
	switch {
	case s.From == darkroom.TimeFromPlan:
		from = "plan"
	case s.From == darkroom.TimeFromClearing:
		from = "clearing"
	case s.Time == nil:
		from = "none"
	}
	return object{
		{"number", s.Number}, {"name", s.Name}, {"bath", words(s.Bath.Name)}, {"start_min", s.Start}, {"minutes", s.Time},
		{"changes", changes}, {"change_minutes", each}, {"changes_ml", water}, {"time_from", from},
		{"drain_from_min", s.DrainFrom()}, {"temperature_c", stated(s.Celsius)}, {"agitation", s.Agitation},
		{"dark", s.Dark}, {"critical", s.Critical}, {"note", s.Note},
	}
}

// Text writes the sheet in the order in which it is worked through.
func (r *Sheet) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	s := r.sheet
	w.Answer("%s, %s.", s.Headline(), s.Basis(r.level))
	w.Printf("\n%s\n", strings.TrimRight("Process sheet "+s.Spec.Date, " "))
	w.Lines(heading(s.Spec.Trial))
	if e := quantity(s.Spec.Index, r.level, unitOne); e != nil {
		w.Printf("The film was to be exposed at EI %s (nearest setting %s).\n", page.Figures(e.Value), page.Setting(e.Value))
	}
	if t := s.FilmText(); t != "" {
		w.Paragraph("", "", "Film: "+t+".")
	}
	if v := s.Spec.Vessel; v.Stated() {
		w.Paragraph("", "", "Vessel: "+v.String()+".")
	}
	if s.Spec.Note != "" {
		w.Paragraph("", "", "Note: "+s.Spec.Note)
	}
	w.lastTime(logbook.LastTime(s.Spec.Trial, s.Process))
	r.conditions.write(w)
	r.today.write(w, r.uncorrected().answers("EI"))
	r.writeBaths(w)
	r.writeSteps(w)
	w.Printf("\n")
	w.Paragraph("", "", s.LightText())
	w.Paragraph("", "", darkroom.CriticalText)
	if s.Order != nil {
		w.Paragraph("", "", s.Order.Text())
	}
	w.Printf("\nWrite down  date __________  developed ___:___  from ______ to ______ °C\n")
	w.Printf("            ____________________________________________________________________\n")
	w.Warnings(r.warnings)
	w.Printf("\n")
	w.Lines(mixCautions + "\n" + page.StartingPoint)
	return w.Err
}

// writeBaths writes what is to be mixed.
func (r *Sheet) writeBaths(w *writer) {
	var rows [][]string
	for _, b := range r.sheet.Baths {
		if b.Ratio() == "" {
			continue
		}
		measure := "-"
		if m := b.Measure(); m != "" {
			measure = m
		}
		rows = append(rows, []string{b.Label(), measure, r.sheet.Kept(b)})
	}
	if len(rows) == 0 {
		return
	}
	w.Printf("\n")
	w.leftTable(append([][]string{{"To mix", "concentrate, water", ""}}, rows...))
	for _, b := range r.sheet.Baths {
		if t := b.UseText(); t != "" {
			w.Paragraph("", "  ", t+".")
		}
		if m := b.Mix; m != nil && m.Instead != nil {
			w.Paragraph("", "  ", fmt.Sprintf("Surer over a stock: sensito mix %s --total %s.", m.Dilution, strings.ReplaceAll(m.Total.String(), " ", "")))
		}
	}
}

// writeSteps writes the steps by the clock.
func (r *Sheet) writeSteps(w *writer) {
	w.Printf("\n  clock    for      step   (D: in the dark)\n")
	for _, s := range r.sheet.Steps {
		dark := " "
		if s.Dark {
			dark = "D"
		}
		title := capital(s.Name)
		if b := s.Bath.Label(); b != "" {
			title += ": " + b
		}
		if s.Critical {
			title += ", CRITICAL"
		}
		w.Printf("%s %6s %6s  ", dark, s.StartText(), s.TimeText())
		w.paragraphAt(17, fmt.Sprintf("%2d ", s.Number), "   ", title)
		if d := s.Detail(); d != "" {
			w.Paragraph(strings.Repeat(" ", 20), strings.Repeat(" ", 20), d)
		}
	}
	if t := r.sheet.Total; t != nil {
		w.Printf("  %6s         the end\n", t.Clock(1))
	}
}

// paragraphAt writes words wrapped to the page behind what stands already on the
// line up to a column.
func (w *writer) paragraphAt(column int, first, next, text string) {
	pad := strings.Repeat(" ", column)
	w.Printf("%s", printable.Wrapped(w.Prose(), pad+first, pad+next, text)[column:])
}

// leftTable writes rows of cells in columns, all flush left.
func (w *writer) leftTable(rows [][]string) {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], page.Width(cell))
		}
	}
	for _, row := range rows {
		var b strings.Builder
		for i, cell := range row {
			b.WriteString(cell + strings.Repeat(" ", widths[i]-page.Width(cell)+2))
		}
		w.Printf("%s\n", strings.TrimRight(b.String(), " "))
	}
}
