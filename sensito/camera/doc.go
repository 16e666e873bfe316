// Package camera is what is set and read at the camera: apertures and times,
// exposure values, zones, filters, bellows, and what long exposures lose.
//
// Begin with Metering for what the meter read, and with Reciprocity for long
// exposures, which NewReciprocity makes of what a trial states and
// ReciprocityFromSpeeds of strips.
package camera
