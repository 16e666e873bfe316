package enter

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"sensito/sensito"
)

// A verb is what one line of enter asks for.
type verb int

const (
	verbRead  verb = iota // readings of the step at hand
	verbAgain             // more readings of the step before
	verbFog
	verbBack // one step, or to the step n
	verbStep // to the step n, with readings of it or without
	verbSkip
	verbKeep
	verbNote
	verbStop
	verbHelp
	verbYes
	verbNothing // an empty line or a remark
)

// A keyed is one line of enter, understood.
type keyed struct {
	verb     verb
	readings []sensito.Density
	step     int // of verbBack and verbStep; 0 for the step before
	text     string
}

// A markless error says that a reading has no decimal mark where it must have
// one.
type markless struct {
	text     string
	meant    sensito.Density
	possible bool // meant is a density
	alone    bool // no other reading stands on the line
}

func (m *markless) Error() string {
	if !m.possible {
		return fmt.Sprintf("%s is no density", m.text)
	}
	return fmt.Sprintf("%s has no decimal point; write %.2f if that is meant", m.text, float64(m.meant))
}

// verbs are the words of the language, each with its short form.
var verbs = map[string]verb{
	"again": verbAgain, "a": verbAgain, "fog": verbFog, "f": verbFog, "back": verbBack, "b": verbBack, "step": verbStep,
	"skip": verbSkip, "s": verbSkip, "nan": verbSkip, "-": verbSkip, "keep": verbKeep, "k": verbKeep,
	"note": verbNote, "n": verbNote, "stop": verbStop, "q": verbStop, "quit": verbStop,
	"help": verbHelp, "h": verbHelp, "?": verbHelp, "yes": verbYes, "y": verbYes,
}

const language = `  1.13           the reading; a decimal comma will do
  1.13 1.14      two readings of the step: their mean counts
  again 1.14     another reading of the step before
  back, back 5   to the step before, or to step 5 and then on from here
  step 5 1.13    the reading of step 5, whichever is at hand
  keep           leaves the reading that the step has, or the one questioned
  skip           the step is not read
  fog 0.11       another reading of base plus fog; fog none takes them away
  note TEXT      goes with the strip
  stop           interrupts; enter goes on at the same step
`

// maxReadingsLine is how many readings of one step a line may hold.
const maxReadingsLine = 5

// parseKeyed understands one line. The error says what is wrong with it, and is
// a markless for a reading such as 113.
func parseKeyed(line string, unit sensito.Unit) (keyed, error) {
	line = strings.TrimSpace(line)
	if line == "" || strings.HasPrefix(line, "#") {
		return keyed{verb: verbNothing}, nil
	}
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	k := keyed{text: rest}
	var ok bool
	if k.verb, ok = verbs[strings.ToLower(word)]; !ok {
		if !strings.ContainsAny(word, "0123456789") {
			return k, fmt.Errorf("%q is not understood; see help", word)
		}
		k.verb, rest = verbRead, line
	}
	switch k.verb {
	case verbFog:
		if rest == "none" {
			return k, nil
		}
		fallthrough
	case verbRead, verbAgain:
		if rest == "" {
			return k, fmt.Errorf("%s has no reading, as in %s 1.13", word, word)
		}
		var err error
		k.readings, err = parseReadings(rest, unit)
		return k, err
	case verbBack:
		if rest == "" {
			return k, nil
		}
		step, err := strconv.Atoi(rest)
		if err != nil || step < 1 {
			return k, fmt.Errorf("back %q is not a step, like back 5", rest)
		}
		k.step = step
	case verbStep:
		number, reading, _ := strings.Cut(rest, " ")
		var err error
		if k.step, err = strconv.Atoi(number); err != nil || k.step < 1 {
			return k, fmt.Errorf("step %q is not the number of a step, as in step 5 1.13", number)
		}
		if reading = strings.TrimSpace(reading); reading != "" {
			k.readings, err = parseReadings(reading, unit)
		}
		return k, err
	case verbNote:
		if rest == "" {
			return k, fmt.Errorf("note has no text")
		}
	default:
		if rest != "" {
			return k, fmt.Errorf("%s takes nothing after it, but %q follows", word, rest)
		}
	}
	return k, nil
}

var (
	readingForm = regexp.MustCompile(`^[-+]?(\d+[.,]?\d*|[.,]\d+)$`)
	readingGaps = regexp.MustCompile(`\s*[;]\s*|,?\s+`)
)

// parseReadings reads readings in a unit that stand apart by blanks or semicolons.
func parseReadings(text string, unit sensito.Unit) ([]sensito.Density, error) {
	var out []sensito.Density
	words := readingGaps.Split(strings.Trim(text, "; \t"), -1)
	for _, word := range words {
		if !readingForm.MatchString(word) {
			return nil, fmt.Errorf("%q is not a reading, like 1.13; see help", word)
		}
		v, err := strconv.ParseFloat(strings.Replace(word, ",", ".", 1), 64)
		if err != nil {
			return nil, fmt.Errorf("%q is not a reading, like 1.13; see help", word)
		}
		if unit == sensito.UnitDensity && !strings.ContainsAny(word, ".,") && (v > highestWhole || len(word) > 1 && word[0] == '0') {
			m := &markless{text: word, meant: sensito.Density(v / 100), alone: len(words) == 1}
			m.possible = v/100 <= highestWhole
			return nil, m
		}
		out = append(out, sensito.Density(v+0)) // -0 is 0
	}
	if len(out) > maxReadingsLine {
		return nil, fmt.Errorf("%d readings stand on one line, which are of one step; write a line for each step", len(out))
	}
	return out, nil
}

// highestWhole is the highest density; a larger number without a decimal point
// lacks one.
const highestWhole = 6
