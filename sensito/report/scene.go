package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"sensito/sensito/answers"
	"sensito/sensito/camera"
	"sensito/sensito/listing"
	"sensito/sensito/logbook"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Scene is the report of the exposure and development for one scene.
type Scene struct {
	told
	answer  *scene.Answer
	setting *camera.Setting
	ends    *scene.PrintEnds
	last    *logbook.Latest // by the log of the trial; nil for none
	beside  *listing.Beside // nil where none was looked for
	more    func(corrects bool) string
}

// NewScene reports an answer, with intervals at the given level of confidence.
// Setting is how the camera is set for it; nil when that was not asked for. The
// error is that of the print densities.
func NewScene(p *scene.Answer, setting *camera.Setting, level float64) (*Scene, error) {
	ends, err := p.PrintEnds()
	if ends == nil {
		ends = &scene.PrintEnds{}
	}
	t := p.Family.Trial
	r := &Scene{told: tell(p.Today, level, p.Warnings), answer: p, setting: setting, ends: ends, last: logbook.LastTime(t, p.Scene.Today.Conditions.Process(t.Process()))}
	if setting != nil {
		r.warnings = append(r.warnings, setting.Shutter.Warnings...)
	}
	return r, err
}

// Beside adds what a control log beside the trial says of the process. More says in a clause
// how the caller's own interface gives the corrected time or, where no change of time is
// proven, all that the log tells; nil says neither.
func (r *Scene) Beside(b *listing.Beside, more func(corrects bool) string) {
	r.beside, r.more = b, more
	r.warnings = join(r.warnings, b.Warnings)
}

// process is what the log beside the trial says, null without.
func (r *Scene) process() object {
	if r.beside == nil || r.beside.Drift == nil {
		return nil
	}
	d := r.beside.Drift
	return object{{"log", r.beside.File}, {"as_of", d.AsOf}, {"in_control", d.InControl},
		{"first_signal", words(d.FirstSignal)}, {"since", words(answers.LeftOn(d.Control))}, // null in control, and since where no lasting change is proven
		{"time_percent", quantity(d.TimePercent, r.level, unitPercent)}, // to develop longer for the same contrast; null where that is not told
		{"speed_stops", quantity(d.SpeedStops, r.level, unitStops)},     // at that time
		{"text", r.processText(true)}}
}

// processText is that in a sentence; in control it is "" unless all is to be told.
func (r *Scene) processText(full bool) string {
	switch b := r.beside; {
	case b == nil || b.Drift == nil || b.Drift.InControl && !full:
		return ""
	case b.Drift.InControl:
		return strings.Replace(answers.Control(b.Drift.Control), "In control", "In control by "+b.File, 1) + "."
	case r.more == nil:
		return answers.Process(b.Drift.Control, b.File) + "."
	}
	c := r.beside.Drift.Control
	return answers.Process(c, r.beside.File) + "; " + r.more(answers.MovesTime(c)) + "."
}

// writeProcess writes that.
func (r *Scene) writeProcess(w *writer) {
	if text := r.processText(w.Full); text != "" {
		w.Printf("\n")
		w.Paragraph("", "", text)
	}
}

