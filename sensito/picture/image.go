// Package picture reads densities from a picture of step-wedge strips, made by a scanner or by a camera over a light
// table: where the steps are, what light came through each, and by a tablet of known density in the same picture, which
// density that is and how sure.
//
// Begin with Image.
package picture

// An Image is a picture as its file has it: encoded values, brighter is more, nothing corrected.
type Image struct {
	Width, Height int     // pixels, as seen: a turn that the file asks for is done
	Planes        []Plane // one of grey, or red, green and blue in this order
	Bits          int     // of a value in the file: 8 or 16
	About         About
	Empty         *Empty // the light table without strips, see Over; nil where there is none
}

// A Plane is the values of one channel, row by row from the top left. They are scaled to 0..65535 whatever the bits of
// the file, so that the highest of the file is 65535.
type Plane struct {
	Name   string // "grey", "red", "green" or "blue"
	Values []uint16
}

// About is what a file says of itself. It is told to people and never trusted: no density depends on it.
type About struct {
	Format        string // "TIFF", "PNG" or "JPEG"
	PixelsPerInch float64
	Encoding      string // what gamma, profile or tag claim, in words; "" where the file claims nothing
	Device        string // make and model of the device
	Software      string
	Pages         int // how many pictures the file has, of which the first is read
	OtherChannels int // channels that were passed over, such as infrared or alpha
	Turned        bool
}

// A Point is a place in a picture, in pixels from its top left corner: the middle of the first pixel is 0.5, 0.5.
type Point struct{ X, Y float64 }

// Ends are where a row of steps lies: the middles of the outer edge of its first step and of that of its last.
type Ends struct{ First, Last Point }

// An Empty is a picture of the light table alone, or of the glass of a scanner, made from the same place as one of strips. It
// tells how the light falls off towards the corners, or to one side. Only its evenness counts, so that it may be exposed
// for a shorter time.
type Empty struct {
	*Image
	SHA256 string // of its file, by which a calibration knows it again
}
