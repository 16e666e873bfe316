package timed

import (
	"crypto/rand"
	"fmt"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/printable"
	"sensito/sensito/session"
)

// Running is what the page of a session shows while its clock runs.
type Running struct {
	Address string // of the session
	Number  int    // of the last event, which forms carry
	ID      string // of what this page is asked for, which forms carry
	Of      string // what is developed, in what
	Step    string
	Place   string // "Step 2 of 8"
	Dark    bool
	Light   string // Dark or Light
	Means   string // what that means
	Figures string // of the time that remains
	Words   string // behind them: "over", "so far"
	Long    bool   // the figures have hours
	Gone    int    // of the step, in thousandths
	Says    string // what is to be done now
	Bath    string // which one a temperature is of, in words
	Measure int    // likewise, the number of its step
	Asks    bool   // the clearing time
	Told    string // what is made of the temperatures
	Fault   string // why the last act was not done
	Typed   Typed  // what was typed then
	Steps   []Step
	Sheet   []Step // as they are planned, to be written on
	Lights  string // from where light is safe
	Order   string // how sheets are moved
	Goes    string // what goes into the log when it ends
	Wire    string // the same for a script, as JSON
	Still   bool   // the page does not load itself anew without a script
}

// Typed is what was typed into the forms of a session and was not taken.
type Typed struct{ Celsius, Clearing string }

// Step is one of the list.
type Step struct {
	Dark, Now, Done bool
	Lasts           string
	Label           string
	More            string // how it is done
	When            string
	Celsius         string // read in its bath
}

// NewRunning returns the page of a session of an address at a time.
func NewRunning(address string, s *session.Session, at time.Time) *Running {
	st := s.At(at)
	now := st.Now()
	r := &Running{Address: address, Number: st.Number, ID: rand.Text(), Of: printable.Text(st.Plan.Title), Step: printable.Text(now.Label()),
		Place: fmt.Sprintf("Step %d of %d", st.Running, len(st.Steps)),
		Dark:  st.Dark(), Light: st.LightWord(), Means: st.LightText(), Says: printable.Text(st.Says()), Bath: st.BathText(), Measure: st.Measures(),
		Asks: st.AsksClearing(), Told: st.ReadingText(), Steps: steps(st), Lights: printable.Text(st.Plan.Light), Order: printable.Text(st.Plan.Order),
		Goes: goes(st), Wire: wired(s, at)}
	r.Figures, r.Words, _ = strings.Cut(st.RemainingText(), " ")
	r.Long = strings.Count(r.Figures, ":") > 1
	if _, known := st.Remaining(); known {
		r.Gone = min(1000, int(1000*now.Elapsed.Seconds()/now.Lasts.Seconds()))
	}
	if r.Told == "" && st.Discard() {
		r.Told = st.FixerText()
	}
	r.Sheet, _ = toCome(st.Plan, at) // the plan of a session that began
	return r
}

const onTheWall = "15:04:05"

// steps lists those that went, the one that runs, and those to come with the time on the
// wall at which they begin if hands go by the clock.
func steps(st session.State) []Step {
	var out []Step
	left, known := st.Remaining()
	begins := st.At.Add(max(left, 0))
	for _, s := range st.Steps {
		x := Step{Dark: s.Dark, Lasts: s.LastsText(), Label: printable.Text(s.Label()), More: printable.Text(more(s)), Celsius: st.Temperatures(s.Number)}
		if x.Celsius != "" {
			x.Celsius += " °C"
		}
		switch {
		case !s.Ended.IsZero():
			x.Done, x.When = true, "done "+s.Ended.Format(onTheWall)
		case s.Number == st.Running:
			x.Now, x.When = true, "since "+s.Began.Format(onTheWall)
		default:
			if known {
				x.When = "from " + begins.Format(onTheWall)
			}
			begins = begins.Add(s.Lasts)
			known = known && s.Lasts > 0
		}
		if s.Number == st.Plan.LightFrom && !x.Done {
			x.When = strings.TrimPrefix(x.When+"; light is safe", "; ")
		}
		out = append(out, x)
	}
	return out
}

// toCome lists the steps of a plan of which none has begun. The error is that of
// session.Begin.
func toCome(plan session.Plan, at time.Time) ([]Step, error) {
	e, err := session.Begin(plan, at)
	if err != nil {
		return nil, err
	}
	s, err := session.Replay([]session.Event{e})
	if err != nil {
		return nil, err
	}
	out := steps(s.At(at))
	for i := range out {
		out[i].Now, out[i].When = false, ""
		if i+1 == plan.LightFrom {
			out[i].When = "light is safe"
		}
	}
	return out, nil
}

// more says how a step is done.
func more(s session.StepState) string {
	var parts []string
	if s.Celsius != 0 && s.Bath != "" && s.Ended.IsZero() {
		parts = append(parts, sensito.Celsius(s.Celsius))
	}
	if s.Agitation != "" {
		parts = append(parts, "agitation "+s.Agitation)
	}
	if drain := time.Duration(s.DrainS * float64(time.Second)); drain > 0 && s.Changes <= 1 && s.Lasts > drain {
		parts = append(parts, "pour out from "+session.ClockText(s.Lasts-drain))
	}
	if s.Changes > 1 {
		parts = append(parts, fmt.Sprintf("%d fillings", s.Changes))
	}
	if s.Step.Clearing > 0 && s.Lasts == 0 {
		parts = append(parts, darkroom.ProcessStep{ClearingFactor: s.Step.Clearing}.ClearingText()+", which you key in then")
	}
	if s.Note != "" {
		parts = append(parts, s.Note)
	}
	return strings.Join(parts, "; ")
}

// goes says what the log of the trial takes when all is over.
func goes(st session.State) string {
	parts := []string{"the date"}
	if st.Plan.Films != "" {
		parts = append(parts, printable.Text(st.Plan.Films))
	}
	d := st.Steps[st.Plan.Developer-1]
	time := session.ClockText(d.Lasts)
	if c := st.Temperatures(d.Number); c != "" {
		time += " at " + c + " °C"
	} else if r := st.Plan.Rate; r != nil {
		time += " at " + sensito.Celsius(r.Celsius)
	}
	return strings.Join(append(parts, time+" or as it comes to be", "and what you add"), ", ") + "."
}
