// Package keyed is what a form of the local page does to a strip in its file: readings
// that are keyed in step after step, and what is said of the strip. Many pages, editors
// and commands may change the same file; what a form changes is joined with what they
// did, and where both changed the same, the form is answered with a Conflict.
//
// Begin with Open, which reads the strip that a form or an address names; Key carries
// out one act of keying in, Amend changes what is said of the strip.
package keyed
