// Package control is whether a process is in control: logs of control strips,
// their charts, and what a change means in time, speed and fog.
//
// Begin with NewLog and Log.Evaluate.
package control
