package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/report/internal/page"
)

// Mix is the report of a mixture.
type Mix struct {
	Schema        string   `json:"schema"`
	Ratio         *string  `json:"ratio"` // from the concentrate; null for a dry substance, as the next two
	ConcentrateML *float64 `json:"concentrate_ml"`
	WaterML       *float64 `json:"water_ml"` // of both steps, with a stock
	TotalML       float64  `json:"total_ml"`

	Percent      *float64 `json:"percent"`       // strength wanted, grams in 100 ml; null for a dilution
	StockPercent *float64 `json:"stock_percent"` // of the solution diluted; null for none
	SubstanceG   *float64 `json:"substance_g"`   // of a dry substance; null for none
	StockRatio   *string  `json:"stock_ratio"`   // of a stock made first; null for none
	StockML      *float64 `json:"stock_ml"`

	Volumes []MixVolume `json:"volumes"` // in the order they are poured
	Measure *MixMeasure `json:"measure"` // with graduates; null where nothing is diluted
	Instead *MixMeasure `json:"instead"` // over a stock, where that is surer; null otherwise
	TankML  *float64    `json:"tank_ml"`
	Films   *MixFilms   `json:"films"`

	Cautions []string         `json:"cautions"`
	Warnings sensito.Warnings `json:"warnings"`

	mix *darkroom.Mix
}

// MixVolume is one volume in four units.
type MixVolume struct {
	Name         string  `json:"name"`
	ML           float64 `json:"ml"`
	Litres       float64 `json:"l"`
	USFlOz       float64 `json:"us_floz"`
	ImperialFlOz float64 `json:"imperial_floz"`
}

// MixMeasure is a way to measure, and what it does to the strength.
type MixMeasure struct {
	Pours           []MixPour `json:"pours"`
	Ratio           string    `json:"ratio"`
	StrengthPercent float64   `json:"strength_percent"` // above what is wanted; negative for weaker
	ReadingPercent  float64   `json:"reading_percent"`  // either way, each reading off by half a mark
	LeftML          float64   `json:"left_ml"`          // of the stock
}

// MixPour is one liquid measured, and the water it is diluted with.
type MixPour struct {
	Liquid     MixReading  `json:"liquid"`
	TopUpTo    *MixReading `json:"top_up_to"` // null where water is measured
	AddedWater *MixReading `json:"added_water"`
}

// MixReading is a volume as a graduate shows it.
type MixReading struct {
	ML         float64 `json:"ml"`
	GraduateML float64 `json:"graduate_ml"`
	MarkML     float64 `json:"mark_ml"`
	Fills      int     `json:"fills"`

	as darkroom.Graduated
}

// MixFilms is what the films have of the concentrate, and need.
type MixFilms struct {
	Formats   []MixFormat `json:"formats"`
	AreaSqIn  float64     `json:"area_sq_in"`
	AreaCm2   float64     `json:"area_cm2"`
	Per80SqIn float64     `json:"concentrate_ml_per_80_sq_in"`
	LeastML   *float64    `json:"least_ml"`   // null where not stated
	MostFilms *int        `json:"most_films"` // that the concentrate is enough for; null where formats differ
}

// MixFormat is a number of films of one format.
type MixFormat struct {
	Name     string  `json:"name"`
	Count    int     `json:"count"`
	AreaSqIn float64 `json:"area_sq_in"` // of one
	Note     string  `json:"note"`
}

// mixCautions are of mixing; hazards says the rest.
const mixCautions = "Pour acid, and any concentrate, into water, never water into it. Do not breathe dust of powders. Use no vessels of the kitchen, and label what is kept."

