package report

import (
	"fmt"
	"io"
	"strings"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
)

// Curve is the report of the strips of one trial.
type Curve struct {
	Schema string       `json:"schema"`
	Trial  string       `json:"trial"`
	Strips []CurveStrip `json:"strips"`

	heading   string
	gradient  string
	noise     string
	pointName string
	exposed   bool // for different times
}

// CurveStrip is one strip of a Curve report.
type CurveStrip struct {
	Minutes                 float64          `json:"minutes"`
	Exposed                 *float64         `json:"exposed_s"` // null unless by contact
	Model                   *string          `json:"model"`
	BaseFog                 *Quantity        `json:"base_fog"`
	SpeedPoint              *Quantity        `json:"speed_point_log_h_lxs"`
	Speed                   *Quantity        `json:"speed"`
	ISOConditionsMet        *bool            `json:"iso_conditions_met"`
	ContrastIndex           *Quantity        `json:"contrast_index"`
	AverageGradient         *Quantity        `json:"average_gradient"`
	Gamma                   *Quantity        `json:"gamma"`
	ISODensityDifference    *Quantity        `json:"iso_density_difference"`
	FractionalGradientSpeed *Quantity        `json:"fractional_gradient_speed"`
	MaxDensity              *Quantity        `json:"max_density"`
	ResidualSD              *float64         `json:"residual_sd"`
	SetAside                []SetAside       `json:"set_aside"`
	Reversed                []int            `json:"reversed_steps"` // left out, beyond the densest part
	Warnings                sensito.Warnings `json:"warnings"`

	deltaX *Quantity
	number int
}

// SetAside is a reading that was not used.
type SetAside struct {
	Step     int     `json:"step"`
	Density  float64 `json:"density"`
	Expected float64 `json:"expected"`
}

// NewCurve reports measured strips of one trial, with intervals at the given
// level of confidence.
func NewCurve(t *sensito.Trial, ms []*curve.Measured, level float64) *Curve {
	r := &Curve{Schema: "sensito/curve/1", Trial: name(t), Strips: []CurveStrip{}, heading: heading(t)}
	for _, m := range ms {
		r.gradient = gradientName(m.Gradient)
		unit := unitLogH
		r.pointName = "speed point, log lx s"
		if !t.Exposures().Absolute() {
			unit, r.pointName = unitLogRel, "speed point, relative"
		}
		s := CurveStrip{
			Minutes:                 float64(m.Strip.Minutes()),
			BaseFog:                 quantity(m.BaseFog, level, unitOne),
			SpeedPoint:              quantity(m.SpeedPoint, level, unit),
			Speed:                   quantity(m.Speed, level, unitOne),
			ISOConditionsMet:        m.ISOMet,
			ContrastIndex:           quantity(m.ContrastIndex, level, unitOne),
			AverageGradient:         quantity(m.AverageGradient, level, unitOne),
			Gamma:                   quantity(m.Gamma, level, unitOne),
			ISODensityDifference:    quantity(m.ISODifference, level, unitOne),
			FractionalGradientSpeed: quantity(m.FractionalGradientSpeed, level, unitOne),
			MaxDensity:              quantity(m.MaxDensity, level, unitOne),
			SetAside:                []SetAside{},
			Reversed:                []int{},
			Warnings:                m.Warnings,
			deltaX:                  quantity(m.DeltaXSpeed, level, unitOne),
			number:                  m.Strip.Number(),
		}
		if exposed := m.Strip.Seconds(); exposed != 0 {
			seconds := float64(exposed)
			s.Exposed = &seconds
			r.exposed = r.exposed || exposed != t.Exposures().Seconds()
		}
		if m.Fit != nil {
			r.noise = noiseName(m.Fit.Noise)
			scatter := float64(m.Fit.ResidualSD)
			s.Model, s.ResidualSD = &m.Fit.Model, &scatter
			s.Reversed = append(s.Reversed, m.Fit.Reversed...)
			for _, a := range m.Fit.SetAside {
				s.SetAside = append(s.SetAside, SetAside{Step: a.Step, Density: float64(a.Density), Expected: float64(a.Expected)})
			}
		}
		r.Strips = append(r.Strips, s)
	}
	return r
}

func gradientName(g curve.Gradient) string {
	if g.To != 0 {
		return fmt.Sprintf("average gradient, net %.2f to %.2f", float64(g.From), float64(g.To))
	}
	run := "run"
	if g.Arc {
		run = "arc"
	}
	return fmt.Sprintf("average gradient, %.2f over %s %.2f", float64(g.From), run, float64(g.Span))
}

