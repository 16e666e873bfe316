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
	verbMinutes // of the strip
	verbGrade
	verbStrip   // another one is begun
	verbDrop    // what was pasted and waits
	verbNothing // an empty line or a remark
)

// A keyed is one line of enter, understood.
type keyed struct {
	verb     verb
	readings []string          // as they were typed
	measured []sensito.Density // by an instrument, in place of them
	step     int               // of verbBack and verbStep; 0 for the step before
	text     string
}

// verbs are the words of the language, each with its short form.
var verbs = map[string]verb{
	"again": verbAgain, "a": verbAgain, "fog": verbFog, "f": verbFog, "back": verbBack, "b": verbBack, "step": verbStep,
	"skip": verbSkip, "s": verbSkip, "nan": verbSkip, "-": verbSkip, "keep": verbKeep, "k": verbKeep,
	"note": verbNote, "n": verbNote, "stop": verbStop, "q": verbStop, "quit": verbStop,
	"help": verbHelp, "h": verbHelp, "?": verbHelp, "minutes": verbMinutes, "grade": verbGrade, "strip": verbStrip, "drop": verbDrop,
}

// examples are readings in each unit.
var examples = map[sensito.Unit]struct{ one, is, other, fog string }{
	sensito.UnitDensity: {"1.13", "the reading; 1,13 and 113 are the same", "1.14", "0.11"},
	sensito.UnitEV:      {"9.7", "the reading in EV; also 9,7 and 9 2/3", "9.6", "11.9"},
	sensito.UnitStep:    {"7.5", "the step of the tablet; also 7,5 and 7 1/2", "7", "2.5"},
}

// language says what can be typed where readings are in a unit.
func language(u sensito.Unit) string {
	x := examples[u]
	return fmt.Sprintf(`  %-14s %s
  %-14s two readings of the step: their mean counts
  %-14s another reading of the step before
  back           to the step before
  back 5         to step 5, then on from where you were
  %-14s the reading of step 5, whichever is at hand
  keep           leaves the reading that the step has, or the
                 one questioned
  skip           the step is not read
  %-14s another reading of base plus fog; fog none
                 takes them away
  minutes 9:30   the strip was developed for so long
  grade 3        the grade or filter of a strip of paper
  strip 12:00    begins another strip
  note TEXT      goes with the strip
  stop           interrupts; enter goes on at the same step
`, x.one, x.is, x.one+" "+x.other, "again "+x.other, "step 5 "+x.one, "fog "+x.fog)
}

// maxReadingsLine is how many readings of one step a line may hold.
const maxReadingsLine = 5

// parseKeyed understands one line, but for the readings in it, which depend on the
// step. The error says what is wrong.
func parseKeyed(line string) (keyed, error) {
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
		k.readings, err = parseReadings(rest)
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
			k.readings, err = parseReadings(reading)
		}
		return k, err
	case verbNote:
		if rest == "" {
			return k, fmt.Errorf("note has no text")
		}
	case verbMinutes:
		if rest == "" {
			return k, fmt.Errorf("minutes has no time, as in minutes 9:30")
		}
	case verbGrade:
		if rest == "" {
			return k, fmt.Errorf("grade has none, as in grade 3")
		}
	case verbStrip:
		if rest == "" {
			return k, fmt.Errorf("strip has no time, as in strip 9:30")
		}
	default:
		if rest != "" {
			return k, fmt.Errorf("%s takes nothing after it, but %q follows", word, rest)
		}
	}
	return k, nil
}

var (
	readingGaps  = regexp.MustCompile(`\s*[;]\s*|,?\s+`)
	wholeAndPart = regexp.MustCompile(`(\d)[ \t]+(\d+/\d)`)
)

// parseReadings parts readings that stand apart by blanks or semicolons; 9 2/3 is one.
func parseReadings(text string) ([]string, error) {
	const joined = "\x00"
	if strings.Contains(text, joined) {
		return nil, fmt.Errorf("%q is not a reading, like 1.13; see help", text)
	}
	text = wholeAndPart.ReplaceAllString(text, "${1}"+joined+"${2}")
	words := readingGaps.Split(strings.Trim(text, "; \t"), -1)
	for i, word := range words {
		words[i] = strings.ReplaceAll(word, joined, " ")
	}
	if len(words) > maxReadingsLine {
		return nil, fmt.Errorf("%d readings stand on one line, which are of one step; write a line for each step", len(words))
	}
	return words, nil
}
