package sensito

import (
	"errors"
	"fmt"
	"strings"

	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// A Dilution is parts of concentrate to parts of water, as 1+31. The zero value
// states none.
type Dilution struct {
	Concentrate, Water float64 // parts, Concentrate above zero

	// Colon says that it was written 1:31, which some read as 1 in 31.
	Colon bool
}

// Undiluted is a stock solution used as it is.
var Undiluted = Dilution{Concentrate: 1}

// MaxWaterParts is the most water that a dilution has to one part of concentrate.
const MaxWaterParts = 10_000

// Stated reports whether the dilution is one.
func (d Dilution) Stated() bool { return d.Concentrate > 0 }

// Parts returns how many parts one part of concentrate makes: 32 for 1+31.
func (d Dilution) Parts() float64 { return (d.Concentrate + d.Water) / d.Concentrate }

// String returns the dilution as 1+31, to four digits, or "stock" when there is
// no water in it.
func (d Dilution) String() string {
	if d.Water == 0 {
		return "stock"
	}
	return decimal.Digits(d.Concentrate, 4) + "+" + decimal.Digits(d.Water, 4)
}

var dilutionText = lazy.Regexp(`^` + decimal.Form + `\s*([+:])\s*` + decimal.Form + `$`)

// ParseDilution reads "1+31", "1:31" or "stock". A colon is read as a plus, as
// most photographic makers mean it, and noted in Colon. The error names the
// text and the forms or limits.
func ParseDilution(text string) (Dilution, error) {
	plain := strings.ToLower(strings.TrimSpace(text))
	if plain == "stock" || plain == "undiluted" {
		return Undiluted, nil
	}
	part := dilutionText().FindStringSubmatch(plain)
	if part == nil {
		if strings.Count(plain, "+") == 2 {
			return Dilution{}, fmt.Errorf("%q has three parts: of two concentrates, mix each by itself as one part in all of them (A of 1+1+100 is 1+101), in half of the water", text)
		}
		return Dilution{}, fmt.Errorf("%q is not a dilution like 1+31 (parts concentrate + parts water) or stock", text)
	}
	concentrate, errC := decimal.Parse(part[1])
	water, errW := decimal.Parse(part[3])
	if err := errors.Join(errC, errW); err != nil {
		return Dilution{}, fmt.Errorf("%q: %w", text, err)
	}
	d := Dilution{Concentrate: concentrate, Water: water, Colon: part[2] == ":"}
	switch {
	case !(concentrate > 0):
		return Dilution{}, fmt.Errorf("%q has no concentrate in it", text)
	case d.Colon && water == 0:
		return Dilution{}, fmt.Errorf("%q has no water in it: write stock", text)
	case !(water <= MaxWaterParts*concentrate) || concentrate > MaxWaterParts:
		return Dilution{}, fmt.Errorf("%q is outside 1+0 to 1+%d", text, MaxWaterParts)
	case water > 0 && water < concentrate/1000:
		return Dilution{}, fmt.Errorf("%q is as good as undiluted: write stock", text)
	}
	return d, nil
}

// SplitDilution takes the dilution off the end of a developer's name, as of
// "Ashlar 1+4"; it is "" where the last word is none.
func SplitDilution(text string) (developer, dilution string) {
	words := strings.Fields(text)
	if n := len(words); n > 1 {
		last := words[n-1]
		if _, err := ParseDilution(last); err == nil || strings.Contains(last, "+") {
			return strings.Join(words[:n-1], " "), last
		}
	}
	return strings.Join(words, " "), ""
}

// ParsePercent reads a strength such as "10%", grams in 100 ml of solution.
func ParsePercent(text string) (float64, error) {
	number, found := strings.CutSuffix(strings.TrimSpace(text), "%")
	number = strings.TrimSpace(number)
	if !found || !wholeNumber().MatchString(number) {
		return 0, fmt.Errorf("%q is not a strength like 10%%, grams in 100 ml", text)
	}
	v, err := decimal.Parse(number)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	if !(v >= 0.0001 && v <= 100) {
		return 0, fmt.Errorf("%q is outside 0.0001 to 100 %%", text)
	}
	return v, nil
}

var wholeNumber = lazy.Regexp(`^` + decimal.Form + `$`)

// CheckDilution returns an error unless text is a dilution as it is kept and compared, like
// 1+19 or "stock". Of one that ParseDilution reads, it says how to write it.
func CheckDilution(text string) error {
	if dilutionForm().MatchString(text) {
		return nil
	}
	write := ""
	if d, err := ParseDilution(text); err == nil {
		write = ": write " + d.String()
		if d.Colon && d.Water > d.Concentrate {
			inAll := Dilution{Concentrate: d.Concentrate, Water: d.Water - d.Concentrate}
			write += fmt.Sprintf(", or %v if it says 1 part in %s", inAll, decimal.Digits(d.Water/d.Concentrate, 4))
		}
	}
	return fmt.Errorf("%q is not of the form 1+19 (parts concentrate + parts water) or stock%s", text, write)
}

var dilutionForm = lazy.Regexp(`^(stock|\d+(\.\d+)?\+\d+(\.\d+)?)$`)
