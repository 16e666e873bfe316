package plot

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	gplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"sensito/plot/internal/figure"
	"sensito/plot/internal/parts"
	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/camera"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

const sceneWidth = 180 * vg.Millimeter

// Scene returns the answer for a scene as one plate: above the stops of the scene
// and the zones, below the log exposure of the film, on the left the net density of
// the negative and, with a tested paper, on the right the density of the print, all
// with their bands. Tones lie where their own light exposes the film, so that flare
// is what lifts the negative above the curve of the film. Rows of patches show the
// tones of the scene, and how they look on negative and print. The error is for
// options outside their limits, too small a page, or of an answer that cannot be
// followed.
func Scene(p *scene.Answer, o Options) (*Figure, error) {
	o, err := o.WithDefaults("")
	if err != nil {
		return nil, err
	}
	b, err := newPlate(p, &o)
	if err != nil {
		return nil, err
	}
	w := cmp.Or(o.Width, sceneWidth)
	fig := b.fit(w, o)
	if err := parts.Room(b.data(fig.Page()), 60); err != nil {
		return nil, err
	}
	return fig, nil
}

// fit lays the plate out for a width. Marks are named in place, and at the foot where
// there is no room for that.
func (b *plate) fit(w vg.Length, o Options) *Figure {
	b.scale(w)
	key := b.Foot
	if w < narrowPlate {
		for i := range b.marks {
			b.marks[i].below = true
		}
	}
	for {
		b.Foot = key
		for _, m := range slices.Backward(b.marks) {
			if m.below {
				b.Foot = m.atFoot + " " + b.Foot
			}
		}
		fig := o.Figure(w, cmp.Or(o.Height, b.height(w)), b)
		if b.nameInPlace(fig.Page()) {
			return fig
		}
	}
}

// setAndDevelop is the answer in one sentence.
func setAndDevelop(p *scene.Answer, level float64) string {
	develop := parts.Develop(p.Minutes, level)
	if a := p.AtIndex; a != nil {
		index := parts.Number(float64(a.Index))
		if a.Exposed {
			return "Film exposed at EI " + index + ": " + develop
		}
		return "Expose at EI " + index + " and " + develop
	}
	if p.ExposureIndex == nil {
		return "D" + develop[1:] + "; relative exposures give no exposure index"
	}
	return "Set EI " + standardIndex(*p.ExposureIndex) + " and " + develop
}

// standardIndex returns the setting of a meter nearest to an index.
func standardIndex(e sensito.Estimate[sensito.Speed]) string {
	s, _ := e.Value.Standard()
	return parts.Number(float64(s))
}

// plate is the drawing of a scene. Its horizontal axis is the log exposure of the
// film, flare aside.
type plate struct {
	parts.Heading
	plot     *gplot.Plot
	metered  float64 // log exposure of the metered tone
	from, to float64 // ends of the axis in stops, as all below

	darkest, lightest float64 // tones that must keep detail
	low, high         float64 // net densities of these
	veil              float64
	lift              float64 // density that flare adds to the darkest tone
	point             float64 // tone on the speed point without flare
	lost              float64 // stops of the scene below it, where the index is given

	negative, print parts.Ribbon
	unflared        plotter.XYs
	tones           []plateTone // whole stops of the scene
	joined          [][2]int    // of these, those that run together in the print
	under           vg.Length   // room for their brackets
	speedPoint      parts.Whisker
	spots           []plateSpot

	scene string
	marks []plateMark
	named []placed // the marks that are named in place
}

// plateMark is what is marked on the plate besides the curves, with how it is named
// beside its place, or at the foot.
type plateMark struct {
	plotter.XY
	beside parts.Note
	atFoot string
	below  bool // it is named at the foot
}

// placed is a callout in its place.
type placed struct {
	parts.Callout
	at vg.Rectangle
}

// plateTone is a tone of the scene with how it looks.
type plateTone struct {
	scene.Tone
	relative float64 // density at which a patch is as much darker than the lightest tone
}

// plateSpot is a reading of a spot meter where it falls.
type plateSpot struct {
	stops float64
	name  string
}

// at returns the place of a tone on the horizontal axis.
func (b *plate) at(stops float64) float64 { return b.metered + stops*float64(sensito.Stop) }

