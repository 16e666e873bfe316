package plot

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"sensito/sensito/picture"
	"sensito/sensito/picture/lighttable"
)

// seenOf returns a scene's rows as they truly are, as if found: 60 % of each step is read.
func seenOf(s lighttable.Scene, perInch float64, names ...string) Seen {
	inner := func(c [4]picture.Point) [4]picture.Point {
		var m picture.Point
		for _, p := range c {
			m.X, m.Y = m.X+p.X/4, m.Y+p.Y/4
		}
		for i, p := range c {
			c[i] = picture.Point{X: m.X + 0.6*(p.X-m.X), Y: m.Y + 0.6*(p.Y-m.Y)}
		}
		return c
	}
	var seen Seen
	for i, r := range s.Rows {
		row := SeenRow{Name: names[i]}
		for k := range r.Density {
			c := s.Corners(i, k, perInch)
			row.Steps = append(row.Steps, SeenStep{Number: k + 1, Corners: c, Patch: inner(c)})
		}
		seen.Rows = append(seen.Rows, row)
	}
	for _, p := range []struct {
		name string
		at   lighttable.Point
	}{{"base plus fog", s.Fog}, {"black tape", s.Tape}, {"clear", s.Clear}} {
		if p.at == (lighttable.Point{}) {
			continue
		}
		const half = 1.5 // mm
		var place SeenPlace
		place.Name = p.name
		for i, d := range [4][2]float64{{-half, -half}, {half, -half}, {half, half}, {-half, half}} {
			place.Corners[i] = s.Pixel(lighttable.Point{X: p.at.X + d[0], Y: p.at.Y + d[1]}, perInch)
		}
		seen.Places = append(seen.Places, place)
	}
	return seen
}

func TestTryOverlay(t *testing.T) {
	strip, tablet := lighttable.Even(0.12, 0.08, 21), lighttable.Even(0.05, 0.15, 21)
	draw := func(name string, s lighttable.Scene, d lighttable.Device, names ...string) {
		im := s.Picture(d, 1)
		seen := seenOf(s, d.PerInch, names...)
		seen.Title = name + ".tif"
		seen.Text = []string{"green channel, 21 steps of tablet No. 17 and 21 of the strip developed 8:00; rising curve through the tablet"}
		last := seen.Rows[len(seen.Rows)-1].Steps
		for i := len(last) - 3; i < len(last); i++ {
			last[i].Why = "the device ends at density 2.6"
		}
		p := seen.Rows[0].Steps[3].Patch
		for i := range 9 {
			seen.Rows[0].Steps[3].Aside = append(seen.Rows[0].Steps[3].Aside, picture.Point{X: (p[0].X+p[2].X)/2 + float64(i%3), Y: (p[0].Y+p[2].Y)/2 + float64(i/3)})
		}
		fig, err := Overlay(im, 0, seen, Options{})
		require.NoError(t, err)
		var out bytes.Buffer
		require.NoError(t, Write(&out, fig, PNG))
		require.NoError(t, os.WriteFile("/tmp/gen-"+name+".png", out.Bytes(), 0o644))
	}
	srgb := lighttable.Flatbed(150)
	srgb.Encode = lighttable.SRGB
	draw("alone", lighttable.Alone(strip), lighttable.Flatbed(75), "8:00")
	draw("beside", lighttable.Beside(strip, tablet).WithPlaces(), srgb, "strip 8:00", "tablet No. 17")
	draw("turned3", lighttable.Beside(strip, tablet).WithPlaces().Turned(3), srgb, "strip 8:00", "tablet No. 17")
	draw("turned90", lighttable.Beside(strip, tablet).WithPlaces().Turned(90), srgb, "strip 8:00", "tablet No. 17")
	draw("turned40", lighttable.Beside(strip, tablet).Turned(40), srgb, "strip 8:00", "tablet No. 17")
	draw("41", lighttable.Beside(lighttable.Even(0.1, 0.05, 41), lighttable.Even(0.05, 0.075, 41)), lighttable.Flatbed(100), "strip", "tablet")
	draw("tiny", lighttable.Alone(strip), lighttable.Flatbed(20), "strip")
	many := lighttable.Several(strip, strip, strip, strip, tablet).WithPlaces()
	draw("many", many, srgb, "5:00", "7:00", "9:30", "13:00", "tablet")
	big := lighttable.Beside(strip, tablet)
	big.Width, big.Height = 300, 200
	draw("huge", big, lighttable.Flatbed(508), "strip", "tablet")
}
