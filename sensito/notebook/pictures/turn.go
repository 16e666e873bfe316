package pictures

import "sensito/sensito/picture"

// turn does the turn that a file asks for by the number of its orientation, as TIFF 6.0 has it (section 8, Orientation):
// which side of what is seen its first row is, and which its first column. Others than 2 to 8 ask for nothing.
func turn(im *picture.Image, orientation uint) {
	if orientation < 2 || orientation > 8 {
		return
	}
	w, h := im.Width, im.Height
	across, down := w, h // as seen
	if orientation >= 5 {
		across, down = h, w
	}
	// start is where the first value of the file is seen, dx and dy how far the next of its row and of its column are.
	var start, dx, dy int
	right, bottom := across-1, (down-1)*across
	switch orientation {
	case 2: // first row at the top, first column on the right
		start, dx, dy = right, -1, across
	case 3: // bottom, right
		start, dx, dy = bottom+right, -1, -across
	case 4: // bottom, left
		start, dx, dy = bottom, 1, -across
	case 5: // left, top
		start, dx, dy = 0, across, 1
	case 6: // right, top
		start, dx, dy = right, across, -1
	case 7: // right, bottom
		start, dx, dy = bottom+right, -across, -1
	case 8: // left, bottom
		start, dx, dy = bottom, -across, 1
	}
	for i := range im.Planes {
		from := im.Planes[i].Values
		to := make([]uint16, len(from))
		for y := range h {
			at := start + y*dy
			for _, v := range from[y*w : (y+1)*w] {
				to[at] = v
				at += dx
			}
		}
		im.Planes[i].Values = to
	}
	im.Width, im.Height = across, down
	im.About.Turned = true
}