func newPlate(p *scene.Answer, o *Options) (*plate, error) {
	place := p.Placement()
	b := &plate{
		Heading: plateHeading(p, o), metered: float64(p.SpeedPoint.Value) + place.ShadowStops*float64(sensito.Stop),
		darkest: place.Darkest, lightest: place.Lightest, veil: place.Veil,
		low: float64(p.Ends[0].NetDensity.Value), high: float64(p.Ends[1].NetDensity.Value),
		point: -place.ShadowStops,
		from:  math.Floor(min(place.Darkest-0.5, -place.ShadowStops-0.5, scene.LowestTone)), to: math.Ceil(max(place.Lightest+0.5, scene.HighestTone)),
		scene: "scene: " + inStops(p.Scene.Stops),
	}
	if p.AtIndex != nil {
		b.lost = p.AtIndex.Lost
	}
	if m := p.Scene.Metering; m != nil {
		b.addSpots(*m)
	}
	if err := b.follow(p, o.Confidence); err != nil {
		return nil, err
	}
	if len(b.joined) > 0 {
		b.under = bracketRow
		b.Foot = fmt.Sprintf("Brackets under patches: printed closer than %s. %s", parts.Fixed(float64(scene.Joined), 2), b.Foot)
	}
	b.addMarks(p, o.Confidence)
	b.addAxes(p)
	return b, nil
}

// addMarks names the range, the speed point and the lift of flare.
func (b *plate) addMarks(p *scene.Answer, level float64) {
	index := "relative: no index"
	if e := p.ExposureIndex; e != nil {
		index = "EI " + parts.Interval(*e, level, parts.SpeedPlaces(e.Value))
	}
	if a := p.AtIndex; a != nil {
		index = parts.Interval(a.SpeedPoint, level, 1) + " stops"
	}
	delivers := parts.Interval(*p.Delivered, level, 2)
	b.marks = []plateMark{
		{b.speedPoint.XY, parts.Note{"speed point", index}, "Dot with whisker: speed point, " + index + ".", false},
		{plotter.XY{X: b.at(b.darkest) - besideDarkest, Y: (b.low + b.high) / 2}, parts.Note{"density range", delivers}, "Bar on the left: density range " + delivers + ".", false},
	}
	if b.lost > 0 {
		by := answers.Stops(b.lost)
		b.marks = append(b.marks, plateMark{plotter.XY{X: b.at(b.darkest + b.lost/2), Y: b.high}, parts.Note{"under the speed point:", by + " lost"}, "Grey: under the speed point, " + by + " lost.", false})
	}
	if len(b.unflared) > 0 {
		by := parts.Fixed(b.lift, 2)
		b.marks = append(b.marks, plateMark{b.unflared[len(b.unflared)/3], parts.Note{"without flare, which lifts", "the darkest tone by " + by + " D"}, "Short dashes: without flare, which lifts the darkest tone by " + by + " of density (arrow).", false})
	}
}

// plateHeading says below the answer what it is for and what was tested behind it,
// and at the foot what the plate shows.
func plateHeading(p *scene.Answer, o *Options) parts.Heading {
	h := figure.Cautioned(o.Headed(setAndDevelop(p, o.Confidence), p.Family.Trial), p.Today)
	text := "A scene of " + inStops(p.Scene.Stops) + ", for " + p.Scene.AimText()
	if a := p.AtIndex; a != nil {
		text += "; " + keptText(a)
	} else if e := p.ExposureIndex; e != nil {
		text += "; EI " + parts.Interval(*e, o.Confidence, parts.SpeedPlaces(e.Value))
	}
	h.Sub += "\n" + text
	tested := p.Tested()
	h.Sub += figure.Behind(p.Today, tested.Minutes.Value, tested.ExposureIndex, answers.Outside(p.Extrapolation))
	h.Foot = "Stops count from the metered tone, zone V. Dots: whole stops of the scene. Upper patches: the scene; lower: how dark each tone looks, with its density. Bands and intervals: " +
		parts.Percent(o.Confidence) + ". Long dashes: beyond the steps.\n" + strings.TrimSpace(h.Foot)
	return h
}

