package answers

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/testplan"
)

// NextTest says what to test next, and how much the answer sharpens by it.
func NextTest(p *testplan.Proposal) string {
	what := "time"
	if p.Options.Wanted == testplan.WantedIndex {
		what = "index"
	}
	switch {
	case len(p.Chosen) == 0 && p.Met:
		return "The " + what + " is as sharp as wanted: nothing needs to be tested."
	case len(p.Chosen) == 0:
		return "Nothing that could be tested narrows the " + what + " by as much as a strip is worth."
	}
	var steps []string
	for _, c := range p.Chosen {
		steps = append(steps, toDo(c))
	}
	text := strings.Join(steps, ", then ")
	text = strings.ToUpper(text[:1]) + text[1:] + "."
	level := p.Options.Level
	if half := testplan.HalfWidth(*p.After(), level); !math.IsInf(half, 1) {
		text += fmt.Sprintf(" The %s is then sure within %s", what, Share(100*half))
		if p.Before != nil {
			if now := testplan.HalfWidth(*p.Before, level); !math.IsInf(now, 1) {
				text += ", now " + Share(100*now)
			}
		}
		text += "."
	}
	return text
}

// toDo is what a candidate asks for, within a sentence.
func toDo(c testplan.Candidate) string {
	switch {
	case c.Action != nil && c.Action.Code == testplan.ActionReachFurther:
		return "expose all strips anew with more light"
	case c.Action != nil:
		return "get " + ActionName(c.Action.Code)
	}
	return ToDevelop(c)
}

// ToDevelop is what the candidate of a strip asks for: "develop another strip for 5:00".
func ToDevelop(c testplan.Candidate) string {
	if c.Again {
		return "develop another strip for " + c.Minutes.Clock(1)
	}
	return "develop a strip for " + c.Minutes.Clock(1)
}

// FirstTest says what to do for a first test.
func FirstTest(p *testplan.FirstProposal) string {
	return fmt.Sprintf("Expose %s alike and develop them for %s.", printable.Counted(len(p.Minutes), "strip"), Clocks(p.Minutes))
}

// ActionName names an action short of a new strip by its code.
func ActionName(code string) string {
	switch code {
	case testplan.ActionReadBase:
		return "more readings of the base"
	case testplan.ActionReadSteps:
		return "missing readings of steps"
	}
	return "all strips with more light"
}

// Share returns a number of per cent, to a tenth where it is below 100.
func Share(percent float64) string {
	places := 1
	if percent >= 99.5 {
		places = 0
	}
	return strconv.FormatFloat(percent, 'f', places, 64) + " %"
}

// Clocks lists development times: 6:00, 7:30 and 9:00.
func Clocks(times []sensito.Minutes) string {
	var out []string
	for _, t := range times {
		out = append(out, t.Clock(1))
	}
	last := len(out) - 1
	if last < 1 {
		return strings.Join(out, "")
	}
	return strings.Join(out[:last], ", ") + " and " + out[last]
}
