package table

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/internal/grammar"
)

// wideUnder returns a table of three steps with a column for each heading.
func wideUnder(separator string, headings ...string) string {
	decimal := "."
	if separator == ";" {
		decimal = ","
	}
	rows := []string{strings.Join(append([]string{"step", "wedge"}, headings...), separator)}
	for step := 1; step <= 3; step++ {
		row := []string{fmt.Sprint(step), fmt.Sprintf("0%s%02d", decimal, 15*step-10)}
		for j := range headings {
			row = append(row, fmt.Sprintf("%d%s%d%d", 2-step/2, decimal, 9-step, j))
		}
		rows = append(rows, strings.Join(row, separator))
	}
	return strings.Join(rows, "\n") + "\n"
}

// longOf returns a table of one reading a row, with the lines of each strip led
// by what is given of it.
func longOf(separator, headings string, strips ...string) string {
	text := headings + separator + strings.Join([]string{"step", "wedge", "density"}, separator) + "\n"
	for i, s := range strips {
		for step := 1; step <= 3; step++ {
			text += strings.Join([]string{s, fmt.Sprint(step), fmt.Sprintf("0.%02d", 15*step-10), fmt.Sprintf("1.%d%d", 9-step, i)}, separator) + "\n"
		}
	}
	return text
}

// stripsOf says in words what an import found: of each strip its time and, where
// it has them, dilution, temperature, date and note.
func stripsOf(t *sensito.Trial) string {
	var all []string
	for i, s := range t.Strips() {
		own := t.Spec().Strips[i].Process
		parts := []string{s.Minutes().Clock(1)}
		if own.Dilution != "" {
			parts = append(parts, own.Dilution)
		}
		if own.TemperatureC != 0 {
			parts = append(parts, fmt.Sprint(own.TemperatureC))
		}
		for _, text := range []string{s.Date(), s.Note()} {
			if text != "" {
				parts = append(parts, text)
			}
		}
		all = append(all, strings.Join(parts, " "))
	}
	return strings.Join(all, ", ")
}

