// Package timed is a session by the clock as its pages show it, and what their forms ask
// of it.
//
<<<<<<< HEAD
// Begin with NewRunning and NewAfter, which make what a page sets, and
// ParseAct and ParseKeep, which read its forms. Running.Wire is what the script of the
// page goes by.
=======
// Begin with NewRunning, while the clock runs; Before.LaysOut and NewAfter are for before
// and after, and ParseAct and ParseKeep read the forms. Running.Wire is what the script of
// the page goes by.
>>>>>>> clockpage
package timed
