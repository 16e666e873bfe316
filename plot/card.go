package plot

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"sensito/sensito"
)

// A pocket card is an A6 sheet on its side.
const (
	cardWidth  = 148 * vg.Millimeter
	cardHeight = 105 * vg.Millimeter
)

// Card returns a pocket card to print: what to set on the meter and how long
// to develop, by scene range. Times rest on the tested strips and carry one
// standard deviation; those outside the tested times are marked, and a dash
// stands where no time serves. The type is made smaller on a smaller card; the
// error is for options outside their limits or a card too small to read.
func Card(c *sensito.Card, o Options) (*Figure, error) {
	o, err := o.withDefaults(c.Family.Trial.Title())
	if err != nil {
		return nil, err
	}
	fig := &Figure{Title: o.Title, Width: o.Width, Height: o.Height}
	if fig.Width == 0 {
		fig.Width = cardWidth
	}
	if fig.Height == 0 {
		fig.Height = cardHeight
	}
	b := newCard(c, o)
	if b.size(fig.Width, fig.Height) < leastCardSize {
		return nil, fmt.Errorf("a card of %.0f by %.0f mm is too small to read: use 100 by 70 mm or more",
			fig.Width/vg.Millimeter, fig.Height/vg.Millimeter)
	}
	fig.body = b
	return fig, nil
}

type card struct {
	title string
	lines []string // under the title
	table [][]string
	notes []string
}

// cardColumns is the head of the table.
var cardColumns = []string{"", "scene, stops", "develop", "±, s", "EI", "contrast index"}

// The cautions stand on every card.
const (
	caution        = "Chemicals are hazardous: gloves, eye protection, ventilation; read the product's safety sheet."
	furtherCaution = "Never mix acids or bleach with fixer. Dispose of used baths by local rules."
)

func newCard(c *sensito.Card, o Options) *card {
	t := c.Family.Trial
	h := newHeading(o, t)
	b := &card{title: h.title, lines: []string{h.sub, aimLine(c.Scene)}, table: [][]string{cardColumns}}
	extrapolated, unreachable := false, false
	for _, row := range c.Rows {
		cells := []string{developmentName(row.N), number(row.Stops), "–", "–", "–", "–"}
		if p := row.Plan; p != nil {
			cells[2] = planned(p.Minutes.Value)
			cells[3] = strconv.FormatFloat(60*float64(p.Minutes.StdErr), 'f', 0, 64)
			if p.Extrapolated {
				cells[2] += "*"
			}
			if e := p.ExposureIndex; e != nil {
				s, _ := e.Value.Standard()
				cells[4] = number(float64(s))
			}
			if e := p.ContrastIndex; e != nil {
				cells[5] = strconv.FormatFloat(e.Value, 'f', 2, 64)
			}
			extrapolated = extrapolated || p.Extrapolated
		} else {
			unreachable = true
		}
		b.table = append(b.table, cells)
	}
	b.notes = append(b.notes, "± one standard deviation. EI: nearest third-stop setting.")
	if extrapolated {
		b.notes = append(b.notes, "* outside the tested times: test a strip there before relying on it.")
	}
	if unreachable {
		b.notes = append(b.notes, "– no development time within reach gives this.")
	}
	b.notes = append(b.notes, "A starting point: verify on your own process.", caution, furtherCaution)
	return b
}

// developmentName returns N, N+1/2, N-1 and so on.
func developmentName(n float64) string {
	whole, half := math.Modf(math.Abs(n))
	name := "N"
	if n > 0 {
		name += "+"
	} else if n < 0 {
		name += "-"
	}
	if whole > 0 {
		name += strconv.Itoa(int(whole))
	}
	if half > 0 {
		name += "½"
	}
	return name
}

