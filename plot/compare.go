package plot

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito/answers"
	"sensito/sensito/compare"
	"sensito/sensito/scene"
)

// maxCompared is how many trials one drawing can hold and still be read.
const maxCompared = 9

// Comparable returns an error for more trials than Compare draws.
func Comparable(trials int) error {
	if trials > maxCompared {
		return fmt.Errorf("%d trials are too many for one drawing: at most %d", trials, maxCompared)
	}
	return nil
}

const (
	compareWidth   = 180 * vg.Millimeter
	compareTallest = 297 * vg.Millimeter // of a narrow page: A4 of ISO 216
)

// The figures of a comparison. The first four make its page.
const (
	CompareDifferences = "differences" // of each trial and the first: speed, time, fog, toe
	CompareTones       = "tones"       // net density less the first's, against stops
	CompareAligned     = "aligned"     // net density, the speed points laid on each other
	CompareGradient    = "gradient"    // local gradient, likewise
	CompareCurves      = "curves"      // density against log exposure
	CompareTime        = "time"        // contrast against development time
	CompareSpeed       = "speed"       // speed against contrast
)

// CompareFigures returns the names of the figures of a comparison.
func CompareFigures() []string {
	return []string{CompareDifferences, CompareTones, CompareAligned, CompareGradient, CompareCurves, CompareTime, CompareSpeed}
}

// Compare returns a page that says in what trials differ from the first, or the
// figure of the given name alone: the differences with their intervals, filled
// where they are proven; that of net density against the tones of the scene; and,
// small, the curves laid on the speed point with their gradients. Each trial has
// a line and a symbol of its own, which differ in black and white. A narrow page
// leaves out small panels that would make it taller than A4. The first is the first
// that reaches the gradient. The error is for options outside their limits, an
// unknown name, more than nine trials, or a figure of speeds where no trial has one.
func Compare(c *compare.Comparison, name string, o Options) (*Figure, error) {
	if err := Comparable(len(c.Trials)); err != nil {
		return nil, err
	}
	if !slices.Contains(append(CompareFigures(), ""), name) {
		return nil, fmt.Errorf("%q is not a figure of a comparison; use %s", name, strings.Join(CompareFigures(), ", "))
	}
	title := answers.Comparison(c, titleRoom(cmp.Or(o.Width, compareWidth)-2*parts.PageMargin))
	o, err := o.WithDefaults(title)
	if err != nil {
		return nil, err
	}
	width := cmp.Or(o.Width, compareWidth)
	b := &compareBody{column: width < comparePage, alone: name != ""}
	if b.alone {
		b.add(c, name, o)
	} else {
		for _, n := range CompareFigures()[:4] {
			b.add(c, n, o)
		}
	}
	for _, p := range b.panels {
		if len(p.lines) == 0 {
			return nil, fmt.Errorf("the figure %q needs exposures in lux seconds, and every trial has relative ones", name)
		}
	}
	b.Heading = compareHeading(c, o, b)
	b.fitLabels(width)
	for o.Height == 0 && b.column && !b.alone && len(b.panels) > 1 && b.height(width) > compareTallest {
		b.panels = b.panels[:len(b.panels)-1]
	}
	fig := o.Figure(width, b.height(width), b)
	if err := b.room(fig.Page()); err != nil {
		return nil, err
	}
	return fig, nil
}

// add adds the figure of a name.
func (b *compareBody) add(c *compare.Comparison, name string, o Options) {
	if name == CompareDifferences {
		b.rows = newDifferenceRows(c, o, b.column)
		return
	}
	p := map[string]func(*compare.Comparison, Options) *comparePanel{
		CompareTones: tonesPanel, CompareAligned: alignedPanel, CompareGradient: gradientPanel,
		CompareCurves: curvesPanel, CompareTime: timePanel, CompareSpeed: speedPanel,
	}[name](c, o)
	p.column = b.column
	p.named = b.alone || name == CompareTones && !b.column
	b.panels = append(b.panels, p)
}

// compareHeading tells on what terms trials are compared.
func compareHeading(c *compare.Comparison, o Options, b *compareBody) parts.Heading {
	var today *scene.Adjustment
	if i := slices.IndexFunc(c.Trials, func(t *compare.Compared) bool {
		return t.Reason == nil && figure.OfToday(t.Answer.Today)+figure.Uncorrected(t.Answer.Today) != ""
	}); i >= 0 {
		today = c.Trials[i].Answer.Today
	}
	h := figure.Cautioned(parts.Heading{Title: o.Title, Bare: o.Page, Sub: fmt.Sprintf("At an average gradient of %s from the darkest to the lightest tone, %.2f log H apart on the film", parts.Number(c.Gradient), float64(c.FilmRange))}, today)
	if text := figure.OfToday(today); text != "" {
		h.Sub += "; " + text
	}
	if today.Corrects() { // by the log, which is of the first trial
		h.Sub += " for the first"
	}
	if b.intervals() {
		h.Sub += "; intervals: " + parts.Percent(o.Confidence)
	}
	if b.differences() {
		h.Sub += fmt.Sprintf("; filled: proven at %s, all differences of a pair taken together", parts.Percent(c.Level))
	}
	if whole, short := c.Trials[0].Name, answers.Names(c)[0]; len(short) < len(whole) {
		h.Sub = strings.TrimSuffix(strings.TrimSpace(strings.TrimSuffix(whole, short)), " in") + ": a" + h.Sub[1:]
	}
	return h
}

// titleRoom is three lines of the title of a figure, a name leaving the last part of
// one to the answer.
func titleRoom(w vg.Length) answers.Room {
	return answers.Room{
		Fits:    func(text string) bool { return len(parts.Wrapped(parts.TitleSize, w, text, 4)) <= 3 },
		Abridge: func(name string) string { return parts.Abridged(parts.TitleSize, 0.85*w, name) },
	}
}
