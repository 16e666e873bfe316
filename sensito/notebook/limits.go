package notebook

// No notebook comes near these; a file beyond them is something else.
const (
	maxBytes    = 16 << 20
	maxReadings = 100_000
	maxSteps    = 1000
	maxStrips   = 10_000
)
