// Package entry is for readings as they arrive from the densitometer: a strip that
// is being keyed in step after step, what its next reading should be, and whether
// readings come in the order of the steps.
//
// Begin with NewKeying; Expect answers for one step of a strip.
package entry
