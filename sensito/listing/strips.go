package listing

import (
	"cmp"
	"math"
	"slices"

	"sensito/sensito"
	"sensito/sensito/curve"
)

// Strip says how far a strip of a trial is read. Steps are numbers from 1, in wedge
// order; a list is empty where there is nothing to name.
type Strip struct {
	*sensito.Strip

	Unread  []int // steps without a reading, those that are still to be keyed in among them
	Ignored []int // steps that the photographer has set aside

	// Questioned are readings that cannot belong to the curve of the strip. They are
	// set aside, Step 0 being base plus fog or the white of a paper, until they are
	// read again.
	Questioned []curve.SetAside
}

// newStrips returns the strips of a trial as they are read, before their curves.
func newStrips(t *sensito.Trial) []Strip {
	var out []Strip
	for _, s := range t.Strips() {
		l := Strip{Strip: s, Unread: []int{}, Ignored: []int{}, Questioned: []curve.SetAside{}}
		for _, step := range s.Steps() {
			switch {
			case step.Ignored:
				l.Ignored = append(l.Ignored, step.Number)
			case math.IsNaN(float64(step.Density)):
				l.Unread = append(l.Unread, step.Number)
			}
		}
		out = append(out, l)
	}
	return out
}

// question notes what the curve of a strip sets aside; nil is no curve.
func (s *Trial) question(number int, f *curve.Fit) {
	if f != nil {
		s.Strips[number-1].Questioned = append(s.Strips[number-1].Questioned, f.SetAside...)
	}
}

// Gaps returns the steps that were passed over: those without a reading of a strip that
// is complete. It is empty for a strip that is being keyed in or not begun.
func (s Strip) Gaps() []int {
	if s.NextStep() > 0 || s.StepsRead() == 0 {
		return nil
	}
	return s.Unread
}

// times returns the development times of the strips, each once.
func (s *Trial) times() []sensito.Minutes {
	var out []sensito.Minutes
	for _, strip := range s.Strips {
		if m := strip.Minutes(); !slices.Contains(out, m) {
			out = append(out, m)
		}
	}
	return out
}

// dated takes the dates of strips and of the log of a trial.
func (s *Trial) dated() {
	var logged []string
	for _, strip := range s.Strips {
		s.span(strip.Date())
	}
	s.Newest, s.Developed = s.Last, [2]string{s.First, s.Last}
	for _, d := range s.Trial.Done() {
		s.span(d.Date)
		logged = append(logged, d.Date)
	}
	if len(logged) > 0 {
		s.Newest = cmp.Or(s.Newest, slices.Max(logged))
	}
}

// span widens First to Last by a date, whose form sorts as days do.
func (s *Trial) span(date string) {
	if date == "" {
		return
	}
	if s.First == "" || date < s.First {
		s.First = date
	}
	s.Last = max(s.Last, date)
}