// MarshalJSON writes all that is known of the answer.
func (r *Scene) MarshalJSON() ([]byte, error) {
	p := r.answer
	var aperture any // exact
	if r.setting != nil {
		aperture = r.setting.Aperture
	}
	return object{
		{"schema", "sensito/scene/1"},
		{"trial", p.Family.Trial.Name()},
		{"reading", readIn(p.Family.Trial)},
		{"aim", p.Scene.AimText()},
		{"scene_range_stops", p.Scene.Stops},
		{"film_log_range", p.FilmRange},
		{"density_range", p.DensityRange}, // of the negative: the aim, or what comes of it for a scan
		{"delivered_density_range", quantity(p.Delivered, r.level, unitOne)},
		{"veil", p.Veil}, // of flare, of the highlight luminance
		{"average_gradient", p.AverageGradient},
		{"n", p.N},
		{"minutes", quantity(&p.Minutes, r.level, unitMinutes)},
		{"exposure_index", quantity(p.ExposureIndex, r.level, unitOne)},
		{"minutes_error_parts", objects(p.Budget(), func(part scene.Part) object { return object{{"part", part.Of}, {"share", part.Share}} })},
		{"contrast_index", quantity(p.ContrastIndex, r.level, unitOne)},
		{"base_fog", quantity(&p.BaseFog, r.level, unitOne)},
		{"extrapolated", p.Extrapolated},
		{"conditions", r.conditions},                // null under those of the trial
		{"minutes_as_tested", asTested(p, r.level)}, // under those of the trial; null likewise
		{"today", r.today},                             // null without a control log
		{"process", r.process()},                       // by a control log beside the trial; null with one that is given
		{"uncorrected", uncorrectedAnswer(p, r.level)}, // null where nothing is corrected
		{"at_index", r.atIndex()},                      // null unless an index was given
		{"metering", r.metering()},                     // null without spot readings
		{"ev", quantity(p.EV(), r.level, unitEV)},      // to set; null without spot readings or index
		{"aperture", aperture},                         // null unless the exposure was asked for
		{"shutter", r.shutter()},                       // null likewise
		{"tones", objects(p.Tones, r.tone)},
		{"paper_black_stops", quantity(r.ends.Black, r.level, unitStops)}, // from the metered exposure; null without a paper
		{"paper_white_stops", quantity(r.ends.White, r.level, unitStops)},
		{"last_time", lastTime(r.last)}, // null where the log of the trial tells of none
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// tone says where one tone falls on the negative, and in the print.
func (r *Scene) tone(t scene.Tone) object {
	return object{
		{"stops_from_meter", t.Stops},
		{"film_log_h_lxs", t.Film}, // flare included; relative where the trial's exposures are
		{"net_density", quantity(t.NetDensity, r.level, unitOne)},
		{"print_density", quantity(t.Print, r.level, unitOne)}, // null without a paper
	}
}

// Text writes the answer first, then what it rests on.
func (r *Scene) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	p := r.answer
	if p.AtIndex != nil {
		return r.textAtIndex(w)
	}
	minutes, index := quantity(&p.Minutes, r.level, unitMinutes), quantity(p.ExposureIndex, r.level, unitOne)
	w.Answer("%s", answerOf(minutes, index, r.level, r.conditions, answers.Outside(p.Extrapolation)))
	r.writeEV(w)
	w.Printf("\n")
	w.Lines(heading(p.Family.Trial))
	w.Paragraph("", "", fmt.Sprintf("A scene of %s stops (%s), for %s; %s.", page.Stops(p.Scene.Stops), page.DevelopmentName(p.N), p.Scene.AimText(), r.delivers()))
	w.lastTime(r.last)
	r.writeExposure(w)
	r.writeProcess(w)
	if l.Full {
		r.writeDetails(w, minutes, index)
	}
	r.conditions.write(w)
	r.today.write(w, uncorrectedAnswer(p, r.level).answers("EI"))
	r.writeTones(w)
	if l.Full {
		r.writeParts(w)
		w.Printf("\n")
		w.Paragraph("", "", answers.Placement(p.Scene))
	}
	w.Closing(r.warnings)
	return w.Err
}

// writeEV writes what the camera is set to, where that is known.
func (r *Scene) writeEV(w *writer) {
	if text := r.evText(); text != "" {
		w.Answer("%s", text)
	}
}

// evText says that, "" where it is not known.
func (r *Scene) evText() string {
	ev := quantity(r.answer.EV(), r.level, unitEV)
	if ev == nil {
		return ""
	}
	interval, set := fmt.Sprintf(" (%s to %s)", page.Fixed(ev.Low, 1), page.Fixed(ev.High, 1)), ""
	if ev.SD == 0 { // of an index that is given
		interval = ""
	}
	if r.setting != nil {
		set = fmt.Sprintf(": %s, %v", apertureText(r.setting), timeToSet(r.setting))
	}
	return fmt.Sprintf("Expose at EV %s%s%s.", page.Fixed(ev.Value, 1), interval, set)
}

// delivers tells the density range that the negative will have.
func (r *Scene) delivers() string {
	d := quantity(r.answer.Delivered, r.level, unitOne)
	if d == nil {
		return answers.Flare(r.answer.Scene.Flare)
	}
	return fmt.Sprintf("the negative will have %s (%s to %s)", page.Fixed(d.Value, 2), page.Fixed(d.Low, 2), page.Fixed(d.High, 2))
}

// writeDetails writes what goes with time and index, each with its interval.
func (r *Scene) writeDetails(w *writer, minutes, index *Quantity) {
	p := r.answer
	w.Printf("\n")
	rows := [][]string{{"", "", page.Percent(r.level) + " interval"}}
	rows = append(rows, r.conditions.rows(answerRows(minutes, index, answers.Outside(p.Extrapolation)), asTested(p, r.level))...)
	w.Table(append(rows, r.negativeRows("  average gradient needed")...))
}

// negativeRows are the rows of the negative, with the name of its average gradient.
func (r *Scene) negativeRows(gradient string) [][]string {
	p := r.answer
	var rows [][]string
	answer := func(label, value, note string) { rows = append(rows, []string{label, value, note}) }
	within := func(label string, q *Quantity, places int) {
		switch {
		case q == nil:
		case q.SD == 0: // of an index that is given
			answer(label, page.Fixed(q.Value, places), "")
		default:
			answer(label, page.Fixed(q.Value, places), page.Fixed(q.Low, places)+" to "+page.Fixed(q.High, places))
		}
	}
	within("  expose at EV", quantity(p.EV(), r.level, unitEV), 1)
	within("  contrast index", quantity(p.ContrastIndex, r.level, unitOne), 3)
	answer(gradient, page.Fixed(p.AverageGradient, 3), "")
	within("  density range delivered", quantity(p.Delivered, r.level, unitOne), 2)
	answer("  range at the film, log H", page.Fixed(float64(p.FilmRange), 2), answers.Flare(p.Scene.Flare))
	if p.Veil > 0 {
		answer("  veil of the flare, %", strconv.FormatFloat(100*p.Veil, 'g', 2, 64), "of the highlight")
	}
	within("  base plus fog", quantity(&p.BaseFog, r.level, unitOne), 3)
	return rows
}

// writeParts writes what the error of the time is made of.
func (r *Scene) writeParts(w *writer) {
	w.Printf("\nWhat the error of the time is made of, and what would make it smaller:\n\n")
	for _, part := range r.answer.Budget() {
		of, smaller := answers.ErrorPart(part, r.answer.Family.Trial)
		w.Printf("  %3.0f %%  %-36s  %s\n", 100*part.Share, of, smaller)
	}
}

// writeTones writes the table of tones.
func (r *Scene) writeTones(w *writer) {
	w.Printf("\nTones of the scene, so many stops from the metered one, flare included:\n\n")
	black, white := quantity(r.ends.Black, r.level, unitStops), quantity(r.ends.White, r.level, unitStops)
	printed := black != nil || white != nil
	indent := "  "
	if printed { // whose row is as wide as the page
		indent = ""
	}
	stops := []string{indent + "stops"}
	for _, t := range r.answer.Tones {
		stops = append(stops, page.Signed(t.Stops))
	}
	rows := [][]string{stops}
	add := func(label string, of func(scene.Tone) *Quantity) {
		density, sd := []string{indent + label}, []string{indent + "±"}
		for _, t := range r.answer.Tones {
			q := of(t)
			if q == nil {
				density, sd = append(density, "-"), append(sd, "")
				continue
			}
			density = append(density, page.Fixed(q.Value, 2))
			sd = append(sd, strings.TrimPrefix(page.Fixed(q.SD, 3), "0"))
		}
		rows = append(rows, density)
		if w.Full {
			rows = append(rows, sd)
		}
	}
	add("net density", func(t scene.Tone) *Quantity { return quantity(t.NetDensity, r.level, unitOne) })
	if a := r.answer.AtIndex; a != nil {
		rows = append(rows, normalTones(indent+"normally", a.Normal.Tones))
	}
	if printed {
		add("print density", func(t scene.Tone) *Quantity { return quantity(t.Print, r.level, unitOne) })
	}
	w.Table(rows)
	ends := func(q *Quantity) string { return page.SignedFixed(q.Value, 2) + " ±" + page.Fixed(q.SD, 2) }
	if black != nil && white != nil {
		reached := ends(black) + " stops"
		if black.atMost {
			reached = page.SignedFixed(black.Value, 2) + " stops or below"
		}
		w.Printf("\n")
		w.Paragraph("", "", fmt.Sprintf("On %s, exposed so that the lightest tone just prints white (0.04 above the paper): black is reached at %s, white at %s.",
			r.answer.Scene.Paper.Name(), reached, ends(white)))
	}
}
