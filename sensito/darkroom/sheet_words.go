package darkroom

import (
	"fmt"
	"math"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/decimal"
)

// CriticalText is said on every process sheet.
const CriticalText = "The time of the developer is critical. The later steps go to completion: a little longer does no harm, shorter does."

// ClearingText says how the time of a fixer follows from the clearing time.
func (s ProcessStep) ClearingText() string {
	switch f := s.ClearingFactor; f {
	case 0, 2:
		return "twice the clearing time"
	case 1:
		return "the clearing time"
	default:
		return decimal.Digits(f, 4) + " times the clearing time"
	}
}

// Label returns the bath with its dilution, "" where there is none.
func (b Bath) Label() string {
	return strings.TrimSpace(b.Name + " " + b.Ratio())
}

// Ratio returns the dilution as 1+19, "" where nothing is mixed.
func (b Bath) Ratio() string {
	if !b.dilution.Stated() {
		return ""
	}
	return b.dilution.String()
}

// Kept says whether the bath is kept, and how much it bears.
func (b Bath) Kept() string {
	switch {
	case b.OneShot:
		return OneShot
	case b.Capacity != "":
		return "kept, " + b.Capacity
	}
	return ""
}

// Kept is that of the bath, for the developer with which use it is.
func (s *Sheet) Kept(b SheetBath) string {
	u := s.Spec.Uses
	if !b.Developer || u.Number == 0 {
		return b.Kept()
	}
	text := fmt.Sprintf("use %d", u.Number)
	if u.Most > 0 {
		text += fmt.Sprintf(" of %d", u.Most)
	}
	return text
}

// LaidOut says of a bath how much of it is mixed, and for what: "Brinewater 1+19: 15 ml
// into water, to make 300 ml, one-shot".
func (s *Sheet) LaidOut(b SheetBath) string {
	text := b.Label()
	if m := b.Measure(); m != "" {
		text += ": " + m
	}
	if k := s.Kept(b); k != "" {
		text += ", " + k
	}
	if u := b.UseText(); u != "" {
		text += ". " + u
	}
	return text
}

// UseText says how often a bath was used, "" where it is not counted.
func (b SheetBath) UseText() string {
	u := b.Use
	if u == nil {
		return ""
	}
	text := fmt.Sprintf("%s, mixed %s: ", b.Name, b.Mixed)
	switch u.Before {
	case 0:
		text += "not used yet"
	case 1:
		text += "used once"
	default:
		text += fmt.Sprintf("used %d times", u.Before)
	}
	text += " " + u.by()
	if u.Area > 0 {
		text += fmt.Sprintf(" for %.0f sq in", u.Area.SquareInches())
	}
	var without []string
	if u.Unknown > 0 {
		without = append(without, fmt.Sprintf("%d without their films", u.Unknown))
	}
	if u.Unnamed > 0 && u.Logs > 1 {
		without = append(without, fmt.Sprintf("%d that do not name their baths", u.Unnamed))
	}
	if len(without) > 0 {
		text += " (" + strings.Join(without, ", ") + ")"
	}
	if u.Today > 0 {
		text += fmt.Sprintf(", with today %.0f", (u.Area + u.Today).SquareInches())
	}
	if u.Most > 0 {
		text += fmt.Sprintf(", of %.0f", u.Most.SquareInches())
	}
	return text
}

// by says which logs were counted.
func (u BathUse) by() string {
	if u.Logs > 1 {
		return fmt.Sprintf("by the %d logs of this notebook", u.Logs)
	}
	return "by this log"
}

// FilmsText says how many films of 80 square inches went through the bath, today's
// included, how many it bears, and by which logs where there are several: "7.5 of 20 films
// by the 3 logs of this notebook".
func (u BathUse) FilmsText() string {
	films := func(a sensito.Area) string { return decimal.Digits(float64(a/sensito.FilmUnit), 3) }
	text := films(u.Area + u.Today)
	if u.Most > 0 {
		text += " of " + films(u.Most)
	}
	text += " films"
	if u.Logs > 1 {
		text += " " + u.by()
	}
	return text
}

// LightText says which steps are in the dark and when light is safe.
func (s *Sheet) LightText() string {
	n := len(s.Steps)
	dark := fmt.Sprintf("steps 1 to %d", s.LightFrom-1)
	switch s.LightFrom {
	case 1:
		return "The procedure has no step in the dark."
	case 2:
		dark = "step 1"
	}
	var text string
	if v := s.Spec.Vessel; v.Closed() {
		text = fmt.Sprintf("Load and close the %s in the dark; it stays closed through %s.", v.Kind, dark)
	} else {
		text = strings.ToUpper(dark[:1]) + dark[1:] + " in complete darkness."
	}
	if s.LightFrom > n {
		return text
	}
	return text + fmt.Sprintf(" Light is safe from step %d, %s.", s.LightFrom, s.Steps[s.LightFrom-1].Name)
}

