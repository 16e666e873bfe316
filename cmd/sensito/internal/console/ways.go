package console

import "sensito/sensito"

// ways are the flags by which a command goes another way where no answer can be
// given.
var ways = map[sensito.Way]string{
	sensito.AnyTemperature: "--force-temperature tells a time all the same",
	sensito.Uncorrected:    "or leave out --correct",
	sensito.SpotReadings:   "give --shadow EV@ZONE and --highlight EV@ZONE",
	sensito.OtherSetting:   "with --time or --aperture",
	sensito.TestedPaper:    "name that trial with --paper",
}

// flagsFor are the flags that would do away with a warning.
var flagsFor = map[string]string{
	"no_vessel":     "give --vessel, like tank 1000ml",
	"no_dilution":   "or give --dilution",
	"films_unknown": "give --films, like 4x 4x5in",
	"no_trial":      "give --trial TRIAL",
}

// WithFlags returns the warnings with the flags that would do away with them.
func WithFlags(all sensito.Warnings) sensito.Warnings {
	out := make(sensito.Warnings, len(all))
	for i, w := range all {
		w.Hint = flagsFor[w.Code]
		out[i] = w
	}
	return out
}
