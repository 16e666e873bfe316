package table

import (
	"slices"
	"strings"
	"unicode"

	"sensito/sensito/notebook/internal/grammar"
)

// A column of a table, or a keyword above it, that tells something of a trial.
type column struct {
	name string   // as it is written; read in any case, with blanks for underscores
	also []string // other words that are read
	of   level
	key  string // in a notebook: of the trial, or within a strip
	kind contentKind
	flag string // that says it where a table does not
}

// level is what a column tells of.
type level int

const (
	ofTrial level = iota
	ofEither
	ofStrip
	ofStep
)

// contentKind is how the cells of a column are read.
type contentKind int

const (
	aText contentKind = iota
	aNumber
	aTime // of development, in minutes
	aDate
	aCelsius
	aList // of numbers
)

// The columns that mean more than their value.
const (
	colTrial   = "trial"
	colStrip   = "strip"
	colMinutes = "minutes"
	colGrade   = "grade"
	colStep    = "step"
	colDensity = "density"
	colIgnored = "ignored"
	colWedge   = "wedge"
	colStopsOf = "stops"
	colLogH    = "log_h"
	colLogHlxs = "log_h_lxs"
	colFilm    = "film"
	colPaper   = "paper"
	colBaseFog = "base_fog"
	colKind    = "exposure"

	colDeveloped = "developed"
	colNote      = "note"

	colCalibration   = "calibration"
	colRepeatability = "calibration_repeatability"
	colCovariance    = "calibration_covariance"
)

// exposureColumns give the exposure of a step; a table has one of them.
var exposureColumns = []string{colWedge, colStopsOf, colLogH, colLogHlxs}