// Text says how the sheets are moved.
func (o *TrayOrder) Text() string {
	each, dip := decimal.Digits(o.EachS, 2), decimal.Digits(o.DipS, 3)
	return fmt.Sprintf("%d sheets in the tray: put them in one by one, one each %s s; draw the lowest and lay it on top, one each %s s, so that a pass takes %g s. Take them out in the order they went in, one each %s s, %s s from first to last: every sheet has the same time in every bath (common practice, no source).",
		o.Sheets, each, each, o.PassS, each, dip)
}

// FilmText names the films and their area, "" where they are not stated.
func (s *Sheet) FilmText() string {
	if len(s.Spec.Films) == 0 {
		return ""
	}
	_, area := sensito.FilmTotals(s.Spec.Films)
	return fmt.Sprintf("%s, %.0f sq in (%.0f cm2)", sensito.FilmList(s.Spec.Films), area.SquareInches(), float64(area))
}

// Measure says how the concentrate is measured and made up; "" where nothing is
// mixed.
func (b SheetBath) Measure() string {
	m := b.Mix
	switch {
	case m == nil:
		return ""
	case m.Measuring == nil:
		return fmt.Sprintf("%s as it is", m.Total)
	}
	p := m.Measuring.Pours[0]
	if p.TopUp {
		return fmt.Sprintf("%s into water, to make %s", p.Liquid, p.Water)
	}
	return fmt.Sprintf("%s and %s of water", p.Liquid, p.Water)
}

// openTime is what stands where a time is to be written in.
const openTime = "__:__"

// StartText returns what the clock shows at the start of the step, or room to
// write it.
func (s SheetStep) StartText() string {
	if s.Start == nil {
		return openTime
	}
	return s.Start.Clock(1)
}

// TimeText returns the time of the step, room to write it, or "" where the step
// lasts until it is done.
func (s SheetStep) TimeText() string {
	switch {
	case s.Time != nil:
		return s.Time.Clock(1)
	case s.From == TimeStated:
		return ""
	}
	return openTime
}

// Detail returns what is to be known of the step beside its time.
func (s SheetStep) Detail() string {
	var parts []string
	if s.Changes > 0 {
		parts = append(parts, s.ChangesText())
	}
	if s.From == TimeFromClearing {
		text := s.ClearingText()
		if s.Clearing > 0 {
			text += ", " + s.Clearing.Clock(1)
		}
		parts = append(parts, text)
	}
	if s.Celsius != 0 && s.Bath.Name != "" {
		text := sensito.Celsius(s.Celsius)
		if s.EndC != nil && *s.EndC != s.Celsius {
			text += " drifting to " + sensito.Celsius(*s.EndC)
		}
		parts = append(parts, text)
	}
	if s.Agitation != "" {
		parts = append(parts, "agitation "+s.Agitation)
	}
	if at := s.DrainFrom(); at != nil {
		parts = append(parts, "drain from "+at.Clock(1))
	} else if s.DrainSeconds > 0 {
		text := fmt.Sprintf("drain the last %g s", s.DrainSeconds)
		if s.Changes > 0 {
			text += " of each"
		}
		parts = append(parts, text)
	}
	if s.Note != "" {
		parts = append(parts, s.Note)
	}
	return strings.Join(parts, "; ")
}

// ChangesText says how often the bath of the step is changed, "" where it is not.
func (s SheetStep) ChangesText() string {
	if s.Changes == 0 {
		return ""
	}
	text := fmt.Sprintf("%d changes, %s each", s.Changes, s.Minutes.Clock(1))
	if s.Water > 0 {
		text += fmt.Sprintf(", %s l in all", decimal.Digits(s.Water.Litres(), 3))
	}
	return text
}

// Headline says for how long to develop and at which temperature.
func (s *Sheet) Headline() string {
	text := "Develop " + s.Minutes.Clock(1)
	if t := s.Process.TemperatureC; t != 0 {
		text += " at " + sensito.Celsius(t)
		if e := s.Spec.Under.EndC; e != nil && *e != t {
			text += " drifting to " + sensito.Celsius(*e)
		}
	}
	return text
}

// Basis says what the time is for, with the interval at a level of confidence.
func (s *Sheet) Basis(level float64) string {
	m := s.Spec.Minutes
	if m.StdErr == 0 {
		return "a time that you chose"
	}
	low, high := m.Interval(level)
	text := fmt.Sprintf("%g %% interval %s to %s", 100*level, low.Clock(5), high.Clock(5))
	if math.IsInf(float64(high), 1) {
		text = fmt.Sprintf("%g %% interval %s or longer", 100*level, low.Clock(5))
	}
	if d := s.Spec.Delivered; d != nil {
		low, high := d.Interval(level)
		text += fmt.Sprintf("; it gives a density range of %.2f, %.2f to %.2f", float64(d.Value), float64(low), float64(high))
	}
	if m := s.Spec.AsTested; m != nil {
		text += "; as tested " + m.Value.Clock(5)
	}
	if s.Spec.For != "" {
		text = "for " + s.Spec.For + " (" + text + ")"
	}
	return text
}

// Area returns the area of the films, 0 when they are not stated.
func (s *Sheet) Area() sensito.Area {
	_, area := sensito.FilmTotals(s.Spec.Films)
	return area
}