// Made-up tables: what is read of their times, or what is asked. Each was read in
// another way or refused without saying why before, but for those that say so.
func TestImportTimes(t *testing.T) {
	for _, c := range []struct {
		name, text string
		o          ImportOptions
		want       string // strips, or the question and the flags that settle it
	}{
		// Headings of strips.
		{name: "clock times", text: wideUnder(",", "4:00", "5:30"), want: "4:00, 5:30"}, // as before
		{name: "numbered in words", text: wideUnder(",", "Strip 1 (4:00)", "Strip 2 (5:30)"), want: "4:00, 5:30"},
		{name: "numbered otherwise than placed", text: wideUnder(";", "Strip 3 (4:00)", "Strip 7 (5:30)"), want: "4:00 Strip 3, 5:30 Strip 7"},
		{name: "expansion and contraction", text: wideUnder(";", "N-1 5:30", "N 7:00", "N+1 9:15"), want: "5:30 N-1, 7:00 N, 9:15 N+1"},
		{name: "labels behind", text: wideUnder("\t", "5:30 a", "5:30 b", "8:00"), want: "5:30 a, 5:30 b, 8:00"},
		{name: "joined", text: wideUnder(",", "D(5:30)", "D_8:00"), want: "5:30, 8:00"},
		{name: "labels in front", text: wideUnder(",", "dev 4:00", "A: 5:30"), want: "4:00, 5:30 A"},
		{name: "clock beside minutes with a point", text: wideUnder(";", "7:30", "13.5 min"), want: "7:30, 13:30"},
		{name: "comma beside point", text: wideUnder(";", "5,5", "7.25 min"), want: "5:30, 7:15"},
		{name: "units", text: wideUnder(";", "330 s", "8 min", "1 h", "1h10"), want: "5:30, 8:00, 60:00, 70:00"},
		{name: "two units", text: wideUnder(",", "5 min 30 s", "7'30", "9m15s", "10\u203230\u2033", "12' 15''"), want: "5:30, 7:30, 9:15, 10:30, 12:15"},
		{name: "units in brackets", text: wideUnder(",", "5.5 (min)", "480 (s)"), want: "5:30, 8:00"},
		{name: "dilutions", text: wideUnder(",", "5:30 1+19", "5:30 1+9", "8:00, 1+9"[:4]), want: "5:30 1+19, 5:30 1+9, 8:00"},
		{name: "one dilution for all", text: wideUnder(",", "5:30 1+19", "8:00 1+19"), want: "5:30, 8:00"},
		{name: "temperatures", text: wideUnder(",", "5:30 20 °C", "4:00 24C", "6:00 68F"), want: "5:30 20, 4:00 24, 6:00 20"},
		{name: "dates", text: wideUnder(",", "5:30 2026-03-01", "8:00 (2.3.2026)"), want: "5:30 2026-03-01, 8:00 2026-03-02"},
		{name: "everything", text: wideUnder(";", "N-1; 5:30"[:3]+" 5:30 1+9 20 °C 14.2.2026"), want: "5:30 2026-02-14 N-1"},
		{name: "two times", text: wideUnder(",", "5:30 / 6:00", "8:00"), want: `"5:30 / 6:00" names two times; a column is one strip`},
		{name: "no time", text: wideUnder(",", "5:30", "control"),
			want: `column "control" has readings, but no development time like 5:30 is read in its heading; give --without control`},
		{name: "no heading, left out", text: wideUnder(",", "5:30", ""), o: ImportOptions{Without: []string{"column 4"}}, want: "5:30"},
		{name: "no time, left out", text: wideUnder(",", "5:30", "control"), o: ImportOptions{Without: []string{"control"}}, want: "5:30"},
		{name: "number beside words", text: wideUnder(",", "5:30", "batch 7"),
			want: `column "batch 7" has readings, but no development time like 5:30 is read in its heading; give --without "batch 7"`},
		{name: "nothing understood", text: wideUnder(",", "first", "other one"),
			want: `names no column density, and no column headed by a development time like 5:30; its columns are "step", "wedge", "first", "other one"`},

		// Numbers of strips.
		{name: "numbered", text: wideUnder(",", "1", "2", "3", "4", "5"),
			want: "1 to 5 can be development times in minutes or the numbers of the strips; give --times minutes or their times, --minutes 4:00,5:30,8:00"},
		{name: "numbered out of order", text: wideUnder(";", "2", "1", "3"),
			want: "1 to 3 can be development times in minutes or the numbers of the strips; give --times minutes or their times, --minutes 4:00,5:30,8:00"},
		{name: "numbered one", text: wideUnder(",", "1"),
			want: "1 can be a development time in minutes or the number of a strip; give --times minutes or their times, --minutes 4:00,5:30,8:00"},
		{name: "numbered minutes", text: wideUnder(",", "1", "2", "3"), o: ImportOptions{Times: "minutes"}, want: "1:00, 2:00, 3:00"},
		{name: "numbered strips", text: wideUnder(",", "1", "2", "3"), o: ImportOptions{Values: map[string]string{"minutes": "4,5:30,8.5"}}, want: "4:00, 5:30, 8:30"},
		{name: "numbered strips out of order", text: wideUnder(";", "2", "1", "3"), o: ImportOptions{Values: map[string]string{"minutes": "4,5:30,8.5"}}, want: "5:30, 4:00, 8:30"},
		{name: "times for too few", text: wideUnder(",", "1", "2", "3"), o: ImportOptions{Values: map[string]string{"minutes": "4,5:30"}},
			want: "1 to 3 can be development times in minutes or the numbers of the strips; give --times minutes or their times, --minutes 4:00,5:30,8:00"},
		{name: "minutes with a unit", text: wideUnder(",", "1 min", "2 min", "3 min"), want: "1:00, 2:00, 3:00"},
		{name: "whole minutes not from 1", text: wideUnder(",", "4", "6", "9"), want: "4:00, 6:00, 9:00"}, // as before
		{name: "whole minutes with a gap", text: wideUnder(",", "1", "2", "4"), want: "1:00, 2:00, 4:00"}, // as before
		{name: "numbered in a column", text: longOf(",", "time", "1", "2"),
			want: "1 to 2 can be development times in minutes or the numbers of the strips; give --times minutes or their times, --minutes 4:00,5:30,8:00"},
		{name: "numbered in a column of minutes", text: longOf(",", "minutes", "1", "2"), want: "1:00, 2:00"}, // as before
		{name: "row of units", text: "step,wedge,1,2\n,D,min,min\n1,0.05,1.2,1.3\n2,0.20,1.1,1.2\n3,0.35,1.0,1.1\n", want: "1:00, 2:00"},

		// Hours of a spreadsheet.
		{name: "clock with seconds", text: longOf(",", "minutes", "5:30:00", "8:00:00"),
			want: `"5:30:00" can be 5 min 30 s or 5 h 30 min; give --times clock or --times hours`},
		{name: "clock with seconds settled", text: longOf(",", "minutes", "5:30:00", "8:00:00"), o: ImportOptions{Times: "clock"}, want: "5:30, 8:00"},
		{name: "hours settled", text: longOf(",", "minutes", "5:30:00", "8:00:00"), o: ImportOptions{Times: "hours"}, want: "330:00, 480:00"},
		{name: "hours of headings", text: wideUnder(";", "5:30:00", "8:00:00"), want: `"5:30:00" can be 5 min 30 s or 5 h 30 min; give --times clock or --times hours`},
		{name: "seconds show the hours", text: longOf(";", "time", "0:05:30", "1:02:30"), want: "5:30, 62:30"}, // as before
		{name: "a few minutes show the hours", text: longOf(";", "time", "0:08:00", "1:00:00"), want: "8:00, 60:00"},
		{name: "hours beside minutes", text: longOf(";", "time", "0:05:30", "8:00"), want: `"8:00" can be 8 min or 8 h; give --times clock or --times hours`},
		{name: "under a minute of an hour", text: longOf(";", "time", "0:08", "0:12"), want: `"0:08" can be 8 s or 8 min; give --times clock or --times hours`},
		{name: "three quarters", text: longOf(";", "time", "0:45:00", "1:30:00"), want: `"0:45:00" can be 45 s or 45 min; give --times clock or --times hours`},

		// A point for a colon.
		{name: "two decimals", text: longOf(",", "minutes", "5.30", "7.15"), want: `"5.30" can be 5:30 or 5.3 minutes; give --times clock or --times minutes`},
		{name: "two decimals of a clock", text: longOf(",", "minutes", "5.30", "7.15"), o: ImportOptions{Times: "clock"}, want: "5:30, 7:15"},
		{name: "two decimals of minutes", text: longOf(",", "minutes", "5.30", "7.15"), o: ImportOptions{Times: "minutes"}, want: "5:18, 7:09"},
		{name: "two decimals with commas", text: wideUnder(";", "5,30", "7,15"), want: `"5,30" can be 5:30 or 5.3 minutes; give --times clock or --times minutes`},
		{name: "two decimals with a unit", text: wideUnder(";", "5,30 min", "7"), want: `"5,30 min" can be 5:30 or 5.3 minutes; give --times clock or --times minutes`},
		{name: "another shows decimals", text: longOf(",", "minutes", "5.50", "6.75"), want: "5:30, 6:45"}, // as before
		{name: "no zero at the end", text: longOf(",", "minutes", "5.5", "7.25"), want: "5:30, 7:15"},      // as before
		{name: "full minutes", text: longOf(",", "minutes", "5.00", "7.00"), want: "5:00, 7:00"},           // as before

		// Seconds.
		{name: "large numbers", text: longOf(",", "time", "240", "330"), want: "240 can be minutes or seconds; give --times seconds or --times minutes"},
		{name: "large numbers settled", text: longOf(",", "time", "240", "330"), o: ImportOptions{Times: "seconds"}, want: "4:00, 5:30"},
		{name: "large numbers of seconds", text: longOf(",", "time (s)", "240", "330"), want: "4:00, 5:30"}, // as before

		// Dates.
		{name: "dotted dates", text: longOf(";", "minutes;date", "4;1.3.2026", "8;02.03.26"), want: "4:00 2026-03-01, 8:00 2026-03-02"},
		{name: "months in words", text: longOf(";", "minutes;date", "4;1 March 2026", "8;Mar 2, 2026"), want: "4:00 2026-03-01, 8:00 2026-03-02"},
		{name: "slashed dates", text: longOf(";", "minutes;date", "4;3/4/2026", "8;5/4/2026"), want: `"3/4/2026" can be 2026-04-03 or 2026-03-04; give --dates day-first or --dates month-first`},
		{name: "slashed dates settled", text: longOf(";", "minutes;date", "4;3/4/2026", "8;5/4/2026"), o: ImportOptions{Dates: "month-first"}, want: "4:00 2026-03-04, 8:00 2026-05-04"},
		{name: "slashed dates with a thirteenth", text: longOf(";", "minutes;date", "4;3/4/2026", "8;4/13/2026"), want: "4:00 2026-03-04, 8:00 2026-04-13"},
		{name: "a time behind the date", text: longOf(";", "minutes;date", "4;2026-03-01T14:05:30"), want: "4:00 2026-03-01"},

		// Words in a column of times, and temperatures with their degrees.
		{name: "labels in a column", text: longOf(";", "time", "5:30 a", "5:30 b"), want: "5:30 a, 5:30 b"},
		{name: "times in a column of strips", text: longOf(";", "strip", "Strip 1 (4:00)", "Strip 2 (5:30)"), want: "4:00 Strip 1, 5:30 Strip 2"},
		{name: "rows of strips with words", text: "strip,0.05,0.20,0.35\nA 4:00,1.2,1.1,1.0\nB 5:30 1+9,1.4,1.3,1.2\n", o: ImportOptions{Values: map[string]string{"exposure": "contact"}}, want: "4:00 A, 5:30 1+9 B"},
		{name: "degrees", text: longOf(";", "minutes;temperature", "4;20 °C", "8;24 °C"), want: "4:00 20, 8:00 24"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.o.Values = withLight(c.o.Values)
			found, err := Import("x", strings.NewReader(c.text), c.o)
			assert.Equal(t, c.want, outcome(found, err), "%s", c.text)
		})
	}
}

