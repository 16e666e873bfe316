package report

import (
	"cmp"
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/development"
	"sensito/sensito/report/internal/page"
)

// metering returns the spot readings of the scene, nil without.
func (r *Scene) metering() object {
	m := r.answer.Scene.Metering
	if m == nil {
		return nil
	}
	return object{
		{"shadow_ev", m.Shadow.EV},
		{"shadow_zone", m.Shadow.Zone}, // placed on
		{"highlight_ev", m.Highlight.EV},
		{"highlight_falls_zone", m.FallsOn()},
		{"highlight_wanted_zone", m.Highlight.Zone},
		{"meter_index", meterIndex(m)},
	}
}

// meterIndex returns the index that was set on the meter when reading.
func meterIndex(m *camera.Metering) sensito.Speed {
	return cmp.Or(m.Index, camera.DefaultMeterIndex)
}

// shutter returns an exposure time on its way from the meter to the shutter, nil
// unless it was asked for.
func (r *Scene) shutter() object {
	s := r.setting
	if s == nil {
		return nil
	}
	return object{
		{"metered_s", s.Shutter.Metered},
		{"factored_s", s.Shutter.Factored},
		{"corrected_s", s.Shutter.Corrected},
		{"set_s", timeToSet(s)}, // the mark, or the time easy to count, nearest to it
		{"reciprocity", reciprocityText(r.answer.Family)},
	}
}

// writeExposure writes the readings and the camera's setting.
func (r *Scene) writeExposure(w *writer) {
	for i, text := range r.exposureTexts() {
		if i == 0 {
			w.Printf("\n")
		}
		w.Paragraph("", "", text)
	}
}

// exposureTexts say that, nil without spot readings.
func (r *Scene) exposureTexts() []string {
	m := r.answer.Scene.Metering
	if m == nil {
		return nil
	}
	out := []string{fmt.Sprintf("Shadow: EV %v, placed on zone %v. Highlight: EV %v, falls on zone %v, wanted on zone %v. The meter read at index %s.",
		m.Shadow.EV, m.Shadow.Zone, m.Highlight.EV, m.FallsOn(), m.Highlight.Zone, page.Figures(float64(meterIndex(m))))}
	if r.setting == nil {
		return out
	}
	out = append(out, settingText(r.setting)+".")
	if law := reciprocityText(r.answer.Family); law != nil {
		text := "Reciprocity: " + *law + "."
		if e := r.setting.Shutter.Fitted; e != nil {
			low, high := e.Interval(r.level)
			text += fmt.Sprintf(" The %s interval of the corrected time is %v to %v.", page.Percent(r.level), low, high)
		}
		out = append(out, text)
	}
	return out
}

// reciprocityText names the law by which a family's long exposures are
// corrected, nil when nothing is known of them.
func reciprocityText(f *development.Family) *string {
	law, err := f.Reciprocity()
	if law == nil || err != nil {
		return nil
	}
	text := law.String()
	if f.Trial.Reciprocity() == nil {
		strips := law.Pairs()
		text += fmt.Sprintf(", from strips exposed for up to %v", strips[len(strips)-1].Corrected)
	}
	return &text
}

// timeToSet returns the time given or, where it was computed, as it can be set.
func timeToSet(s *camera.Setting) sensito.Seconds {
	if s.Shot.Time != 0 {
		return s.Shot.Time
	}
	return s.Shutter.Corrected.Nominal()
}

// settingText returns how the camera is set and how that came about, such as
// "f/16: metered 1/2 s; filter 2x, bellows 1.3x: 1.3 s; for reciprocity: 2.1 s,
// set 2 s".
func settingText(s *camera.Setting) string {
	t := s.Shutter
	parts := []string{fmt.Sprintf("metered %v", t.Metered)}
	if factors := factorsText(s.Shot); factors != "" {
		parts = append(parts, fmt.Sprintf("%s: %v", factors, t.Factored))
	}
	if t.Corrected.String() != t.Factored.String() {
		parts = append(parts, fmt.Sprintf("for reciprocity: %v", t.Corrected))
	}
	return fmt.Sprintf("%s: %s, set %v", apertureText(s), strings.Join(parts, "; "), timeToSet(s))
}

// apertureText names the aperture to set, and the mark of the lens where it is
// another.
func apertureText(s *camera.Setting) string {
	if s.Shot.Time == 0 {
		return s.Shot.Aperture.String()
	}
	aperture := s.Aperture.Nominal().String()
	if marked := s.Aperture.OnScale(); marked != aperture {
		aperture += " (" + marked + ")"
	}
	return aperture
}

// factorsText names what stands in the light, "" when nothing does.
func factorsText(c camera.Shot) string {
	var parts []string
	for _, f := range c.Filters {
		parts = append(parts, "filter "+f.String())
	}
	if c.Bellows != 0 {
		parts = append(parts, "bellows "+c.Bellows.String())
	}
	return strings.Join(parts, ", ")
}
