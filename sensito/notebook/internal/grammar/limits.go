package grammar

// No notebook comes near these; a file beyond them is something else.
const (
	MaxBytes    = 16 << 20
	MaxReadings = 100_000
	MaxSteps    = 1000
	MaxStrips   = 10_000
)
