package report

import (
	"encoding/json"
	"fmt"
	"io"

	"sensito/sensito/cameratest"
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
	w, m := newWriter(out, l), r.found
	ei := quantity(&m.ExposureIndex, r.level, unitOne)
	w.answer("Set the meter to %s (EI %s; %s sure: %s to %s).", setting(ei.Value), figures(ei.Value), percent(r.level), figures(float64(ei.Low)), figures(float64(ei.High)))
	w.printf("\n")
	w.paragraph("", "", fmt.Sprintf("The faintest frame that is told from the clear edge lies %s stops below the metered exposure at index %s, and the next, %s stops darker, is not told. "+
		"The eye tells a net density of %.2f to %.2f (common practice, no source), so net 0.10, the speed point, lies %s stops from the metered exposure. "+
		"The index lays an even tone %s stops below the metered one there.",
		plain(-m.Test.Stops), figures(float64(m.Test.MeterIndex)), plain(m.Test.Step), float64(cameratest.SeenLow), float64(cameratest.SeenHigh), quantity(&m.SpeedPoint, r.level, unitStops), plain(m.Test.ShadowStops)))
	w.paragraph("", "", fmt.Sprintf("Of the error the eye makes ±%.2f stop, steps of %s stops ±%.2f, shutter and diaphragm ±%.2f (standard deviations). "+
		"The index holds for this meter, camera and development; it says nothing of how long to develop.", m.OfEye, plain(m.Test.Step), m.OfStep, m.OfFrames))
	w.printf("\n")
	w.paragraph("", "", "Next: read the frames by a light meter on the even light. The one that passes a third of a stop less than the clear edge has net 0.10: it is the speed point itself. "+
		"All of them, read so or with a densitometer, are a trial of kind = \"camera\", whose curve tells speed and contrast.")
	w.printf("\n")
	w.lines(hazards)
	return w.err
}
