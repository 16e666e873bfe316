// Package compare holds several films or developers side by side at one contrast:
// speed, time, fog and the form of the curve, and which differences are real.
//
// Begin with Compare.
package compare
