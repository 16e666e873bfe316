package plot

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/plot/internal/strips"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

const toneWidth = 170 * vg.Millimeter

// Tone returns the four-quadrant diagram of tone reproduction (L. A. Jones, J.
// Franklin Inst. 190, 39, 1920, from memory): from the lower right clockwise
// camera, film, paper and reproduction. Neighbours share an axis, and one unit
// of log exposure, log luminance or density is as long everywhere, so that each
// tone is a rectangle with a corner on every curve. With a condenser enlarger
// the density of the negative is the one that it prints with. The error is for
// options outside their limits or too small a page.
func Tone(r *scene.Reproduction, o Options) (*Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	bands, err := toneBandsOf(r, o.Confidence)
	if err != nil {
		return nil, err
	}
	w := cmp.Or(o.Width, toneWidth)
	if b, h, ok := fitTone(r, &o, w); ok {
		b.bands = bands
		return o.Figure(w, h, b), nil
	}
	const step, most = 4 * vg.Millimeter, 60
	steps := 1 + sort.Search(most, func(i int) bool {
		_, _, ok := fitTone(r, &o, w+step*vg.Length(i+1))
		return ok
	})
	if steps <= most {
		return nil, fmt.Errorf("the four quadrants are readable from %.0f mm of width on: make the figure wider or higher", (w+step*vg.Length(steps))/vg.Millimeter)
	}
	return nil, errors.New("the figure leaves no room for its data: make it wider or higher")
}

// printsFrom is the answer in one sentence.
func printsFrom(r *scene.Reproduction, level float64) string {
	text := setAndDevelop(r.Answer, level)
	darkest, lightest := r.Tones[0], r.Tones[len(r.Tones)-1]
	return fmt.Sprintf("%s: the scene prints from %.2f to %.2f", text, float64(lightest.Printed), float64(darkest.Printed))
}

// fitTone lays the diagram out on a page of a width, and reports whether it is
// readable there. Where the quadrants have no room for their notes these stand at
// the foot.
func fitTone(r *scene.Reproduction, o *Options, w vg.Length) (b *tone, h vg.Length, ok bool) {
	for _, below := range []bool{false, true} {
		b = newTone(r, *o)
		b.Heading = toneHeading(r, o)
		if below {
			b.lowerNotes()
		}
		free := b.clear(w, o.Height)
		h = cmp.Or(o.Height, b.height(w))
		if ok = free && b.unit(parts.Page(w, h)) >= b.leastUnit(); ok {
			break
		}
	}
	return b, h, ok
}

// lowerNotes moves what the notes tell to the foot, their names aside.
func (b *tone) lowerNotes() {
	b.notes[film] = append(b.notes[film], "ring: speed point")
	var told []string
	for q, n := range b.notes {
		told = append(told, strings.Join(strings.Fields(n[0]), " ")+": "+strings.Join(n[1:], ", ")+".")
		b.notes[q] = n[:1]
	}
	if b.Bare { // where the page has no other place for the units
		told = append(told, "Axes: "+strings.Join([]string{b.scene.label, b.film.label, b.negative.label, b.paperLabel, b.print.label}, "; ")+".")
	}
	b.Foot = strings.Join(told, " ") + "\n" + strings.TrimSpace(b.Foot)
}

// toneHeading says below the answer what it is for and what was tested behind it.
func toneHeading(r *scene.Reproduction, o *Options) parts.Heading {
	p := r.Answer
	h := figure.Cautioned(o.Headed(printsFrom(r, o.Confidence), p.Family.Trial), p.Today)
	h.Sub += "; a scene of " + inStops(p.Scene.Stops) + " for " + p.Scene.Paper.Name() + "; intervals and bands: " + parts.Percent(o.Confidence)
	tested := p.Tested()
	h.Sub += figure.Behind(p.Today, tested.Minutes.Value, tested.ExposureIndex, answers.Outside(p.Extrapolation))
	return h
}

// toneBand is the band of a curve in the units of its quadrant.
type toneBand struct{ low, high plotter.XYs }

