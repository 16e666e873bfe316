package timed

import (
	"crypto/rand"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/session"
)

// LongestNote is how many characters the note of a development may have.
const LongestNote = 300

// After is what the page of a session shows when its steps are over.
type After struct {
	Address string
	Number  int
	ID      string // of what this page is asked for
	Ended   string // on the wall
	Lead    string
	Rows    []Row
	Worth   string
	Fixer   string
	Trial   string // the file whose log takes it
	Closed  bool
	Kept    bool
	No      string // why nothing can be kept; "" where it can
	Entry   Entry
	Note    string
	Fault   string
}

// Row is a step as it was planned and as it went.
type Row struct {
	Name, Planned, Was, Celsius string
	Critical                    bool
}

// Entry is what the log takes, as text.
type Entry struct{ Developed, From, To string }

// NewAfter returns the page of a session of an address that is over, at a time.
func NewAfter(address string, s *session.Session, at time.Time) *After {
	st := s.At(at)
	a := &After{Address: address, Number: st.Number, ID: rand.Text(), Ended: st.Now().Ended.Format("15:04"), Worth: st.WorthText(), Fixer: st.FixerText(),
		Trial: st.Plan.Trial, Closed: st.Closed, Kept: st.Kept}
	parts := []string{printable.Text(st.Plan.Title)}
	if st.Plan.Films != "" {
		parts = append(parts, printable.Text(st.Plan.Films))
	}
	if st.Plan.For != "" {
		parts = append(parts, "for "+printable.Text(st.Plan.For))
	}
	a.Lead = strings.Join(parts, ", ") + "."
	for _, x := range st.Steps {
		if x.Began.IsZero() {
			continue
		}
		r := Row{Was: session.ClockText(x.Elapsed), Celsius: st.Temperatures(x.Number), Critical: x.Number == st.Plan.Developer}
		r.Name, r.Planned = x.WentText()
		r.Name = printable.Text(r.Name)
		a.Rows = append(a.Rows, r)
	}
	d, err := st.Done("")
	if err != nil {
		a.No = err.Error()
		return a
	}
	a.Entry = Entry{Developed: session.ClockText(time.Duration(float64(d.Minutes) * float64(time.Minute))), From: degrees(d.TemperatureC), To: degrees(d.EndedC)}
	return a
}

// degrees returns a temperature without its unit, "" for none.
func degrees(celsius float64) string {
	if celsius == 0 {
		return ""
	}
	return strings.TrimSuffix(sensito.Celsius(celsius), " °C")
}
