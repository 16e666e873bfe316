package table

// An ImportValue is what a file may not say and the photographer can.
type ImportValue struct {
	Flag   string // of the command, and the name in an address
	Column string // that would say it, a key of ImportOptions.Values
	Usage  string // what it is, with the value between backquotes
}

// ImportValues are all of them, in the order in which they are asked for.
var ImportValues = []ImportValue{
	{"title", "trial", "what the trial is called"},
	{"film", "film", "the film `NAME`"},
	{"paper", "paper", "the paper `NAME`, for a trial of paper"},
	{"speed", "rated_speed", "rated speed `S` of the film, as on the box"},
	{"developer", "developer", "the developer `NAME`, with its dilution: \"Ashlar 1+4\""},
	{"dilution", "dilution", "`DILUTION`, as 1+19: parts concentrate + parts water"},
	{"temperature", "temperature_c", "temperature in degrees `C`"},
	{"agitation", "agitation", "continuous, intermittent or none"},
	{"minutes", "minutes", "development time `M` of strips that have none, as 5.5 or 5:30; or of each of them, as 4:00,5:30,8:00"},
	{"kind", "exposure", "how it was exposed: contact, camera or relative"},
	{"lux", "illuminance_lx", "illuminance at the film in `LX`"},
	{"seconds", "seconds", "exposure under the wedge in `S` seconds"},
	{"meter-index", "meter_index", "index `S` set on the meter, in the camera"},
	{"wedge-first", "wedge_first", "`DENSITY` of step 1 of an even wedge"},
	{"wedge-step", "wedge_step", "`DENSITY` from step to step of an even wedge"},
	{"wedge-count", "wedge_count", "its `N` steps"},
	{"repeatability", "repeatability", "standard deviation of one reading, as a `DENSITY`"},
	{"zero", "zero", "what the densitometer was set to zero on: air or base"},
}
