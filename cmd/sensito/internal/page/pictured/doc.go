// Package pictured is what the page shows of a picture of strips: the picture in grey with the ends that are marked, the
// same with what was found in it, and what was read, ready to be set.
//
// Begin with View, the part of a picture that is shown; NewRead is the screen of an answer.
package pictured
