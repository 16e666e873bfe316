// Package chart is the statistics of control charts on plain numbers: charts of
// single values, moving ranges, EWMA and CUSUM with their limits, the published
// rules for runs, and when and how a process has changed. It knows no film and
// no unit: limits, averages and sums are in that of the values.
//
// Begin with New, which draws up one chart of a series; its Signals say where it
// speaks. FindChange then tells since when the series has lain elsewhere, and
// where it lies now.
package chart
