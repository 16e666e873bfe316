package report

import (
	"fmt"
	"strings"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/development"
	"sensito/sensito/scene"
)

// Metering is the spot readings of a scene.
type Metering struct {
	ShadowEV        float64 `json:"shadow_ev"`
	ShadowZone      float64 `json:"shadow_zone"` // placed on
	HighlightEV     float64 `json:"highlight_ev"`
	HighlightFalls  float64 `json:"highlight_falls_zone"`
	HighlightWanted float64 `json:"highlight_wanted_zone"`
	Index           float64 `json:"meter_index"` // set on the meter when reading
}

// Shutter is an exposure time on its way from the meter to the shutter.
type Shutter struct {
	Metered     float64 `json:"metered_s"`
	Factored    float64 `json:"factored_s"`
	Corrected   float64 `json:"corrected_s"`
	Set         float64 `json:"set_s"` // the mark, or the time easy to count, nearest to it
	Reciprocity *string `json:"reciprocity"`
}

// expose fills in what concerns spot readings and the camera.
func (r *Scene) expose() {
	if m := r.answer.Scene.Metering; m != nil {
		index := float64(m.Index)
		if index == 0 {
			index = float64(camera.DefaultMeterIndex)
		}
		r.Metering = &Metering{
			ShadowEV: float64(m.Shadow.EV), ShadowZone: float64(m.Shadow.Zone),
			HighlightEV: float64(m.Highlight.EV), HighlightFalls: float64(m.FallsOn()), HighlightWanted: float64(m.Highlight.Zone),
			Index: index,
		}
	}
	r.EV = quantity(r.answer.EV(), r.level, unitEV)
	s := r.setting
	if s == nil {
		return
	}
	aperture := float64(s.Aperture)
	r.Aperture = &aperture
	t := s.Shutter
	r.Shutter = &Shutter{Metered: float64(t.Metered), Factored: float64(t.Factored), Corrected: float64(t.Corrected), Set: float64(timeToSet(s))}
	r.Shutter.Reciprocity = reciprocityText(r.answer.Family)
	r.Warnings = append(r.Warnings, t.Warnings...)
}

// writeExposure writes the readings and the camera's setting.
func (r *Scene) writeExposure(w *writer) {
	m := r.answer.Scene.Metering
	if m == nil {
		return
	}
	w.printf("\n")
	w.paragraph("", "", fmt.Sprintf("Shadow: EV %v, placed on zone %v. Highlight: EV %v, falls on zone %v, wanted on zone %v. The meter read at index %s.",
		m.Shadow.EV, m.Shadow.Zone, m.Highlight.EV, m.FallsOn(), m.Highlight.Zone, figures(r.Metering.Index)))
	if r.setting == nil {
		return
	}
	w.paragraph("", "", settingText(r.setting)+".")
	if law := r.Shutter.Reciprocity; law != nil {
		text := "Reciprocity: " + *law + "."
		if e := r.setting.Shutter.Fitted; e != nil {
			low, high := e.Interval(r.level)
			text += fmt.Sprintf(" The %s interval of the corrected time is %v to %v.", percent(r.level), low, high)
		}
		w.paragraph("", "", text)
	}
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
func timeToSet(s *scene.Setting) sensito.Seconds {
	if s.Shot.Time != 0 {
		return s.Shot.Time
	}
	return s.Shutter.Corrected.Nominal()
}

// settingText returns how the camera is set and how that came about, such as
// "f/16: metered 1/2 s; filter 2x, bellows 1.3x: 1.3 s; for reciprocity: 2.1 s,
// set 2 s".
func settingText(s *scene.Setting) string {
	t := s.Shutter
	aperture := s.Aperture.Nominal().String()
	if s.Shot.Time == 0 {
		aperture = s.Shot.Aperture.String()
	} else if marked := s.Aperture.OnScale(); marked != aperture {
		aperture += " (" + marked + ")"
	}
	parts := []string{fmt.Sprintf("metered %v", t.Metered)}
	if factors := factorsText(s.Shot); factors != "" {
		parts = append(parts, fmt.Sprintf("%s: %v", factors, t.Factored))
	}
	if t.Corrected.String() != t.Factored.String() {
		parts = append(parts, fmt.Sprintf("for reciprocity: %v", t.Corrected))
	}
	return fmt.Sprintf("%s: %s, set %v", aperture, strings.Join(parts, "; "), timeToSet(s))
}

// factorsText names what stands in the light, "" when nothing does.
func factorsText(c scene.Shot) string {
	var parts []string
	for _, f := range c.Filters {
		parts = append(parts, "filter "+f.String())
	}
	if c.Bellows != 0 {
		parts = append(parts, "bellows "+c.Bellows.String())
	}
	return strings.Join(parts, ", ")
}
