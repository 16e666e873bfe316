package ask

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"sensito/cmd/sensito/internal/console"
	"sensito/sensito"
	"sensito/sensito/printable"
)

// A limited flag has a value within limits that 0 is outside of.
type limited struct {
	flag             string
	value, low, high float64
}

// notZero returns a usage error for the first of the flags that is given as 0,
// which a struct of the domain would take for its default. Other values are
// checked there.
func notZero(given func(flag string) bool, flags ...limited) error {
	for _, f := range flags {
		if given(f.flag) && f.value == 0 {
			return console.Usagef("--%s 0 is outside %g to %g", f.flag, f.low, f.high)
		}
	}
	return nil
}

// named are the words by which the help calls values that are names of files, or
// patterns for the lines of an instrument: they are no text of their own.
var named = []string{"FILE", "TRIAL", "LOG", "PORT", "EXPRESSION", "TEXT"}

// Set gives a flag of a question a value, as a command line does. The error is of usage.
func Set(f *pflag.FlagSet, flag, value string) error {
	if f.Lookup(flag) == nil {
		return console.Usagef("unknown flag: --%s", flag)
	}
	if err := f.Set(flag, value); err != nil {
		return console.Usagef("%s", FlagFault(err.Error()))
	}
	return nil
}

var badValue = regexp.MustCompile(`^invalid argument (".*") for "(?:-\w, )?(--[\w-]+)" flag: strconv\.Parse(\w+): .*: (.*)$`)

// FlagFault says what is wrong with a flag, by the text of the error of parsing it.
func FlagFault(text string) string {
	part := badValue.FindStringSubmatch(text)
	if part == nil {
		return text
	}
	value, flag, wanted := part[1], part[2], map[string]string{"Float": "a number", "Int": "a whole number", "Bool": "true or false"}[part[3]]
	if flag == "--range" {
		if text := betweenTones(value); text != "" {
			return flag + " " + value + text
		}
	}
	switch {
	case part[4] == "value out of range":
		return fmt.Sprintf("%s %s is too large", flag, value)
	case part[3] == "Float" && strings.Contains(value, ","):
		wanted += ", which is written with a decimal point"
	case part[3] == "Float" && strings.Contains(value, ":"):
		wanted += "; 5:30 is written 5.5"
	}
	return fmt.Sprintf("%s %s is not %s", flag, value, wanted)
}

var twoTones = regexp.MustCompile(`^"\s*([+−-]?[\d.]+)\s*(?:to|…|\.\.\.?|–)\s*([+−-]?[\d.]+)\s*"$`)

// betweenTones says what to write for a range that is told by its ends, such as "-6 to 3", as
// it is quoted; "" for one that is not. It is not taken for its stops alone: the ends may say
// where the metered tone lies as well, which the index rests on.
func betweenTones(quoted string) string {
	part := twoTones.FindStringSubmatch(quoted)
	if part == nil {
		return ""
	}
	var ends [2]float64
	for i, end := range part[1:] {
		v, err := strconv.ParseFloat(strings.Replace(end, "−", "-", 1), 64)
		if err != nil {
			return ""
		}
		ends[i] = v
	}
	from, to := ends[0], ends[1]
	if from >= to {
		return ""
	}
	text := fmt.Sprintf(" is from one tone to another: write the stops between them, %.4g", to-from)
	if from < 0 && to > 0 {
		text += fmt.Sprintf(", and --shadow-stops %.4g where the darkest lies %.4g below the metered tone", -from, -from)
	}
	return text
}

// CheckTexts returns a usage error for a flag that is given whose text is empty, which
// would mean that it was not, or is not one that can be printed.
func CheckTexts(f *pflag.FlagSet) error {
	var err error
	f.Visit(func(f *pflag.Flag) {
		if err == nil {
			err = checkFlag(f)
		}
	})
	return err
}

func checkFlag(f *pflag.Flag) error {
	texts := []string{f.Value.String()}
	switch list, several := f.Value.(pflag.SliceValue); {
	case several:
		texts = list.GetSlice()
	case f.Value.Type() != "string":
		return nil
	}
	if len(texts) == 0 || slices.ContainsFunc(texts, func(s string) bool { return strings.TrimSpace(s) == "" }) {
		return console.Usagef("--%s must not be empty", f.Name)
	}
	if name, _ := pflag.UnquoteUsage(f); slices.Contains(named, name) {
		return nil
	}
	for _, s := range texts {
		if err := printable.CheckNote(s); err != nil {
			return console.Usage(fmt.Errorf("--%s %w", f.Name, err))
		}
	}
	return nil
}

// Without returns a usage error for a flag that is given although what it is for
// is not.
func Without(given func(string) bool, what string, flags ...string) error {
	for _, name := range flags {
		if given(name) {
			return console.Usagef("--%s has no use without %s", name, what)
		}
	}
	return nil
}

// exclusive returns a usage error when more than one of the flags is given.
func exclusive(given func(string) bool, flags ...string) error {
	first := ""
	for _, name := range flags {
		switch {
		case !given(name):
		case first != "":
			return console.Usagef("--%s and --%s exclude each other: give one of them", first, name)
		default:
			first = name
		}
	}
	return nil
}

// Minutes reads the text of --minutes. The error is of usage.
func Minutes(text string) (sensito.Minutes, error) {
	m, err := sensito.ParseMinutes(text)
	if err != nil {
		return 0, console.Usagef("--minutes %w", err)
	}
	return m, nil
}
