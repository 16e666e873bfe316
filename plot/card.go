package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/scene"
)

// Card returns a pocket card to print, an A6 sheet on its side unless told
// otherwise: what to set on the meter and how long to develop, by scene range,
// with the aim, the conditions and the dates that it holds for. Times rest on
// the tested strips and carry one standard deviation; those outside the tested
// times are marked, and a dash stands where no time serves. The type is made
// smaller on a smaller card, then the notes shorter; the error is for options
// outside their limits or a card too small to read.
func Card(c *scene.Card, o Options) (*Figure, error) {
	o, err := o.WithDefaults(c.Family.Trial.Title())
	if err != nil {
		return nil, err
	}
	usual := pages[0]
	b := newCard(c, o)
	fig := o.Figure(usual.Width, usual.Height, b).Fine()
	if _, ok := b.layout(fig.Width, fig.Height); !ok {
		return nil, fmt.Errorf("a card of %.0f by %.0f mm is too small to read: use 100 by 70 mm or more",
			fig.Width/vg.Millimeter, fig.Height/vg.Millimeter)
	}
	return fig, nil
}

// card is what a card says.
type card struct {
	title string
	lines []string // under the title
	table [][]string
	notes []string // under the table, each a paragraph
	short []string // the same in fewer words
}

// cardColumns is the head of the table.
var cardColumns = []string{"", "scene, stops", "develop, min:s", "±, s", "EI", "contrast index", "density range"}

func newCard(c *scene.Card, o Options) *card {
	h := figure.HeadingFor(o, c.Family.Trial, c.Family.Trial.Process())
	under := c.Today.Under()
	if under != nil {
		h = figure.HeadingFor(o, c.Family.Trial, under.Process())
		if e := under.Conditions.EndC; e != nil {
			h.Sub += ", drifting to " + parts.Number(*e) + " °C"
		}
	}
	b := &card{title: h.Title, lines: []string{h.Sub, aimLine(c.Scene)}, table: [][]string{cardColumns}}
	if c.Family.Trial.Reading().Zero == sensito.ZeroBase {
		b.lines[0] += ", densitometer zero: base"
	}
	b.lines = append(b.lines, todayLines(c.Today)...)
	if d := c.Dates(o.Date); d != "" {
		b.lines = append(b.lines, figure.Capital(d))
	}
	unreachable, short, index, open := false, false, false, false
	for _, row := range c.Rows {
		b.table = append(b.table, cardCells(row))
		if p := row.Answer; p != nil {
			short = short || slices.ContainsFunc(p.Warnings, func(w sensito.Warning) bool { return w.Code == "short_time" })
			index = index || p.ExposureIndex != nil
			open = open || p.Minutes.AtLeast
		} else {
			unreachable = true
		}
	}
	outside := answers.OutsideOnCard(c)
	b.notes, b.short = []string{"± one standard deviation."}, []string{"± one standard deviation."}
	unusual := under != nil && slices.ContainsFunc(under.Warnings, func(w sensito.Warning) bool { return w.Code == "temperature_unusual" })
	for _, n := range []struct {
		said, alone bool // alone: a paragraph of its own
		text, short string
	}{
		{index, false, "EI: nearest third-stop setting.", "EI: nearest setting."},
		{!index, false, "No EI: the exposures of the test are relative.", "No EI: relative exposures."},
		{open, false, "Or more: the test of the paper ends short of its range.", ""},
		{outside != "", true, "* " + figure.Outside(c.Today, outside) + ": test a strip there before relying on it.", "* " + figure.Outside(c.Today, outside) + ": test first."},
		{unreachable, true, "– no development time can be told: sensito card says why.", "– no time: sensito card says why."},
		{unusual, false, "Outside 18 to 24 °C: times are less sure than ±.", ""},
		{short, false, "Under 5 minutes: easily uneven.", "Under 5 min: easily uneven."},
	} {
		if !n.said {
			continue
		}
		b.short[0] += " " + cmp.Or(n.short, n.text)
		if n.alone {
			b.notes = append(b.notes, n.text)
		} else {
			b.notes[0] += " " + n.text
		}
	}
	if long := longExposures(c); long != "" {
		b.notes, b.short = append([]string{long}, b.notes...), append([]string{long}, b.short...)
	}
	cautions := figure.StartingPoint + " " + figure.Caution + " " + figure.FurtherCaution
	b.notes, b.short = append(b.notes, cautions), append(b.short, cautions)
	return b
}

