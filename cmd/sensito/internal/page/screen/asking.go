package screen

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/sensito"
	"sensito/sensito/printable"
	"sensito/sensito/scene"
)

// An Asking is what was asked, as a sentence with fields in it.
type Asking struct {
	Action string // the address that it is sent to
	Parts  []Part
	More   []Part  // what is seldom asked
	Open   bool    // some of that is asked
	Hidden []Value // what is asked besides
}

// A Part of the sentence is a field, or a choice, with the words about it.
type Part struct {
	Before, After string
	Field         *Field
	Choice        *Choice
}

// A Field is one to write in, or a box to tick.
type Field struct {
	Name, Value string
	Short       bool // a number
	Less, More  string
	Box, Ticked bool
	Hint        string // what holds where it is empty, or how it is written
}

// A Choice is one of some options, shown as a list to unfold or, under red, in full.
type Choice struct {
	Name    string
	Options []Option
}

// An Option is one of a choice.
type Option struct {
	Value, Text string
	Chosen      bool
}

// A Value goes along with a form.
type Value struct{ Name, Value string }

// Offers are what there is to choose from.
type Offers struct {
	Films, Aims, Logs, Rolls, Procedures []Option
}

// Asked is what a page was asked: Values those of its query, Known the flags of its command.
type Asked struct {
	Action string
	Values map[string][]string
	Known  func(flag string) bool
	Offers Offers
}

// value returns what was asked by a key, as it can be set.
func (a Asked) value(key string) string { return printable.Text(strings.Join(a.Values[key], " ")) }

func (a Asked) has(key string) bool { _, has := a.Values[key]; return has }

// halfStop is by how much the buttons beside a range change it.
const halfStop = 0.5

// NewAsking returns the form of a question.
func NewAsking(a Asked) *Asking {
	s := &Asking{Action: a.Action}
	s.scene(a)
	of := "on"
	if len(s.Parts) == 0 {
		of = "A card of"
	}
	s.choice(a, of, "trial", a.Offers.Films, "")
	s.Parts = append(s.Parts, Part{Before: "printed on", Choice: &Choice{"aim", a.Offers.Aims}})
	for _, f := range []struct{ key, before, hint string }{{"density-range", "which is", "1.05"}, {"scan", "the lightest tone at density", "2.00"}} {
		if a.has(f.key) {
			s.field(a, f.before, f.key, "", f.hint, true)
		}
	}
	if !a.has("scan") {
		s.choice(a, "with", "enlarger", []Option{{Value: "", Text: "diffused light"}, {Value: "condenser", Text: "a condenser"}}, "")
		if a.value("enlarger") == "condenser" {
			s.field(a, "its coefficient is", "callier", "", "1.3", true)
		}
	}
	s.flare(a)
	s.field(a, "the developer is at", "at", "°C", "as tested", true)
	s.session(a)
	s.more(a)
	return s.hide(a)
}

// scene asks for a range, for two spot readings, for a roll, or for a time that is chosen.
func (s *Asking) scene(a Asked) {
	switch {
	case a.has("minutes"):
		s.field(a, "A time of", "minutes", "min:s", "", true)
	case a.has("shadow") || a.has("highlight"):
		s.field(a, "A shadow reads", "shadow", "", "EV@zone, as 8@III", false)
		s.field(a, "and a highlight", "highlight", "", "as 13@VIII", false)
		s.field(a, "the meter set to", "meter-index", "", "100", true)
		s.field(a, "at f/", "aperture", "", "", true)
		s.field(a, "or for", "time", "", "", true)
		s.field(a, "with a filter", "filter", "", "", true)
	case a.has("roll"):
		s.choice(a, "The roll", "roll", a.Offers.Rolls, "")
	case a.Known("range"):
		s.field(a, "A scene of", "range", "stops", "", true)
		f := s.Parts[len(s.Parts)-1].Field
		if v, err := strconv.ParseFloat(f.Value, 64); err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) {
			f.Less, f.More = strconv.FormatFloat(v-halfStop, 'f', -1, 64), strconv.FormatFloat(v+halfStop, 'f', -1, 64)
		}
	}
}

