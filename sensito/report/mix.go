package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/answers"
	"sensito/sensito/darkroom"
	"sensito/sensito/report/internal/page"
)

// Mix is the report of a mixture.
type Mix struct{ mix *darkroom.Mix }

// mixCautions are of mixing; hazards says the rest.
const mixCautions = "Pour acid, and any concentrate, into water, never water into it. Do not breathe dust of powders. Use no vessels of the kitchen, and label what is kept."

// Cautions are those of mixing, then those of all chemicals.
func Cautions() []string { return []string{mixCautions, page.Hazards} }

// NewMix reports a mixture.
func NewMix(m *darkroom.Mix) *Mix { return &Mix{m} }

// MarshalJSON writes all that is known of the mixture.
func (r *Mix) MarshalJSON() ([]byte, error) {
	m, s := r.mix, r.mix.Spec
	var ratio, concentrate, water, stock any
	if m.Dilution.Stated() {
		ratio, concentrate, water = m.Dilution.String(), m.Concentrate, m.Water
	}
	if m.Stock > 0 {
		stock = s.Stock.String()
	}
	return object{
		{"schema", "sensito/mix/1"},
		{"ratio", ratio}, {"concentrate_ml", concentrate}, // from the concentrate; null for a dry substance, as the next
		{"water_ml", water}, // of both steps, with a stock
		{"total_ml", m.Total},
		{"percent", stated(s.Percent)},                                 // strength wanted, grams in 100 ml; null for a dilution
		{"stock_percent", stated(s.StockPercent)},                      // of the solution diluted; null for none
		{"substance_g", stated(m.Grams)},                               // of a dry substance; null for none
		{"stock_ratio", stock}, {"stock_ml", stated(float64(m.Stock))}, // of a stock made first; null for none
		{"volumes", objects(r.volumes(), func(v volume) object { // in the order they are poured
			return object{{"name", v.name}, {"ml", v.Volume}, {"l", v.Litres()}, {"us_floz", v.USFluidOunces()}, {"imperial_floz", v.ImperialFluidOunces()}}
		})},
		{"measure", measuring(m.Measuring)}, // with graduates; null where nothing is diluted
		{"instead", measuring(m.Instead)},   // over a stock, where that is surer; null otherwise
		{"tank_ml", stated(float64(s.Tank))}, {"films", r.use()},
		{"cautions", Cautions()}, {"warnings", m.Warnings},
	}.MarshalJSON()
}

// use is what the films have of the concentrate, and need; null without films.
func (r *Mix) use() object {
	u := r.mix.Use
	if u == nil {
		return nil
	}
	var least, most any // null where not stated; most, where formats differ too
	if u.Least != nil {
		least = stated(float64(*u.Least))
		if u.Most > 0 {
			most = u.Most
		}
	}
	return object{
		{"formats", objects(r.mix.Spec.Films, func(f sensito.Films) object {
			return object{{"name", f.Format.Name}, {"count", f.Count}, {"area_sq_in", f.Format.Area.SquareInches()}, {"note", f.Format.Note}} // of one
		})},
		{"area_sq_in", u.Area.SquareInches()}, {"area_cm2", u.Area}, {"concentrate_ml_per_80_sq_in", u.Each},
		{"least_ml", least}, {"most_films", most}, // that the concentrate is enough for
	}
}

// measuring is a way to measure, and what it does to the strength.
func measuring(m *darkroom.Measuring) object {
	if m == nil {
		return nil
	}
	return object{
		{"pours", objects(m.Pours, func(p darkroom.Pour) object {
			water, added := graduated(p.Water), object(nil)
			if !p.TopUp {
				water, added = nil, water
			}
			return object{{"liquid", graduated(p.Liquid)}, {"top_up_to", water}, {"added_water", added}} // null where water is measured
		})},
		{"ratio", m.Dilution.String()},
		{"strength_percent", 100 * m.Strength}, // above what is wanted; negative for weaker
		{"reading_percent", 100 * m.Doubt},     // either way, each reading off by half a mark
		{"left_ml", m.Left},                    // of the stock
	}
}

// graduated is a volume as a graduate shows it.
func graduated(g darkroom.Graduated) object {
	return object{{"ml", g.Volume}, {"graduate_ml", g.Graduate.Capacity}, {"mark_ml", g.Graduate.Mark}, {"fills", g.Fills}}
}

// A volume is one that is poured, or comes of it.
type volume struct {
	name string
	darkroom.Volume
}

// volumes lists what is poured.
func (r *Mix) volumes() []volume {
	m := r.mix
	total := volume{"total", m.Total}
	switch {
	case m.Grams > 0:
		return []volume{total}
	case m.Stock > 0:
		return []volume{{"concentrate", m.Concentrate}, {"water for the stock", m.Stock - m.Concentrate}, {"stock", m.Stock}, {"water", m.Total - m.Stock}, total}
	case m.Water > 0:
		return []volume{{r.liquid(), m.Concentrate}, {"water", m.Water}, total}
	}
	return []volume{{r.liquid(), m.Concentrate}, total}
}

