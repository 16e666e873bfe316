package plot

import (
	"sensito/plot/internal/parts"
	"strconv"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// asideLabel is the step number of a reading set aside, where it is written.
type asideLabel struct {
	vg.Rectangle
	name string
}

// asideLabels returns the step numbers of the readings set aside. Each stands
// beside its reading, by choice on the side that the curve, which rises, leaves
// free, where it touches no other and hides the fewest data; one that finds no
// place is left out. Many are written without the word.
func (b *curves) asideLabels(c draw.Canvas) []asideLabel {
	const (
		off    = vg.Length(4.5)
		apart  = vg.Length(2)
		rounds = 3
	)
	prefix, count := "step ", 0
	for _, s := range b.strips {
		count += len(s.aside)
	}
	if count > 4 {
		prefix = ""
	}
	data := b.data(c)
	var out []asideLabel
	for _, s := range b.strips {
		for _, a := range s.aside {
			name := prefix + strconv.Itoa(a.step)
			w, h := parts.TextWidth(parts.SmallSize, name), vg.Length(parts.CapHeight*parts.SmallSize)
			pt := parts.Place(c, b.plot, a.XY)
			above, below := vg.Point{X: pt.X - off - w, Y: pt.Y + off}, vg.Point{X: pt.X + off, Y: pt.Y - off - h}
			if !a.over {
				above, below = below, above
			}
			best, fewest := asideLabel{}, len(data)+1
			for round := range rounds {
				further := vg.Length(round) * h
				for _, at := range []vg.Point{above, below} {
					if at.Y > pt.Y {
						at.Y += further
					} else {
						at.Y -= further
					}
					at.X = min(max(at.X, c.Min.X+apart), c.Max.X-w-apart)
					at.Y = min(max(at.Y, c.Min.Y+apart), c.Max.Y-h-apart)
					l := asideLabel{vg.Rectangle{Min: at, Max: at.Add(vg.Point{X: w, Y: h})}, name}
					if hidden := parts.Within(l.Rectangle, data, apart); hidden < fewest && !touches(l.Rectangle, out, apart) {
						best, fewest = l, hidden
					}
				}
			}
			if best.name != "" {
				out = append(out, best)
			}
		}
	}
	return out
}

// data returns the readings and places along the curves.
func (b *curves) data(c draw.Canvas) []vg.Point {
	var out []vg.Point
	for _, s := range b.strips {
		for _, part := range []plotter.XYs{s.readings, s.curve, s.below, s.above} {
			out = append(out, parts.Places(c, b.plot, part)...)
		}
		for _, a := range s.aside {
			out = append(out, parts.Place(c, b.plot, a.XY))
		}
	}
	return out
}

func touches(r vg.Rectangle, others []asideLabel, apart vg.Length) bool {
	for _, o := range others {
		if r.Min.X < o.Max.X+apart && o.Min.X < r.Max.X+apart && r.Min.Y < o.Max.Y+apart && o.Min.Y < r.Max.Y+apart {
			return true
		}
	}
	return false
}