// toneBandsOf returns the bands of the negative's and the print's densities.
func toneBandsOf(r *scene.Reproduction, level float64) (out [quadrants]toneBand, err error) {
	const each = 5 // places of the line between two of the band
	var stops []float64
	for i := 0; i < len(r.Line); i += each {
		stops = append(stops, r.Line[i].Stops)
	}
	tones, err := r.Answer.Follow(stops)
	for _, t := range tones {
		if t.NetDensity == nil || t.Print == nil {
			continue
		}
		q, h, l := r.Answer.Scene.Callier, float64(t.Film), t.Stops*float64(sensito.Stop)
		low, high := t.NetDensity.Interval(level)
		from, to := t.Print.Interval(level)
		out[film].add(plotter.XY{X: q * float64(low), Y: h}, plotter.XY{X: q * float64(high), Y: h})
		out[reproduced].add(plotter.XY{X: l, Y: float64(from)}, plotter.XY{X: l, Y: float64(to)})
	}
	return out, err
}

func (b *toneBand) add(low, high plotter.XY) {
	b.low, b.high = append(b.low, low), append(b.high, high)
}

// The quadrants, from the lower right clockwise.
const (
	cameraStage = iota
	film
	paperStage
	reproduced
	quadrants
)

// toneScale is an axis that two neighbours share.
type toneScale struct {
	from, to float64 // at the left or lower end, and at the other; it may run backwards
	label    string
}

func (s toneScale) length() float64 { return math.Abs(s.to - s.from) }

// tone is the diagram. The negative's density counts as it prints: times the
// Callier coefficient.
type tone struct {
	parts.Heading
	scene, film, negative, print toneScale

	// The paper's log exposure lies on the negative's scale; it is paperAt less
	// the printing density.
	paperAt    float64
	paperLabel string

	lines  [quadrants][]toneLine // in the units of the quadrant's axes
	guides []toneGuide           // from the darkest tone to the lightest
	notes  [quadrants]parts.Note

	bands [quadrants]toneBand

	speedPoint   plotter.XY // on the film's curve
	white, black plotter.XY // on the paper's
}

type toneLine struct {
	kind lineKind
	at   plotter.XYs
}

type lineKind int

const (
	solidLine    lineKind = iota
	referredLine          // what would be without flare, or with equal tone
	beyondLine            // where no readings are
)

// toneGuide is one tone on its way around.
type toneGuide struct {
	stops                        float64
	scene, film, negative, print float64
	beyond                       bool
}

// corner returns where the tone's rectangle has its corner in a quadrant.
func (g toneGuide) corner(quadrant int) plotter.XY {
	return [quadrants]plotter.XY{
		cameraStage: {X: g.scene, Y: g.film}, film: {X: g.negative, Y: g.film},
		paperStage: {X: g.negative, Y: g.print}, reproduced: {X: g.scene, Y: g.print},
	}[quadrant]
}

