package timed

import (
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/darkroom"
	"sensito/sensito/printable"
	"sensito/sensito/report"
	"sensito/sensito/session"
)

// Before is what the page of a session shows that has not begun.
type Before struct {
	Open     []Open // sessions that were not ended
	Broken   []string
	Start    string // the address that begins it
	Newest   string // the session that began last when the page was made
	Trial    Link
	Asking   any    // the sentence that asks what is developed, and in what
	Fault    string // why there is no time; then nothing can be begun
	Headline string
	Says     []string
	Baths    []string
	Steps    []Step
	Planned  string // temperature of the developer
	Celsius  string // that was keyed in, and is faulty
	Light    string
	Order    string
	Warnings []string
	Cautions []string
}

// Open is a session that goes on.
type Open struct {
	Link
	Says string
}

// Link leads to another page.
type Link struct{ Address, Text string }

// NewOpen returns a session of an address that was not ended.
func NewOpen(address string, s *session.Session, at time.Time) Open {
	st := s.At(at)
	now := st.Now()
	o := Open{Link: Link{address, printable.Text(st.Plan.Title)}, Says: "All steps are over since " + now.Ended.Format("2006-01-02 15:04") + "; it is not settled yet whether the log is to have it."}
	if !st.Over {
		o.Says = printable.Text(now.Label()) + ", since " + now.Began.Format("2006-01-02 15:04") + ". The clock runs on."
	}
	return o
}

// LaysOut says what is laid out for a session by a plan, whose sheet is given with the
// level of its intervals. The error is that of session.Begin.
func (b *Before) LaysOut(sheet *darkroom.Sheet, level float64, plan session.Plan, at time.Time) error {
	var err error
	if b.Steps, err = toCome(plan, at); err != nil {
		return err
	}
	b.Headline = sheet.Headline()
	basis := sheet.Basis(level)
	b.Says = append(b.Says, strings.ToUpper(basis[:1])+basis[1:]+".")
	if text := sheet.FilmText(); text != "" {
		b.Says = append(b.Says, "Film: "+text+".")
	}
	if v := sheet.Spec.Vessel; v.Stated() {
		b.Says = append(b.Says, "Vessel: "+v.String()+".")
	}
	for _, bath := range sheet.Baths {
		b.Baths = append(b.Baths, printable.Text(sheet.LaidOut(bath)))
	}
	if plan.Rate != nil {
		b.Planned = sensito.Celsius(plan.Rate.Celsius)
	}
	b.Light = sheet.LightText()
	if sheet.Order != nil {
		b.Order = sheet.Order.Text()
	}
	b.Cautions = report.Cautions()[:1] // the last stands in the foot of every page
	return nil
}