// tableColumns are all columns, in the order in which they are written. Keys
// below film are those of the paper where there is one.
var tableColumns = []column{
	{colTrial, []string{"title", "test"}, ofTrial, "title", aText, "title"},
	{colStrip, []string{"strip number", "strip no"}, ofStrip, "", aText, ""},
	{colMinutes, []string{"minute", "min", "time", "development", "development time", "developing time", "developed for"}, ofStrip, "minutes", aTime, "minutes"},
	{colGrade, []string{"filter", "contrast filter"}, ofStrip, "grade", aText, ""},
	{colStep, []string{"steps", "no", "nr", "number", "step number", "step no", "patch", "sample id"}, ofStep, "", aText, ""},
	{colWedge, []string{"wedge density", "tablet", "tablet density", "step density", "density of step"}, ofStep, "exposure.wedge", aList, ""},
	{colStopsOf, []string{"stop", "exposure stops"}, ofStep, "exposure.stops", aList, ""},
	{colLogH, []string{"logh", "log e", "log exposure", "log h relative", "relative log h", "relative log exposure"}, ofStep, "exposure.log_h", aList, ""},
	{colLogHlxs, []string{"log h lx s", "log lxs", "log lx s", "log lux seconds"}, ofStep, "", aList, ""},
	{colDensity, []string{"densities", "d", "reading", "readings", "d vis", "visual", "visual density", "transmission density", "reflection density"}, ofStep, "", aNumber, ""},
	{colIgnored, []string{"set aside", "left out"}, ofStep, "", aText, ""},
	{"ignore", nil, ofStrip, "ignore", aList, ""},
	{colBaseFog, []string{"base", "fog", "base plus fog", "base and fog", "b f"}, ofStrip, "base_fog", aList, ""},
	{colDeveloped, []string{"date", "development date", "developed on"}, ofStrip, "developed", aDate, ""},
	{colNote, []string{"notes", "remark", "remarks", "comment", "comments"}, ofStrip, "note", aText, ""},
	{"next_step", nil, ofStrip, "next_step", aNumber, ""},
	{"picture", nil, ofStrip, "picture", aText, ""},
	{colCalibration, nil, ofStrip, "calibration", aText, ""},
	{colRepeatability, nil, ofStrip, colRepeatability, aNumber, ""}, // of the calibration, as the next
	{colCovariance, nil, ofStrip, colCovariance, aList, ""},
	{"strip_dilution", nil, ofStrip, "dilution", aText, ""},
	{"strip_temperature_c", nil, ofStrip, "temperature_c", aCelsius, ""},
	{"strip_agitation", nil, ofStrip, "agitation", aText, ""},
	{"strip_illuminance_lx", nil, ofStrip, "illuminance_lx", aNumber, ""},
	{"strip_seconds", nil, ofStrip, "seconds", aNumber, ""},
	{colFilm, []string{"film name"}, ofTrial, "film.name", aText, "film"},
	{colPaper, []string{"paper name"}, ofTrial, "paper.name", aText, "paper"},
	{"batch", []string{"emulsion"}, ofTrial, "film.batch", aText, ""},
	{"format", []string{"size"}, ofTrial, "film.format", aText, ""},
	{"rated_speed", []string{"speed", "iso", "iso speed", "box speed"}, ofTrial, "film.rated_speed", aNumber, "speed"},
	{"developer", nil, ofTrial, "process.developer", aText, "developer"},
	{"dilution", nil, ofEither, "process.dilution", aText, "dilution"},
	{"temperature_c", []string{"temperature", "temp"}, ofEither, "process.temperature_c", aCelsius, "temperature"},
	{"q10", nil, ofTrial, "process.q10", aNumber, ""},
	{"q10_sd", nil, ofTrial, "process.q10_sd", aNumber, ""},
	{"temperature_sd_c", nil, ofTrial, "process.temperature_sd_c", aNumber, ""},
	{"time_sd_s", nil, ofTrial, "process.time_sd_s", aNumber, ""},
	{"agitation", nil, ofEither, "process.agitation", aText, "agitation"},
	{colKind, []string{"kind", "kind of exposure"}, ofTrial, "exposure.kind", aText, "kind"},
	{"illuminance_lx", []string{"illuminance", "lux", "lx"}, ofEither, "exposure.illuminance_lx", aNumber, "lux"},
	{"seconds", []string{"exposed", "exposure time", "exposure seconds"}, ofEither, "exposure.seconds", aNumber, "seconds"},
	{"meter_index", nil, ofTrial, "exposure.meter_index", aNumber, "meter-index"},
	{"wedge_first", nil, ofTrial, "exposure.wedge_first", aNumber, "wedge-first"},
	{"wedge_step", nil, ofTrial, "exposure.wedge_step", aNumber, "wedge-step"},
	{"wedge_count", nil, ofTrial, "exposure.wedge_count", aNumber, "wedge-count"},
	{"wedge_sd", nil, ofTrial, "exposure.wedge_sd", aNumber, ""},
	{"frame_meter_index", nil, ofTrial, "exposure.frame.meter_index", aNumber, ""},
	{"frame_stops", nil, ofTrial, "exposure.frame.stops", aNumber, ""},
	{"frame_minutes", nil, ofTrial, "exposure.frame.minutes", aText, ""},
	{"frame_density", nil, ofTrial, "exposure.frame.density", aList, ""},
	{"reference_speed_point_log_h", nil, ofTrial, "exposure.reference_speed_point_log_h", aNumber, ""},
	{"meter_k", nil, ofTrial, "exposure.meter_k", aNumber, ""},
	{"meter_q", nil, ofTrial, "exposure.meter_q", aNumber, ""},
	{"log_h_sd", nil, ofTrial, "exposure.log_h_sd", aNumber, ""},
	{"repeatability", nil, ofTrial, "reading.repeatability", aNumber, "repeatability"},
	{"unit", nil, ofTrial, "reading.unit", aText, ""},
	{"reads_to", nil, ofTrial, "reading.reads_to", aText, ""},
	{"open_ev", nil, ofTrial, "reading.open_ev", aList, ""},
	{"reading_tablet", nil, ofTrial, "reading.tablet", aList, ""},
	{"tablet_first", nil, ofTrial, "reading.tablet_first", aNumber, ""},
	{"tablet_step", nil, ofTrial, "reading.tablet_step", aNumber, ""},
	{"tablet_count", nil, ofTrial, "reading.tablet_count", aNumber, ""},
	{"tablet_sd", nil, ofTrial, "reading.tablet_sd", aNumber, ""},
	{"channel", nil, ofTrial, "reading.channel", aText, ""},
	{"zero", nil, ofTrial, "reading.zero", aText, "zero"},
	{"scale_sd", nil, ofTrial, "reading.scale_sd", aNumber, ""},
	{"offset_sd", nil, ofTrial, "reading.offset_sd", aNumber, ""},
	{"reciprocity_exponent", nil, ofTrial, "reciprocity.exponent", aNumber, ""},
	{"reciprocity_schwarzschild_p", nil, ofTrial, "reciprocity.schwarzschild_p", aNumber, ""},
	{"reciprocity_extra_at_1_s", nil, ofTrial, "reciprocity.extra_at_1_s", aNumber, ""},
	{"reciprocity_metered_s", nil, ofTrial, "reciprocity.metered_s", aList, ""},
	{"reciprocity_corrected_s", nil, ofTrial, "reciprocity.corrected_s", aList, ""},
}

