// Package parts holds what the figures are composed of: type and headings, colours
// and looks, axes and second scales, and the marks that show a value with its error.
// None of it knows a film.
//
// Begin with Heading for the frame of a figure, NewAxes for a plot in its style, and
// Ordered or Unordered for the looks of what it draws; Ribbon, Whisker, Residuals,
// RangeBar and Patch draw numbers, Note, Along and Spread name them.
package parts
