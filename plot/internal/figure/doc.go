// Package figure holds what every figure is: its options, its heading, what is told of
// today, the numbers that it draws, and how it is written.
//
// Begin with Options.WithDefaults and Options.Headed, and give Options.Figure a body.
package figure