// keptText says what is kept of the answer at the film's own index.
func keptText(a *scene.AtIndex) string {
	kept := map[scene.Kept]string{scene.KeepHighlight: "lightest tone", scene.KeepMetered: "metered tone", scene.KeepRange: "density range"}[a.Keep]
	return fmt.Sprintf("%s kept at %s, as by %s at EI %s", kept, parts.Fixed(float64(a.Density), 2), parts.Planned(a.Normal.Minutes.Value), parts.Speed(a.Normal.ExposureIndex.Value))
}

// addSpots places spot readings: the shadow on its zone, the highlight where it
// falls then.
func (b *plate) addSpots(m camera.Metering) {
	stops := func(z camera.Zone) float64 { return float64(z - camera.MeteredZone) }
	falls := m.FallsOn()
	highlight := "highlight EV " + m.Highlight.EV.String()
	if falls != m.Highlight.Zone {
		highlight += " (wanted on " + m.Highlight.Zone.String() + ")"
	}
	b.spots = []plateSpot{{stops(m.Shadow.Zone), "shadow EV " + m.Shadow.EV.String()}, {stops(falls), highlight}}
	b.to = max(b.to, math.Ceil(stops(falls)+0.5))
}

// steepFilm is the average gradient from which a toe lies between quarters of a stop.
// TestSceneOnSteepFilm holds it.
const steepFilm = 1.5

// follow takes the tones of the answer along the axis.
func (b *plate) follow(p *scene.Answer, level float64) error {
	each := 4 // places a stop
	if p.AverageGradient > steepFilm {
		each = 16
	}
	var stops []float64
	for i := range int(b.to-b.from)*each + 1 {
		stops = append(stops, b.from+float64(i)/float64(each))
	}
	tones, err := p.Follow(stops)
	if err != nil {
		return err
	}
	bare, err := p.Unflared(append([]float64{b.darkest, -p.Placement().ShadowStops}, stops...))
	if err != nil {
		return err
	}
	b.placeSpeedPoint(p, bare[1], level)
	b.draft(p, tones, level)
	if b.veil > 0 && bare[0].NetDensity != nil {
		b.lift = b.low - float64(bare[0].NetDensity.Value)
		for i, t := range bare[2:] {
			const seen = 0.004
			flared := tones[i].NetDensity
			if t.NetDensity == nil || flared == nil || float64(flared.Value-t.NetDensity.Value) < seen {
				continue
			}
			b.unflared = append(b.unflared, plotter.XY{X: b.at(t.Stops), Y: float64(t.NetDensity.Value)})
		}
	}
	for _, t := range tones {
		if t.Stops == math.Trunc(t.Stops) && t.Stops >= b.darkest-1e-9 && t.Stops <= b.lightest+1e-9 {
			b.tones = append(b.tones, plateTone{t, float64(sensito.Stop) * (b.lightest - t.Stops)})
		}
	}
	b.joined = scene.RunTogether(b.tones, func(t plateTone) scene.Tone { return t.Tone })
	return nil
}

// draft makes the curves of negative and print. They are broken where the steps of
// the strips do not reach.
func (b *plate) draft(p *scene.Answer, tones []scene.Tone, level float64) {
	weakest, strongest := p.Family.Trial.Exposures().Span()
	slower := p.SpeedPoint.Value.Sub(p.Tested().SpeedPoint.Value)
	first, last := math.Inf(1), math.Inf(-1)
	for _, t := range tones {
		x := b.at(t.Stops)
		if h := t.Film.Add(-slower); h >= weakest && h <= strongest {
			first, last = min(first, x), max(last, x)
		}
		if e := t.NetDensity; e != nil {
			low, high := e.Interval(level)
			b.negative.Add(x, float64(e.Value), max(0, float64(low)), float64(high))
		}
		if e := t.Print; e != nil {
			low, high := e.Interval(level)
			b.print.Add(x, float64(e.Value), max(0, float64(low)), float64(high))
		}
	}
	colours := []color.Color{parts.Plain.Color, parts.Chosen}
	for i, r := range []*parts.Ribbon{&b.negative, &b.print} {
		r.From, r.To, r.Style = first, last, parts.Line(1.1, colours[i]) // names and slopes tell them apart, dashes are for what is beyond
	}
}

