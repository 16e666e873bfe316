package sensito

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// Area is an area of film in square centimetres.
type Area float64

// Units of an Area: 3 * SquareInch is that in square centimetres.
const (
	SquareInch Area = 6.4516 // exact
	SquareCm   Area = 1

	// FilmUnit is the area that capacities are stated for, called one film: a
	// roll, or a sheet of 8x10 in.
	FilmUnit Area = 80 * SquareInch
)

// SquareInches returns the area in square inches.
func (a Area) SquareInches() float64 { return float64(a / SquareInch) }

// A Format is a size of film. Sheets count with their nominal size.
type Format struct {
	Name string // "4x5in", "135-36", "9x12cm"
	Area Area   // of one film
	Note string // what is to be said about the area; may be empty
}

// rolls are counted as capacities count them, 36 exposures or a roll 120 as 80
// square inches (common practice, no source); the lengths are from memory. The
// others have as much of that as they have length.
var rolls = map[string]Format{
	"135-36": {"135-36", FilmUnit, "counted as 80 sq in, as capacities do; 35 mm by about 1.6 m are 87"},
	"135-24": {"135-24", 58 * SquareInch, "counted as 58 sq in, by its length against 36 exposures"},
	"135-12": {"135-12", 34 * SquareInch, "counted as 34 sq in, by its length against 36 exposures"},
	"120":    {"120", FilmUnit, "counted as 80 sq in, as capacities do; 61.5 mm by about 0.83 m are 79"},
	"220":    {"220", 2 * FilmUnit, "counted as two rolls 120, 160 sq in"},
}

// uncounted rolls come in several lengths.
var uncounted = map[string]bool{"135": true, "35mm": true}

// inchSheets are written without a unit by everybody.
var inchSheets = map[string]bool{"2.25x3.25": true, "4x5": true, "5x7": true, "8x10": true, "11x14": true, "7x17": true, "8x20": true, "12x20": true}

// FormatNames returns the names of rolls and of the usual sheets, each of which
// ParseFormat reads.
func FormatNames() []string {
	names := slices.Collect(maps.Keys(rolls))
	for size := range inchSheets {
		names = append(names, size+"in")
	}
	slices.Sort(names)
	return names
}

var sizeForm = lazy.Regexp(`^` + decimal.Form + `\s*[x×*]\s*` + decimal.Form + `\s*(in|inch|inches|"|cm|mm)?$`)

// ParseFormat reads a film format: "135-36", "120", "4x5in", "9x12cm" or any
// size in in, cm or mm. The error names the text and the forms or limits.
func ParseFormat(text string) (Format, error) {
	name := strings.ToLower(strings.TrimSpace(text))
	if roll, ok := rolls[name]; ok {
		return roll, nil
	}
	if uncounted[name] {
		return Format{}, fmt.Errorf("%q does not say how many exposures: write 135-36, 135-24 or 135-12", text)
	}
	part := sizeForm().FindStringSubmatch(name)
	if part == nil {
		return Format{}, fmt.Errorf("%q is not a film format like 135-36, 120, 4x5in or 9x12cm", text)
	}
	width, errW := decimal.Parse(part[1])
	height, errH := decimal.Parse(part[2])
	if err := errors.Join(errW, errH); err != nil {
		return Format{}, fmt.Errorf("%q: %w", text, err)
	}
	unit, cm, square := part[3], 1.0, SquareCm
	plain := plainNumber(width) + "x" + plainNumber(height)
	switch unit {
	case "mm":
		cm, square = 0.1, SquareCm/100
	case "cm":
	case "":
		if !inchSheets[plain] {
			return Format{}, fmt.Errorf("%q has no unit: write %sin or %scm", text, plain, plain)
		}
		unit, cm, square = "in", 2.54, SquareInch
	default:
		unit, cm, square = "in", 2.54, SquareInch
	}
	const least, most = 0.5, 300
	for _, side := range []float64{width * cm, height * cm} {
		if !(side >= least && side <= most) {
			return Format{}, fmt.Errorf("%q: a side of %.4g cm is outside %g to %g cm", text, side, least, float64(most))
		}
	}
	return Format{Name: plain + unit, Area: Area(width*height) * square}, nil
}

// Films is a number of films of one format.
type Films struct {
	Format Format
	Count  int
}

// Area returns the area of all of them.
func (f Films) Area() Area { return Area(f.Count) * f.Format.Area }

// String returns the number and the format, as "2x 120".
func (f Films) String() string { return strconv.Itoa(f.Count) + "x " + f.Format.Name }

// FilmTotals returns how many films there are, and their area.
func FilmTotals(films []Films) (count int, area Area) {
	for _, f := range films {
		count += f.Count
		area += f.Area()
	}
	return count, area
}

// A count stands before a format as "4x ", "4 " or "4 x "; "4x4x5in" and
// "2x120" are as clear.
var countForm = lazy.Regexp(`^(\d{1,4})\s*(?:[x×*]\s*|\s)(.+)$`)

// ParseFilms reads films such as "4x 4x5in" or "2x 120, 135-36": formats with
// an optional count before each, joined by commas, semicolons or plus signs. A
// format that itself has a decimal comma is written with a point.
func ParseFilms(text string) ([]Films, error) {
	var all []Films
	for item := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ',' || r == ';' || r == '+' }) {
		item = strings.TrimSpace(item)
		if format, err := ParseFormat(item); err == nil {
			all = append(all, Films{format, 1})
			continue
		}
		part := countForm().FindStringSubmatch(item)
		if part == nil {
			return nil, fmt.Errorf("%q is not films like 4x 4x5in, 2x 120 or 135-36", item)
		}
		format, err := ParseFormat(part[2])
		if err != nil {
			if _, whole := ParseFormat(item); sizeForm().MatchString(strings.ToLower(item)) && !uncounted[strings.ToLower(part[2])] {
				err = whole // a size without its unit, not a count
			}
			return nil, err
		}
		count, err := strconv.Atoi(part[1])
		if err != nil || count < 1 || count > 1000 {
			return nil, fmt.Errorf("%q: a number of %s films is outside 1 to 1000", item, part[1])
		}
		all = append(all, Films{format, count})
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%q names no films like 4x 4x5in, 2x 120 or 135-36", text)
	}
	if len(all) > 100 {
		return nil, fmt.Errorf("%d kinds of films are more than 100", len(all))
	}
	return all, nil
}

// plainNumber writes a number without needless zeros.
func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
