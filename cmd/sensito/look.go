package main

import (
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"gonum.org/v1/plot/vg"

	"sensito/cmd/sensito/internal/console"
	"sensito/plot"
)

// look is how a figure is to look; its flags go with --plot.
type look struct {
	width, theme string
	given        func(flag string) bool
}

func (l *look) register(cmd *cobra.Command) {
	l.given = cmd.Flags().Changed
	f := cmd.Flags()
	f.StringVar(&l.width, "width", "", "how wide the figure is, `WIDTH` in mm or with its unit: 84mm for a column, 180mm for a page, 7in")
	f.StringVar(&l.theme, "theme", plot.Themes()[0], "`LOOK` of the figure: "+strings.Join(plot.Themes(), ", "))
}

// options returns the look as options of a figure. The error is of usage.
func (l *look) options(o *options) (plot.Options, error) {
	out := plot.Options{Theme: l.theme}
	if l.given == nil { // a command whose figures have pages
		return out, nil
	}
	for _, flag := range []string{"width", "theme"} {
		if l.given(flag) && o.plot == "" {
			return out, console.Usagef("--%s is of a figure: give --plot FILE too", flag)
		}
	}
	if !l.given("width") {
		return out, nil
	}
	width, err := length(l.width)
	if err != nil {
		return out, err
	}
	out.Width = width
	return out, nil
}

// lengthUnits are those that a width may be given in, millimetres for none.
var lengthUnits = map[string]vg.Length{"": vg.Millimeter, "mm": vg.Millimeter, "cm": vg.Centimeter, "in": vg.Inch}

// length reads a width.
func length(text string) (vg.Length, error) {
	number := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyz")
	unit, known := lengthUnits[text[len(number):]]
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !known || !(v > 0) || math.IsInf(v, 0) {
		return 0, console.Usagef("--width %q is not a width such as 84mm, 18cm or 7in", text)
	}
	return vg.Length(v) * unit, nil
}
