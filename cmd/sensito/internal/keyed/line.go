package keyed

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"sensito/sensito"
)

// A Verb is what one line of enter asks for.
type Verb int

const (
	Read  Verb = iota // readings of the step at hand
	Again             // more readings of the step before
	Fog
	Back // one step, or to the step n
	Step // to the step n, with readings of it or without
	Skip
	Keep
	Note
	Stop
	Help
	Minutes // of the strip
	Grade
	Strip   // another one is begun
	Drop    // what was pasted and waits
	Nothing // an empty line or a remark
)

// A Line is one line of enter, understood.
type Line struct {
	Verb     Verb
	Readings []string          // as they were typed
	Measured []sensito.Density // by an instrument, in place of them
	Step     int               // of Back and Step; 0 for the step before
	Text     string
}

// verbs are the words of the language, each with its short form.
var verbs = map[string]Verb{
	"again": Again, "a": Again, "fog": Fog, "f": Fog, "back": Back, "b": Back, "step": Step,
	"skip": Skip, "s": Skip, "nan": Skip, "-": Skip, "keep": Keep, "k": Keep,
	"note": Note, "n": Note, "stop": Stop, "q": Stop, "quit": Stop,
	"help": Help, "h": Help, "?": Help, "minutes": Minutes, "grade": Grade, "strip": Strip, "drop": Drop,
}

// Examples are readings in each unit, each told.
var Examples = map[sensito.Unit]struct{ One, is, other, Fog string }{
	sensito.UnitDensity: {"1.13", "the reading; 1,13 and 113 are the same", "1.14", "0.11"},
	sensito.UnitEV:      {"9.7", "the reading in EV; also 9,7 and 9 2/3", "9.6", "11.9"},
	sensito.UnitStep:    {"7.5", "the step of the tablet; also 7,5 and 7 1/2", "7", "2.5"},
}

// Language says what can be typed where readings are in a unit.
func Language(u sensito.Unit) string {
	x := Examples[u]
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
`, x.One, x.is, x.One+" "+x.other, "again "+x.other, "step 5 "+x.One, "fog "+x.Fog)
}

// MaxReadings is how many readings of one step a line may hold.
const MaxReadings = 5

// Parse understands one line, but for the readings in it, which depend on the
// step. The error says what is wrong.
func Parse(line string) (Line, error) {
	line = strings.TrimSpace(line)
	if line == "" || strings.HasPrefix(line, "#") {
		return Line{Verb: Nothing}, nil
	}
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	k := Line{Text: rest}
	var ok bool
	if k.Verb, ok = verbs[strings.ToLower(word)]; !ok {
		if !strings.ContainsAny(word, "0123456789") {
			return k, fmt.Errorf("%q is not understood; see help", word)
		}
		k.Verb, rest = Read, line
	}
	switch k.Verb {
	case Fog:
		if rest == "none" {
			return k, nil
		}
		fallthrough
	case Read, Again:
		if rest == "" {
			return k, fmt.Errorf("%s has no reading, as in %s 1.13", word, word)
		}
		var err error
		k.Readings, err = parseReadings(rest)
		return k, err
	case Back:
		if rest == "" {
			return k, nil
		}
		step, err := strconv.Atoi(rest)
		if err != nil || step < 1 {
			return k, fmt.Errorf("back %q is not a step, like back 5", rest)
		}
		k.Step = step
	case Step:
		number, reading, _ := strings.Cut(rest, " ")
		var err error
		if k.Step, err = strconv.Atoi(number); err != nil || k.Step < 1 {
			return k, fmt.Errorf("step %q is not the number of a step, as in step 5 1.13", number)
		}
		if reading = strings.TrimSpace(reading); reading != "" {
			k.Readings, err = parseReadings(reading)
		}
		return k, err
	case Note:
		if rest == "" {
			return k, fmt.Errorf("note has no text")
		}
	case Minutes:
		if rest == "" {
			return k, fmt.Errorf("minutes has no time, as in minutes 9:30")
		}
	case Grade:
		if rest == "" {
			return k, fmt.Errorf("grade has none, as in grade 3")
		}
	case Strip:
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

// parseReadings parts the readings of one step.
func parseReadings(text string) ([]string, error) {
	words := Parted(text)
	if len(words) > MaxReadings {
		return nil, fmt.Errorf("%d readings stand on one line, which are of one step; write a line for each step", len(words))
	}
	return words, nil
}

// Parted parts readings that stand apart by blanks or semicolons; 9 2/3 is one.
func Parted(text string) []string {
	const joined = "\x00"
	text = wholeAndPart.ReplaceAllString(strings.ReplaceAll(text, joined, "?"), "${1}"+joined+"${2}")
	words := readingGaps.Split(strings.Trim(text, "; \t"), -1)
	for i, word := range words {
		words[i] = strings.ReplaceAll(word, joined, " ")
	}
	return words
}