func withLight(values map[string]string) map[string]string {
	all := map[string]string{}
	for _, m := range []map[string]string{light, values} {
		for k, v := range m {
			all[k] = v
		}
	}
	return all
}

// outcome returns the strips of the only trial, or what is wrong without its
// place.
func outcome(found *Found, err error) string {
	var all grammar.Errors
	if errors.As(err, &all) {
		return all[0].Msg
	}
	return stripsOf(found.Trials[0].Trial)
}

// A workbook's cells of times and dates, as a spreadsheet keeps them.
func TestImportWorkbookTimes(t *testing.T) {
	day := func(h, m, s float64) float64 { return (3600*h + 60*m + s) / 86400 }
	dated := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name   string
		format string
		times  []any // of two strips
		o      ImportOptions
		want   string
	}{
		{"typed 5:30, shown 5:30", "h:mm", []any{day(5, 30, 0), day(8, 0, 0)}, ImportOptions{}, "5:30 2026-03-01, 8:00 2026-03-01"},
		{"typed 5:30, shown 5:30:00", "h:mm:ss", []any{day(5, 30, 0), day(8, 0, 0)}, ImportOptions{}, `"5:30:00" can be 5 min 30 s or 5 h 30 min; give --times clock or --times hours`},
		{"the same settled", "h:mm:ss", []any{day(5, 30, 0), day(8, 0, 0)}, ImportOptions{Times: "clock"}, "5:30 2026-03-01, 8:00 2026-03-01"},
		{"typed 5:30, shown 30:00", "mm:ss", []any{day(5, 30, 0), day(8, 0, 0)}, ImportOptions{}, `"5:30:00" can be 5 min 30 s or 5 h 30 min; give --times clock or --times hours`},
		{"typed 0:05:30", "h:mm:ss", []any{day(0, 5, 30), day(0, 8, 0)}, ImportOptions{}, "5:30 2026-03-01, 8:00 2026-03-01"},
		{"typed 0:05:30, shown 05:30", "mm:ss", []any{day(0, 5, 30), day(0, 8, 0)}, ImportOptions{}, "5:30 2026-03-01, 8:00 2026-03-01"},
		{"typed 0:08, shown 0:08", "h:mm", []any{day(0, 5, 0), day(0, 8, 0)}, ImportOptions{}, "5:00 2026-03-01, 8:00 2026-03-01"},
		{"numbers", "0.00", []any{5.5, 8.0}, ImportOptions{}, `"5.50" can be 5:50 or 5.5 minutes; give --times clock or --times minutes`},
		{"numbers with a quarter", "0.00", []any{5.5, 8.75}, ImportOptions{}, "5:30 2026-03-01, 8:45 2026-03-01"},
		{"plain numbers", "General", []any{5.5, 8.0}, ImportOptions{}, "5:30 2026-03-01, 8:00 2026-03-01"},
		{"text", "@", []any{"5:30", "Strip 2 (8:00)"}, ImportOptions{}, "5:30 2026-03-01, 8:00 2026-03-01 Strip 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			data := workbookOf(t, func(f *excelize.File) {
				style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &c.format})
				require.NoError(t, err)
				dates, err := f.NewStyle(&excelize.Style{NumFmt: 14})
				require.NoError(t, err)
				set(t, f, "Sheet1", map[string]any{"A1": "time", "B1": "step", "C1": "wedge", "D1": "density", "E1": "date"})
				for i := range 6 {
					row := fmt.Sprint(i + 2)
					set(t, f, "Sheet1", map[string]any{"A" + row: c.times[i/3], "B" + row: i%3 + 1, "C" + row: 0.05 + 0.15*float64(i%3),
						"D" + row: 1.9 - 0.1*float64(i%3) - 0.01*float64(i/3), "E" + row: dated})
					require.NoError(t, f.SetCellStyle("Sheet1", "A"+row, "A"+row, style))
					require.NoError(t, f.SetCellStyle("Sheet1", "E"+row, "E"+row, dates))
				}
			})
			c.o.Values = withLight(c.o.Values)
			found, err := Import("x", bytes.NewReader(data), c.o)
			assert.Equal(t, c.want, outcome(found, err))
		})
	}

	// Headings that are times of a day.
	data := workbookOf(t, func(f *excelize.File) {
		clock := "h:mm"
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &clock})
		require.NoError(t, err)
		set(t, f, "Sheet1", map[string]any{"A1": "step", "B1": "wedge", "C1": day(5, 30, 0), "D1": "8:00 1+9"})
		require.NoError(t, f.SetCellStyle("Sheet1", "C1", "C1", style))
		for i := range 3 {
			row := fmt.Sprint(i + 2)
			set(t, f, "Sheet1", map[string]any{"A" + row: i + 1, "B" + row: 0.05 + 0.15*float64(i), "C" + row: 1.5 - 0.1*float64(i), "D" + row: 1.7 - 0.1*float64(i)})
		}
	})
	found, err := Import("x", bytes.NewReader(data), ImportOptions{Values: light})
	assert.Equal(t, "5:30, 8:00 1+9", outcome(found, err))
}

