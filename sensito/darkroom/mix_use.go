package darkroom

import (
	"fmt"
	"math"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// Least is the least concentrate that film needs, from the product's sheet. The
// zero value states none.
type Least struct {
	Concentrate Volume
	Per         sensito.Area // 0 means for each film
}

// of returns the concentrate that the films need at least.
func (l Least) of(count int, area sensito.Area) Volume {
	if l.Per == 0 {
		return l.Concentrate * Volume(count)
	}
	return l.Concentrate * Volume(area/l.Per)
}

// String returns the least and what it is for, as "5 ml for 80 sq in".
func (l Least) String() string {
	switch l.Per {
	case 0:
		return l.Concentrate.String() + " a film"
	case sensito.FilmUnit:
		return l.Concentrate.String() + " for 80 sq in"
	}
	return fmt.Sprintf("%s for %s cm2", l.Concentrate, decimal.Digits(float64(l.Per), 5))
}

var perForm = lazy.Regexp(`^(?:` + decimal.Form + `\s*)?(film|sheet|roll|in2|sq\s*in|cm2|sq\s*cm|m2)$`)

// ParseLeast reads a least amount of concentrate and says in which system its
// volume is written: "6ml" for 80 square inches, or "6ml/film", "6ml/80in2",
// "5ml/500cm2".
func ParseLeast(text string) (Least, VolumeSystem, error) {
	amount, per, stated := strings.Cut(text, "/")
	v, system, err := ParseVolume(amount)
	if err != nil {
		return Least{}, system, err
	}
	if !stated {
		return Least{v, sensito.FilmUnit}, system, nil
	}
	part := perForm().FindStringSubmatch(strings.ToLower(strings.TrimSpace(per)))
	if part == nil {
		return Least{}, system, fmt.Errorf("%q: %q is not film, or an area like 80in2, 500cm2 or 1m2", text, per)
	}
	number := 1.0
	if part[1] != "" {
		if number, err = decimal.Parse(part[1]); err != nil {
			return Least{}, system, fmt.Errorf("%q: %w", text, err)
		}
	}
	unit := sensito.Area(0)
	switch strings.Join(strings.Fields(part[2]), "") {
	case "in2", "sqin":
		unit = sensito.SquareInch
	case "cm2", "sqcm":
		unit = sensito.SquareCm
	case "m2":
		unit = 1e4 * sensito.SquareCm
	default:
		if number != 1 {
			return Least{}, system, fmt.Errorf("%q: state the concentrate for one %s", text, part[2])
		}
		return Least{v, 0}, system, nil
	}
	area := sensito.Area(number) * unit
	if !(area >= 1 && area <= 1e6) {
		return Least{}, system, fmt.Errorf("%q: an area is outside 1 cm2 to 100 m2", text)
	}
	return Least{v, area}, system, nil
}

// Use is what the films have of the concentrate.
type Use struct {
	Count int          // of films
	Area  sensito.Area // of all of them
	Each  Volume       // of concentrate for 80 square inches of film
	Least *Volume      // that all of them need; nil where none was stated
	Most  int          // so many films of one format the concentrate is enough for; 0 where formats differ or Least is nil
}

// use compares the concentrate with what the films need.
func (m *Mix) use() error {
	s := m.Spec
	if len(s.Films) == 0 {
		if s.Least.Concentrate > 0 {
			return fmt.Errorf("a least amount of concentrate needs the films")
		}
		return nil
	}
	u := &Use{}
	u.Count, u.Area = sensito.FilmTotals(s.Films)
	u.Each = m.Concentrate / Volume(u.Area/sensito.FilmUnit)
	m.Use = u
	if s.Least.Concentrate == 0 {
		m.Warnings.Add("least_unknown", u.Each)
		return nil
	}
	need := s.Least.of(u.Count, u.Area)
	u.Least = &need
	if len(s.Films) == 1 {
		u.Most = int(math.Floor(float64(m.Concentrate/s.Least.of(1, s.Films[0].Format.Area)) * (1 + 1e-9)))
	}
	if m.Concentrate >= need*(1-1e-9) {
		return nil
	}
	return &sensito.Unanswerable{
		Reason: fmt.Sprintf("%s of concentrate are too little for %s: %s (%s) are the least, and the developer would be exhausted before the film is developed",
			m.Concentrate, filmList(s.Films), need, s.Least),
		Hint: m.enough(need),
	}
}

// enough says what would do where there is too little concentrate.
func (m *Mix) enough(need Volume) string {
	var ways []string
	if m.Use.Most > 0 {
		ways = append(ways, fmt.Sprintf("at most %s at once", sensito.Films{Format: m.Spec.Films[0].Format, Count: m.Use.Most}))
	}
	volume := Volume(math.Ceil(float64(need)*m.Dilution.Parts()/10*(1-1e-9))) * 10
	way := fmt.Sprintf("at least %s of %s", volume, m.Dilution)
	if m.Spec.Tank > 0 && volume > m.Spec.Tank {
		way += ", which needs a larger vessel"
	}
	ways = append(ways, way)
	if water := float64(m.Total/need) - 1; water >= 0.1 {
		step := 10.0 // down to a tenth, or a whole number from 3 on
		if water >= 3 {
			step = 1
		}
		ways = append(ways, fmt.Sprintf("%s in %s, with the time tested for it", diluted(1+math.Floor(water*step+1e-9)/step), m.Total))
	} else if water < 0 {
		ways = append(ways, fmt.Sprintf("even undiluted %s are not enough", m.Total))
	}
	return strings.Join(ways, "; or ")
}

func filmList(films []sensito.Films) string {
	var names []string
	for _, f := range films {
		names = append(names, f.String())
	}
	return strings.Join(names, " and ")
}
