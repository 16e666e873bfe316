package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Reproduction is the report of a scene followed to the print.
type Reproduction struct {
	told
	of *scene.Reproduction
}

// NewReproduction reports a reproduction, with intervals at the given level of
// confidence.
func NewReproduction(p *scene.Reproduction, level float64) *Reproduction {
	return &Reproduction{tell(p.Answer.Today, level, p.Warnings), p}
}

// MarshalJSON writes all that is known of the tones on their way.
func (r *Reproduction) MarshalJSON() ([]byte, error) {
	p, paper := r.of.Answer, r.of.Answer.Scene.Paper
	return object{
		{"schema", "sensito/tone/1"}, {"trial", p.Family.Trial.Name()},
		{"paper", paper.Strip.Trial().Name()}, {"grade", paper.Grade}, // "" when not stated
		{"callier", p.Scene.Callier}, // 1 with a diffusion enlarger
		{"scene_range_stops", p.Scene.Stops},
		{"minutes", quantity(&p.Minutes, r.level, unitMinutes)}, {"extrapolated", p.Extrapolated},
		{"exposure_index", quantity(p.ExposureIndex, r.level, unitOne)},
		{"conditions", r.conditions},                   // null under those of the trial
		{"minutes_as_tested", asTested(p, r.level)},    // under those of the trial; null likewise
		{"today", r.today},                             // null without a control log
		{"uncorrected", uncorrectedAnswer(p, r.level)}, // null where nothing is corrected
		{"delivered_density_range", quantity(p.Delivered, r.level, unitOne)},
		{"flare_veil", p.Veil},                                                        // of the highlight luminance
		{"flare_lift_log_h", r.of.Lift},                                               // of the darkest tone
		{"mid_stops_from_meter", r.of.Mid.Stops}, {"mid_gradient", r.of.Mid.Gradient}, // there
		{"film_log_h_unit", logUnit(p.Family.Trial)}, // log10 relative for relative exposures
		{"paper_log_h_unit", logUnit(paper.Strip.Trial())},
		{"tones", objects(r.of.Tones, r.tone)},
		{"reproduction", objects(r.of.Line, func(t scene.Reproduced) object { // closely spaced
			return object{{"scene_log_luminance", logLuminance(t)}, {"print_density", t.Printed}}
		})},
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// tone is one tone on its way to the print. Densities are null where the film's
// exposures do not reach.
func (r *Reproduction) tone(t scene.Reproduced) object {
	return object{
		{"stops_from_meter", t.Stops}, {"scene_log_luminance", logLuminance(t)},
		{"film_log_h_lxs", t.Film}, {"net_density", quantity(t.NetDensity, r.level, unitOne)},
		{"paper_log_h_lxs", t.PaperLogH}, {"print_density", quantity(t.Print, r.level, unitOne)},
		{"gradient", t.Gradient},
	}
}

// logLuminance returns the luminance of a tone over that of the metered one.
func logLuminance(t scene.Reproduced) float64 { return t.Stops * float64(sensito.Stop) }

// Text writes the table of the tones under the answer.
func (r *Reproduction) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	p := r.of.Answer
	w.Answer("%s", answerOf(quantity(&p.Minutes, r.level, unitMinutes), quantity(p.ExposureIndex, r.level, unitOne), r.level, r.conditions, answers.Outside(p.Extrapolation)))
	w.Printf("\n")
	w.Lines(heading(p.Family.Trial))
	w.Paragraph("", "", fmt.Sprintf("A scene of %g stops (%s) in the print, for %s. Contrast %s %s; 1 would be that of the scene.", p.Scene.Stops, page.DevelopmentName(p.N), p.Scene.AimText(), r.middle(), page.Fixed(r.of.Mid.Gradient, 2)))
	if l.Full {
		r.writeDetails(w)
	}
	r.conditions.write(w)
	r.today.write(w, uncorrectedAnswer(p, r.level).answers("EI"))
	w.Printf("\n")
	r.writeTones(w)
	w.Printf("\n")
	if l.Full {
		r.notes(w)
	} else {
		w.Paragraph("", "", "Stops are from the metered tone; the print is exposed so that the lightest tone gets the paper's white point.")
	}
	w.Closing(r.warnings)
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
	p := r.of.Answer
	if m := quantity(&p.Minutes, r.level, unitMinutes); m != nil {
		var notes []string
		if m.atLeast {
			notes = append(notes, "or longer")
		}
		if outside := answers.Outside(p.Extrapolation); outside != "" {
			notes = append(notes, outside)
		}
		answer("develop, min:s", clock(m.Value, 5), strings.Join(notes, "; "))
	}
	if m := asTested(p, r.level); m != nil {
		answer("  as tested", clock(m.Value, 5), "")
	}
	if e := quantity(p.ExposureIndex, r.level, unitOne); e != nil {
		answer("exposure index", page.Figures(e.Value), "")
	}
	if d := quantity(p.Delivered, r.level, unitOne); d != nil {
		answer("density range", page.Fixed(d.Value, 2), "delivered; "+page.Fixed(d.Low, 2)+" to "+page.Fixed(d.High, 2))
	}
	if p.Veil > 0 {
		answer("flare, %", strconv.FormatFloat(100*p.Veil, 'g', 2, 64), "of the highlights, as an even veil")
	}
	answer("gradient", page.Fixed(r.of.Mid.Gradient, 2), r.middle()+"; 1 is equal tone")
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
	for _, t := range r.of.Tones {
		net, netSD := withSD(quantity(t.NetDensity, r.level, unitOne))
		density, densitySD := withSD(quantity(t.Print, r.level, unitOne))
		gradient := "-"
		if t.Print != nil && t.Print.Known(r.level) {
			gradient = page.Fixed(t.Gradient, 2)
		}
		stops := page.Signed(math.Round(100*t.Stops) / 100)
		if !w.Full {
			head = append(head, []string{stops, net, density, gradient})
			continue
		}
		head = append(head, []string{stops, page.Fixed(logLuminance(t), 2), page.Fixed(float64(t.Film), 2),
			net, netSD, page.Fixed(float64(t.PaperLogH), 2), density, densitySD, gradient})
	}
	w.Table(head)
}

// notes says what the figures rest on.
func (r *Reproduction) notes(w *writer) {
	w.Paragraph("", "", "Log L is from the metered tone, log H of film and paper in "+r.units()+
		"; ± one standard deviation. The print is exposed so that the lightest tone gets the paper's white point.")
	if r.of.Lift > 0 {
		w.Paragraph("", "", fmt.Sprintf("Flare lifts the darkest tone by %.2f log H. The exposure index does not count on it: "+
			"an even tone as dark, without flare, lands on the speed point.", float64(r.of.Lift)))
	}
}

func (r *Reproduction) middle() string {
	if r.of.Mid.Stops != 0 {
		return "in the middle of the scene"
	}
	return "at the metered tone"
}

func (r *Reproduction) units() string {
	words := map[string]string{unitLogH: "lx s", unitLogRel: "relative units"}
	film, paper := words[logUnit(r.of.Answer.Family.Trial)], words[logUnit(r.of.Answer.Scene.Paper.Strip.Trial())]
	if film == paper {
		return film
	}
	return film + " and " + paper
}

// withSD returns a density and its standard deviation, "-" where there is none.
func withSD(q *Quantity) (value, sd string) {
	if q == nil {
		return "-", ""
	}
	return page.Fixed(q.Value, 2), page.Fixed(q.SD, 3)
}
