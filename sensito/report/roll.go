package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"sensito/sensito/answers"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Roll is the report of the development of a roll of unlike scenes.
type Roll struct {
	told
	roll *scene.Roll
}

// NewRoll reports a roll, with intervals at the given level of confidence.
func NewRoll(roll *scene.Roll, level float64) *Roll {
	return &Roll{tell(roll.Today, level, roll.Warnings), roll}
}

// MarshalJSON writes all that is known of the roll.
func (r *Roll) MarshalJSON() ([]byte, error) {
	minutes, index := r.answers()
	return object{
		{"schema", "sensito/roll/1"}, {"trial", r.roll.Family.Trial.Name()}, {"aim", r.roll.Scene.AimText()},
		{"density_range", r.roll.DensityRange}, // of the aim
		{"minutes", minutes}, {"exposure_index", index}, {"extrapolated", r.roll.Extrapolated},
		{"worst_frame", r.roll.Frames[r.roll.Worst].Name}, {"frames", objects(r.roll.Frames, r.frame)},
		{"conditions", r.conditions},        // null under those of the trial
		{"minutes_as_tested", r.asTested()}, // under those of the trial; null likewise
		{"today", r.today},                  // null without a control log
		{"uncorrected", r.uncorrected()},    // null where nothing is corrected
		{"warnings", r.warnings},
	}.MarshalJSON()
}

// frame is what one frame of a roll gets.
func (r *Roll) frame(f scene.RollFrame) object {
	var grade, rest any
	if f.Print != nil {
		grade, rest = f.Print.Name, f.Rest
	}
	return object{
		{"name", f.Name}, {"scene_range_stops", f.Stops}, {"film_log_range", f.FilmRange},
		{"delivered_density_range", quantity(&f.DensityRange, r.level, unitOne)},
		{"paper_log_range", f.PaperRange},  // that prints it
		{"mismatch_log_range", f.Mismatch}, // the former less that of the aim
		{"print", grade},                   // that comes nearest; null for a scan
		{"rest_log_range", rest},           // what that grade leaves over; null for a scan
		{"fits", f.Fits},
		{"ev", f.EV}, // to set; null without spot readings or index
	}
}

// answers returns the time and the index of the roll.
func (r *Roll) answers() (minutes, index *Quantity) {
	return quantity(&r.roll.Minutes, r.level, unitMinutes), quantity(r.roll.ExposureIndex, r.level, unitOne)
}

// asTested returns the time under the conditions of the trial, nil where they are those
// of today.
func (r *Roll) asTested() *Quantity {
	if r.roll.AsTested == nil {
		return nil
	}
	return quantity(&r.roll.AsTested.Minutes, r.level, unitMinutes)
}

// uncorrected returns time and index less the correction, nil where there is none.
func (r *Roll) uncorrected() *Uncorrected {
	was := r.roll.Uncorrected
	if was == nil {
		return nil
	}
	return uncorrected(&was.Minutes, was.ExposureIndex, r.level)
}

// Text writes the one time first, then a table of the frames.
func (r *Roll) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	minutes, index := r.answers()
	w.Answer("%s", answerOf(minutes, index, r.level, r.conditions, answers.Outside(r.roll.Extrapolation)))
	w.Printf("\n")
	w.Lines(heading(r.roll.Family.Trial))
	w.Paragraph("", "", r.what()+".")
	if l.Full {
		w.Printf("\n")
		w.Table(append([][]string{{"", "", page.Percent(r.level) + " interval"}}, r.conditions.rows(answerRows(minutes, index, answers.Outside(r.roll.Extrapolation)), r.asTested())...))
	}
	r.conditions.write(w)
	r.today.write(w, r.uncorrected().answers("EI"))
	w.Printf("\n")
	r.writeFrames(w)
	w.Printf("\n")
	w.Paragraph("", "", r.worst())
	if l.Full {
		w.Paragraph("", "", "± one standard deviation; "+answers.Flare(r.roll.Scene.Flare)+". "+r.placement())
	}
	w.Closing(r.warnings)
	return w.Err
}

// what names the roll and its aim.
func (r *Roll) what() string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, f := range r.roll.Frames {
		low, high = math.Min(low, f.Stops), math.Max(high, f.Stops)
	}
	if len(r.roll.Frames) == 1 {
		return fmt.Sprintf("A roll of one scene of %s stops, for %s", page.Stops(low), r.roll.Scene.AimText())
	}
	between := fmt.Sprintf("of %s to %s stops", page.Stops(low), page.Stops(high))
	if low == high {
		between = "of " + page.Stops(low) + " stops each"
	}
	return fmt.Sprintf("A roll of %d scenes %s, for %s", len(r.roll.Frames), between, r.roll.Scene.AimText())
}

// leastName is how much of a name the table shows at least.
const leastName = 10

func (r *Roll) writeFrames(w *writer) {
	scan := r.roll.Scene.ScanMax != 0
	metered := false
	for _, f := range r.roll.Frames {
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
	for _, f := range r.roll.Frames {
		cells := []string{"", page.Stops(f.Stops), withError(&f.DensityRange, r.level)}
		switch {
		case scan:
			cells = append(cells, page.Fixed(float64(-f.Mismatch), 2))
		case f.Fits:
			cells = append(cells, r.grade(f), page.SignedFixed(float64(f.Rest), 2))
		default:
			cells = append(cells, r.grade(f), "!"+page.SignedFixed(float64(f.Rest), 2))
		}
		if f.EV != nil {
			cells = append(cells, page.Fixed(float64(*f.EV), 1))
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
	for i, f := range r.roll.Frames {
		rows[i+1][0] = shortened(f.Name, max(leastName, room+2))
	}
	w.Table(rows)
}

// grade returns the print material for a frame, without the name of the paper,
// which the aim has told.
func (r *Roll) grade(f scene.RollFrame) string {
	if p := r.roll.Scene.Paper; p != nil {
		return strings.TrimPrefix(f.Print.Name, p.Strip.Trial().Film().Name+" ")
	}
	return f.Print.Name
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
	if len(r.roll.Frames) == 1 {
		return leftOver
	}
	f := r.roll.Frames[r.roll.Worst]
	off := math.Abs(float64(f.Mismatch))
	if 100*off < 0.5 {
		return "Every scene meets the aim. " + leftOver
	}
	than := "more"
	if f.Mismatch < 0 {
		than = "less"
	}
	// One time leaves the two extremes equally far from the aim.
	also := ""
	for i, other := range r.roll.Frames {
		if i != r.roll.Worst && math.Abs(math.Abs(float64(other.Mismatch))-off) < 0.005 && other.Mismatch*f.Mismatch < 0 {
			also = fmt.Sprintf(" %s is as far off on the other side.", other.Name)
			break
		}
	}
	asks := fmt.Sprintf("ISO range %.0f, %.0f", 100*float64(f.PaperRange), 100*off)
	if paper := r.roll.Scene.Paper; paper != nil && paper.Pictured() {
		asks = fmt.Sprintf("log range %.2f, %.2f", float64(f.PaperRange), off)
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
