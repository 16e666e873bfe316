package report

import (
	"fmt"
	"io"
	"strings"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/logbook"
	"sensito/sensito/report/internal/page"
)

// Sheet is the report of a process sheet.
type Sheet struct {
	Schema    string  `json:"schema"`
	Trial     string  `json:"trial"`
	Film      string  `json:"film"`
	Batch     string  `json:"batch"`
	Date      *string `json:"date"` // of the session; null when not stated
	Procedure string  `json:"procedure"`
	For       *string `json:"for"` // what the time is for; null of a chosen one

	Minutes       *Quantity    `json:"minutes"`         // null of a chosen time
	Develop       float64      `json:"develop_minutes"` // as it stands on the sheet
	ExposureIndex *Quantity    `json:"exposure_index"`
	Delivered     *Quantity    `json:"delivered_density_range"` // null for a roll and of a chosen time
	TemperatureC  *float64     `json:"temperature_c"`
	EndsAtC       *float64     `json:"ends_at_c"` // null where the temperature stays
	Agitation     *string      `json:"agitation"` // null when not stated
	Conditions    *Conditions  `json:"conditions"`
	AsTested      *Quantity    `json:"minutes_as_tested"` // under the trial's conditions; null likewise
	Today         *Today       `json:"today"`             // null without a control log
	Uncorrected   *Uncorrected `json:"uncorrected"`       // null where nothing is corrected

	Films    *SheetFilms  `json:"films"`  // null when not stated
	Vessel   *SheetVessel `json:"vessel"` // null when not stated
	Baths    []SheetBath  `json:"baths"`
	Steps    []SheetStep  `json:"steps"`
	Total    *float64     `json:"total_min"` // on the clock; null when a time is open
	Light    *int         `json:"light_safe_from_step"`
	Tray     *SheetTray   `json:"tray"` // null but for several sheets in a tray
	Critical string       `json:"critical"`
	Note     string       `json:"note"`

	Cautions []string         `json:"cautions"`
	Last     object           `json:"last_time"` // by the log of the trial; null where it tells of none
	Warnings sensito.Warnings `json:"warnings"`

	sheet   *darkroom.Sheet
	heading string
	level   float64
}

// SheetFilms is what is processed.
type SheetFilms struct {
	Films    string  `json:"films"`
	AreaSqIn float64 `json:"area_sq_in"`
	AreaCm2  float64 `json:"area_cm2"`
}

// SheetVessel is what it is processed in.
type SheetVessel struct {
	Kind     string  `json:"kind"`
	VolumeML float64 `json:"volume_ml"`
	Note     string  `json:"note"`
}

// SheetBath is one bath.
type SheetBath struct {
	Name          string    `json:"name"`
	Steps         []int     `json:"steps"`
	Ratio         *string   `json:"ratio"` // null when nothing is diluted
	ConcentrateML *float64  `json:"concentrate_ml"`
	WaterML       *float64  `json:"water_ml"`
	TotalML       *float64  `json:"total_ml"`
	Measure       *string   `json:"measure"` // with graduates
	OneShot       bool      `json:"one_shot"`
	Capacity      *string   `json:"capacity"`
	Mixed         *string   `json:"mixed"`
	Use           *SheetUse `json:"use"` // null unless it is kept and says when it was mixed
}

// SheetUse is how often a bath was used since it was mixed.
type SheetUse struct {
	Logs         int      `json:"logs"` // looked through
	Times        int      `json:"times"`
	UnknownFilms int      `json:"times_without_films"`
	UnknownBaths int      `json:"times_without_baths"`
	AreaSqIn     float64  `json:"area_sq_in"`
	TodaySqIn    float64  `json:"today_sq_in"`
	MostSqIn     *float64 `json:"most_sq_in"` // null without a capacity
}

// SheetStep is one step; minutes and clock are null where a time is open.
type SheetStep struct {
	Number       int      `json:"number"`
	Name         string   `json:"name"`
	Bath         *string  `json:"bath"`
	Start        *float64 `json:"start_min"`
	Minutes      *float64 `json:"minutes"`
	Changes      *int     `json:"changes"`        // null for one filling
	Each         *float64 `json:"change_minutes"` // null likewise
	WaterML      *float64 `json:"changes_ml"`     // of all of them; null without a vessel too
	From         string   `json:"time_from"`      // stated, plan, clearing or none
	DrainFrom    *float64 `json:"drain_from_min"`
	TemperatureC *float64 `json:"temperature_c"`
	Agitation    string   `json:"agitation"`
	Dark         bool     `json:"dark"`
	Critical     bool     `json:"critical"`
	Note         string   `json:"note"`
}

// SheetTray is how sheets are moved in a tray.
type SheetTray struct {
	Sheets      int     `json:"sheets"`
	PassSeconds float64 `json:"pass_s"`
	EachSeconds float64 `json:"each_s"`
	Text        string  `json:"text"`
}

