package sensito

import "math"

// Flare says how stray light in the camera shortens the range that reaches the
// film. The zero value is a fixed loss of 0.40 log H, Jones and Condit's mean
// (restated in discussions of their 1941 paper).
type Flare struct {
	Kind  FlareKind
	Value float64 // log H for FlareFixed, a fraction of the highlight luminance for FlareVeil
}

// FlareKind names a model of flare.
type FlareKind string

const (
	FlareFixed FlareKind = "fixed" // a fixed loss in log H; "" means the same
	FlareVeil  FlareKind = "veil"  // a uniform veil, as a fraction of the highlight luminance
	FlareNone  FlareKind = "none"  // nothing is lost
)

// FlareKinds are all of them.
var FlareKinds = []FlareKind{FlareFixed, FlareVeil, FlareNone}

// DefaultFlareLoss is the fixed loss when none is given.
const DefaultFlareLoss = 0.40

// Range returns the log exposure range at the film for a scene of log
// luminance range l: l less the loss, or log10((1 + v) / (10^-l + v)) for a veil v.
func (fl Flare) Range(l LogRange) LogRange {
	switch fl.Kind {
	case FlareNone:
		return l
	case FlareVeil:
		return LogRange(math.Log10((1 + fl.Value) / (math.Pow(10, -float64(l)) + fl.Value)))
	}
	loss := fl.Value
	if loss == 0 {
		loss = DefaultFlareLoss
	}
	return l - LogRange(loss)
}

// Veil returns the uniform veil, as a fraction of the highlight luminance, that
// shortens a scene of log luminance range l as much: for a fixed loss it solves
// (1 + v) / (10^-l + v) = 10^R. 160:1 with a loss of 0.40 gives 0.0096.
func (fl Flare) Veil(l LogRange) float64 {
	switch fl.Kind {
	case FlareNone:
		return 0
	case FlareVeil:
		return fl.Value
	}
	ratio := math.Pow(10, float64(fl.Range(l)))
	return (1 - ratio*math.Pow(10, -float64(l))) / (ratio - 1)
}