// longExposures tells the times to give for metered ones, as far as is known of the
// film; "" where nothing is.
func longExposures(c *scene.Card) string {
	law, err := c.Family.Reciprocity()
	if law == nil || err != nil {
		return ""
	}
	var told []string
	for _, metered := range []sensito.Seconds{1, 2, 4, 8, 15, 30, 60, 120} {
		shutter, err := law.Correct(metered)
		if err != nil {
			break
		}
		told = append(told, parts.Number(float64(metered))+" → "+parts.Number(float64(rounded(shutter.Corrected))))
	}
	if len(told) == 0 {
		return ""
	}
	return "Long exposures, metered → to give, s: " + strings.Join(told, ", ") + "."
}

// rounded returns a long exposure as it can be counted: to a tenth of a second below
// 5 s, then to whole seconds, from a minute to 5 s.
func rounded(t sensito.Seconds) sensito.Seconds {
	unit := 0.1
	switch {
	case t >= 60:
		unit = 5
	case t >= 5:
		unit = 1
	}
	return sensito.Seconds(math.Round(float64(t)/unit) * unit)
}

// todayLines say what the times of a card rest on that is not as in the trial.
func todayLines(a *scene.Adjustment) []string {
	var lines []string
	if ch := a.Under(); ch != nil {
		text := fmt.Sprintf("Times are %s ±%s of those tested, for the conditions", parts.Fixed(ch.Factor.Value, 2), parts.Fixed(ch.Factor.StdErr, 2))
		if k := ch.Coefficient; k != nil {
			text += fmt.Sprintf("; temperature coefficient %s ±%s", parts.Fixed(k.Q10.Value, 2), parts.Fixed(k.Q10.StdErr, 2))
		}
		for _, t := range ch.Parts() {
			text += "; " + t.Condition + map[bool]string{true: " measured", false: " guessed"}[t.Measured]
		}
		lines = append(lines, text)
	}
	if a.Corrects() {
		by := a.Drift.TimePercent
		how := map[bool]string{true: "longer", false: "shorter"}[by.Value > 0]
		lines = append(lines, fmt.Sprintf("Times are %s ±%s %% %s, for the process of %s", parts.Fixed(math.Abs(by.Value), 0), parts.Fixed(by.StdErr, 0), how, a.Drift.AsOf))
	}
	if text := figure.Uncorrected(a); text != "" {
		lines = append(lines, text)
	}
	return lines
}

// cardCells returns a row of the table.
func cardCells(row scene.CardRow) []string {
	cells := []string{developmentName(row.N), parts.Number(row.Stops), "–", "–", "–", "–", "–"}
	p := row.Answer
	if p == nil {
		return cells
	}
	cells[2] = parts.Planned(p.Minutes.Value)
	if p.Extrapolated {
		cells[2] += "*"
	}
	if cells[3] = seconds(p.Minutes.StdErr); p.Minutes.AtLeast {
		cells[3] = "or more"
	}
	if e := p.ExposureIndex; e != nil {
		s, _ := e.Value.Standard()
		cells[4] = parts.Number(float64(s))
	}
	if e := p.Delivered; e != nil {
		cells[6] = strconv.FormatFloat(float64(e.Value), 'f', 2, 64) + " ±" + strings.TrimPrefix(strconv.FormatFloat(float64(e.StdErr), 'f', 2, 64), "0")
	}
	if e := p.ContrastIndex; e != nil {
		cells[5] = strconv.FormatFloat(e.Value, 'f', 2, 64)
	}
	return cells
}

// seconds returns an error of time in whole seconds, to two digits at most.
func seconds(sd sensito.Minutes) string {
	s := 60 * float64(sd)
	unit := 1.0
	for s >= 100*unit {
		unit *= 10
	}
	return strconv.FormatFloat(math.Round(s/unit)*unit, 'f', 0, 64)
}

// developmentName returns N, N+1/2, N-1 and so on.
func developmentName(n float64) string {
	whole, half := math.Modf(math.Abs(n))
	name := "N" + [...]string{"-", "", "+"}[1+cmp.Compare(n, 0)]
	if whole > 0 {
		name += strconv.Itoa(int(whole))
	}
	if half > 0 {
		name += "½"
	}
	return name
}

// aimLine says what the card's times aim at.
func aimLine(s scene.Scene) string {
	flare := "no flare"
	switch s.Flare.Kind {
	case sensito.FlareFixed, "":
		loss := s.Flare.Value
		if loss == 0 {
			loss = sensito.DefaultFlareLoss
		}
		flare = fmt.Sprintf("flare %.2f log H", loss)
	case sensito.FlareVeil:
		flare = "veiling flare " + parts.Percent(s.Flare.Value)
	}
	return fmt.Sprintf("Aim: %s; %s; speed point %s stops below the metered tone", s.AimText(), flare, parts.Number(s.ShadowStops))
}
