package notebook

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// good is a sound notebook; the bad ones differ from it in one place.
const good = `title = "T"
` + film + `[process]
developer = "Brinewater"
dilution = "1+19"
temperature_c = 20.0
[exposure]
` + contact + `
[reading]
zero = "air"
` + strips

const (
	film    = "[film]\nname = \"Larkfield 125\"\nrated_speed = 125\n"
	contact = "kind = \"contact\"\nilluminance_lx = 2.0\nseconds = 0.5\nwedge = [0.05, 0.20, 0.35]"
	strips  = "[[strip]]\nminutes = 5.5\nbase_fog = [0.10, 0.11]\n" + density + "\n"
	density = "density = [\n  1.10,\n  0.80,\n  0.50,\n]"
)

// badCase is a file and every line of the error it must give, each less the
// name of the file.
type badCase struct {
	name, file string
	want       []string
}

const all = good

func bad(name, old, new string, want ...string) badCase {
	if !strings.Contains(good, old) {
		panic(name + ": nothing to replace")
	}
	return badCase{name, strings.Replace(good, old, new, 1), want}
}

// goodPaper is a sound notebook of a paper.
const goodPaper = `kind = "paper"
title = "P"
[paper]
name = "Slate"
[exposure]
kind = "relative"
log_h = [0.0, 0.3, 0.6]
[[strip]]
base_fog = 0.06
grade = 2
density = [0.06, 0.80, 1.90]
`

func badPaper(name, old, new string, want ...string) badCase {
	if !strings.Contains(goodPaper, old) {
		panic(name + ": nothing to replace")
	}
	return badCase{name, strings.Replace(goodPaper, old, new, 1), want}
}

