package answers

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sensito/sensito"
	"sensito/sensito/listing"
	"sensito/sensito/paper"
	"sensito/sensito/scene"
)

// Entry says in a line or two what a file of a notebook comes to: "Seven stops: 6:35 at
// 80. ISO 125/22° at 7:00. Five strips, 4:00 to 10:00; one reading questioned." It is ""
// for a file of another kind.
func Entry(e listing.Entry) string {
	switch {
	case e.Err != nil:
		return "Cannot be read: " + fault(e) + "."
	case e.Trial != nil && e.Trial.Trial.Material() == sensito.PaperMaterial:
		return papers(e.Trial)
	case e.Trial != nil:
		return film(e.Trial)
	case e.Control != nil:
		return log(e.Control)
	case e.Roll != nil:
		return roll(e.Roll)
	case e.Procedure != nil:
		text := "A procedure of " + lower(Counted(len(e.Procedure.Steps()), "step")) + "."
		if title := e.Procedure.Title(); title != "" {
			text = title + ". " + text
		}
		return text
	case e.Tablet != nil:
		return tablet(e.Tablet)
	}
	return ""
}

func tablet(t *listing.Tablet) string {
	text := "A tablet of " + lower(Counted(t.Steps, "step")) + "."
	if t.ReadsTo > 0 {
		text = fmt.Sprintf("A calibration of pictures, which reads to a density of %.2f.", t.ReadsTo)
	}
	if t.Name != "" {
		text = t.Name + ". " + text
	}
	return text
}

// DateOf returns a date that is written as YYYY-MM-DD in words, "4 June 2026"; "undated"
// for none.
func DateOf(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return "undated"
	}
	return t.Format(dateInYear)
}

func film(t *listing.Trial) string {
	var parts []string
	if n := t.Normal; n != nil {
		text := "Seven stops: " + n.Value.Clock(5)
		if n.AtLeast {
			text += " or longer"
		}
		if t.Index != nil {
			set, _ := t.Index.Value.Standard()
			text += " at " + figure(float64(set))
		}
		parts = append(parts, text)
	}
	switch {
	case t.Speed != nil && t.ISO:
		set, degrees := t.Speed.Value.Standard()
		parts = append(parts, fmt.Sprintf("ISO %s/%d° at %s", figure(float64(set)), degrees, t.SpeedMinutes.Clock(5)))
	case t.Speed != nil:
		text := fmt.Sprintf("Speed %s at %s", speed(t.Speed.Value), t.SpeedMinutes.Clock(5))
		if how := t.Trial.HowRead(); t.Trial.Pictured() != nil {
			text += ", " + how
		}
		parts = append(parts, text)
	}
	parts = append(parts, Counted(len(t.Strips), "strip")+span(t)+open(t))
	return strings.Join(parts, ". ") + "."
}

// span tells the times of the strips of a film.
func span(t *listing.Trial) string {
	short, long := t.Strips[0].Minutes(), t.Strips[0].Minutes()
	for _, s := range t.Strips {
		short, long = min(short, s.Minutes()), max(long, s.Minutes())
	}
	if short == long {
		return ", " + short.Clock(1)
	}
	return ", " + short.Clock(1) + " to " + long.Clock(1)
}

// open tells how many readings are questioned, and how many were passed over.
func open(t *listing.Trial) string {
	questioned, gaps := 0, 0
	for _, s := range t.Strips {
		questioned += len(s.Questioned)
		gaps += len(s.Gaps())
	}
	var parts []string
	if questioned > 0 {
		parts = append(parts, lower(Counted(questioned, "reading"))+" questioned")
	}
	if gaps > 0 {
		parts = append(parts, lower(Counted(gaps, "step"))+" not read")
	}
	if len(parts) == 0 {
		return ""
	}
	return "; " + strings.Join(parts, ", ")
}

func papers(t *listing.Trial) string {
	var ranges []string
	name := "ISO range "
	for _, p := range t.Paper {
		if p.LogRange == nil {
			continue
		}
		if p.Pictured() {
			name = "Range "
		}
		ranges = append(ranges, strings.TrimPrefix(p.Grade+": "+PaperRange(p), ": "))
	}
	text := ""
	if len(ranges) > 0 {
		text = name + strings.Join(ranges, ", ") + ". "
	}
	return text + Counted(len(t.Strips), "strip") + open(t) + "."
}

// PaperRange returns the rounded ISO range of a strip of paper, "R 110" or "R 110 or more", or
// "1.08 log H" of one that was read in a picture; the strip must have a log range.
func PaperRange(p *paper.Strip) string {
	text := fmt.Sprintf("R %d", p.RoundedRange())
	if p.Pictured() {
		text = fmt.Sprintf("%.2f log H", float64(p.LogRange.Value))
	}
	if p.LogRange.AtLeast {
		text += " or more"
	}
	return text
}

func log(c *listing.Control) string {
	text := Counted(len(c.Log.Strips()), "control strip")
	if c.First != c.Last {
		text += " since " + DateOf(c.First)
	}
	if c.Control != nil {
		text += ". " + Control(c.Control)
	}
	return text + "."
}

