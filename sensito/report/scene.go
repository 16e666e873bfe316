package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
)

// Scene is the report of the exposure and development for one scene.
type Scene struct {
	Schema          string            `json:"schema"`
	Trial           string            `json:"trial"`
	SceneRangeStops float64           `json:"scene_range_stops"`
	FilmLogRange    float64           `json:"film_log_range"`
	DensityRange    float64           `json:"density_range"`
	AverageGradient float64           `json:"average_gradient"`
	N               float64           `json:"n"`
	Minutes         *Quantity         `json:"minutes"`
	ExposureIndex   *Quantity         `json:"exposure_index"`
	ContrastIndex   *Quantity         `json:"contrast_index"`
	BaseFog         *Quantity         `json:"base_fog"`
	Extrapolated    bool              `json:"extrapolated"`
	Tones           []Tone            `json:"tones"`
	Warnings        []sensito.Warning `json:"warnings"`

	heading string
	plan    *sensito.Plan
	level   float64
}

// Tone is where one tone falls on the negative.
type Tone struct {
	StopsFromMeter float64   `json:"stops_from_meter"`
	NetDensity     *Quantity `json:"net_density"`
	PrintDensity   *Quantity `json:"print_density"` // null without a paper
}

// NewScene reports a plan, with intervals at the given level of confidence.
func NewScene(p *sensito.Plan, level float64) *Scene {
	r := &Scene{
		Schema: "sensito/scene/1", Trial: name(p.Family.Trial),
		SceneRangeStops: p.Scene.Stops, FilmLogRange: float64(p.FilmRange),
		DensityRange: float64(p.Scene.DensityRange), AverageGradient: p.AverageGradient, N: p.N,
		Minutes:       quantity(&p.Minutes, level, unitMinutes),
		ExposureIndex: quantity(p.ExposureIndex, level, unitOne),
		ContrastIndex: quantity(p.ContrastIndex, level, unitOne),
		BaseFog:       quantity(&p.BaseFog, level, unitOne),
		Extrapolated:  p.Extrapolated, Tones: []Tone{}, Warnings: p.Warnings,
		heading: heading(p.Family.Trial), plan: p, level: level,
	}
	for _, t := range p.Tones {
		r.Tones = append(r.Tones, Tone{StopsFromMeter: t.Stops, NetDensity: quantity(t.NetDensity, level, unitOne)})
	}
	return r
}

// Text writes the answer first, then what it rests on.
func (r *Scene) Text(out io.Writer) error {
	w := &writer{w: out}
	w.printf("%s\n\n", r.heading)
	w.printf("A scene of %g stops (%s), for a density range of %.2f:\n\n", r.SceneRangeStops, developmentName(r.N), r.DensityRange)

	note := ""
	if r.Extrapolated {
		note = "  outside the tested times"
	}
	percent := strconv.FormatFloat(100*r.level, 'g', 4, 64)
	rows := [][]string{{"", "", percent + " % interval"}}
	answer := func(label, value, interval string) { rows = append(rows, []string{label, value, interval}) }
	if m := r.Minutes; m != nil {
		interval := clock(float64(m.Low), 5) + " or longer"
		if !math.IsInf(float64(m.High), 1) {
			interval = clock(float64(m.Low), 5) + " to " + clock(float64(m.High), 5)
		}
		answer("  develop, min:s", clock(m.Value, 5), interval+note)
	}
	if e := r.ExposureIndex; e != nil {
		answer("  set the meter to EI", figures(e.Value), figures(float64(e.Low))+" to "+figures(float64(e.High)))
		answer("    nearest setting", setting(e.Value), "")
	}
	if c := r.ContrastIndex; c != nil {
		answer("  contrast index", fixed(c.Value, 3), fixed(float64(c.Low), 3)+" to "+fixed(float64(c.High), 3))
	}
	answer("  average gradient needed", fixed(r.AverageGradient, 3), "")
	answer("  range at the film, log H", fixed(r.FilmLogRange, 2), flareName(r.plan.Scene.Flare))
	if b := r.BaseFog; b != nil {
		answer("  base plus fog", fixed(b.Value, 3), fixed(float64(b.Low), 3)+" to "+fixed(float64(b.High), 3))
	}
	w.table(rows)

	w.printf("\nAn even tone so many stops from the metered exposure, without flare:\n\n")
	stops, density, sd := []string{"  stops"}, []string{"  net density"}, []string{"  ±"}
	for _, t := range r.Tones {
		stops = append(stops, signed(t.StopsFromMeter))
		if t.NetDensity == nil {
			density, sd = append(density, "-"), append(sd, "")
			continue
		}
		density = append(density, fixed(t.NetDensity.Value, 2))
		sd = append(sd, strings.TrimPrefix(fixed(t.NetDensity.SD, 3), "0"))
	}
	w.table([][]string{stops, density, sd})
	w.printf("\nThe darkest tone with detail is placed %g stops below the metered exposure.\n", r.plan.Scene.ShadowStops)
	w.warnings(r.Warnings)
	w.printf("\n%s\n", startingPoint)
	return w.err
}

// figures returns a speed as people set it: whole from ten on, to two figures
// below.
func figures(v float64) string {
	if v >= 10 {
		return fixed(v, 0)
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

// setting returns the third-stop setting nearest to an exposure index. It is
// not called an ISO speed, which it is not.
func setting(ei float64) string {
	s, _ := sensito.Speed(ei).Standard()
	return strconv.FormatFloat(float64(s), 'g', -1, 64)
}

// developmentName returns N, N+1, N-0.5 ...
func developmentName(n float64) string {
	if n == 0 {
		return "N"
	}
	return "N" + signed(n)
}

func signed(n float64) string {
	s := strconv.FormatFloat(n, 'f', -1, 64)
	if n > 0 {
		s = "+" + s
	}
	return s
}

func flareName(f sensito.Flare) string {
	switch f.Kind {
	case sensito.FlareNone:
		return "no flare"
	case sensito.FlareVeil:
		return fmt.Sprintf("flare: a veil of %g of the highlights", f.Value)
	}
	loss := f.Value
	if loss == 0 {
		loss = sensito.DefaultFlareLoss
	}
	return fmt.Sprintf("flare takes %.2f", loss)
}
