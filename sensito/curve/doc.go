// Package curve is the characteristic curve of one strip, of film or of paper:
// which form follows the readings, which readings are slips, and every quantity of
// the strip with its error: speed, contrast index, gradients, fog, the range and
// the speed of a paper.
//
// Begin with Measure for a strip of film and MeasurePaper for those of a paper;
// Derive gives any other quantity of a fitted curve with the error that follows
// from the full covariance of the fit.
package curve
