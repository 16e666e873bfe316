package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/scene"
)

// Scene is the report of the exposure and development for one scene.
type Scene struct {
	Schema          string           `json:"schema"`
	Trial           string           `json:"trial"`
	Aim             string           `json:"aim"`
	SceneRangeStops float64          `json:"scene_range_stops"`
	FilmLogRange    float64          `json:"film_log_range"`
	DensityRange    float64          `json:"density_range"` // of the negative: the aim, or what comes of it for a scan
	Delivered       *Quantity        `json:"delivered_density_range"`
	Veil            float64          `json:"veil"` // of flare, of the highlight luminance
	AverageGradient float64          `json:"average_gradient"`
	N               float64          `json:"n"`
	Minutes         *Quantity        `json:"minutes"`
	ExposureIndex   *Quantity        `json:"exposure_index"`
	ContrastIndex   *Quantity        `json:"contrast_index"`
	BaseFog         *Quantity        `json:"base_fog"`
	Extrapolated    bool             `json:"extrapolated"`
	Conditions      *Conditions      `json:"conditions"`        // null under those of the trial
	AsTested        *Quantity        `json:"minutes_as_tested"` // under those of the trial; null likewise
	Today           *Today           `json:"today"`             // null without a control log
	Uncorrected     *Uncorrected     `json:"uncorrected"`       // null where nothing is corrected
	Metering        *Metering        `json:"metering"`          // null without spot readings
	EV              *Quantity        `json:"ev"`                // to set; null without spot readings or index
	Aperture        *float64         `json:"aperture"`          // exact; null unless the exposure was asked for
	Shutter         *Shutter         `json:"shutter"`           // null likewise
	Tones           []Tone           `json:"tones"`
	PaperBlack      *Quantity        `json:"paper_black_stops"` // from the metered exposure; null without a paper
	PaperWhite      *Quantity        `json:"paper_white_stops"`
	Warnings        sensito.Warnings `json:"warnings"`

	heading string
	answer  *scene.Answer
	setting *scene.Setting
	level   float64
}

// Tone is where one tone falls on the negative, and in the print.
type Tone struct {
	StopsFromMeter float64   `json:"stops_from_meter"`
	FilmLogH       float64   `json:"film_log_h_lxs"` // flare included; relative where the trial's exposures are
	NetDensity     *Quantity `json:"net_density"`
	PrintDensity   *Quantity `json:"print_density"` // null without a paper
}

// NewScene reports an answer, with intervals at the given level of confidence.
// Setting is how the camera is set for it; nil when that was not asked for. The
// error is that of the print densities.
func NewScene(p *scene.Answer, setting *scene.Setting, level float64) (*Scene, error) {
	r := &Scene{
		Schema: "sensito/scene/1", Trial: name(p.Family.Trial), Aim: p.Scene.AimText(),
		SceneRangeStops: p.Scene.Stops, FilmLogRange: float64(p.FilmRange),
		DensityRange: float64(p.DensityRange), Delivered: quantity(p.Delivered, level, unitOne), Veil: p.Veil, AverageGradient: p.AverageGradient, N: p.N,
		Minutes:       quantity(&p.Minutes, level, unitMinutes),
		ExposureIndex: quantity(p.ExposureIndex, level, unitOne),
		ContrastIndex: quantity(p.ContrastIndex, level, unitOne),
		BaseFog:       quantity(&p.BaseFog, level, unitOne),
		Extrapolated:  p.Extrapolated, Tones: []Tone{}, Warnings: p.Warnings,
		heading: heading(p.Family.Trial), answer: p, setting: setting, level: level,
	}
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(p.Today, level)
	r.Warnings = join(r.Warnings, more)
	r.AsTested, r.Uncorrected = asTested(p, level), uncorrectedAnswer(p, level)
	r.expose()
	for _, t := range p.Tones {
		r.Tones = append(r.Tones, Tone{StopsFromMeter: t.Stops, FilmLogH: float64(t.Film),
			NetDensity: quantity(t.NetDensity, level, unitOne), PrintDensity: quantity(t.Print, level, unitOne)})
	}
	ends, err := p.PrintEnds()
	if err != nil || ends == nil {
		return r, err
	}
	r.PaperBlack = quantity(ends.Black, level, unitStops)
	r.PaperWhite = quantity(ends.White, level, unitStops)
	return r, nil
}