// columnByWords finds a column by what a table calls it.
var columnByWords = func() map[string]*column {
	m := map[string]*column{}
	for i := range tableColumns {
		c := &tableColumns[i]
		for _, words := range append([]string{strings.ReplaceAll(c.name, "_", " ")}, c.also...) {
			m[words] = c
		}
	}
	return m
}()

// columnNamed returns the column of that very name.
func columnNamed(name string) *column { return columnByWords[strings.ReplaceAll(name, "_", " ")] }

// columnOf returns the column that a heading means, nil when it means none, and
// the unit that stands in brackets behind it.
func columnOf(heading string) (c *column, unit string) {
	words := heading
	if i := strings.IndexAny(heading, "(["); i > 0 && strings.ContainsAny(heading[len(heading)-1:], ")]") {
		words, unit = heading[:i], strings.TrimSpace(heading[i+1:len(heading)-1])
	}
	if c := columnByWords[plainWords(heading)]; c != nil {
		return c, unit // log H (lx s) says more than log H
	}
	return columnByWords[plainWords(words)], unit
}

// plainWords returns the letters and digits of a heading in lower case, with one
// blank for whatever is between them.
func plainWords(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}), " ")
}

// nearColumn returns the name of the column that a heading may have been meant
// for, or "".
func nearColumn(heading string) string {
	words := plainWords(heading)
	if len(words) < 4 || len(words) > 40 {
		return ""
	}
	if near := grammar.Nearest(words, columnWords); near != "" {
		return columnByWords[near].name
	}
	return ""
}

var columnWords = func() []string {
	var all []string
	for words := range columnByWords {
		if len(words) >= 4 {
			all = append(all, words)
		}
	}
	slices.Sort(all)
	return all
}()

// unitWords are what stands in a row of units.
var unitWords = []string{"min", "minutes", "mins", "m", "s", "sec", "seconds", "d", "density", "log", "lx", "lux", "lx s", "lxs", "log lx s",
	"stop", "stops", "c", "degc", "deg c", "nr", "no", "number", "text", "date", "ev"}

// unitsRow says whether a row holds nothing but units.
func unitsRow(row []string) bool {
	found := false
	for _, cell := range row {
		words := plainWords(cell)
		switch {
		case cell == "" || cell == "-":
		case slices.Contains(unitWords, words):
			found = true
		default:
			return false
		}
	}
	return found
}

// baseRow says whether a cell in place of a step stands for unexposed film.
func baseRow(cell string) bool {
	switch plainWords(cell) {
	case "base", "fog", "base fog", "base plus fog", "base and fog", "b f", "unexposed":
		return true
	}
	return false
}
