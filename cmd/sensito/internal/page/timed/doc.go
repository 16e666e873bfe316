// Package timed is a session by the clock as its pages show it, and what their forms ask
// of it.
//
// Begin with NewRunning, while the clock runs; Before.LaysOut and NewAfter are for before
// and after, and ParseAct and ParseKeep read the forms. Running.Wire is what the script of
// the page goes by.
package timed
