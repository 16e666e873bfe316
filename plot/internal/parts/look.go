package parts

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Look tells one line with its points from another.
type Look struct {
	draw.LineStyle
	Symbol Symbol
}

// symbols and dashes tell lines apart where colours do not.
var (
	symbols = [...]Symbol{
		{Sides: 0}, {Sides: 4, Turn: math.Pi / 4}, {Sides: 3, Turn: math.Pi / 2}, {Sides: 4},
		{Sides: 3, Turn: -math.Pi / 2}, {Sides: 0, Dot: true}, {Sides: 4, Turn: math.Pi / 4, Dot: true}, {Sides: 3, Turn: math.Pi / 2, Dot: true},
		{Sides: 5, Turn: math.Pi / 2}, {Sides: 4, Dot: true}, {Sides: 3, Turn: -math.Pi / 2, Dot: true}, {Sides: 5, Turn: math.Pi / 2, Dot: true},
	}
	dashes = [...][]vg.Length{nil, {6, 2}, {2, 1.5}, {8, 2, 1.5, 2}, {1, 2}, {8, 2, 1.5, 2, 1.5, 2}} // each twice, thin and thick
)

// Plain is the look of what is alone.
var Plain = Unordered(1)[0]

// Different is how many looks differ from each other.
const Different = len(symbols)

// Unordered returns the looks of n things without an order, such as developers,
// each of its own hue and line, and its own symbol. Those after the twelfth repeat.
func Unordered(n int) []Look {
	out := make([]Look, n)
	for i := range out {
		k := i % Different
		width := vg.Length(1.1)
		if k >= len(dashes) {
			width = 1.7
		}
		out[i] = Look{Line(width, hue(k%len(hues)), dashes[k%len(dashes)]...), symbols[k]}
	}
	return out
}

// leastApart is the step of lightness by which neighbours are told apart in grey.
const leastApart = 0.08

// Ordered returns the looks of n things in their order, such as development times,
// from the lightest to the darkest. Where the steps of lightness become too small,
// every other line is broken.
func Ordered(n int) []Look {
	out := make([]Look, n)
	for i := range out {
		at := 1.0
		if n > 1 {
			at = float64(i) / float64(n-1)
		}
		var broken []vg.Length
		if i%2 == 1 && (lightest-darkest)/float64(n-1) < leastApart {
			broken = dashes[1]
		}
		out[i] = Look{Line(1.1, ordered(at), broken...), symbols[i%Different]}
	}
	return out
}