// The letters of other systems.
func TestImportCharacters(t *testing.T) {
	const text = "Strip;Zeit;step;wedge;density;note\n1;5:30;1;0,05;1,20;hinten \u00e4u\u00dferst wei\u00df\n1;5:30;2;0,20;1,10;\n1;5:30;3;0,35;1,00;\n"
	table := strings.Replace(text, "Zeit", "time", 1)
	latin1, err := charmap.ISO8859_1.NewEncoder().String(table)
	require.NoError(t, err)
	windows, err := charmap.Windows1252.NewEncoder().String(strings.Replace(table, "hinten", "\u201ehinten\u201c \u20ac", 1))
	require.NoError(t, err)
	wide := func(little bool) string {
		var b []byte
		for _, u := range utf16.Encode([]rune(table)) {
			if little {
				b = append(b, byte(u), byte(u>>8))
			} else {
				b = append(b, byte(u>>8), byte(u))
			}
		}
		return string(b)
	}
	for name, c := range map[string]struct{ text, note, says string }{
		"UTF-8":                        {table, "hinten \u00e4u\u00dferst wei\u00df", ""},
		"Latin-1":                      {latin1, "hinten \u00e4u\u00dferst wei\u00df", "the letters are Windows-1252 (Latin-1)"},
		"Windows":                      {windows, "\u201ehinten\u201c \u20ac \u00e4u\u00dferst wei\u00df", "the letters are Windows-1252 (Latin-1)"},
		"UTF-16 without a mark":        {wide(true), "hinten \u00e4u\u00dferst wei\u00df", "the letters are UTF-16"},
		"UTF-16 big without a mark":    {wide(false), "hinten \u00e4u\u00dferst wei\u00df", "the letters are UTF-16"},
		"UTF-16 with a mark":           {"\xff\xfe" + wide(true), "hinten \u00e4u\u00dferst wei\u00df", "the letters are UTF-16"},
		"UTF-16 big, marked, and CRLF": {"\xfe\xff" + strings.ReplaceAll(wide(false), "\x00\n", "\x00\r\x00\n"), "hinten \u00e4u\u00dferst wei\u00df", "the letters are UTF-16"},
	} {
		t.Run(name, func(t *testing.T) {
			trial, guesses := imported(t, c.text, ImportOptions{Values: light})
			assert.Equal(t, "5:30 "+c.note, stripsOf(trial))
			if c.says != "" {
				assert.Contains(t, guesses, c.says)
			}
		})
	}
}

