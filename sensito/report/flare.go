package report

import (
	"fmt"
	"io"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/cameratest"
	"sensito/sensito/report/internal/page"
	"sensito/sensito/scene"
)

// Flare is the report of a camera's veil, as a test showed it.
type Flare struct {
	trial *sensito.Trial
	veil  *cameratest.MeasuredVeil
	level float64
}

// normalScene is the scene for which the report says what the veil does.
const normalScene = 7 // stops

// NewFlare reports a measured veil, with intervals at the given level of
// confidence.
func NewFlare(t *sensito.Trial, m *cameratest.MeasuredVeil, level float64) *Flare {
	return &Flare{t, m, level}
}

// does returns by how much the veil lifts the darkest tone of a normal scene, and
// what of the range of that scene it takes.
func (r *Flare) does() (lift, lost sensito.LogRange) {
	scene := scene.Scene{Stops: normalScene, Flare: sensito.Flare{Kind: sensito.FlareVeil, Value: r.veil.Veil.Value}}
	at, whole := scene.Placement(), sensito.LogRange(normalScene)*sensito.Stop
	return at.Lift(at.Darkest), whole - scene.Flare.Range(whole)
}

// MarshalJSON writes the veil and what it was read from.
func (r *Flare) MarshalJSON() ([]byte, error) {
	m := r.veil
	lift, lost := r.does()
	return object{
		{"schema", "sensito/flare/1"},
		{"trial", r.trial.Name()},
		{"minutes", m.Test.Minutes},
		{"hollow_density", m.Test.Hollow},
		{"field_density", m.Test.Field},
		{"exposure_log_ratio", quantity(&m.Ratio, r.level, unitOne)}, // of the field over the hollow
		{"veil", quantity(&m.Veil, r.level, unitOne)},                // of the luminance of the field
		{"lift_log_h", lift},
		{"lost_log_h", lost},
		{"warnings", m.Warnings},
	}.MarshalJSON()
}

// Text writes the veil, what to give to the other commands, and what it does.
func (r *Flare) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	q := quantity(&r.veil.Veil, r.level, unitOne)
	lift, lost := r.does()
	veil := func(v float64) string { return strconv.FormatFloat(100*v, 'g', 2, 64) }
	w.Answer("%s", fmt.Sprintf("The veil of this camera is %s %% of the lightest tone (%s: %s to %s %%): give --flare veil=%s.",
		veil(q.Value), page.Percent(r.level)+" interval", veil(q.Low), veil(q.High), strconv.FormatFloat(q.Value, 'g', 2, 64)))
	w.Printf("\n")
	w.Lines(heading(r.trial))
	w.Printf("\n")
	w.Paragraph("", "", fmt.Sprintf("The hollow got %s log H less than the field. Of a scene of %d stops such a veil takes %.2f log H, and lifts the darkest tone by %.2f. "+
		"It holds for this lens, its shade and a field that fills the frame; a scene with less light around it has less.",
		withError(&r.veil.Ratio, r.level), normalScene, float64(lost), float64(lift)))
	w.Warnings(r.veil.Warnings)
	return w.Err
}
