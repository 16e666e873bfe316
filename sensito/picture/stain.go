package picture

import (
	"math"

	"sensito/sensito"
)

// A Channel is a strip as one channel of a picture has it, each calibrated on the neutral tablet.
type Channel struct {
	Name      string // "red", "green" or "blue"
	Densities []Density
}

// A Slope is how density in a channel grows with that in the first.
type Slope struct {
	Channel   string
	Value, SD float64
}

// mostStained is how far slopes of a neutral negative may be from 1; TestStain holds it.
const mostStained = 0.02

// Slopes returns how the density of each further channel grows with that of the first, by least
// squares through the steps that both have, and warns where one says that the negative is
// coloured. Fewer than three steps give no slope.
func Slopes(channels []Channel) (slopes []Slope, warnings sensito.Warnings) {
	if len(channels) == 0 {
		return nil, nil
	}
	for _, c := range channels[1:] {
		s := slopeAgainst(channels[0], c)
		if math.IsNaN(s.Value) {
			continue
		}
		slopes = append(slopes, s)
		if math.Abs(s.Value-1) > mostStained {
			warnings = append(warnings, sensito.Warn("coloured", s.Channel, s.Value, channels[0].Name))
		}
	}
	return slopes, warnings
}

func slopeAgainst(a, b Channel) Slope {
	at := map[int]Density{}
	for _, d := range a.Densities {
		at[d.Step] = d
	}
	var x, y []float64
	var mx, my float64
	for _, d := range b.Densities {
		if o, ok := at[d.Step]; ok && !math.IsNaN(o.Value) && !math.IsNaN(d.Value) {
			x, y = append(x, o.Value), append(y, d.Value)
			mx, my = mx+o.Value, my+d.Value
		}
	}
	n := float64(len(x))
	out := Slope{b.Name, math.NaN(), math.NaN()}
	if n < 3 {
		return out
	}
	mx, my = mx/n, my/n
	var sxx, sxy, rss float64
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	out.Value = sxy / sxx
	for i := range x {
		r := y[i] - my - out.Value*(x[i]-mx)
		rss += r * r
	}
	out.SD = math.Sqrt(rss / (n - 2) / sxx)
	return out
}
