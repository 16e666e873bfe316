package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Reproduction is the report of a scene followed to the print.
type Reproduction struct {
	Schema          string           `json:"schema"`
	Trial           string           `json:"trial"`
	Paper           string           `json:"paper"`
	Grade           string           `json:"grade"`   // "" when not stated
	Callier         float64          `json:"callier"` // 1 with a diffusion enlarger
	SceneRangeStops float64          `json:"scene_range_stops"`
	Minutes         *Quantity        `json:"minutes"`
	Extrapolated    bool             `json:"extrapolated"`
	ExposureIndex   *Quantity        `json:"exposure_index"`
	Conditions      *Conditions      `json:"conditions"`        // null under those of the trial
	AsTested        *Quantity        `json:"minutes_as_tested"` // under those of the trial; null likewise
	Today           *Today           `json:"today"`             // null without a control log
	Uncorrected     *Uncorrected     `json:"uncorrected"`       // null where nothing is corrected
	Delivered       *Quantity        `json:"delivered_density_range"`
	FlareVeil       float64          `json:"flare_veil"`           // of the highlight luminance
	FlareLift       float64          `json:"flare_lift_log_h"`     // of the darkest tone
	MidStops        float64          `json:"mid_stops_from_meter"` // where mid_gradient is
	MidGradient     float64          `json:"mid_gradient"`
	FilmUnit        string           `json:"film_log_h_unit"` // log10 relative for relative exposures
	PaperUnit       string           `json:"paper_log_h_unit"`
	Tones           []ToneStep       `json:"tones"`
	Reproduction    []TonePlace      `json:"reproduction"` // closely spaced
	Warnings        sensito.Warnings `json:"warnings"`

	heading, aim string
	n, level     float64
}

// ToneStep is one tone on its way to the print. Densities are null where the
// film's exposures do not reach.
type ToneStep struct {
	StopsFromMeter    float64   `json:"stops_from_meter"`
	SceneLogLuminance float64   `json:"scene_log_luminance"` // from the metered tone
	FilmLogH          float64   `json:"film_log_h_lxs"`
	NetDensity        *Quantity `json:"net_density"`
	PaperLogH         float64   `json:"paper_log_h_lxs"`
	PrintDensity      *Quantity `json:"print_density"`
	Gradient          float64   `json:"gradient"`
}

// TonePlace is a place on the curve of the reproduction.
type TonePlace struct {
	SceneLogLuminance float64 `json:"scene_log_luminance"`
	PrintDensity      float64 `json:"print_density"`
}

// NewReproduction reports a reproduction, with intervals at the given level of
// confidence.
func NewReproduction(p *scene.Reproduction, level float64) *Reproduction {
	trial, scene := p.Answer.Family.Trial, p.Answer.Scene
	paper := scene.Paper.Strip.Trial()
	r := &Reproduction{
		Schema: "sensito/tone/1", Trial: trial.Name(), Paper: paper.Name(), Grade: scene.Paper.Grade,
		Callier: scene.Callier, SceneRangeStops: scene.Stops,
		Minutes: quantity(&p.Answer.Minutes, level, unitMinutes), Extrapolated: p.Answer.Extrapolated,
		ExposureIndex: quantity(p.Answer.ExposureIndex, level, unitOne),
		Delivered:     quantity(p.Answer.Delivered, level, unitOne),
		FlareVeil:     p.Answer.Veil, FlareLift: float64(p.Lift), MidStops: p.Mid.Stops, MidGradient: p.Mid.Gradient,
		FilmUnit: logUnit(trial), PaperUnit: logUnit(paper), Tones: []ToneStep{}, Reproduction: []TonePlace{},
		Warnings: p.Warnings, heading: heading(trial), aim: scene.AimText(), n: p.Answer.N, level: level,
	}
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(p.Answer.Today, level)
	r.Warnings = join(r.Warnings, more)
	r.AsTested, r.Uncorrected = asTested(p.Answer, level), uncorrectedAnswer(p.Answer, level)
	log := func(stops float64) float64 { return stops * float64(sensito.Stop) }
	for _, t := range p.Tones {
		r.Tones = append(r.Tones, ToneStep{
			StopsFromMeter: t.Stops, SceneLogLuminance: log(t.Stops),
			FilmLogH: float64(t.Film), NetDensity: quantity(t.NetDensity, level, unitOne),
			PaperLogH: float64(t.PaperLogH), PrintDensity: quantity(t.Tone.Print, level, unitOne), Gradient: t.Gradient,
		})
	}
	for _, t := range p.Line {
		r.Reproduction = append(r.Reproduction, TonePlace{log(t.Stops), float64(t.Printed)})
	}
	return r
}

// logUnit returns the unit of a trial's log exposures.
func logUnit(t *sensito.Trial) string {
	if !t.Exposures().Absolute() {
		return unitLogRel
	}
	return unitLogH
}