// Text writes the answer first, then what it rests on.
func (r *Scene) Text(out io.Writer) error {
	w := &writer{w: out}
	w.printf("%s\n\n", r.heading)
	w.paragraph("", "", fmt.Sprintf("A scene of %s stops (%s), for %s:", plain(r.SceneRangeStops), developmentName(r.N), r.Aim))
	w.printf("\n")

	rows := [][]string{{"", "", percent(r.level) + " interval"}}
	answer := func(label, value, interval string) { rows = append(rows, []string{label, value, interval}) }
	rows = append(rows, r.Conditions.rows(answers(r.Minutes, r.ExposureIndex, r.Extrapolated), r.AsTested)...)
	if e := r.EV; e != nil {
		answer("  expose at EV", fixed(e.Value, 1), fixed(float64(e.Low), 1)+" to "+fixed(float64(e.High), 1))
	}
	if c := r.ContrastIndex; c != nil {
		answer("  contrast index", fixed(c.Value, 3), fixed(float64(c.Low), 3)+" to "+fixed(float64(c.High), 3))
	}
	answer("  average gradient needed", fixed(r.AverageGradient, 3), "")
	if d := r.Delivered; d != nil {
		answer("  density range delivered", fixed(d.Value, 2), fixed(float64(d.Low), 2)+" to "+fixed(float64(d.High), 2))
	}
	answer("  range at the film, log H", fixed(r.FilmLogRange, 2), flareName(r.answer.Scene.Flare))
	if r.Veil > 0 {
		answer("  veil of the flare, %", strconv.FormatFloat(100*r.Veil, 'g', 2, 64), "of the highlight")
	}
	if b := r.BaseFog; b != nil {
		answer("  base plus fog", fixed(b.Value, 3), fixed(float64(b.Low), 3)+" to "+fixed(float64(b.High), 3))
	}
	w.table(rows)
	r.Conditions.write(w)
	r.Today.write(w, r.Uncorrected.answers("EI"))
	r.writeExposure(w)
	r.writeTones(w)
	w.printf("\n")
	w.paragraph("", "", placementText(r.answer.Scene))
	w.warnings(r.Warnings)
	w.printf("\n%s\n", startingPoint)
	return w.err
}

// writeTones writes the table of tones.
func (r *Scene) writeTones(w *writer) {
	w.printf("\nTones of the scene, so many stops from the metered one, flare included:\n\n")
	printed := r.PaperWhite != nil || r.PaperBlack != nil
	indent := "  "
	if printed { // whose row is as wide as the page
		indent = ""
	}
	stops := []string{indent + "stops"}
	for _, t := range r.Tones {
		stops = append(stops, signed(t.StopsFromMeter))
	}
	rows := [][]string{stops}
	add := func(label string, of func(Tone) *Quantity) {
		density, sd := []string{indent + label}, []string{indent + "±"}
		for _, t := range r.Tones {
			q := of(t)
			if q == nil {
				density, sd = append(density, "-"), append(sd, "")
				continue
			}
			density = append(density, fixed(q.Value, 2))
			sd = append(sd, strings.TrimPrefix(fixed(q.SD, 3), "0"))
		}
		rows = append(rows, density, sd)
	}
	add("net density", func(t Tone) *Quantity { return t.NetDensity })
	if printed {
		add("print density", func(t Tone) *Quantity { return t.PrintDensity })
	}
	w.table(rows)
	ends := func(q *Quantity) string { return signedFixed(q.Value, 2) + " ±" + fixed(q.SD, 2) }
	if b, t := r.PaperBlack, r.PaperWhite; b != nil && t != nil {
		black := ends(b) + " stops"
		if b.atMost {
			black = signedFixed(b.Value, 2) + " stops or below"
		}
		w.printf("\n")
		w.paragraph("", "", fmt.Sprintf("On %s, exposed so that the lightest tone just prints white (0.04 above the paper): black is reached at %s, white at %s.",
			r.answer.Scene.Paper.Name(), black, ends(t)))
	}
}