func newTone(r *scene.Reproduction, o Options) *tone {
	s := r.Answer.Scene
	log := func(stops float64) float64 { return stops * float64(sensito.Stop) }
	darkest, lightest := r.Tones[0], r.Tones[len(r.Tones)-1]
	shape := s.Paper.Fit.Curve
	b := &tone{}
	printing := func(net sensito.NetDensity) float64 { return s.Callier * float64(net) }
	b.paperAt = float64(lightest.PaperLogH) + printing(lightest.Net)

	const beside = 0.15 // left free beside the tones; more where the lightest is named
	b.scene = toneScale{log(darkest.Stops) - beside, log(lightest.Stops) + 0.14 + 0.06*float64(len(parts.Stops(lightest.Stops))), "log luminance of the scene, from the metered tone"}
	b.film = toneScale{float64(r.SpeedPoint) - 0.3 - beside, float64(lightest.Film) + beside, "log exposure of the film, log10 lx s"}
	if !r.Answer.Family.Trial.Exposures().Absolute() {
		b.film.label = "relative log exposure of the film"
	}
	// Room for the paper's toe on the left and its shoulder on the right.
	b.negative = toneScale{printing(lightest.Net) + 0.3, -0.4, "net density of the negative"}
	if s.Callier != 1 {
		b.negative.label = fmt.Sprintf("printing density of the negative, %s × net", parts.Number(s.Callier))
	}
	b.paperLabel = "log exposure of the paper, log10 lx s"
	if !s.Paper.Strip.Trial().Exposures().Absolute() {
		b.paperLabel = "relative log exposure of the paper"
	}
	paperFrom, paperTo := sensito.LogExposure(b.paperAt-b.negative.from), sensito.LogExposure(b.paperAt-b.negative.to)
	b.print = toneScale{0, float64(shape.Density(paperTo)) + 0.1, "density of the print"}
	if low := float64(shape.Density(paperFrom)); low < 0.02 {
		b.print.from = math.Floor(10*(low-0.02)) / 10
	}

	for _, t := range r.Tones {
		even := math.Mod(t.Stops, 2) == 0 && t.Stops-darkest.Stops > 0.75 && lightest.Stops-t.Stops > 0.75
		if even || t.Stops == darkest.Stops || t.Stops == lightest.Stops {
			b.guides = append(b.guides, toneGuide{t.Stops, log(t.Stops), float64(t.Film), printing(t.Net), float64(t.Printed), t.BeyondSteps})
		}
	}
	b.follow(r, log)
	const further = 2 // for scales that are lengthened
	b.draft(r.Film, sensito.LogExposure(b.film.from-further), sensito.LogExposure(b.film.to+further), film, func(h sensito.LogExposure) plotter.XY {
		return plotter.XY{X: printing(r.Film.Density(h).Above(curve.BaseFog(r.Film))), Y: float64(h)}
	})
	onPaper := func(h sensito.LogExposure) plotter.XY {
		return plotter.XY{X: b.paperAt - float64(h), Y: float64(shape.Density(h))}
	}
	b.draft(shape, paperFrom.Add(-further), paperTo.Add(further), paperStage, onPaper)

	b.speedPoint = plotter.XY{X: printing(r.Film.Density(r.SpeedPoint).Above(curve.BaseFog(r.Film))), Y: float64(r.SpeedPoint)}
	b.white, b.black = onPaper(s.Paper.White.Value), onPaper(s.Paper.Black.Value)
	b.note(r, o)
	return b
}

// follow adds the lines through the tones of the scene, with those of no flare
// and of equal tone to compare them with.
func (b *tone) follow(r *scene.Reproduction, log func(float64) float64) {
	darkest, lightest := r.Tones[0], r.Tones[len(r.Tones)-1]
	var flared toneLine
	kinds := map[bool]lineKind{false: solidLine, true: beyondLine}
	var printed []toneLine
	for i, t := range r.Line {
		flared.at = append(flared.at, plotter.XY{X: log(t.Stops), Y: float64(t.Film)})
		at := plotter.XY{X: log(t.Stops), Y: float64(t.Printed)}
		if i == 0 || t.BeyondSteps != r.Line[i-1].BeyondSteps {
			if i > 0 {
				last := &printed[len(printed)-1]
				last.at = append(last.at, at)
			}
			printed = append(printed, toneLine{kind: kinds[t.BeyondSteps]})
		}
		last := &printed[len(printed)-1]
		last.at = append(last.at, at)
	}
	from, to := log(darkest.Stops), log(lightest.Stops)
	if r.Answer.Veil > 0 {
		low := float64(darkest.Film) - float64(r.Lift)
		b.lines[cameraStage] = append(b.lines[cameraStage], toneLine{referredLine, plotter.XYs{{X: from, Y: low}, {X: to, Y: low + to - from}}})
	}
	b.lines[cameraStage] = append(b.lines[cameraStage], flared)
	white := float64(lightest.Printed)
	b.lines[reproduced] = append(b.lines[reproduced], toneLine{referredLine, plotter.XYs{{X: to, Y: white}, {X: from, Y: white + to - from}}})
	b.lines[reproduced] = append(b.lines[reproduced], printed...)
}

