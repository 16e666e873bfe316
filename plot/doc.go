// Package plot draws domain values: characteristic curves, contrast, speed and
// fog against development time, the tones of a scene, and a pocket card. The
// builders return a Figure and touch no files; Write turns a figure into bytes.
//
// Begin with Curves for the strips of a trial, or Scene for an answer, and Write.
//
// Every figure can be read in black and white: strips differ by symbol and
// line, and colour only repeats that.
package plot