// What is shown of how columns were read.
func TestImportSaysWhatWasRead(t *testing.T) {
	columns := func(text string, o ImportOptions) string {
		o.Values = withLight(o.Values)
		found, err := Import("x", strings.NewReader(text), o)
		require.NoError(t, err)
		var b strings.Builder
		for _, c := range found.Columns {
			fmt.Fprintf(&b, "%s: %s\n", c.Heading, c.As)
		}
		return b.String()
	}
	assert.Equal(t, `step: step
wedge: wedge, 0,05 to 0,35
Strip 1 (4:00): strip 1, developed for 4:00: 3 readings
N-1 5,5 min 1+9: strip 2, developed for 5:30, at 1+9, note "N-1": 3 readings
8:00 24 °C 1.3.2026: strip 3, developed for 8:00, at 24 °C, on 2026-03-01: 3 readings
`, columns(wideUnder(";", "Strip 1 (4:00)", "N-1 5,5 min 1+9", "8:00 24 °C 1.3.2026"), ImportOptions{}))
	assert.Equal(t, `Time: development time: 5,5 is 5:30; 8 min a is 8:00, a
Date: date of development: 1.3.2026 is 2026-03-01; 2026-03-02
dilution: dilution: 1+4; 1+9
operator: not used
densty_2: not used
step: step
wedge: wedge, 0.05 to 0.35
density: density
`, columns(longOf(";", "Time;Date;dilution;operator;densty_2", "5,5;1.3.2026;1+4;E;", "8 min a;2026-03-02;1+9;;"), ImportOptions{}))
	assert.Equal(t, `step: step
wedge: wedge, 0.05 to 0.35
5:30: strip 1, developed for 5:30: 3 readings and 1 of base plus fog
note: not used: it has no place in a table of this layout
`, columns("step,wedge,5:30,note\nbase,,0.1,\n1,0.05,1.2,dust\n2,0.20,1.1,\n3,0.35,1.0,\n", ImportOptions{}))
	assert.Equal(t, `minutes: development time: 4:00; 5:30
base fog: base fog
0.05 to 0.35: readings of steps 1 to 3
`, columns("minutes,base fog,0.05,0.20,0.35\n4:00,0.09,1.25,1.17,1.10\n5:30,0.10,1.46,1.37,1.31\n", ImportOptions{Values: map[string]string{"exposure": "contact"}}))
}