// liquid names what is diluted.
func (r *Mix) liquid() string {
	if p := r.mix.Spec.StockPercent; p != 0 {
		return shortest(p) + " % solution"
	}
	return "concentrate"
}

// Text writes the mixture as a table of volumes and steps at the bench.
func (r *Mix) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Printf("%s\n\n", r.title())
	r.table(w)
	r.films(w)
	m := r.mix
	switch {
	case m.Grams != 0:
		w.Printf("\n")
		w.Paragraph("", "", fmt.Sprintf("Weigh %s g, dissolve it in about %s of water, and top up to %s once it is cool.",
			shortest(m.Grams), darkroom.Volume(math.Round(0.8*float64(m.Total))), m.Total))
	case m.Measuring != nil:
		w.Printf("\nTo measure\n")
		r.steps(w, m.Measuring, m.Stock != 0)
	}
	if m.Instead != nil {
		w.Printf("\nSurer, over a stock\n")
		r.steps(w, m.Instead, false)
		w.Paragraph("  ", "  ", fmt.Sprintf("Of the stock %s are left; diluted it does not keep like the concentrate.", m.Instead.Left))
	}
	if len(m.Warnings) > 0 {
		w.Printf("\n")
	}
	w.Warnings(m.Warnings)
	w.Printf("\n")
	w.Lines(mixCautions + "\n" + page.Hazards)
	return w.Err
}

// title says what is mixed.
func (r *Mix) title() string {
	m, s := r.mix, r.mix.Spec
	total := m.Total.String()
	switch {
	case m.Grams != 0:
		return shortest(s.Percent) + " % solution, " + total
	case s.Percent != 0:
		return fmt.Sprintf("%s %% solution of %s %%, %s: %s", shortest(s.Percent), shortest(s.StockPercent), total, m.Dilution)
	case m.Stock > 0:
		return fmt.Sprintf("Stock %s, of which %s, %s: %s in all", s.Stock, s.Dilution, total, m.Dilution)
	}
	return m.Dilution.String() + ", " + total
}

func (r *Mix) table(w *writer) {
	places := 2
	for _, v := range r.volumes() {
		if v.Volume > 0 && v.Volume < 1 {
			places = 4
		}
	}
	number := func(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }
	rows := [][]string{{"", "ml", "l", "US fl oz", "imperial fl oz"}}
	for _, v := range r.volumes() {
		rows = append(rows, []string{v.name, number(float64(v.Volume), places), number(v.Litres(), places+2), number(v.USFluidOunces(), places), number(v.ImperialFluidOunces(), places)})
	}
	w.Table(rows)
}

// films says what the films have, and need.
func (r *Mix) films(w *writer) {
	u := r.mix.Use
	if u == nil {
		return
	}
	w.Printf("\n")
	var names []string
	for _, f := range r.mix.Spec.Films {
		names = append(names, fmt.Sprintf("%dx %s", f.Count, f.Format.Name))
	}
	text := fmt.Sprintf("%s: %.0f sq in (%.0f cm2), %s of concentrate for 80 sq in", strings.Join(names, " and "), u.Area.SquareInches(), float64(u.Area), u.Each)
	if u.Least != nil {
		text += fmt.Sprintf("; the least for all of it is %s (%s)", *u.Least, r.mix.Spec.Least)
		if u.Most > 0 {
			text += fmt.Sprintf(", and there is enough for %d of them", u.Most)
		}
	}
	w.Paragraph("", "", text+".")
	for _, f := range r.mix.Spec.Films {
		if f.Format.Note != "" {
			w.Paragraph("", "", f.Format.Name+": "+f.Format.Note+".")
		}
	}
}

// steps writes a way to measure; all of the stock is used or a measured part.
func (r *Mix) steps(w *writer, m *darkroom.Measuring, all bool) {
	step := 0
	say := func(format string, args ...any) {
		step++
		w.Paragraph(fmt.Sprintf("  %d. ", step), "     ", fmt.Sprintf(format, args...))
	}
	for i, p := range m.Pours {
		name, makes := r.liquid(), ""
		if len(m.Pours) == 2 && i == 0 {
			makes = ": the stock"
		}
		if i == 1 {
			name = "the stock"
		}
		if i == 1 && all {
			name = "all of the stock"
		} else {
			say("Measure %s of %s in %s.", p.Liquid, name, p.Liquid.Vessel())
			name = "it"
		}
		if p.TopUp {
			say("Pour %s into most of the water and top up to %s in %s%s.", name, p.Water, p.Water.Vessel(), makes)
		} else {
			say("Pour %s into %s of water, measured in %s.", name, p.Water, p.Water.Vessel())
		}
	}
	strength := "as strong as wanted"
	if p := 100 * m.Strength; math.Abs(p) >= 0.05 {
		strength = answers.Share(math.Abs(p)) + " stronger than wanted"
		if p < 0 {
			strength = answers.Share(math.Abs(p)) + " weaker than wanted"
		}
	}
	w.Paragraph("  ", "  ", fmt.Sprintf("That is %s, %s; half a mark at each reading moves the strength by up to %s.", m.Dilution, strength, answers.Share(100*m.Doubt)))
}

func shortest(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
