// Package session is a process sheet by the clock: which step runs, what remains of
// it, what is to be done next, and how much longer to develop in a bath that drifts.
//
// Begin with NewPlan, which takes what a session needs from a process sheet, and
// Begin, which starts the clock. A Session is what has happened, a list of events
// that only grows; Session.Act judges what somebody wants to do and returns the
// event to be kept and added by With, and Session.At tells how things stand at a
// time. Nothing else is kept: the events again (Replay) give the same states, on
// another device or after a crash. Package notebook/sessions keeps them in files.
//
// Schedule lists the sounds ahead, for whoever has a clock to play them by, and
// Sound is all of them as one file, for a player that goes on in a locked phone.
//
// Times of events are those of the clock on the wall; everything within a step is a
// time.Duration from when the step began.
package session
