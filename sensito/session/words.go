package session

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"sensito/sensito"
)

// ClockText returns a time to the second as a clock shows it, "3:43" or "1:02:30"; a
// negative one as though it were not.
func ClockText(d time.Duration) string {
	return sensito.Minutes(math.Round(math.Abs(d.Seconds())) / 60).Clock(1)
}

// RemainingText returns what is left of the step that runs, "3:43", "0:12 over", or,
// where its time is open, how long it has run, "2:10 so far".
func (st State) RemainingText() string {
	left, known := st.Remaining()
	switch {
	case !known:
		return ClockText(st.Now().Elapsed) + " so far"
	case seconds(left) < 0:
		return ClockText(left) + " over"
	}
	return ClockText(left)
}

// LightWord is Dark or Light, as the film bears it in the step that runs.
func (st State) LightWord() string {
	if st.Dark() {
		return "Dark"
	}
	return "Light"
}

// LightText says what that means: "Light is safe." or "The film must not see light."
func (st State) LightText() string {
	if st.Dark() {
		return "The film must not see light."
	}
	return "Light is safe."
}

// Says returns what is to be done now and next, in a sentence or two: "Keep
// agitating. Pour out with 0:10 left, then stop bath."
func (st State) Says() string {
	if st.Over {
		return "All steps are done."
	}
	now := st.Now()
	then := "then it is done"
	next := st.Next()
	if next != nil {
		then = "then " + lower(next.Name)
	}
	left, known := st.Remaining()
	switch {
	case !known && st.AsksClearing():
		return fmt.Sprintf("%sKey in after how long the film is clear; it stays for %s, %s.", now.moves(), timesClearing(now.Step.Clearing), then)
	case !known:
		text := "Until it is done."
		if now.Note != "" {
			first, n := utf8.DecodeRuneInString(now.Note)
			text = sentence(string(unicode.ToUpper(first)) + now.Note[n:])
		}
		return now.moves() + text
	case seconds(left) <= 0:
		if next == nil {
			return "The time is up. End the session when it is done."
		}
		return fmt.Sprintf("The time is up: %s. Go on when it is in.", lower(next.Label()))
	}
	each := now.Lasts / time.Duration(max(1, now.Changes))
	in := now.Elapsed % each // of this filling
	if now.Changes > 1 && now.Elapsed < each*time.Duration(now.Changes-1) {
		filling := int(now.Elapsed/each) + 1
		then = fmt.Sprintf("then filling %d of %d", filling+1, now.Changes)
	}
	pour := now.pours(each)
	late := st.Correction != nil && st.Correction.Late && now.Number == st.Plan.Developer
	switch {
	case late || pour < each && in >= pour:
		return sentence("Pour out now, " + then)
	case pour < each:
		return fmt.Sprintf("%sPour out with %s left, %s.", now.moves(), ClockText(each-pour), then)
	}
	return now.moves() + sentence(strings.ToUpper(then[:1])+then[1:])
}

// moves says how the bath of a step is to be moved now, "" where that is not told.
func (s StepState) moves() string {
	c := ParseCadence(s.Agitation)
	switch {
	case c.Continuous:
		return "Keep agitating. "
	case c.None && s.Bath != "":
		return "Do not agitate. "
	case c.Every > 0 && c.moving(s.Elapsed):
		return "Agitate. "
	case c.Every > 0:
		if wait := s.Stands(); wait > 0 {
			return fmt.Sprintf("Let it stand; agitate in %s. ", ClockText(wait))
		}
		return "Let it stand. "
	case s.Agitation != "":
		return sentence("Agitation: "+s.Agitation) + " "
	}
	return ""
}

// Stands returns for how long the bath is yet let stand until it is agitated again; 0
// where it is moved, or will not be again.
func (s StepState) Stands() time.Duration {
	c := ParseCadence(s.Agitation)
	if c.Every == 0 || c.moving(s.Elapsed) {
		return 0
	}
	again := (s.Elapsed/c.Every + 1) * c.Every
	if s.Lasts > 0 && again+c.Each > s.pours(s.Lasts) {
		return 0
	}
	return again - s.Elapsed
}

// timesClearing says how many times the clearing time a film stays.
func timesClearing(factor float64) string {
	switch factor {
	case 1:
		return "the clearing time"
	case 2:
		return "twice that"
	}
	return fmt.Sprintf("%g times that", factor)
}