// flare asks what flare takes: a number is the fixed loss.
func (s *Asking) flare(a Asked) {
	s.field(a, "flare takes", "flare", "", "0.40", true)
	f := s.Parts[len(s.Parts)-1].Field
	if loss := strings.TrimPrefix(f.Value, string(sensito.FlareFixed)+"="); f.Value == "" || f.Value == string(sensito.FlareFixed) {
		f.Value = fixed(sensito.DefaultFlareLoss, 2)
	} else {
		f.Value = loss
	}
}

// session asks what is processed, and in what.
func (s *Asking) session(a Asked) {
	if !a.Known("vessel") {
		return
	}
	s.field(a, "Films:", "films", "", "as 6x 4x5in", false)
	s.field(a, "in", "vessel", "", "as tank 1000ml", false)
	s.field(a, "on", "date", "", "today", false)
	if len(a.Offers.Procedures) > 1 {
		s.choice(a, "by", "procedure", a.Offers.Procedures, "")
	}
}

// more asks what is seldom asked.
func (s *Asking) more(a Asked) {
	main := len(s.Parts)
	s.field(a, "By the end the bath is at", "ends-at", "°C", "", true)
	s.choice(a, "Agitation", "agitation", []Option{{Value: "", Text: "as in the trial"}, {Value: "continuous", Text: "continuous"}, {Value: "intermittent", Text: "intermittent"}, {Value: "none", Text: "none"}}, "")
	s.field(a, "Dilution", "dilution", "", "as tested", true)
	if len(a.Offers.Logs) > 1 {
		s.choice(a, "The process by", "control", a.Offers.Logs, "")
		s.Parts = append(s.Parts, Part{After: "corrected for it", Field: &Field{Name: "correct", Value: "true", Box: true, Ticked: a.value("correct") == "true"}})
	}
	s.field(a, "The speed point lies", "shadow-stops", "stops below the metered tone", "4", true)
	if a.Known("index") && !a.has("roll") {
		s.field(a, "Expose at an index of your own,", "index", "", "", true)
		s.field(a, "or the film has been exposed at", "exposed-at", "", "", true)
		s.choice(a, "and keep", "keep", []Option{{Value: "", Text: "the lightest tone"}, {Value: string(scene.KeepMetered), Text: "the metered tone"}, {Value: string(scene.KeepRange), Text: "the density range"}}, "")
	}
	s.Parts, s.More = s.Parts[:main], s.Parts[main:]
	s.Open = slices.ContainsFunc(s.More, func(p Part) bool {
		return p.Field != nil && a.has(p.Field.Name) || p.Choice != nil && a.has(p.Choice.Name)
	})
}

func (s *Asking) field(a Asked, before, key, after, hint string, short bool) {
	if a.Known(key) {
		s.Parts = append(s.Parts, Part{Before: before, After: after, Field: &Field{Name: key, Value: a.value(key), Short: short, Hint: hint}})
	}
}

// choice asks for one of some options, the one of the query being chosen.
func (s *Asking) choice(a Asked, before, key string, options []Option, after string) {
	if key != "trial" && !a.Known(key) {
		return
	}
	options = slices.Clone(options)
	is := slices.IndexFunc(options, func(o Option) bool { return o.Value == a.value(key) })
	if is < 0 { // as it was asked, and refused
		options, is = append(options, Option{Value: a.value(key), Text: a.value(key)}), len(options)
	}
	options[is].Chosen = true
	s.Parts = append(s.Parts, Part{Before: before, After: after, Choice: &Choice{key, options}})
}

// hide takes along what has no field.
func (s *Asking) hide(a Asked) *Asking {
	shown := map[string]bool{"paper": true, "grade": true, "trial": true}
	for _, p := range slices.Concat(s.Parts, s.More) {
		if p.Field != nil {
			shown[p.Field.Name] = true
		} else {
			shown[p.Choice.Name] = true
		}
	}
	for key, values := range a.Values {
		if !shown[key] && a.Known(key) {
			for _, v := range values {
				s.Hidden = append(s.Hidden, Value{key, printable.Text(v)})
			}
		}
	}
	slices.SortFunc(s.Hidden, func(a, b Value) int { return strings.Compare(a.Name, b.Name) })
	return s
}
