// Package darkroom is the work at the sink: how much to mix and with which
// graduates, vessels, the order of the baths, and the process sheet of a session.
//
// Begin with NewMix for volumes, and with NewProcedure and NewSheet for a sheet,
// whose time SheetSpec.ForAnswer takes from the answer to a scene.
package darkroom