func noiseName(n fit.Noise) string {
	if n == fit.NoiseGiven {
		return "stated repeatability"
	}
	return "scatter of the readings"
}

// forms says which form of curve was fitted to which strips.
func (r *Curve) forms() string {
	var names []string
	strips := map[string][]string{}
	for _, s := range r.Strips {
		if s.Model == nil {
			continue
		}
		if strips[*s.Model] == nil {
			names = append(names, *s.Model)
		}
		strips[*s.Model] = append(strips[*s.Model], clock(s.Minutes, 1))
	}
	if len(names) == 1 {
		return "Curves fitted: " + names[0] + "."
	}
	for i, n := range names {
		names[i] = fmt.Sprintf("%s (%s)", n, strings.Join(strips[n], ", "))
	}
	return "Curves fitted: " + strings.Join(names, "; ") + "."
}

// Text writes the strips side by side, four at a time.
func (r *Curve) Text(out io.Writer) error {
	w := &writer{w: out}
	w.printf("%s\n", r.heading)
	const abreast = 4
	for at := 0; at < len(r.Strips); at += abreast {
		strips := r.Strips[at:min(at+abreast, len(r.Strips))]
		row := func(label string, cell func(CurveStrip) string) []string {
			cells := []string{label}
			for _, s := range strips {
				cells = append(cells, cell(s))
			}
			return cells
		}
		value := func(label string, q func(CurveStrip) *Quantity) []string {
			return row(label, func(s CurveStrip) string { return q(s).String() })
		}
		w.printf("\n")
		rows := [][]string{row("developed, min:s", func(s CurveStrip) string { return clock(s.Minutes, 1) })}
		if r.exposed {
			rows = append(rows, row("exposed", func(s CurveStrip) string { return sensito.Seconds(*s.Exposed).String() }))
		}
		w.table(append(rows, [][]string{
			value("base plus fog", func(s CurveStrip) *Quantity { return s.BaseFog }),
			value(r.pointName, func(s CurveStrip) *Quantity { return s.SpeedPoint }),
			value("speed 0.8/H", func(s CurveStrip) *Quantity { return s.Speed }),
			row("  nearest standard", func(s CurveStrip) string { return standard(s.Speed) }),
			row("  ISO contrast met", func(s CurveStrip) string { return yesNo(s.ISOConditionsMet) }),
			value("  ISO difference", func(s CurveStrip) *Quantity { return s.ISODensityDifference }),
			value("fractional-gradient", func(s CurveStrip) *Quantity { return s.FractionalGradientSpeed }),
			value("  by Delta-X", func(s CurveStrip) *Quantity { return s.deltaX }),
			value("contrast index", func(s CurveStrip) *Quantity { return s.ContrastIndex }),
			value("average gradient", func(s CurveStrip) *Quantity { return s.AverageGradient }),
			value("gamma", func(s CurveStrip) *Quantity { return s.Gamma }),
			value("density, last step", func(s CurveStrip) *Quantity { return s.MaxDensity }),
			row("scatter of readings", func(s CurveStrip) string {
				if s.ResidualSD == nil {
					return "-"
				}
				return fixed(*s.ResidualSD, 3)
			}),
		}...))
	}
	w.printf("\n")
	w.paragraph("", "", fmt.Sprintf("± one standard deviation, from the %s; %s. %s", r.noise, r.gradient, r.forms()))
	for _, text := range r.notes() {
		w.paragraph("! ", "  ", text)
	}
	return w.err
}

// notes returns the warnings of the strips, those that several share once.
func (r *Curve) notes() []string {
	var messages []string
	strips := map[string][]string{}
	for _, s := range r.Strips {
		for _, warning := range s.Warnings {
			if strips[warning.Message()] == nil {
				messages = append(messages, warning.Message())
			}
			strips[warning.Message()] = append(strips[warning.Message()], fmt.Sprintf("%s (strip %d)", clock(s.Minutes, 1), s.number))
		}
	}
	for i, m := range messages {
		if len(strips[m]) == len(r.Strips) && len(r.Strips) > 1 {
			messages[i] = "all strips: " + m
			continue
		}
		messages[i] = strings.Join(strips[m], ", ") + ": " + m
	}
	return messages
}

// standard returns the standard speed nearest to a speed, with its degrees.
func standard(q *Quantity) string {
	if q == nil {
		return "-"
	}
	s, degrees := sensito.Speed(q.Value).Standard()
	return fmt.Sprintf("%g/%d°", float64(s), degrees)
}

func yesNo(b *bool) string {
	switch {
	case b == nil:
		return "-"
	case *b:
		return "yes"
	}
	return "no"
}
