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

// Roll is the report of the development of a roll of unlike scenes.
type Roll struct {
	Schema        string      `json:"schema"`
	Trial         string      `json:"trial"`
	Aim           string      `json:"aim"`
	DensityRange  float64     `json:"density_range"` // of the aim
	Minutes       *Quantity   `json:"minutes"`
	ExposureIndex *Quantity   `json:"exposure_index"`
	Extrapolated  bool        `json:"extrapolated"`
	WorstFrame    string      `json:"worst_frame"`
	Frames        []RollFrame `json:"frames"`

	Conditions  *Conditions  `json:"conditions"`        // null under those of the trial
	AsTested    *Quantity    `json:"minutes_as_tested"` // under those of the trial; null likewise
	Today       *Today       `json:"today"`             // null without a control log
	Uncorrected *Uncorrected `json:"uncorrected"`       // null where nothing is corrected

	Warnings sensito.Warnings `json:"warnings"`

	heading string
	roll    *scene.Roll
	level   float64
}

// RollFrame is what one frame of a roll gets.
type RollFrame struct {
	Name            string    `json:"name"`
	SceneRangeStops float64   `json:"scene_range_stops"`
	FilmLogRange    float64   `json:"film_log_range"`
	DensityRange    *Quantity `json:"delivered_density_range"`
	PaperLogRange   float64   `json:"paper_log_range"`    // that prints it
	Mismatch        float64   `json:"mismatch_log_range"` // the former less that of the aim
	Print           *string   `json:"print"`              // the grade that comes nearest; null for a scan
	Rest            *float64  `json:"rest_log_range"`     // what that grade leaves over; null for a scan
	Fits            bool      `json:"fits"`
	EV              *float64  `json:"ev"` // to set; null without spot readings or index
}

// NewRoll reports a roll, with intervals at the given level of confidence.
func NewRoll(roll *scene.Roll, level float64) *Roll {
	r := &Roll{
		Schema: "sensito/roll/1", Trial: roll.Family.Trial.Name(), Aim: roll.Scene.AimText(), DensityRange: float64(roll.DensityRange),
		Minutes:       quantity(&roll.Minutes, level, unitMinutes),
		ExposureIndex: quantity(roll.ExposureIndex, level, unitOne),
		Extrapolated:  roll.Extrapolated, WorstFrame: roll.Frames[roll.Worst].Name,
		Frames: []RollFrame{}, Warnings: roll.Warnings,
		heading: heading(roll.Family.Trial), roll: roll, level: level,
	}
	var more sensito.Warnings
	r.Conditions, r.Today, more = adjusted(roll.Today, level)
	r.Warnings = join(r.Warnings, more)
	if was := roll.AsTested; was != nil {
		r.AsTested = quantity(&was.Minutes, level, unitMinutes)
	}
	if was := roll.Uncorrected; was != nil {
		r.Uncorrected = uncorrected(&was.Minutes, was.ExposureIndex, level)
	}
	for _, f := range roll.Frames {
		out := RollFrame{Name: f.Name, SceneRangeStops: f.Stops, FilmLogRange: float64(f.FilmRange),
			DensityRange:  quantity(&f.DensityRange, level, unitOne),
			PaperLogRange: float64(f.PaperRange), Mismatch: float64(f.Mismatch), Fits: f.Fits}
		if f.Print != nil {
			rest := float64(f.Rest)
			out.Print, out.Rest = &f.Print.Name, &rest
		}
		if f.EV != nil {
			ev := float64(*f.EV)
			out.EV = &ev
		}
		r.Frames = append(r.Frames, out)
	}
	return r
}

// Text writes the one time first, then a table of the frames.
func (r *Roll) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Answer("%s", answerOf(r.Minutes, r.ExposureIndex, r.level, r.Conditions, r.Extrapolated))
	w.Printf("\n")
	w.Lines(r.heading)
	w.Paragraph("", "", r.what()+".")
	if l.Full {
		w.Printf("\n")
		w.Table(append([][]string{{"", "", page.Percent(r.level) + " interval"}}, r.Conditions.rows(answerRows(r.Minutes, r.ExposureIndex, r.Extrapolated), r.AsTested)...))
	}
	r.Conditions.write(w)
	r.Today.write(w, r.Uncorrected.answers("EI"))
	w.Printf("\n")
	r.writeFrames(w)
	w.Printf("\n")
	w.Paragraph("", "", r.worst())
	if l.Full {
		w.Paragraph("", "", "± one standard deviation; "+answers.Flare(r.roll.Scene.Flare)+". "+r.placement())
	}
	w.Closing(r.Warnings)
	return w.Err
}