// NewSheet reports a process sheet, with intervals at the given level of
// confidence.
func NewSheet(s *darkroom.Sheet, level float64) *Sheet {
	spec, t := s.Spec, s.Spec.Trial
	r := &Sheet{Schema: "sensito/sheet/1", Trial: t.Name(), Film: t.Film().Name, Batch: t.Film().Batch, Date: words(spec.Date),
		Procedure: spec.Procedure.Title(), For: words(spec.For), Develop: float64(s.Minutes),
		ExposureIndex: quantity(spec.Index, level, unitOne), Delivered: quantity(spec.Delivered, level, unitOne), TemperatureC: stated(s.Process.TemperatureC), EndsAtC: spec.Under.EndC,
		Agitation: words(string(s.Process.Agitation)), Baths: []SheetBath{}, Steps: []SheetStep{}, Critical: darkroom.CriticalText, Note: spec.Note,
		Cautions: []string{mixCautions, page.Hazards}, Warnings: s.Warnings, sheet: s, heading: heading(t), level: level}
	if spec.Minutes.StdErr > 0 {
		r.Minutes = quantity(&spec.Minutes, level, unitMinutes)
	}
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(spec.Today, level)
	r.Warnings = join(r.Warnings, more)
	r.AsTested = quantity(spec.AsTested, level, unitMinutes)
	if was := spec.Uncorrected; was != nil {
		r.Uncorrected = uncorrected(&was.Minutes, was.Index, level)
	}
	if text := s.FilmText(); text != "" {
		area := s.Area()
		r.Films = &SheetFilms{sensito.FilmList(spec.Films), area.SquareInches(), float64(area)}
	}
	if v := spec.Vessel; v.Stated() {
		r.Vessel = &SheetVessel{string(v.Kind), float64(v.Volume), v.Note}
	}
	for _, b := range s.Baths {
		r.Baths = append(r.Baths, sheetBath(b))
	}
	for _, step := range s.Steps {
		r.Steps = append(r.Steps, sheetStep(step))
	}
	if s.Total != nil {
		r.Total = clockMinutes(s.Total)
	}
	if s.LightFrom <= len(s.Steps) {
		r.Light = &s.LightFrom
	}
	if o := s.Order; o != nil {
		r.Tray = &SheetTray{o.Sheets, o.PassS, o.EachS, o.Text()}
	}
	r.Last = lastTime(logbook.LastTime(spec.Trial, s.Process))
	return r
}

// words returns nil for "", which means that nothing is stated.
func words(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func clockMinutes(m *sensito.Minutes) *float64 {
	if m == nil {
		return nil
	}
	v := float64(*m)
	return &v
}

func sheetBath(b darkroom.SheetBath) SheetBath {
	out := SheetBath{Name: b.Name, Steps: b.Steps, Ratio: words(b.Ratio()), OneShot: b.OneShot, Capacity: words(b.Capacity), Mixed: words(b.Mixed), Measure: words(b.Measure())}
	if m := b.Mix; m != nil {
		concentrate, water, total := float64(m.Concentrate), float64(m.Water), float64(m.Total)
		out.ConcentrateML, out.WaterML, out.TotalML = &concentrate, &water, &total
	}
	if u := b.Use; u != nil {
		out.Use = &SheetUse{Logs: u.Logs, Times: u.Before, UnknownFilms: u.Unknown, UnknownBaths: u.Unnamed, AreaSqIn: u.Area.SquareInches(), TodaySqIn: u.Today.SquareInches(), MostSqIn: stated(u.Most.SquareInches())}
	}
	return out
}

func sheetStep(s darkroom.SheetStep) SheetStep {
	out := SheetStep{Number: s.Number, Name: s.Name, Bath: words(s.Bath.Name), Start: clockMinutes(s.Start), Minutes: clockMinutes(s.Time),
		From: "stated", DrainFrom: clockMinutes(s.DrainFrom()), TemperatureC: stated(s.Celsius), Agitation: s.Agitation, Dark: s.Dark, Critical: s.Critical, Note: s.Note}
	if s.Changes > 0 {
		out.Changes, out.Each, out.WaterML = &s.Changes, clockMinutes(&s.Minutes), stated(float64(s.Water))
	}
	switch {
	case s.From == darkroom.TimeFromPlan:
		out.From = "plan"
	case s.From == darkroom.TimeFromClearing:
		out.From = "clearing"
	case s.Time == nil:
		out.From = "none"
	}
	return out
}

// Text writes the sheet in the order in which it is worked through.
func (r *Sheet) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	s := r.sheet
	w.Answer("%s, %s.", s.Headline(), s.Basis(r.level))
	w.Printf("\n%s\n", strings.TrimRight("Process sheet "+s.Spec.Date, " "))
	w.Lines(r.heading)
	if e := r.ExposureIndex; e != nil {
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
	r.Conditions.write(w)
	r.Today.write(w, r.Uncorrected.answers("EI"))
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
	w.Warnings(r.Warnings)
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
	w.Printf("%s", page.Wrapped(w.Prose(), pad+first, pad+next, text)[column:])
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
