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
	Schema   string           `json:"schema"`
	Trial    string           `json:"trial"`
	Minutes  float64          `json:"minutes"`
	Hollow   float64          `json:"hollow_density"`
	Field    float64          `json:"field_density"`
	Ratio    *Quantity        `json:"exposure_log_ratio"` // of the field over the hollow
	Veil     *Quantity        `json:"veil"`               // of the luminance of the field
	Lift     float64          `json:"lift_log_h"`         // of the darkest tone of a normal scene
	Lost     float64          `json:"lost_log_h"`         // of the range of a normal scene
	Warnings sensito.Warnings `json:"warnings"`

	heading string
	level   float64
}

// normalScene is the scene for which the report says what the veil does.
const normalScene = 7 // stops

// NewFlare reports a measured veil, with intervals at the given level of
// confidence.
func NewFlare(t *sensito.Trial, m *cameratest.MeasuredVeil, level float64) *Flare {
	scene := scene.Scene{Stops: normalScene, Flare: sensito.Flare{Kind: sensito.FlareVeil, Value: m.Veil.Value}}
	at := scene.Placement()
	whole := sensito.LogRange(normalScene) * sensito.Stop
	return &Flare{Schema: "sensito/flare/1", Trial: t.Name(), Minutes: float64(m.Test.Minutes), Hollow: float64(m.Test.Hollow), Field: float64(m.Test.Field),
		Ratio: quantity(&m.Ratio, level, unitOne), Veil: quantity(&m.Veil, level, unitOne),
		Lift: float64(at.Lift(at.Darkest)), Lost: float64(whole - scene.Flare.Range(whole)),
		Warnings: m.Warnings, heading: heading(t), level: level}
}

// Text writes the veil, what to give to the other commands, and what it does.
func (r *Flare) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	veil := func(v float64) string { return strconv.FormatFloat(100*v, 'g', 2, 64) }
	w.Answer("%s", fmt.Sprintf("The veil of this camera is %s %% of the lightest tone (%s: %s to %s %%): give --flare veil=%s.",
		veil(r.Veil.Value), page.Percent(r.level)+" interval", veil(float64(r.Veil.Low)), veil(float64(r.Veil.High)), strconv.FormatFloat(r.Veil.Value, 'g', 2, 64)))
	w.Printf("\n")
	w.Lines(r.heading)
	w.Printf("\n")
	w.Paragraph("", "", fmt.Sprintf("The hollow got %s log H less than the field. Of a scene of %d stops such a veil takes %.2f log H, and lifts the darkest tone by %.2f. "+
		"It holds for this lens, its shade and a field that fills the frame; a scene with less light around it has less.",
		r.Ratio.String(), normalScene, r.Lost, r.Lift))
	w.Warnings(r.Warnings)
	return w.Err
}