// The strips of a file that are there twice are taken once.
func TestImportCopies(t *testing.T) {
	rows := strings.Split(strings.TrimSpace(wideUnder(",", "5:30", "8:00")), "\n")
	for i, row := range rows {
		cells := strings.Split(row, ",")
		again := cells[2]
		if i == 0 {
			rows[i] = row + ",5:30,5:30 b"
		} else {
			rows[i] = row + "," + again + "," + again
		}
	}
	trial, guesses := imported(t, strings.Join(rows, "\n"), ImportOptions{Values: light})
	assert.Equal(t, "5:30, 8:00", stripsOf(trial))
	assert.Contains(t, guesses, "strip 3 (5:30) is left out: it has the readings, exposure and development of strip 1; if it is another piece of film, give each its note")
	assert.Contains(t, guesses, "strip 4 (5:30) is left out: it has the readings, exposure and development of strip 1; if it is another piece of film, give each its note")

	// Added to the trial that has them, none is added; a new one is.
	data := notebook.Format(trial)
	found, err := Import("x", strings.NewReader(wideUnder(",", "5:30", "8:00", "12:00")), ImportOptions{Into: trial})
	require.NoError(t, err)
	text, left, err := AppendStrips(data, data, found.Trials[0].Strips)
	require.NoError(t, err)
	require.Len(t, left, 2)
	assert.Equal(t, "strip 1 of the file is strip 1 of the trial again, with its readings, exposure and development, and is left out; if it is another piece of film, give each its note", left[0])
	assert.Equal(t, "5:30, 8:00, 12:00", stripsOf(read(t, string(text))))
	text, left, err = AppendStrips(text, text, found.Trials[0].Strips)
	require.NoError(t, err)
	require.Len(t, left, 3)
	assert.Equal(t, "5:30, 8:00, 12:00", stripsOf(read(t, string(text))))
}
