package parts

import (
	"errors"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Page returns an area to lay out on, which cannot be drawn on.
func Page(w, h vg.Length) draw.Canvas {
	return draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: w, Y: h}}}
}

// Room returns an error when a canvas for data is too small to read.
func Room(c draw.Canvas, height vg.Length) error {
	if s := c.Size(); !(s.X >= 100 && s.Y >= height) {
		return errors.New("the figure leaves no room for its data: make it wider or higher")
	}
	return nil
}
