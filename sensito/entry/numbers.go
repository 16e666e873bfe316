package entry

import (
	"fmt"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/internal/decimal"
	"sensito/sensito/internal/lazy"
)

// ParseNumber reads a number as it is typed into a form: 0.5, 0,5, 1/2 or 1 1/2. The
// error names the text, and what a text such as 1,000 can mean.
func ParseNumber(text string) (float64, error) {
	text = strings.TrimSpace(text)
	if whole := strings.TrimLeft(text, "+-"); numberForm().MatchString(whole) {
		if _, err := decimal.Parse(whole); err != nil {
			return 0, err
		}
	}
	v, ok := decimal.ParseFraction(text)
	if !ok {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return v, nil
}

var (
	numberForm = lazy.Regexp(`^` + decimal.Form + `$`)
	slashForm  = lazy.Regexp(`^(\d+)/(\d+)$`)
)

// ParseDeveloper reads a developer with its dilution as they are typed: "Ashlar 1+4",
// "Ashlar 1:4" or "Ashlar"; it returns the dilution as 1+4, "" where there is none,
// and whether it was written otherwise. The error says what "1/4" can mean, or names
// a dilution that is none.
func ParseDeveloper(text string) (developer, dilution string, otherwise bool, err error) {
	words := strings.Fields(text)
	if len(words) < 2 {
		return strings.Join(words, " "), "", false, nil
	}
	name, last := strings.Join(words[:len(words)-1], " "), words[len(words)-1]
	if part := slashForm().FindStringSubmatch(last); part != nil {
		parts, _ := strconv.Atoi(part[1])
		whole, _ := strconv.Atoi(part[2])
		return "", "", false, fmt.Errorf("%s can be %d+%d or %d+%d; write it with a plus", last, parts, whole, parts, whole-parts)
	}
	if last != "stock" && !strings.ContainsAny(last, "+:") {
		return strings.Join(words, " "), "", false, nil
	}
	d, err := sensito.ParseDilution(last)
	if err != nil {
		return "", "", false, err
	}
	return name, d.String(), d.Colon, nil
}
