package lighttable

import (
	"math"

	"sensito/sensito/picture"
)

// A Point is a place on the glass, in millimetres from the top left corner of the frame.
type Point struct{ X, Y float64 }

// A Row is a strip or a tablet: a row of steps on a piece of film. Its steps run to the right
// where it is not turned.
type Row struct {
	Density      []float64 // of the steps in order, of large areas, base included
	Base         float64   // density of the film around the steps
	At           Point     // the middle of the steps
	Step, Across float64   // size of a step along the row and across it, mm
	Turn         float64   // degrees, clockwise as seen
	Lead         float64   // film before the first step and after the last, mm
	Margin       float64   // film beside the steps, mm
	Perforated   bool      // holes in both margins, which must be 4 mm or more
	Grain        float64   // 1000 times the deviation of density 1 above Base, aperture 48 µm
	Callier      float64   // the device sees so many times each density, base included; 0 means 1
	Stain        [3]float64
	// Stain is what a stain adds for red, green and blue, as parts of the density above Base.
}

// A Piece is a rectangle of one density: black tape, or a hole in the mask. It lies over the
// rows.
type Piece struct {
	Density       float64
	At            Point // its middle
	Width, Height float64
	Turn          float64
}

// A Speck is a grain of dust on the glass.
type Speck struct {
	At              Point
	Radius, Density float64
}

// A Scratch is a line on the film or a hair on the glass; its density adds to what is below, and
// may be negative.
type Scratch struct {
	From, To       Point
	Width, Density float64
}

// A Scene is what lies on the glass within the frame of the picture.
type Scene struct {
	Width, Height float64 // of the frame, mm
	Rows          []Row
	Pieces        []Piece
	Masked        bool    // everything beside film and pieces is opaque; else it is open glass
	Glass         float64 // lit glass beyond the frame where it is not masked, mm
	Dust          float64 // specks a square centimetre
	Specks        []Speck // more of them, where they are wanted
	Scratches     []Scratch
	Rings         float64 // amplitude of interference rings, a part of the light
	Seed          uint64  // of grain, dust and rings, which stay alike from picture to picture

	Quarters int  // turns of the finished picture by 90 degrees clockwise
	Mirrored bool // the finished picture is seen from behind, before it is turned
	Fog      Point
	Tape     Point
	Clear    Point
	// Fog is a place of the first row's base, Tape one of black tape and Clear one with nothing
	// in the way, where Beside and WithPlaces put them; zero where there is none.
}

// Sizes of the scenes below: a step of 1/4 inch, as 21-step tablets of 5.5 inches have about.
const (
	stepLength, stepAcross = 6.35, 12.0
	lead, margin, gap      = 7.0, 1.5, 4.0
	around                 = 4.0
	glass                  = 60.0
)

// Even returns n densities that begin with first and rise by step.
func Even(first, step float64, n int) []float64 {
	d := make([]float64, n)
	for i := range d {
		d[i] = first + step*float64(i)
	}
	return d
}

// Alone lays one row of steps in the middle of open glass; its base is that of its thinnest step.
func Alone(density []float64) Scene { return laid(density) }

// Beside lays a strip, row 0, above a tablet, row 1, on open glass.
func Beside(strip, tablet []float64) Scene { return laid(strip, tablet) }

// Several lays rows of steps below each other on open glass.
func Several(density ...[]float64) Scene { return laid(density...) }

func laid(rows ...[]float64) Scene {
	s := Scene{Glass: glass}
	for _, d := range rows {
		s.Width = max(s.Width, float64(len(d))*stepLength+2*(lead+around))
	}
	y := around
	for i, d := range rows {
		if i > 0 {
			y += gap
		}
		base := math.Inf(1)
		for _, d := range d {
			base = min(base, d)
		}
		y += margin + stepAcross/2
		s.Rows = append(s.Rows, Row{Density: d, Base: base, At: Point{s.Width / 2, y}, Step: stepLength, Across: stepAcross,
			Lead: lead, Margin: margin, Grain: 10})
		y += margin + stepAcross/2
	}
	s.Height = y + around
	s.Fog = s.Rows[0].lead()
	return s
}

// Empty returns the glass of the scene with nothing on it but its dust.
func (s Scene) Empty() Scene {
	s.Rows, s.Pieces, s.Scratches, s.Rings, s.Masked, s.Glass = nil, nil, nil, 0, false, max(s.Glass, glass)
	return s
}