// Text writes the table of the tones under the answer.
func (r *Reproduction) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", answerOf(r.Minutes, r.ExposureIndex, r.level, r.Conditions, r.Extrapolated))
	w.Printf("\n")
	w.Lines(r.heading)
	w.Paragraph("", "", fmt.Sprintf("A scene of %g stops (%s) in the print, for %s. Contrast %s %s; 1 would be that of the scene.", r.SceneRangeStops, page.DevelopmentName(r.n), r.aim, r.middle(), page.Fixed(r.MidGradient, 2)))
	if l.Full {
		r.writeDetails(w)
	}
	r.Conditions.write(w)
	r.Today.write(w, r.Uncorrected.answers("EI"))
	w.Printf("\n")
	r.writeTones(w)
	w.Printf("\n")
	if l.Full {
		r.notes(w)
	} else {
		w.Paragraph("", "", "Stops are from the metered tone; the print is exposed so that the lightest tone gets the paper's white point.")
	}
	w.Closing(r.Warnings)
	return w.Err
}

// writeDetails writes what goes with time and index.
func (r *Reproduction) writeDetails(w *writer) {
	w.Printf("\n")
	answer := func(label, value, note string) {
		if note != "" {
			note = "  " + note
		}
		w.Printf("  %-16s%8s%s\n", label, value, note)
	}
	if m := r.Minutes; m != nil {
		var notes []string
		if m.atLeast {
			notes = append(notes, "or longer")
		}
		if r.Extrapolated {
			notes = append(notes, "outside the tested times")
		}
		answer("develop, min:s", clock(m.Value, 5), strings.Join(notes, "; "))
	}
	if m := r.AsTested; m != nil {
		answer("  as tested", clock(m.Value, 5), "")
	}
	if e := r.ExposureIndex; e != nil {
		answer("exposure index", page.Figures(e.Value), "")
	}
	if d := r.Delivered; d != nil {
		answer("density range", page.Fixed(d.Value, 2), "delivered; "+page.Fixed(float64(d.Low), 2)+" to "+page.Fixed(float64(d.High), 2))
	}
	if r.FlareVeil > 0 {
		answer("flare, %", strconv.FormatFloat(100*r.FlareVeil, 'g', 2, 64), "of the highlights, as an even veil")
	}
	answer("gradient", page.Fixed(r.MidGradient, 2), r.middle()+"; 1 is equal tone")
}

// writeTones writes a row a tone.
func (r *Reproduction) writeTones(w *writer) {
	head := [][]string{
		{"stops", "negative", "print", "contrast"},
		{"", "net density", "density", ""},
	}
	if w.Full {
		head = [][]string{
			{"stops", "scene", "film", "net", "", "paper", "print", "", "gradient"},
			{"", "log L", "log H", "density", "±", "log H", "density", "±", ""},
		}
	}
	for _, t := range r.Tones {
		net, netSD := withSD(t.NetDensity)
		density, densitySD := withSD(t.PrintDensity)
		gradient := "-"
		if t.PrintDensity != nil {
			gradient = page.Fixed(t.Gradient, 2)
		}
		stops := page.Signed(math.Round(100*t.StopsFromMeter) / 100)
		if !w.Full {
			head = append(head, []string{stops, net, density, gradient})
			continue
		}
		head = append(head, []string{stops, page.Fixed(t.SceneLogLuminance, 2), page.Fixed(t.FilmLogH, 2),
			net, netSD, page.Fixed(t.PaperLogH, 2), density, densitySD, gradient})
	}
	w.Table(head)
}

// notes says what the figures rest on.
func (r *Reproduction) notes(w *writer) {
	w.Paragraph("", "", "Log L is from the metered tone, log H of film and paper in "+r.units()+
		"; ± one standard deviation. The print is exposed so that the lightest tone gets the paper's white point.")
	if r.FlareLift > 0 {
		w.Paragraph("", "", fmt.Sprintf("Flare lifts the darkest tone by %.2f log H. The exposure index does not count on it: "+
			"an even tone as dark, without flare, lands on the speed point.", r.FlareLift))
	}
}

func (r *Reproduction) middle() string {
	if r.MidStops != 0 {
		return "in the middle of the scene"
	}
	return "at the metered tone"
}

func (r *Reproduction) units() string {
	words := map[string]string{unitLogH: "lx s", unitLogRel: "relative units"}
	if r.FilmUnit == r.PaperUnit {
		return words[r.FilmUnit]
	}
	return words[r.FilmUnit] + " and " + words[r.PaperUnit]
}

// withSD returns a density and its standard deviation, "-" where there is none.
func withSD(q *Quantity) (value, sd string) {
	if q == nil {
		return "-", ""
	}
	return page.Fixed(q.Value, 2), page.Fixed(q.SD, 3)
}