func sentence(text string) string {
	if strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// lower returns a name within a sentence. Names in capitals alone stay.
func lower(name string) string {
	if len(name) > 1 && strings.ToUpper(name[:2]) == name[:2] {
		return name
	}
	return strings.ToLower(name[:1]) + name[1:]
}

// Measures returns the step whose bath a temperature is of: the developer is measured
// until it is poured out, since its time is the one that counts.
func (st State) Measures() int { return max(st.Running, st.Plan.Developer) }

// BathText names that bath: "The developer" or "The bath".
func (st State) BathText() string {
	if st.Measures() == st.Plan.Developer {
		return "The developer"
	}
	return "The bath"
}

// ReadingText says what is to be made of the temperatures keyed in: what is asked of
// one, or the correction, until the developer is poured out; "" for nothing.
func (st State) ReadingText() string {
	switch c := st.Correction; {
	case st.Question != nil:
		return st.Question.Text()
	case c != nil && c.Late && st.Running == st.Plan.Developer:
		return "Too little is left to be corrected."
	case c != nil && st.Running <= st.Plan.Developer:
		return c.Text()
	}
	return ""
}

// LastsText says how long a step lasted or is to last, "6:13", "asked" where the
// clearing time will tell, "" where it is open.
func (s StepState) LastsText() string {
	switch {
	case !s.Ended.IsZero():
		return ClockText(s.Elapsed)
	case s.Lasts > 0:
		return ClockText(s.Lasts)
	case s.Step.Clearing > 0:
		return "asked"
	}
	return ""
}

// WentText names a step that is over, "Fix, cleared at 0:50", and says for how long it
// was planned, "" where that was open.
func (s StepState) WentText() (name, planned string) {
	name = s.Name
	if s.Planned > 0 {
		planned = ClockText(s.Planned)
	}
	if s.Clearing > 0 {
		name += ", cleared at " + s.Clearing.Clock(1)
		planned = ClockText(s.Lasts)
	}
	return name, planned
}

// Temperatures returns what was read of a step, "22.5 to 21.9", "20.5", or "" for
// nothing; the first is the plan's where nothing was read at pouring in.
func (st State) Temperatures(step int) string {
	s := st.Steps[step-1]
	figure := func(c float64) string { return strings.TrimSuffix(sensito.Celsius(c), " °C") }
	switch c := st.Correction; {
	case step == st.Plan.Developer && c != nil:
		if c.From.Celsius == c.To.Celsius {
			return figure(c.To.Celsius)
		}
		return figure(c.From.Celsius) + " to " + figure(c.To.Celsius)
	case len(s.Readings) == 0:
		return ""
	}
	return figure(s.Readings[len(s.Readings)-1].Celsius)
}

// WorthText says what the development did: "The development was worth 7:15 at 20 °C,
// as planned."; "" where that is not known.
func (st State) WorthText() string {
	if st.Worth == nil {
		return ""
	}
	return "The development was " + st.Worth.Text() + "."
}

// FixerText says how much film went through the fixer, and whether it is to be
// discarded; "" where nothing is known of it.
func (st State) FixerText() string {
	x := st.Plan.Fixer
	if x == nil {
		return ""
	}
	var parts []string
	if x.Films != "" {
		parts = append(parts, fmt.Sprintf("The %s, mixed %s, has had %s.", x.Name, x.Mixed, x.Films))
	}
	cleared, was, first := st.Steps[x.Step-1].Clearing, "fresh", "Fresh it cleared"
	if x.First != "" { // the first session that tells of it
		was, first = "on "+x.First, "On "+x.First+" it first cleared"
	}
	switch {
	case st.Discard():
		parts = append(parts, fmt.Sprintf("Film cleared in %s, %s it was %s: discard the fixer, and fix this film again in fresh.", cleared.Clock(1), was, x.Fresh.Clock(1)))
	case x.Spent:
		parts = append(parts, "It bears no more: discard it.")
	case x.Fresh > 0:
		parts = append(parts, fmt.Sprintf("%s film in %s: discard it when it takes %s.", first, x.Fresh.Clock(1), (discardAt*x.Fresh).Clock(1)))
	}
	return strings.Join(parts, " ")
}

// ScreenCaution is said wherever a session is shown on a screen.
const ScreenCaution = "No screen is safe for film, not red, not dimmed, not black. While film is open turn the device face down and go by the sound."
