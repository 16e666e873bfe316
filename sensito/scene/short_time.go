package scene

import "sensito/sensito"

// Under this many minutes a time carries a warning.
const (
	shortTime     = 5
	shortTimeText = "under 5 minutes development is easily uneven (common practice, no source); a higher dilution or lower temperature gives a longer time"
)

// ShortTime returns the warning of a time in which development is easily uneven,
// none for one that is long enough.
func ShortTime(t sensito.Minutes) []sensito.Warning {
	if t < shortTime {
		return []sensito.Warning{{Code: "short_time", Message: shortTimeText}}
	}
	return nil
}
