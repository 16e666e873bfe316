// Package timed is a session by the clock as its pages show it, and what their forms ask
// of it.
//
// Begin with NewRunning and NewAfter, which make what a page sets, and
// ParseAct and ParseKeep, which read its forms. Running.Wire is what the script of the
// page goes by.
package timed