// what names the roll and its aim.
func (r *Roll) what() string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, f := range r.Frames {
		low, high = math.Min(low, f.SceneRangeStops), math.Max(high, f.SceneRangeStops)
	}
	if len(r.Frames) == 1 {
		return fmt.Sprintf("A roll of one scene of %s stops, for %s", page.Plain(low), r.Aim)
	}
	between := fmt.Sprintf("of %s to %s stops", page.Plain(low), page.Plain(high))
	if low == high {
		between = "of " + page.Plain(low) + " stops each"
	}
	return fmt.Sprintf("A roll of %d scenes %s, for %s", len(r.Frames), between, r.Aim)
}

// leastName is how much of a name the table shows at least.
const leastName = 10

func (r *Roll) writeFrames(w *writer) {
	scan := r.roll.Scene.ScanMax != 0
	metered := false
	for _, f := range r.Frames {
		metered = metered || f.EV != nil
	}
	head := []string{"", "scene, stops", "density range"}
	if scan {
		head = append(head, "below the aim")
	} else {
		head = append(head, "print on", "left over")
	}
	if metered {
		head = append(head, "EV")
	}
	rows := [][]string{head}
	for _, f := range r.Frames {
		cells := []string{"", strconv.FormatFloat(math.Round(100*f.SceneRangeStops)/100, 'f', -1, 64), f.DensityRange.String()}
		switch {
		case scan:
			cells = append(cells, page.Fixed(-f.Mismatch, 2))
		case f.Fits:
			cells = append(cells, r.grade(f), page.SignedFixed(*f.Rest, 2))
		default:
			cells = append(cells, r.grade(f), "!"+page.SignedFixed(*f.Rest, 2))
		}
		if f.EV != nil {
			cells = append(cells, page.Fixed(*f.EV, 1))
		} else if metered {
			cells = append(cells, "-")
		}
		rows = append(rows, cells)
	}
	room := w.Columns()
	for i := range head {
		widest := 0
		for _, row := range rows {
			widest = max(widest, page.Width(row[i]))
		}
		room -= widest + 2
	}
	for i, f := range r.Frames {
		rows[i+1][0] = shortened(f.Name, max(leastName, room+2))
	}
	w.Table(rows)
}

// grade returns the print material for a frame, without the name of the paper,
// which the aim has told.
func (r *Roll) grade(f RollFrame) string {
	if p := r.roll.Scene.Paper; p != nil {
		return strings.TrimPrefix(*f.Print, p.Strip.Trial().Film().Name+" ")
	}
	return *f.Print
}

// shortened returns s in at most so many characters.
func shortened(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

const leftOver = "Left over: log exposure range of the negative beyond that of the grade."

// worst says which frame suffers most and how much.
func (r *Roll) worst() string {
	if r.roll.Scene.ScanMax != 0 {
		return "The most contrasty scene fills the scan; the others stay below by what the table says."
	}
	if len(r.Frames) == 1 {
		return leftOver
	}
	f := r.Frames[r.roll.Worst]
	if 100*math.Abs(f.Mismatch) < 0.5 {
		return "Every scene meets the aim. " + leftOver
	}
	than := "more"
	if f.Mismatch < 0 {
		than = "less"
	}
	// One time leaves the two extremes equally far from the aim.
	also := ""
	for i, other := range r.Frames {
		if i != r.roll.Worst && math.Abs(math.Abs(other.Mismatch)-math.Abs(f.Mismatch)) < 0.005 && other.Mismatch*f.Mismatch < 0 {
			also = fmt.Sprintf(" %s is as far off on the other side.", other.Name)
			break
		}
	}
	asks := fmt.Sprintf("ISO range %.0f, %.0f", 100*f.PaperLogRange, 100*math.Abs(f.Mismatch))
	if paper := r.roll.Scene.Paper; paper != nil && paper.Pictured() {
		asks = fmt.Sprintf("log range %.2f, %.2f", f.PaperLogRange, math.Abs(f.Mismatch))
	}
	return fmt.Sprintf("%s suffers most: its negative asks for a paper of %s %s than the aim.%s %s", f.Name, asks, than, also, leftOver)
}

// placement says how the index and the frames lie on the film. Scenes of spot
// readings begin at zone I, whatever sets the index.
func (r *Roll) placement() string {
	ranged, spots := r.roll.Scene, r.roll.Scene
	metered := 0
	for _, f := range r.roll.Frames {
		if f.Metering != nil {
			spots.Metering = f.Metering
			metered++
		}
	}
	text := answers.Placement(ranged)
	switch darkest := spots.Placement().Darkest; {
	case metered == len(r.roll.Frames):
		return answers.Placement(spots)
	case darkest != ranged.Placement().Darkest:
		return fmt.Sprintf("%s In a scene of spot readings it is %s stops below.", text, page.Plain(-darkest))
	}
	return text
}