// lead returns the middle of the film before the first step.
func (r Row) lead() Point { return r.on(-r.length()/2-r.Lead/2, 0) }

func (r Row) length() float64 { return float64(len(r.Density)) * r.Step }

// on returns the place on the glass that lies so far along the row from its middle and across.
func (r Row) on(along, across float64) Point {
	sin, cos := math.Sincos(r.Turn * math.Pi / 180)
	return Point{r.At.X + along*cos - across*sin, r.At.Y + along*sin + across*cos}
}

// WithPlaces returns the scene with black tape and a clear place added at its right.
func (s Scene) WithPlaces() Scene {
	const side = 7.0
	x := s.Width + side/2
	s.Tape, s.Clear = Point{x, s.Height/2 - 0.7*side}, Point{x, s.Height/2 + 0.7*side}
	s.Pieces = append(append([]Piece(nil), s.Pieces...), Piece{Density: 6, At: s.Tape, Width: side, Height: side}, Piece{At: s.Clear, Width: side, Height: side})
	s.Width += side + around
	return s
}

// Turned returns the scene turned clockwise by an angle, in degrees, in a frame that holds it.
func (s Scene) Turned(degrees float64) Scene {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	w, h := math.Abs(s.Width*cos)+math.Abs(s.Height*sin), math.Abs(s.Width*sin)+math.Abs(s.Height*cos)
	was := s
	turn := func(p Point) Point {
		x, y := p.X-was.Width/2, p.Y-was.Height/2
		return Point{w/2 + x*cos - y*sin, h/2 + x*sin + y*cos}
	}
	s.Width, s.Height = w, h
	s.Rows, s.Pieces = append([]Row(nil), s.Rows...), append([]Piece(nil), s.Pieces...)
	s.Specks, s.Scratches = append([]Speck(nil), s.Specks...), append([]Scratch(nil), s.Scratches...)
	for i := range s.Rows {
		s.Rows[i].At, s.Rows[i].Turn = turn(s.Rows[i].At), s.Rows[i].Turn+degrees
	}
	for i := range s.Pieces {
		s.Pieces[i].At, s.Pieces[i].Turn = turn(s.Pieces[i].At), s.Pieces[i].Turn+degrees
	}
	for i := range s.Specks {
		s.Specks[i].At = turn(s.Specks[i].At)
	}
	for i := range s.Scratches {
		s.Scratches[i].From, s.Scratches[i].To = turn(s.Scratches[i].From), turn(s.Scratches[i].To)
	}
	for _, p := range []*Point{&s.Fog, &s.Tape, &s.Clear} {
		if *p != (Point{}) {
			*p = turn(*p)
		}
	}
	return s
}

// size returns that of the picture in pixels before it is turned by quarters.
func (s Scene) size(perInch float64) (width, height int) {
	return max(1, int(math.Round(s.Width*perInch/inch))), max(1, int(math.Round(s.Height*perInch/inch)))
}

const inch = 25.4 // mm

// Pixel returns where a place on the glass is in a picture of so many pixels an inch.
func (s Scene) Pixel(p Point, perInch float64) picture.Point {
	w, h := s.size(perInch)
	x, y := p.X*perInch/inch, p.Y*perInch/inch
	if s.Mirrored {
		x = float64(w) - x
	}
	for range (s.Quarters%4 + 4) % 4 {
		x, y = float64(h)-y, x
		w, h = h, w
	}
	return picture.Point{X: x, Y: y}
}

// Ends returns where a row truly lies in the picture.
func (s Scene) Ends(row int, perInch float64) picture.Ends {
	r := s.Rows[row]
	return picture.Ends{First: s.Pixel(r.on(-r.length()/2, 0), perInch), Last: s.Pixel(r.on(r.length()/2, 0), perInch)}
}

// Corners returns those of a step, counted from 0, in order around it.
func (s Scene) Corners(row, step int, perInch float64) [4]picture.Point {
	r := s.Rows[row]
	from := float64(step)*r.Step - r.length()/2
	var c [4]picture.Point
	for i, at := range [4][2]float64{{from, -r.Across / 2}, {from + r.Step, -r.Across / 2}, {from + r.Step, r.Across / 2}, {from, r.Across / 2}} {
		c[i] = s.Pixel(r.on(at[0], at[1]), perInch)
	}
	return c
}