// placeSpeedPoint sets the speed point on the curve of the film without flare, at the
// tone that lies on it.
func (b *plate) placeSpeedPoint(p *scene.Answer, on scene.Tone, level float64) {
	h := p.SpeedPoint
	if p.ExposureIndex != nil {
		h = p.Family.SpeedPointAt(float64(h.Value), float64(h.StdErr), h.DoF)
	}
	low, high := h.Interval(level)
	net := float64(curve.SpeedPointDensity)
	if e := on.NetDensity; e != nil {
		net = float64(e.Value)
	}
	b.speedPoint = parts.Whisker{XY: plotter.XY{X: float64(h.Value), Y: net}, Low: float64(low), High: float64(high), Across: true, Filled: true,
		Look: parts.Look{LineStyle: parts.Plain.LineStyle, Symbol: parts.Symbol{Scale: 0.8}}}
}

func (b *plate) addAxes(p *scene.Answer) {
	label := "log exposure of the film"
	if p.Family.Trial.Exposures().Absolute() {
		label += ", log10 lx s"
	} else {
		label = "relative " + label
	}
	if b.veil > 0 {
		label += ", without flare"
	}
	b.plot = parts.BareAxes(label, "net density of the negative")
	b.plot.X.Min, b.plot.X.Max = b.at(b.from-0.5), b.at(b.to+0.5)
	grid := plotter.NewGrid()
	grid.Horizontal, grid.Vertical = parts.Line(0.5, parts.GridGrey), parts.Line(0, parts.GridGrey)
	grid.Vertical.Color = nil
	b.plot.Add(grid)
}

func inStops(stops float64) string { return parts.Number(math.Round(10*stops)/10) + " stops" }

// numbers returns what the plate draws.
func (b *plate) Numbers() []figure.Series {
	x, net, printed := parts.AxisName(b.plot.X), b.plot.Y.Label.Text, "density of the print"
	out := []figure.Series{{Name: "negative", X: x, Y: net, Values: figure.Between(b.negative.Line, b.negative.Low, b.negative.High)}}
	if len(b.unflared) > 0 {
		out = append(out, figure.Series{Name: "negative without flare", X: x, Y: net, Values: figure.Plain(b.unflared)})
	}
	if len(b.print.Line) > 0 {
		out = append(out, figure.Series{Name: "print", X: x, Y: printed, Values: figure.Between(b.print.Line, b.print.Low, b.print.High)})
	}
	tones, prints := figure.Series{Name: "tones on the negative", X: x, Y: net}, figure.Series{Name: "tones in the print", X: x, Y: printed}
	for _, t := range b.tones {
		remark := fmt.Sprintf("%s stops, zone %v", parts.Stops(t.Stops), zoneOf(t.Stops))
		if e := t.NetDensity; e != nil {
			tones.Values = append(tones.Values, figure.Value{XY: plotter.XY{X: b.at(t.Stops), Y: float64(e.Value)}, Low: math.NaN(), High: math.NaN(), Remark: remark})
		}
		if e := t.Print; e != nil {
			prints.Values = append(prints.Values, figure.Value{XY: plotter.XY{X: b.at(t.Stops), Y: float64(e.Value)}, Low: math.NaN(), High: math.NaN(), Remark: remark})
		}
	}
	out = append(out, tones)
	if len(prints.Values) > 0 {
		out = append(out, prints)
	}
	ends := figure.Series{Name: "ends of the scene", X: x, Y: net, Values: figure.Plain(plotter.XYs{{X: b.at(b.darkest), Y: b.low}, {X: b.at(b.lightest), Y: b.high}})}
	out = append(out, ends, figure.Series{Name: "speed point (interval along x)", X: x, Y: net, Values: []figure.Value{{XY: b.speedPoint.XY, Low: b.speedPoint.Low, High: b.speedPoint.High}}})
	if b.lost > 0 {
		out = append(out, figure.Series{Name: "under the speed point", X: x, Values: figure.Plain(plotter.XYs{{X: b.at(b.darkest), Y: math.NaN()}, {X: b.at(b.darkest + b.lost), Y: math.NaN()}})})
	}
	for _, s := range b.spots {
		out = append(out, figure.Series{Name: strings.TrimSpace(s.name), X: x, Values: figure.Plain(plotter.XYs{{X: b.at(s.stops), Y: math.NaN()}})})
	}
	return out
}

// besideDarkest is how far the bar of the range stands from the darkest tone.
const besideDarkest = 0.6 * float64(sensito.Stop)

func zoneOf(stops float64) camera.Zone { return camera.MeteredZone + camera.Zone(stops) }
