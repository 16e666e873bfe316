// Package overlay draws over a picture what was found in it: each row of steps with
// its numbers, what is read of each step, what was set aside, and below the picture what
// was not read and why.
//
// Begin with Overlay. Lines and letters are white with a dark rim, which show on any tone
// and in print without colour.
package overlay
