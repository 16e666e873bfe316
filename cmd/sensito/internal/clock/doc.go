// Package clock runs a session at a terminal: the time that remains in large letters,
// the next thing to do, a bell for each cue, and keys to go on.
//
// Begin with Run.
package clock
