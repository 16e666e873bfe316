package report

import (
	"encoding/json"
	"fmt"
	"io"

	"sensito/sensito/cameratest"
	"sensito/sensito/report/internal/page"
)

// Speed is the report of an exposure index that was found by the eye.
type Speed struct {
	found *cameratest.IndexFound
	level float64
}

// NewSpeed reports an index, with intervals at the given level of confidence.
func NewSpeed(m *cameratest.IndexFound, level float64) *Speed { return &Speed{m, level} }

// MarshalJSON writes the index and what it rests on.
func (r *Speed) MarshalJSON() ([]byte, error) {
	m := r.found
	return json.Marshal(object{
		{"schema", "sensito/speed/1"},
		{"meter_index", m.Test.MeterIndex},
		{"first_frame_stops", m.Test.Stops}, // from the metered exposure
		{"step_stops", m.Test.Step},
		{"shadow_stops", m.Test.ShadowStops},
		{"exposure_index", quantity(&m.ExposureIndex, r.level, unitOne)},
		{"speed_point_stops", quantity(&m.SpeedPoint, r.level, unitStops)}, // from the metered exposure
		{"error_parts_stops", object{{"eye", m.OfEye}, {"step", m.OfStep}, {"frames", m.OfFrames}}},
		{"warnings", []any{}},
	})
}

// Text writes the index first, then what it rests on and what to measure next.
func (r *Speed) Text(out io.Writer, l Layout) error {
	w, m := &writer{page.NewWriter(out, l)}, r.found
	ei := quantity(&m.ExposureIndex, r.level, unitOne)
	w.Answer("Set the meter to %s (EI %s; %s sure: %s to %s).", page.Setting(ei.Value), page.Figures(ei.Value), page.Percent(r.level), page.Figures(ei.Low), page.Figures(ei.High))
	w.Printf("\n")
	w.Paragraph("", "", fmt.Sprintf("The faintest frame that is told from the clear edge lies %s stops below the metered exposure at index %s, and the next, %s stops darker, is not told. "+
		"The eye tells a net density of %.2f to %.2f (common practice, no source), so net 0.10, the speed point, lies %s stops from the metered exposure. "+
		"The index lays an even tone %s stops below the metered one there.",
		page.Plain(-m.Test.Stops), page.Figures(float64(m.Test.MeterIndex)), page.Plain(m.Test.Step), float64(cameratest.SeenLow), float64(cameratest.SeenHigh), quantity(&m.SpeedPoint, r.level, unitStops), page.Plain(m.Test.ShadowStops)))
	w.Paragraph("", "", fmt.Sprintf("Of the error the eye makes ±%.2f stop, steps of %s stops ±%.2f, shutter and diaphragm ±%.2f (standard deviations). "+
		"The index holds for this meter, camera and development; it says nothing of how long to develop.", m.OfEye, page.Plain(m.Test.Step), m.OfStep, m.OfFrames))
	w.Printf("\n")
	w.Paragraph("", "", "Next: read the frames by a light meter on the even light. The one that passes a third of a stop less than the clear edge has net 0.10: it is the speed point itself. "+
		"All of them, read so or with a densitometer, are a trial of kind = \"camera\", whose curve tells speed and contrast.")
	w.Printf("\n")
	w.Lines(page.Hazards)
	return w.Err
}
