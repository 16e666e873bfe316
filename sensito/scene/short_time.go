package scene

import "sensito/sensito"

// Under this many minutes a time carries a warning.
const shortTime = 5

// ShortTime returns the warning of a time in which development is easily uneven,
// none for one that is long enough.
func ShortTime(t sensito.Minutes) sensito.Warnings {
	if t < shortTime {
		return sensito.Warnings{sensito.Warn("short_time")}
	}
	return nil
}
