package table

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"sensito/sensito/internal/lazy"
)

// ErrNoReading says that a line from a densitometer holds no reading, such as
// one about its battery; whoever reads may go on with the next line.
var ErrNoReading = errors.New("no reading")

// Densities are read within these limits, those of a notebook.
const lowestReading, highestReading = -0.5, 6

var (
	// A run that starts like a number, with all that is glued to it.
	meterNumber = lazy.Regexp(`[-+]?[.,]?\d[\d.,]*(?:[eE][-+]?\d+)?`)
	meterForm   = lazy.Regexp(`^[-+]?(?:\d*[.,]\d+|\d+[.,]?)(?:[eE][-+]?\d+)?$`)
	// A channel before the reading, "1:", "1)" or "#1", and a word that ends in
	// digits, "CH1" or "D2".
	meterChannel = lazy.Regexp(`^\s*(?:#\d{1,3}[:)]?|\d{1,3}[:)])(?:\s|\b)`)
	meterLabel   = lazy.Regexp(`(?:^|[^\pL\d.,])\pL+\d+(?:[\s:=)]|$)`)
	signApart    = lazy.Regexp(`^\s*([-+])\s+([.,\d])`)
	dashApart    = lazy.Regexp(`[-+]\s+[.,]?\d`)
	percentAfter = lazy.Regexp(`\d\s*%`)
	// What instruments say of themselves, with a number or without (common
	// practice, no source).
	meterStatus = lazy.Regexp(`(?i)\b(?:err(?:or)?|fail(?:ed|ure)?|low|batt?(?:ery)?|ver(?:sion)?|rev|cal(?:ibrat\w*)?|over\w*|under\w*|warm\w*|ready|temp\w*)\b`)
)

const patternHint = `say where the density is with --pattern, such as --pattern 'V\s*([-+.,\d]+)'`

// ParseMeterLine returns the density in a line of text that a densitometer
// sends, between -0.5 and 6.
//
// A nil pattern takes the one number with a decimal point or comma; a sign,
// words, and a channel such as "CH1" or "1:" may stand about it. Otherwise the
// first group of the pattern, or what all of it matches when it has none, is
// the number, and the decimal mark may be missing. Control characters count as
// blanks.
//
// The error wraps ErrNoReading for a line without a reading, and names
// --pattern for a line of which a reader cannot know which number is meant.
func ParseMeterLine(line string, pattern *regexp.Regexp) (density float64, err error) {
	line, text := plainLine(line)
	if !text {
		return 0, fmt.Errorf("%s holds bytes that are no text: see that --baud, --bits and --parity are those of the instrument", shown(line))
	}
	number, err := "", error(nil)
	if pattern != nil {
		number, err = numberBy(pattern, line)
	} else {
		number, err = oneNumber(line)
	}
	if err != nil {
		return 0, err
	}
	density, err = strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
	if err != nil || !meterForm().MatchString(number) {
		return 0, fmt.Errorf("%s: %q is not a number", shown(line), number)
	}
	if !(density >= lowestReading && density <= highestReading) {
		return 0, fmt.Errorf("%s: density %g is outside %g to %g", shown(line), density, lowestReading, float64(highestReading))
	}
	return density + 0, nil // no negative zero
}

// plainLine returns the line with blanks for control characters and an ordinary
// minus, and whether it is text.
func plainLine(line string) (string, bool) {
	text := utf8.ValidString(line) && !strings.ContainsRune(line, utf8.RuneError)
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r):
			return ' '
		case r == '\u2212':
			return '-'
		}
		return r
	}, line)), text
}

// shown quotes a line for a message, cut where it is long.
func shown(line string) string {
	const most = 60
	if runes := []rune(line); len(runes) > most {
		return strconv.Quote(string(runes[:most])) + "..."
	}
	return strconv.Quote(line)
}

// numberBy returns what the pattern finds in the line.
func numberBy(pattern *regexp.Regexp, line string) (string, error) {
	found := pattern.FindStringSubmatch(line)
	if found == nil {
		return "", fmt.Errorf("%s does not match the pattern: %w", shown(line), ErrNoReading)
	}
	number := strings.TrimSpace(found[min(1, len(found)-1)])
	if signed := signApart().FindStringSubmatch(number); signed != nil {
		number = signed[1] + strings.TrimSpace(number[1:])
	}
	return number, nil
}

// oneNumber returns the only number of the line that can be a density.
func oneNumber(line string) (string, error) {
	if meterStatus().MatchString(line) {
		return "", fmt.Errorf("%s tells of the instrument's state: %w", shown(line), ErrNoReading)
	}
	rest := line
	if c := meterChannel().FindString(rest); strings.TrimSpace(rest[len(c):]) != "" {
		rest = rest[len(c):]
	}
	// Labels become as many letters, so that what follows stays where it is.
	rest = meterLabel().ReplaceAllStringFunc(rest, func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return 'x'
			}
			return r
		}, s)
	})
	rest = signApart().ReplaceAllString(rest, "$1$2")
	numbers := meterNumber().FindAllString(rest, -1)
	switch {
	case len(numbers) == 0:
		return "", fmt.Errorf("%s holds no number: %w", shown(line), ErrNoReading)
	case len(numbers) > 1:
		return "", fmt.Errorf("%s holds %d numbers; %s", shown(line), len(numbers), patternHint)
	case !meterForm().MatchString(numbers[0]):
		return "", fmt.Errorf("%s: %q is not one number; %s", shown(line), numbers[0], patternHint)
	case percentAfter().MatchString(rest):
		return "", fmt.Errorf("%s is a percentage, not a density: set the instrument to density", shown(line))
	case dashApart().MatchString(rest):
		return "", fmt.Errorf("%s: a sign stands apart from the number and may be a dash; %s", shown(line), patternHint)
	case !strings.ContainsAny(numbers[0], ".,"):
		return "", fmt.Errorf("%s: %s has no decimal mark, so it may be something else; %s", shown(line), numbers[0], patternHint)
	}
	return numbers[0], nil
}