// aimLine says what the card's times aim at.
func aimLine(s sensito.Scene) string {
	flare := "no flare"
	switch s.Flare.Kind {
	case sensito.FlareFixed, "":
		loss := s.Flare.Value
		if loss == 0 {
			loss = sensito.DefaultFlareLoss
		}
		flare = fmt.Sprintf("flare %.2f log H", loss)
	case sensito.FlareVeil:
		flare = "veiling flare " + percent(s.Flare.Value)
	}
	return fmt.Sprintf("Aim: density range %.2f, %s; darkest tone %s stops below the metered exposure",
		float64(s.DensityRange), flare, number(s.ShadowStops))
}

const (
	cardMargin    = 6 * vg.Millimeter
	largestCard   = vg.Length(10.5)
	leastCardSize = vg.Length(4.5)
	cardLeading   = 1.3
	noteShare     = 0.8 // size of notes to body
	titleShare    = 1.35
)

// columns returns the widths of the columns at a size, gaps included.
func (b *card) columns(size vg.Length) []vg.Length {
	widths := make([]vg.Length, len(cardColumns))
	for _, row := range b.table {
		for i, cell := range row {
			widths[i] = max(widths[i], textWidth(size, cell)+1.6*size)
		}
	}
	return widths
}

// size returns the body size at which the table and all lines fit the card.
func (b *card) size(w, h vg.Length) vg.Length {
	w, h = w-2*cardMargin, h-2*cardMargin
	var wide vg.Length // at size 1
	for _, col := range b.columns(1) {
		wide += col
	}
	for _, n := range b.notes {
		wide = max(wide, noteShare*textWidth(1, n))
	}
	return min(largestCard, w/wide, h/b.height())
}

// height returns the height of the card's text at size 1.
func (b *card) height() vg.Length {
	lines := vg.Length(len(b.lines)+len(b.table)) + noteShare*vg.Length(len(b.notes)) + titleShare
	return cardLeading*lines + 1.4 // and two gaps
}

func (b *card) draw(page draw.Canvas) {
	area := draw.Crop(page, cardMargin, -cardMargin, cardMargin, -cardMargin)
	c, w := page, area.Size().X
	size := b.size(page.Size().X, page.Size().Y)
	y := area.Max.Y
	text := func(s string, share vg.Length) {
		y -= cardLeading * share * size
		fits, s := fitted(share*size, w, s)
		write(c, fits, ink, fromLeft, vg.Point{X: area.Min.X, Y: y + 0.3*size}, s)
	}
	text(b.title, titleShare)
	for _, s := range b.lines {
		text(s, 1)
	}
	y -= 0.7 * size
	widths := b.columns(size)
	var used vg.Length
	for _, col := range widths {
		used += col
	}
	spare := max(0, w-used) / vg.Length(len(widths))
	for i, row := range b.table {
		y -= cardLeading * size
		if i > 0 && row[0] == "N" {
			c.SetColor(markGrey)
			c.Fill(vg.Rectangle{Min: vg.Point{X: area.Min.X, Y: y}, Max: vg.Point{X: area.Max.X, Y: y + cardLeading*size}}.Path())
		}
		x := area.Min.X
		for k, cell := range row {
			right := x + widths[k] + spare
			at := vg.Point{X: right - 0.8*size, Y: y + 0.32*size}
			switch {
			case k == 0:
				write(c, size, ink, fromLeft, vg.Point{X: x + 0.8*size, Y: at.Y}, cell)
			default:
				// The star hangs, so that the figures stay aligned.
				plain := strings.TrimSuffix(cell, "*")
				write(c, size, ink, fromRight, at, plain)
				write(c, size, ink, fromLeft, at, cell[len(plain):])
			}
			x = right
		}
		if i == 0 {
			c.StrokeLine2(line(0.6, ink), area.Min.X, y, area.Max.X, y)
		}
	}
	c.StrokeLine2(line(0.6, ink), area.Min.X, y, area.Max.X, y)
	y -= 0.7 * size
	for _, s := range b.notes {
		text(s, noteShare)
	}
}