// NewMix reports a mixture.
func NewMix(m *darkroom.Mix) *Mix {
	s := m.Spec
	r := &Mix{Schema: "sensito/mix/1", TotalML: float64(m.Total),
		Percent: stated(s.Percent), StockPercent: stated(s.StockPercent), SubstanceG: stated(m.Grams), StockML: stated(float64(m.Stock)),
		TankML: stated(float64(s.Tank)), Measure: mixMeasure(m.Measuring), Instead: mixMeasure(m.Instead),
		Cautions: []string{mixCautions, page.Hazards}, Warnings: m.Warnings, mix: m}
	if m.Dilution.Stated() {
		ratio, concentrate, water := m.Dilution.String(), float64(m.Concentrate), float64(m.Water)
		r.Ratio, r.ConcentrateML, r.WaterML = &ratio, &concentrate, &water
	}
	if m.Stock > 0 {
		ratio := s.Stock.String()
		r.StockRatio = &ratio
	}
	r.volumes()
	if u := m.Use; u != nil {
		r.Films = &MixFilms{AreaSqIn: u.Area.SquareInches(), AreaCm2: float64(u.Area), Per80SqIn: float64(u.Each)}
		for _, f := range s.Films {
			r.Films.Formats = append(r.Films.Formats, MixFormat{f.Format.Name, f.Count, f.Format.Area.SquareInches(), f.Format.Note})
		}
		if u.Least != nil {
			r.Films.LeastML = stated(float64(*u.Least))
			if u.Most > 0 {
				r.Films.MostFilms = &u.Most
			}
		}
	}
	return r
}

// stated returns nil for zero, which means that there is none.
func stated(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return &v
}

// volumes lists what is poured.
func (r *Mix) volumes() {
	m := r.mix
	r.Volumes = []MixVolume{}
	add := func(name string, v darkroom.Volume) {
		r.Volumes = append(r.Volumes, MixVolume{name, float64(v), v.Litres(), v.USFluidOunces(), v.ImperialFluidOunces()})
	}
	switch {
	case m.Grams > 0:
	case m.Stock > 0:
		add("concentrate", m.Concentrate)
		add("water for the stock", m.Stock-m.Concentrate)
		add("stock", m.Stock)
		add("water", m.Total-m.Stock)
	default:
		add(r.liquid(), m.Concentrate)
		if m.Water > 0 {
			add("water", m.Water)
		}
	}
	add("total", m.Total)
}

// liquid names what is diluted.
func (r *Mix) liquid() string {
	if r.StockPercent != nil {
		return shortest(*r.StockPercent) + " % solution"
	}
	return "concentrate"
}

func mixMeasure(m *darkroom.Measuring) *MixMeasure {
	if m == nil {
		return nil
	}
	out := &MixMeasure{Ratio: m.Dilution.String(), StrengthPercent: 100 * m.Strength, ReadingPercent: 100 * m.Doubt, LeftML: float64(m.Left)}
	for _, p := range m.Pours {
		pour := MixPour{Liquid: mixReading(p.Liquid)}
		water := mixReading(p.Water)
		if p.TopUp {
			pour.TopUpTo = &water
		} else {
			pour.AddedWater = &water
		}
		out.Pours = append(out.Pours, pour)
	}
	return out
}

func mixReading(g darkroom.Graduated) MixReading {
	return MixReading{float64(g.Volume), float64(g.Graduate.Capacity), float64(g.Graduate.Mark), g.Fills, g}
}

// Text writes the mixture as a table of volumes and steps at the bench.
func (r *Mix) Text(out io.Writer, l Layout) error {
	w := &writer{page.NewWriter(out, l)}
	w.Printf("%s\n\n", r.title())
	r.table(w)
	r.films(w)
	switch {
	case r.SubstanceG != nil:
		w.Printf("\n")
		w.Paragraph("", "", fmt.Sprintf("Weigh %s g, dissolve it in about %s of water, and top up to %s once it is cool.",
			shortest(*r.SubstanceG), darkroom.Volume(math.Round(0.8*r.TotalML)), darkroom.Volume(r.TotalML)))
	case r.Measure != nil:
		w.Printf("\nTo measure\n")
		r.steps(w, r.Measure, r.StockML != nil)
	}
	if r.Instead != nil {
		w.Printf("\nSurer, over a stock\n")
		r.steps(w, r.Instead, false)
		w.Paragraph("  ", "  ", fmt.Sprintf("Of the stock %s are left; diluted it does not keep like the concentrate.", darkroom.Volume(r.Instead.LeftML)))
	}
	if len(r.Warnings) > 0 {
		w.Printf("\n")
	}
	w.Warnings(r.Warnings)
	w.Printf("\n")
	w.Lines(mixCautions + "\n" + page.Hazards)
	return w.Err
}