// draft adds a characteristic curve between two exposures, in parts on and
// beyond its domain.
func (b *tone) draft(c curve.Curve, from, to sensito.LogExposure, quadrant int, at func(sensito.LogExposure) plotter.XY) {
	lo, hi := c.Domain()
	lo, hi = min(max(lo, from), to), max(min(hi, to), from)
	for _, part := range []struct {
		kind     lineKind
		from, to sensito.LogExposure
	}{{beyondLine, from, lo}, {solidLine, lo, hi}, {beyondLine, hi, to}} {
		if part.to <= part.from {
			continue
		}
		l := toneLine{kind: part.kind}
		for i := range strips.CurvePlaces + 1 {
			l.at = append(l.at, at(part.from.Add(part.to.Sub(part.from)*sensito.LogRange(i)/strips.CurvePlaces)))
		}
		b.lines[quadrant] = append(b.lines[quadrant], l)
	}
}

// note says what each quadrant shows.
func (b *tone) note(r *scene.Reproduction, o Options) {
	s := r.Answer.Scene
	b.notes[cameraStage] = parts.Note{"I  camera", "no flare", "tones: stops from the metered one"}
	if r.Answer.Veil > 0 {
		b.notes[cameraStage] = parts.Note{"I  camera", "flare: a veil of " + parts.Percent(math.Round(1e4*r.Answer.Veil)/1e4) + " of the highlights",
			"lifts the darkest tone by " + parts.Fixed(float64(r.Lift), 2) + " log H", "dashed: without flare", "tones: stops from the metered one"}
	}
	developed := "developed " + parts.Planned(r.Answer.Minutes.Value)
	if r.Answer.Minutes.AtLeast {
		developed += " or longer"
	}
	b.notes[film] = parts.Note{"II  film", r.Answer.Family.Trial.Film().Name, developed}
	if figure.OfToday(r.Answer.Today) != "" {
		b.notes[film] = append(b.notes[film], "today, as tested "+parts.Planned(r.Answer.Tested().Minutes.Value))
	}
	b.notes[film] = append(b.notes[film], "range "+parts.Interval(*r.Answer.Delivered, o.Confidence, 2))
	b.notes[paperStage] = parts.Note{"III  paper", s.Paper.Name(), "white T, black S"}
	if s.Callier != 1 {
		b.notes[paperStage] = append(b.notes[paperStage], "condenser enlarger")
	}
	where := " at the metered tone"
	if r.Mid.Stops != 0 {
		where = " in the middle"
	}
	b.notes[reproduced] = parts.Note{"IV  reproduction", "gradient " + parts.Fixed(r.Mid.Gradient, 2) + where, "dashed: equal tone, 45°"}
}

// numbers returns the curves of the quadrants and the tones on them.
func (b *tone) Numbers() []figure.Series {
	kinds := map[lineKind]string{solidLine: "curve", referredLine: "without flare, or equal tone", beyondLine: "curve beyond the readings"}
	panels := [quadrants]struct{ name, x, y string }{
		cameraStage: {"camera", b.scene.label, b.film.label}, film: {"film", b.negative.label, b.film.label},
		paperStage: {"paper", b.negative.label, b.print.label}, reproduced: {"reproduction", b.scene.label, b.print.label},
	}
	var out []figure.Series
	for q, panel := range panels {
		add := func(name string, values []figure.Value) {
			if len(values) > 0 {
				out = append(out, figure.Series{Panel: panel.name, Name: name, X: panel.x, Y: panel.y, Values: values})
			}
		}
		for _, l := range b.lines[q] {
			add(kinds[l.kind], figure.Plain(l.at))
		}
		add("band, lower end", figure.Plain(b.bands[q].low))
		add("band, upper end", figure.Plain(b.bands[q].high))
		var tones []figure.Value
		for _, g := range b.guides {
			tones = append(tones, figure.Value{XY: g.corner(q), Low: math.NaN(), High: math.NaN(), Remark: parts.Stops(g.stops) + " stops"})
		}
		add("tones", tones)
	}
	return out
}