func roll(frames []scene.Frame) string {
	least, most := math.Inf(1), 0.0
	for _, f := range frames {
		least, most = min(least, f.Stops), max(most, f.Stops)
	}
	text := "A roll of " + lower(Counted(len(frames), "scene")) + ", " + hundredths(least)
	if hundredths(most) != hundredths(least) {
		text += " to " + hundredths(most)
	}
	return text + " stops."
}

// Task says in a sentence what is to be done: "Larkfield 125 in Brinewater, strip of 8:00:
// read step 9 again: it reads 1.18 where the curve has 1.08."
func Task(t listing.Task) string {
	switch t.Kind {
	case listing.TaskProcess:
		return processTask(t.Entry)
	case listing.TaskUnreadable:
		return t.Entry.File + " cannot be read: " + fault(t.Entry) + "."
	case listing.TaskStrips:
		if t.More == 1 {
			return trialOf(t.Entry) + ": one more strip, for another time, checks its times."
		}
		what := "make its times sure"
		if t.More >= listing.TimesFrom {
			what = "give times"
		}
		return fmt.Sprintf("%s: %s, each for another time, %s.", trialOf(t.Entry), lower(Counted(t.More, "more strip")), what)
	}
	where := fmt.Sprintf("%s, %s: ", trialOf(t.Entry), stripName(t.Strip))
	words := t.Strip.Trial().Reading().Words
	switch q := t.Reading; {
	case q != nil && q.Step == 0:
		return where + fmt.Sprintf("read %s again: it reads %s where the curve has %s.", base(t.Strip), words(q.Density), words(q.Expected))
	case q != nil:
		return where + fmt.Sprintf("read step %d again: it reads %s where the curve has %s.", q.Step, words(q.Density), words(q.Expected))
	case t.Base:
		return where + base(t.Strip) + " is not read."
	case t.Strip.NextStep() > 0:
		return where + fmt.Sprintf("keying in stopped at step %d of %d: go on there.", t.Strip.NextStep(), len(t.Strip.Steps()))
	case t.Strip.StepsRead() == 0:
		return where + "no step is read yet."
	}
	note := ""
	if t.Strip.Note() != "" {
		note = " (" + t.Strip.Note() + ")"
	}
	if len(t.Steps) == 1 {
		return where + fmt.Sprintf("step %d is not read%s.", t.Steps[0], note)
	}
	return where + fmt.Sprintf("steps %s are not read%s.", sensito.StepList(t.Steps), note)
}

// trialOf names a trial by its title, an untitled one by its file, since there may be
// several of a film.
func trialOf(e listing.Entry) string { return cmp.Or(e.Trial.Trial.Title(), e.File) }

// processTask says since when a process is out of control, and what to do.
func processTask(e listing.Entry) string {
	c := e.Control
	text := Departed(c.Control, e.File) + ": "
	if c.Drift != nil && lasting(c.Control) {
		switch p := c.Drift.TimePercent; direction(p) {
		case 1:
			return text + fmt.Sprintf("develop %.0f %% longer, or mix afresh.", p.Value)
		case -1:
			return text + fmt.Sprintf("develop %.0f %% shorter, or find what makes it quicker.", -p.Value)
		}
	}
	return text + "check the densitometer and develop a second control strip before any film."
}

// stripName tells a strip from the others of its trial.
func stripName(s *sensito.Strip) string {
	alike := func(o *sensito.Strip) bool { return o.Minutes() == s.Minutes() && o.Grade() == s.Grade() }
	others := slices.DeleteFunc(s.Trial().Strips(), func(o *sensito.Strip) bool { return !alike(o) })
	switch {
	case len(others) > 1:
	case s.Grade() != "":
		return "strip of grade " + s.Grade()
	case s.Minutes() > 0:
		return "strip of " + s.Minutes().Clock(1)
	}
	return "strip " + strconv.Itoa(s.Number())
}

// base names what is read beside the steps.
func base(s *sensito.Strip) string {
	if s.Trial().Material() == sensito.PaperMaterial {
		return "the white of the paper"
	}
	return "base plus fog"
}

// fault tells why a file cannot be read.
func fault(e listing.Entry) string {
	line, reason, more := e.Fault()
	if line > 0 {
		reason = fmt.Sprintf("line %d: %s", line, reason)
	}
	if more > 0 {
		reason += fmt.Sprintf(" (and %d more)", more)
	}
	return reason
}

// numbers are those told in letters.
var numbers = []string{"No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve"}

// Counted returns a number, in letters up to twelve, with its noun, as a sentence begins.
func Counted(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	if n < len(numbers) {
		return numbers[n] + " " + noun
	}
	return strconv.Itoa(n) + " " + noun
}

// lower returns text that begins a sentence as it stands within one.
func lower(text string) string { return strings.ToLower(text[:1]) + text[1:] }

// figure returns a number as short as it is.
func figure(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// hundredths is figure, to two places.
func hundredths(v float64) string { return figure(math.Round(100*v) / 100) }