// badCases are all bad notebooks: what is not well-formed, then what is wrong with
// keys and values.
var badCases = slices.Concat(badSyntax, []badCase{
	bad("empty file", all, "",
		"1: film.name: is missing", "1: exposure.kind: is missing", "1: strip: is missing: a trial needs at least one developed strip"),
	bad("control log", all, goodControl,
		"1: is a control log (for sensito control or --control), and a trial was wanted"),
	bad("name of blanks", `"Larkfield 125"`, `" \u00a0"`, "3: film.name: is missing"),
	bad("roll", all, "name,range_stops\nLamp,9\n",
		"1: is a roll of scenes (for sensito scene --roll), and a trial was wanted"),
	bad("table of readings", all, "minutes;step;density\n5,5;1;1,10\n",
		"1: is a table of readings (for sensito import), and a trial was wanted"),
	bad("spreadsheet", all, "PK\x03\x04\x14\x00",
		"1: is a table of readings (for sensito import), and a trial was wanted"),
	bad("dilution 1+", `"1+19"`, `"1+"`,
		`7: process.dilution: "1+" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution +19", `"1+19"`, `"+19"`,
		`7: process.dilution: "+19" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 1 + 19", `"1+19"`, `"1 + 19"`,
		`7: process.dilution: "1 + 19" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 1+19+1", `"1+19"`, `"1+19+1"`,
		`7: process.dilution: "1+19+1" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution stock+1", `"1+19"`, `"stock+1"`,
		`7: process.dilution: "stock+1" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 1-19", `"1+19"`, `"1-19"`,
		`7: process.dilution: "1-19" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution one to nineteen", `"1+19"`, `"one to nineteen"`,
		`7: process.dilution: "one to nineteen" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 1/20", `"1+19"`, `"1/20"`,
		`7: process.dilution: "1/20" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 1:20", `"1+19"`, `"1:20"`,
		`7: process.dilution: "1:20" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 5 %", `"1+19"`, `"5 %"`,
		`7: process.dilution: "5 %" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution 1+1,5", `"1+19"`, `"1+1,5"`,
		`7: process.dilution: "1+1,5" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("dilution a number", `"1+19"`, "1.19",
		"7: process.dilution: must be text in quotes, not a number"),
	bad("time 5.30", "minutes = 5.5", "minutes = 5.30",
		`17: strip[1].minutes: 5.30 can be 5:30 or 5.3 minutes; write "5:30" in quotes or 5.3`),
	bad("time 5.50 as planned", strips, strips+"[[done]]\ndate = 2026-03-01\nplanned_minutes = 5.50\nminutes = 10.10\n",
		`26: done[1].planned_minutes: 5.50 can be 5:50 or 5.5 minutes; write "5:50" in quotes or 5.5`,
		`27: done[1].minutes: 10.10 can be 10:10 or 10.1 minutes; write "10:10" in quotes or 10.1`),
	bad("time 5:75", "minutes = 5.5", `minutes = "5:75"`,
		`17: strip[1].minutes: "5:75" is not a time like 5:30 or 1:02:30`),
	bad("time 5:30 min", "minutes = 5.5", `minutes = "5:30 min"`,
		`17: strip[1].minutes: "5:30 min" is not a time like 5:30 or 1:02:30`),
	bad("time 5m30s", "minutes = 5.5", `minutes = "5m30s"`,
		`17: strip[1].minutes: "5m30s" is not a time like 5:30 or 1:02:30`),
	bad("time 5.30.00", "minutes = 5.5", `minutes = "5.30.00"`,
		`17: strip[1].minutes: "5.30.00" is not a time like 5:30 or 1:02:30`),
	bad("time -5:30", "minutes = 5.5", `minutes = "-5:30"`,
		`17: strip[1].minutes: "-5:30" is not a time like 5:30 or 1:02:30`),
	bad("time 5,5", "minutes = 5.5", `minutes = "5,5"`,
		`17: strip[1].minutes: "5,5" is not a time like 5:30 or 1:02:30`),
	bad("time  5:30", "minutes = 5.5", `minutes = " 5:30"`,
		`17: strip[1].minutes: " 5:30" is not a time like 5:30 or 1:02:30`),
	bad("time 12345:00", "minutes = 5.5", `minutes = "12345:00"`,
		`17: strip[1].minutes: "12345:00" is not a time like 5:30 or 1:02:30`),
	bad("time 5'30", "minutes = 5.5", `minutes = "5'30"`,
		`17: strip[1].minutes: "5'30" is not a time like 5:30 or 1:02:30`),
	bad("time 5:30:5", "minutes = 5.5", `minutes = "5:30:5"`,
		`17: strip[1].minutes: "5:30:5" is not a time like 5:30 or 1:02:30`),
	bad("time five", "minutes = 5.5", `minutes = "five"`,
		`17: strip[1].minutes: "five" is not a time like 5:30 or 1:02:30`),
	bad("time of a day and more", "minutes = 5.5", `minutes = "24:01:00"`,
		"17: strip[1].minutes: 1441 min is outside 0.05 to 1440 min"),
	bad("time of no length", "minutes = 5.5", `minutes = "0:02"`,
		"17: strip[1].minutes: 0.03333333333333333 min is outside 0.05 to 1440 min"),
	bad("time a date", "minutes = 5.5", "minutes = 2026-03-01",
		`17: strip[1].minutes: must be a number or a time in quotes like "5:30", not a date`),
	bad("kind at the top", `title = "T"`, `kind = "contact"`,
		`1: kind: "contact" is neither film nor paper`),
	bad("kind not text", `title = "T"`, `kind = 1`,
		"1: kind: must be text in quotes, not a number"),
	bad("paper without its kind", film, "[paper]\nname = \"Slate\"\n",
		"2: paper: goes with kind = \"paper\" at the top of the file"),
	bad("grade of a film", "minutes = 5.5", "minutes = 5.5\ngrade = 2",
		"18: strip[1].grade: unknown key"),
	bad("filter of a film", "minutes = 5.5", "minutes = 5.5\nfilter = 2",
		"18: strip[1].filter: unknown key"),
	badPaper("film in a paper trial", "[paper]", "[film]",
		"1: paper.name: is missing", "3: film: unknown key"),
	badPaper("no paper", "[paper]\nname = \"Slate\"\n", "",
		"1: paper.name: is missing"),
	badPaper("no paper name", "name = \"Slate\"\n", "batch = \"7\"\n",
		"3: paper.name: is missing"),
	badPaper("speed of a paper", "name = \"Slate\"", "name = \"Slate\"\nrated_speed = 400",
		"5: paper.rated_speed: unknown key"),
	badPaper("grade not a name", "grade = 2", "grade = [2]",
		"10: strip[1].grade: must be a number or text in quotes, not a list"),
	badPaper("grade empty", "grade = 2", `grade = ""`,
		"10: strip[1].grade: is empty; leave the key out if there is none"),
	badPaper("grade infinite", "grade = 2", "grade = inf",
		"10: strip[1].grade: must be a finite number, not inf"),
	badPaper("grade long", "grade = 2", `grade = "between two and three"`,
		`10: strip[1].grade: "between two and three" is longer than 16 characters`),
	badPaper("grade with blanks", "grade = 2", `grade = "2 "`,
		`10: strip[1].grade: "2 " has blanks at its ends`),
	badPaper("grade and filter", "grade = 2", "grade = 2\nfilter = \"00\"",
		"11: strip[1].filter: does not go with grade; a strip has one or the other"),
	badPaper("leading zero of a filter", "grade = 2", "filter = 00",
		"10: a number does not begin with 0; is there a decimal comma? write a point"),
	badPaper("minutes of a paper zero", "grade = 2", "minutes = 0",
		"10: strip[1].minutes: must not be 0; leave the key out if it is not known"),
	badPaper("minutes of a paper nothing", "grade = 2", `minutes = "0:00"`,
		"10: strip[1].minutes: must not be 0; leave the key out if it is not known"),
	badPaper("minutes of a paper negative", "grade = 2", "minutes = -1",
		"10: strip[1].minutes: -1 min is outside 0.05 to 1440 min"),
	badPaper("reference of a film", "log_h = [0.0, 0.3, 0.6]", "log_h = [0.0, 0.3, 0.6]\nreference_speed_point_log_h = 0.3",
		"8: exposure.reference_speed_point_log_h: is of film; with relative exposures a paper has a range but no speed"),
	badPaper("density of a paper too high", "0.06, 0.80, 1.90", "0.06, 0.80, 6.50",
		"11: strip[1].density[3]: density 6.5 is outside 0 to 6"),
	bad("unknown table", "[reading]", "[readings]",
		`14: readings: unknown key; did you mean "reading"?`),
	bad("unknown table, far", "[reading]", "[flash]",
		"14: flash: unknown key"),
	bad("unknown key", "minutes = 5.5", "minuts = 5.5",
		`17: strip[1].minuts: unknown key; did you mean "minutes"?`),
	bad("unknown key, far", "minutes = 5.5", "minutes = 5.5\ncolour = 1",
		"18: strip[1].colour: unknown key"),
	bad("capital", "minutes = 5.5", "Minutes = 5.5",
		`17: strip[1].Minutes: unknown key; did you mean "minutes"?`),
	bad("quoted key", `title = "T"`, `"a.b" = 1`,
		`1: "a.b": unknown key`),
	bad("key of another kind", "seconds = 0.5", "seconds = 0.5\nstops = [0, 1, 2]",
		`13: exposure.stops: goes with kind = "camera", but the kind is "contact"`),
	bad("key of another kind, relative", "seconds = 0.5", "seconds = 0.5\nlog_h = [0, 1, 2]",
		`13: exposure.log_h: goes with kind = "relative", but the kind is "contact"`),
	bad("unknown kind", `"contact"`, `"kontakt"`,
		`10: exposure.kind: "kontakt" is not contact, camera or relative`),
	bad("no kind", "kind = \"contact\"\n", "",
		"9: exposure.kind: is missing"),
	bad("no film", film, "",
		"1: film.name: is missing"),
	bad("no film name", "name = \"Larkfield 125\"\n", "",
		"2: film.name: is missing"),
	bad("empty film name", `"Larkfield 125"`, `""`,
		"3: film.name: is missing"),
	bad("film not a table", film, "film = \"Larkfield 125\"\n",
		"2: film: must be a table, not text"),
	bad("name not text", `"Larkfield 125"`, "125",
		"3: film.name: must be text in quotes, not a number"),
	bad("speed not a number", "rated_speed = 125", `rated_speed = "125"`,
		"4: film.rated_speed: must be a number, not text"),
	bad("speed zero", "rated_speed = 125", "rated_speed = 0",
		"4: film.rated_speed: must not be 0; leave the key out if it is not known"),
	bad("speed negative", "rated_speed = 125", "rated_speed = -125",
		"4: film.rated_speed: -125 is outside 0.01 to 1e+06"),
	bad("dilution", `"1+19"`, `"1:19"`,
		`7: process.dilution: "1:19" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("temperature in Fahrenheit", "temperature_c = 20.0", "temperature_c = 68",
		"8: process.temperature_c: 68 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20"),
	bad("temperature nan", "temperature_c = 20.0", "temperature_c = nan",
		"8: process.temperature_c: must be a number, not nan"),
	bad("temperature of strip", "minutes = 5.5", "minutes = 5.5\ntemperature_c = 80",
		"18: strip[1].temperature_c: 80 degrees C is outside 1 to 60; temperatures are in Celsius, 68 degrees F is 20"),
	bad("agitation", "temperature_c = 20.0", `agitation = "rotary"`,
		`8: process.agitation: "rotary" is not continuous, intermittent or none`),
	bad("no illuminance", "illuminance_lx = 2.0\n", "",
		"9: exposure.illuminance_lx: is missing"),
	bad("illuminance zero", "illuminance_lx = 2.0", "illuminance_lx = 0",
		"11: exposure.illuminance_lx: 0 lx is outside 1e-06 to 1e+07 lx"),
	bad("seconds inf", "seconds = 0.5", "seconds = inf",
		"12: exposure.seconds: must be a finite number, not inf"),
	bad("no exposure", "[exposure]\nkind = \"contact\"\nilluminance_lx = 2.0\nseconds = 0.5\nwedge = [0.05, 0.20, 0.35]\n", "",
		"1: exposure.kind: is missing"),
	bad("no wedge", "wedge = [0.05, 0.20, 0.35]\n", "",
		"9: exposure.wedge: is missing; list the step densities, or give wedge_first, wedge_step and wedge_count"),
	bad("wedge turns", "0.20, 0.35]", "0.35, 0.20]",
		"13: exposure.wedge[3]: 0.2 after 0.35 breaks the order of the wedge; its densities must rise or fall all the way"),
	bad("wedge too dense", "0.20, 0.35]", "0.20, 6.35]",
		"13: exposure.wedge[3]: 6.35 is outside 0 to 6"),
	bad("wedge of two", "0.20, 0.35]", "0.20]",
		"13: exposure.wedge: 2 steps is outside 3 to 1000"),
	bad("wedge not numbers", "0.20, 0.35]", `"0.20", 0.35]`,
		"13: exposure.wedge[2]: must be a number, not text"),
	bad("wedge both ways", "wedge = [0.05", "wedge_first = 0.05\nwedge = [0.05",
		"13: exposure.wedge_first: does not go with wedge; list the steps or give wedge_first, wedge_step and wedge_count, not both"),
	bad("wedge without count", "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = 0.15",
		"9: exposure.wedge_count: is missing"),
	bad("wedge count not whole", "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = 0.15\nwedge_count = 3.5",
		"15: exposure.wedge_count: must be a whole number, not 3.5"),
	bad("wedge count huge", "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = 0.15\nwedge_count = 1000000000",
		"15: exposure.wedge_count: 1e+09 steps is outside 3 to 1000"),
	bad("wedge runs out", "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = -0.15\nwedge_count = 3",
		"14: exposure.wedge_step: puts the last step at density -0.25, outside 0 to 6"),
	bad("wedge level", "wedge = [0.05, 0.20, 0.35]", "wedge_first = 0.05\nwedge_step = 0\nwedge_count = 3",
		"14: exposure.wedge_step: 0 is too small to tell the steps apart"),
	bad("wedge first", "wedge = [0.05, 0.20, 0.35]", "wedge_first = 7\nwedge_step = 0.15\nwedge_count = 3",
		"13: exposure.wedge_first: 7 is outside 0 to 6"),
	bad("exposure error", "seconds = 0.5", "seconds = 0.5\nlog_h_sd = -0.02",
		"13: exposure.log_h_sd: -0.02 is outside 0 to 1"),
	bad("meter constant", "seconds = 0.5", "seconds = 0.5\nmeter_k = 125",
		"13: exposure.meter_k: 125 cd s/m2 is outside 5 to 30 cd s/m2"),
	bad("meter constant zero", "seconds = 0.5", "seconds = 0.5\nmeter_q = 0",
		"13: exposure.meter_q: must not be 0; leave the key out if it is not known"),
	bad("no stops", contact, "kind = \"camera\"\nmeter_index = 125",
		"9: exposure.stops: is missing"),
	bad("stops", contact, "kind = \"camera\"\nmeter_index = 0\nstops = [-30, 0, nan]",
		"11: exposure.meter_index: 0 is outside 0.01 to 1e+06", "12: exposure.stops[3]: must be a number, not nan", "12: exposure.stops[1]: -30 stops is outside -20 to 20 stops"),
	bad("camera meter", contact, "kind = \"camera\"\nmeter_index = 125\nmeter_k = 125\nstops = [-1, 0, 1]",
		"12: exposure.meter_k: 125 cd s/m2 is outside 5 to 30 cd s/m2"),
	bad("relative", contact, "kind = \"relative\"\nlog_h = [0, 0.3, 60]",
		"11: exposure.log_h[3]: 60 is outside -20 to 20"),
	bad("relative without speed", "rated_speed = 125\n[process]\ndeveloper = \"Brinewater\"\ndilution = \"1+19\"\ntemperature_c = 20.0\n[exposure]\nkind = \"contact\"\nilluminance_lx = 2.0\nseconds = 0.5\nwedge = [0.05, 0.20, 0.35]", "[exposure]\nkind = \"relative\"\nlog_h = [0, 0.3, 0.6]\nreference_speed_point_log_h = 0.2",
		"2: film.rated_speed: is needed to tie relative exposures to reference_speed_point_log_h"),
	bad("repeatability", `zero = "air"`, "repeatability = 1",
		"15: reading.repeatability: 1 is outside 0.0001 to 0.5"),
	bad("repeatability zero", `zero = "air"`, "repeatability = 0",
		"15: reading.repeatability: must not be 0; leave the key out if it is not known"),
	bad("zero", `"air"`, `"film"`,
		`15: reading.zero: "film" is neither "air" nor "base"`),
	bad("no strip", strips, "",
		"1: strip: is missing: a trial needs at least one developed strip"),
	bad("strip in single brackets", "[[strip]]", "[strip]",
		"16: strip: must be written [[strip]], in double brackets"),
	bad("strip not a table", strips, "[[reading.x]]\n",
		"1: strip: is missing: a trial needs at least one developed strip", "14: reading.x: unknown key"),
	bad("strips not tables", all, "strip = [1, 2]\n",
		"1: film.name: is missing", "1: strip[1]: must be a table, not a number", "1: strip[2]: must be a table, not a number", "1: exposure.kind: is missing"),
	bad("no minutes", "minutes = 5.5\n", "",
		"16: strip[1].minutes: is missing"),
	bad("minutes zero", "minutes = 5.5", "minutes = 0",
		"17: strip[1].minutes: 0 min is outside 0.05 to 1440 min"),
	bad("minutes inf", "minutes = 5.5", "minutes = inf",
		"17: strip[1].minutes: must be a finite number, not inf"),
	bad("minutes empty", "minutes = 5.5", `minutes = ""`,
		`17: strip[1].minutes: "" is not a time like 5:30 or 1:02:30`),
	bad("minutes in words", "minutes = 5.5", `minutes = "5 min"`,
		`17: strip[1].minutes: "5 min" is not a time like 5:30 or 1:02:30`),
	bad("seconds of minutes", "minutes = 5.5", `minutes = "5:60"`,
		`17: strip[1].minutes: "5:60" is not a time like 5:30 or 1:02:30`),
	bad("one digit of seconds", "minutes = 5.5", `minutes = "5:3"`,
		`17: strip[1].minutes: "5:3" is not a time like 5:30 or 1:02:30`),
	bad("minutes of hours", "minutes = 5.5", `minutes = "1:60:00"`,
		`17: strip[1].minutes: "1:60:00" is not a time like 5:30 or 1:02:30`),
	bad("minutes as time of day", "minutes = 5.5", "minutes = 05:30:00",
		`17: strip[1].minutes: must be a number or a time in quotes like "5:30", not a time of day`),
	bad("no density", density, "",
		"16: strip[1].density: is missing"),
	bad("density too long", "0.50,", "0.50, 0.40,",
		"19: strip[1].density: has 4 readings for 3 steps; write nan where a step was not read"),
	bad("density too high", "0.80,", "61,",
		"21: strip[1].density[2]: density 61 is outside 0 to 6"),
	bad("density inf", "0.80,", "inf,",
		"21: strip[1].density[2]: must be a finite number, not inf"),
	bad("density negative", "0.80,", "-0.03,",
		`21: strip[1].density[2]: density -0.03 is negative (set reading.zero to "base" if the densitometer was zeroed on the base)`),
	bad("density in quotes", "0.80,", `"0.80",`,
		"21: strip[1].density[2]: must be a number, not text"),
	bad("density not a list", density, "density = 1.1",
		"19: strip[1].density: must be a list of numbers, not a number"),
	bad("density nested", "0.80,", "[[[[[[[[0.80]]]]]]]],",
		"19: strip[1].density[2][1]: must be a number, not a list"),
	bad("repeats empty", "0.80,", "[],",
		"19: strip[1].density[2]: has no reading; write nan where a step was not read"),
	bad("repeats nan", "0.80,", "[0.80, nan],",
		"21: strip[1].density[2][2]: must be a number, not nan"),
	bad("repeats outside", "0.80,", "[0.80, 8.0],",
		"21: strip[1].density[2][2]: density 8 is outside 0 to 6"),
	bad("next step", "minutes = 5.5", "minutes = 5.5\nnext_step = 4",
		"18: strip[1].next_step: step 4 is outside 1 to 3"),
	bad("next step zero", "minutes = 5.5", "minutes = 5.5\nnext_step = 0",
		"18: strip[1].next_step: 0 is outside 1 to 1000"),
	bad("next step part", "minutes = 5.5", "minutes = 5.5\nnext_step = 1.5",
		"18: strip[1].next_step: must be a whole number, not 1.5"),
	bad("base fog", "0.10, 0.11]", "0.10, 11]",
		"18: strip[1].base_fog[2]: density 11 is outside 0 to 6"),
	bad("base fog nan", "0.10, 0.11]", "0.10, nan]",
		"18: strip[1].base_fog[2]: must be a number, not nan"),
	bad("base fog single", "[0.10, 0.11]", "9",
		"18: strip[1].base_fog[1]: density 9 is outside 0 to 6"),
	bad("base fog text", "[0.10, 0.11]", `"0.10"`,
		"18: strip[1].base_fog: must be a list of numbers, not text"),
	bad("ignore", "minutes = 5.5", "minutes = 5.5\nignore = [3, 4]",
		"18: strip[1].ignore[2]: step 4 is outside 1 to 3"),
	bad("ignore twice", "minutes = 5.5", "minutes = 5.5\nignore = [3, 3]",
		"18: strip[1].ignore[2]: step 3 is named twice"),
	bad("ignore not whole", "minutes = 5.5", "minutes = 5.5\nignore = [1.5]",
		"18: strip[1].ignore[1]: must be a whole number, not 1.5"),
	bad("developed", "minutes = 5.5", "minutes = 5.5\ndeveloped = \"2026-02-30\"",
		`18: strip[1].developed: "2026-02-30" is not a date like 2026-03-01`),
	bad("developed with hour", "minutes = 5.5", "minutes = 5.5\ndeveloped = 2026-03-01T10:00:00",
		"18: strip[1].developed: must be a date like 2026-03-01, not a date with a time"),
	bad("note", "minutes = 5.5", "minutes = 5.5\nnote = true",
		"18: strip[1].note: must be text in quotes, not true or false"),
	bad("all at once", `kind = "contact"`, "kind = \"contact\"\nlog_h = 3\nseconds = true\nwedge_step = 1",
		"15: seconds is there twice"),
	bad("two faults in one list", "1.10,\n  0.80,", "11,\n  true,",
		"20: strip[1].density[1]: density 11 is outside 0 to 6",
		"21: strip[1].density[2]: must be a number, not true or false"),
	bad("faults of every part, by line", "0.5\nwedge = [0.05,", "true\nwedge = [9,",
		"12: exposure.seconds: must be a number, not true or false",
		"13: exposure.wedge[1]: 9 is outside 0 to 6",
		"13: exposure.wedge[3]: 0.35 after 0.2 breaks the order of the wedge; its densities must rise or fall all the way"),
	bad("readings checked though the exposures are faulty", "wedge = [0.05, 0.20, 0.35]\n[reading]\nzero = \"air\"\n[[strip]]\nminutes = 5.5",
		"[[strip]]\nminutes = 5.5\nignore = [4]",
		"9: exposure.wedge: is missing; list the step densities, or give wedge_first, wedge_step and wedge_count",
		"15: strip[1].ignore[1]: step 4 is outside 1 to 3"),
	bad("dilution under reading", strips, "dilution = 19\n"+strips+strips,
		"16: reading.dilution: unknown key"),
	bad("dilution inherited by two strips", `"1+19"`+"\ntemperature_c = 20.0\n[exposure]\n"+contact+"\n[reading]\nzero = \"air\"\n",
		`"19"`+"\n[exposure]\n"+contact+"\n"+strips,
		`7: process.dilution: "19" is not of the form 1+19 (parts concentrate + parts water) or stock`),
	bad("second strip", strips, strips+strings.Replace(strips, "0.50,", "50,", 1),
		"30: strip[2].density[3]: density 50 is outside 0 to 6"),
	bad("strips in a list of inline tables", all,
		"film = {name = \"Tern 400\"}\nexposure = {kind = \"relative\", log_h = [0, 1, 2]}\nstrip = [\n  {minutes = 5, density = [1, 2, 3]},\n  {minutes = 7,\n   density = [1,\n   20, 3]},\n]\n",
		"7: strip[2].density[2]: density 20 is outside 0 to 6"),
	bad("dotted keys", all,
		"film.name = \"Tern 400\"\nexposure.kind = \"relative\"\nexposure.log_h = [0, 1,\n 200]\n[[strip]]\nminutes = 5\ndensity = [1, 2, 3]\n",
		"4: exposure.log_h[3]: 200 is outside -20 to 20"),
	bad("missing below a dotted key", all,
		"title = \"T\"\nfilm.batch = \"0417\"\nexposure.kind = \"relative\"\nexposure.log_h = [0, 1, 2]\n[[strip]]\nminutes = 5\ndensity = [1, 2, 3]\n",
		"2: film.name: is missing"),
	bad("exposure of a strip", "minutes = 5.5", "minutes = 5.5\nseconds = -100\nilluminance_lx = 1e8",
		"18: strip[1].seconds: -100 s is outside 1e-06 to 1e+06 s", "19: strip[1].illuminance_lx: 1e+08 lx is outside 1e-06 to 1e+07 lx"),
	bad("exposure of a strip zero", "minutes = 5.5", "minutes = 5.5\nseconds = 0\nilluminance_lx = 0",
		"18: strip[1].seconds: must not be 0; leave the key out if it is not known", "19: strip[1].illuminance_lx: must not be 0; leave the key out if it is not known"),
	bad("exposure of a strip not numbers", "minutes = 5.5", "minutes = 5.5\nseconds = \"1/2\"\nilluminance_lx = nan",
		"18: strip[1].seconds: must be a number, not text", "19: strip[1].illuminance_lx: must be a number, not nan"),
	bad("exposure of a strip misspelt", "minutes = 5.5", "minutes = 5.5\nsecond = 100",
		`18: strip[1].second: unknown key; did you mean "seconds"?`),
	bad("exposure of a strip under a faulty wedge", "0.20, 0.35]\n[reading]\nzero = \"air\"\n[[strip]]\n", "0.20, 6.35]\n[reading]\nzero = \"air\"\n[[strip]]\nseconds = 1e7\n",
		"13: exposure.wedge[3]: 6.35 is outside 0 to 6", "17: strip[1].seconds: 1e+07 s is outside 1e-06 to 1e+06 s"),
	bad("exposure of a strip in a camera test", contact+"\n[reading]\nzero = \"air\"\n[[strip]]\n", "kind = \"camera\"\nmeter_index = 125\nstops = [-1, 0, 1]\n[[strip]]\nseconds = 100\nilluminance_lx = 2\n",
		`14: strip[1].seconds: goes with kind = "contact", but the kind is "camera"`, `15: strip[1].illuminance_lx: goes with kind = "contact", but the kind is "camera"`),
	bad("exposure of a strip on relative exposures", contact+"\n[reading]\nzero = \"air\"\n[[strip]]\n", "kind = \"relative\"\nlog_h = [0, 0.3, 0.6]\n[[strip]]\nseconds = 100\n",
		`13: strip[1].seconds: goes with kind = "contact", but the kind is "relative"`),
	bad("reciprocity key", strips, strips+"[[reciprocity]]\nmetered = 1\ncorrected_s = 2\n",
		`25: reciprocity[1].metered: unknown key; did you mean "metered_s"?`),
	bad("reciprocity half a pair", strips, strips+"[[reciprocity]]\nmetered_s = 1\n",
		"24: reciprocity[1].corrected_s: is missing"),
	bad("reciprocity shortens", strips, strips+"[[reciprocity]]\nmetered_s = 80\ncorrected_s = 77.4\n",
		"26: reciprocity[1].corrected_s: 77.4 s is shorter than the metered 80 s; no film needs less in dim light"),
	bad("reciprocity turns", strips, strips+"[[reciprocity]]\nmetered_s = 10\ncorrected_s = 50\n[[reciprocity]]\nmetered_s = 10\ncorrected_s = 40\n",
		"28: reciprocity[2].metered_s: 10 s after 10 s; the times must rise from pair to pair",
		"29: reciprocity[2].corrected_s: 40 s after 50 s; the times must rise from pair to pair"),
	bad("reciprocity limits", strips, strips+"[[reciprocity]]\nmetered_s = 0\ncorrected_s = 1e7\n",
		"25: reciprocity[1].metered_s: 0 s is outside 0.001 to 1e+06 s",
		"26: reciprocity[1].corrected_s: 1e+07 s is outside 0.001 to 1e+06 s"),
	bad("reciprocity not numbers", strips, strips+"[[reciprocity]]\nmetered_s = \"1/2\"\ncorrected_s = nan\n",
		"25: reciprocity[1].metered_s: must be a number, not text",
		"26: reciprocity[1].corrected_s: must be a number, not nan"),
	bad("reciprocity of numbers", `title = "T"`, "reciprocity = [1, 2]",
		"1: reciprocity[1]: must be a table, not a number", "1: reciprocity[2]: must be a table, not a number"),
	bad("reciprocity empty", `title = "T"`, "reciprocity = []",
		"1: reciprocity: 0 pairs of times is outside 1 to 100"),
	bad("reciprocity too long", strips, strips+strings.Repeat("[[reciprocity]]\n", 101),
		"124: reciprocity[101]: brings the file to more than 100 pairs of times"),
	bad("reciprocity not a table", `title = "T"`, "reciprocity = 1.31",
		"1: reciprocity: must be a table, not a number"),
	bad("reciprocity pair in single brackets", strips, strips+"[reciprocity]\nmetered_s = 1\ncorrected_s = 2\n",
		"24: reciprocity: pairs of times must be written [[reciprocity]], in double brackets"),
	bad("reciprocity law unknown", strips, strips+"[reciprocity]\nexponant = 1.31\n",
		`25: reciprocity.exponant: unknown key; did you mean "exponent"?`),
	bad("reciprocity without a law", strips, strips+"[reciprocity]\n",
		"24: reciprocity: needs exponent, schwarzschild_p or extra_at_1_s, or pairs of times in [[reciprocity]]"),
	bad("reciprocity of two laws", strips, strips+"[reciprocity]\nexponent = 1.31\nschwarzschild_p = 0.86\n",
		"26: reciprocity.schwarzschild_p: does not go with exponent; one law can hold"),
	bad("reciprocity law and pairs", strips, strips+"[reciprocity]\nexponent = 1.31\n[[reciprocity]]\nmetered_s = 1\ncorrected_s = 2\n",
		"26: reciprocity is written in two ways: as [reciprocity], [[reciprocity]] or a key"),
	bad("reciprocity exponent", strips, strips+"[reciprocity]\nexponent = 0.86\n",
		"25: reciprocity.exponent: 0.86 is outside 1 to 2"),
	bad("reciprocity p", strips, strips+"[reciprocity]\nschwarzschild_p = 1.31\n",
		"25: reciprocity.schwarzschild_p: 1.31 is outside 0.5 to 1"),
	bad("reciprocity extra", strips, strips+"[reciprocity]\nextra_at_1_s = inf\n",
		"25: reciprocity.extra_at_1_s: must be a finite number, not inf"),
})

func TestBadNotebooks(t *testing.T) {
	require.GreaterOrEqual(t, len(badCases), 211)
	seen := map[string]bool{}
	for _, c := range badCases {
		require.False(t, seen[c.name], c.name)
		seen[c.name] = true
		for _, variant := range []struct{ name, file string }{
			{"lf", c.file},
			{"bom crlf", "\ufeff" + strings.ReplaceAll(c.file, "\n", "\r\n")},
		} {
			t.Run(c.name+"/"+variant.name, func(t *testing.T) {
				trial, err := Read("t.toml", strings.NewReader(variant.file))
				require.Error(t, err)
				assert.Nil(t, trial)
				assert.Equal(t, "t.toml:"+strings.Join(c.want, "\nt.toml:"), err.Error())
				var one *Error
				require.True(t, errors.As(err, &one))
				assert.Equal(t, "t.toml", one.File)
				assert.Positive(t, one.Line)
			})
		}
	}
}