// title says what is mixed.
func (r *Mix) title() string {
	total := darkroom.Volume(r.TotalML).String()
	switch {
	case r.SubstanceG != nil:
		return shortest(*r.Percent) + " % solution, " + total
	case r.Percent != nil:
		return fmt.Sprintf("%s %% solution of %s %%, %s: %s", shortest(*r.Percent), shortest(*r.StockPercent), total, *r.Ratio)
	case r.StockRatio != nil:
		return fmt.Sprintf("Stock %s, of which %s, %s: %s in all", *r.StockRatio, r.mix.Spec.Dilution, total, *r.Ratio)
	}
	return *r.Ratio + ", " + total
}

func (r *Mix) table(w *writer) {
	places := 2
	for _, v := range r.Volumes {
		if v.ML > 0 && v.ML < 1 {
			places = 4
		}
	}
	number := func(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }
	rows := [][]string{{"", "ml", "l", "US fl oz", "imperial fl oz"}}
	for _, v := range r.Volumes {
		rows = append(rows, []string{v.Name, number(v.ML, places), number(v.Litres, places+2), number(v.USFlOz, places), number(v.ImperialFlOz, places)})
	}
	w.Table(rows)
}

// films says what the films have, and need.
func (r *Mix) films(w *writer) {
	f := r.Films
	if f == nil {
		return
	}
	w.Printf("\n")
	var names []string
	for _, format := range f.Formats {
		names = append(names, fmt.Sprintf("%dx %s", format.Count, format.Name))
	}
	text := fmt.Sprintf("%s: %.0f sq in (%.0f cm2), %s of concentrate for 80 sq in", strings.Join(names, " and "), f.AreaSqIn, f.AreaCm2, darkroom.Volume(f.Per80SqIn))
	if f.LeastML != nil {
		text += fmt.Sprintf("; the least for all of it is %s (%s)", darkroom.Volume(*f.LeastML), r.mix.Spec.Least)
		if f.MostFilms != nil {
			text += fmt.Sprintf(", and there is enough for %d of them", *f.MostFilms)
		}
	}
	w.Paragraph("", "", text+".")
	for _, format := range f.Formats {
		if format.Note != "" {
			w.Paragraph("", "", format.Name+": "+format.Note+".")
		}
	}
}

// steps writes a way to measure; all of the stock is used or a measured part.
func (r *Mix) steps(w *writer, m *MixMeasure, all bool) {
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
			say("Measure %s of %s in %s.", p.Liquid.as, name, p.Liquid.as.Vessel())
			name = "it"
		}
		if p.TopUpTo != nil {
			say("Pour %s into most of the water and top up to %s in %s%s.", name, p.TopUpTo.as, p.TopUpTo.as.Vessel(), makes)
		} else {
			say("Pour %s into %s of water, measured in %s.", name, p.AddedWater.as, p.AddedWater.as.Vessel())
		}
	}
	strength := "as strong as wanted"
	if p := m.StrengthPercent; math.Abs(p) >= 0.05 {
		strength = share(math.Abs(p)) + " stronger than wanted"
		if p < 0 {
			strength = share(math.Abs(p)) + " weaker than wanted"
		}
	}
	w.Paragraph("  ", "  ", fmt.Sprintf("That is %s, %s; half a mark at each reading moves the strength by up to %s.", m.Ratio, strength, share(m.ReadingPercent)))
}

func shortest(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
