package plot

import (
	"image"

	"sensito/plot/internal/overlay"
	"sensito/sensito/picture"
)

// Seen is what was found in a picture, for Overlay: rows of steps with what is read of each, and
// places beside them, in its pixels.
type (
	Seen      = overlay.Seen
	SeenRow   = overlay.Row
	SeenStep  = overlay.Step
	SeenPlace = overlay.Place
)

// OverlaySoftware is what the PNG of an overlay names as its maker, by which it is known.
const OverlaySoftware = overlay.Software

// Overlay returns a channel of a picture in grey, lifted so that its dense end is seen, with what was
// found drawn over it: each row with its steps and their numbers, what is read of each, pixels set
// aside as white spots, a cross over what is not read; below the picture its title, what was read and
// what was not and why. Lines are white with a dark rim. The error is for options outside their
// limits, one for a page of HTML, or a channel that the picture has not.
func Overlay(im *picture.Image, plane int, seen Seen, o Options) (*Figure, error) {
	return overlay.Overlay(im, plane, seen, o)
}

// Grey returns a channel of a picture as Overlay shows it, its longer side 1600 pixels at most, and how
// many of its pixels one of the picture makes along a side.
func Grey(im *picture.Image, plane int) (*image.Gray, float64) { return overlay.Grey(im, plane) }

// OverlayFrame returns where the picture itself lies in the PNG of its Overlay by the zero Options, in pixels of
// that: the legend stands below it.
func OverlayFrame(im *picture.Image) image.Rectangle { return overlay.Frame(im) }
