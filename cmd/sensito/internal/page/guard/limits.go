package guard

import "time"

// limits are how long and how large a request may be, and how many there may be.
type limits struct {
	header, read, write, idle, stop time.Duration
	headerBytes                     int
	form, file, picture             int64
	answers, streams                int
}

var usualLimits = limits{
	header: 5 * time.Second, read: 30 * time.Second, write: time.Minute, idle: 2 * time.Minute, stop: 5 * time.Second,
	headerBytes: 64 << 10,
	form:        1 << 20, file: 20 << 20, picture: 256 << 20,
	answers: 2, streams: 8,
}

// bodyOf returns how many bytes may be sent to a path.
func (l limits) bodyOf(path string) int64 {
	switch {
	case under(path, "/import"):
		return l.file
	case under(path, "/picture"):
		return l.picture
	}
	return l.form
}
