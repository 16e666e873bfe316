package keyed

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sensito/cmd/sensito/internal/told"
	"sensito/sensito"
	"sensito/sensito/entry"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/store"
)

// A Drawn is a strip as a form shows it: what the form was made from.
type Drawn struct {
	File  string            // a hash of the file
	Strip string            // a hash of all that the file said of the strip
	Old   map[string]string // each field as it would be typed; a field without content is not in it
}

// Hash returns what tells one content of a file from another.
func Hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// OldText returns the old values as a form carries them.
func (d Drawn) OldText() string {
	text, err := json.Marshal(d.Old)
	if err != nil {
		panic(err) // of texts
	}
	return string(text)
}

// Parse returns what a form carries. The error says that it carries nothing of that kind.
func Parse(file, strip, old string) (Drawn, error) {
	d := Drawn{File: file, Strip: strip}
	if err := json.Unmarshal([]byte(old), &d.Old); err != nil || d.Old == nil || file == "" || strip == "" {
		return d, fmt.Errorf("the form does not say what it was made from; load the page again")
	}
	return d, nil
}

// The fields of a strip, beside those of its steps.
const (
	minutesField     = "minutes"
	gradeField       = "grade"
	fogField         = "base_fog"
	dateField        = "developed"
	temperatureField = "temperature_c"
	noteField        = "note"
)

// ownFields are those of the strip itself, in the order in which they are shown.
var ownFields = []string{minutesField, gradeField, fogField, dateField, temperatureField, noteField}

func stepField(step int) string { return "s" + strconv.Itoa(step) }

// stepOf returns the step of a field, 0 where it is another field.
func stepOf(field string, steps int) int {
	digits, ok := strings.CutPrefix(field, "s")
	n, err := strconv.Atoi(digits)
	if !ok || err != nil || n < 1 || n > steps || stepField(n) != field {
		return 0
	}
	return n
}

// IsField says whether a form may have that field of a strip.
func IsField(name string) bool {
	return slices.Contains(ownFields, name) || stepOf(name, math.MaxInt) > 0
}

// label names a field for people.
func label(field string, steps int) string {
	if n := stepOf(field, steps); n > 0 {
		return fmt.Sprintf("step %d", n)
	}
	return map[string]string{minutesField: "minutes developed", gradeField: "grade", fogField: "base plus fog", dateField: "date",
		temperatureField: "temperature", noteField: "note"}[field]
}

// draw returns the strip of the number as a form of the file shows it.
func draw(data []byte, t *sensito.Trial, number int) Drawn {
	print := sha256.Sum256([]byte(told.Text(t, number)))
	return Drawn{File: Hash(data), Strip: hex.EncodeToString(print[:8]), Old: fieldsOf(t.Strips()[number-1])}
}

// fieldsOf returns what a strip has, as it would be typed.
func fieldsOf(s *sensito.Strip) map[string]string {
	spec := s.Spec()
	out := map[string]string{}
	put := func(field, text string) {
		if text != "" {
			out[field] = text
		}
	}
	put(minutesField, minutesText(spec.Minutes))
	put(gradeField, spec.Grade)
	put(fogField, readingsText(spec.BaseFog))
	put(dateField, spec.Date)
	if c := s.Process().TemperatureC; c != 0 {
		put(temperatureField, number(c))
	}
	put(noteField, spec.Note)
	for i := range spec.Density {
		put(stepField(i+1), readingsText(readingsAt(spec, i+1)))
	}
	return out
}

// readingsAt returns the readings of a step, from 1, nil where there are none.
func readingsAt(s sensito.StripSpec, step int) []sensito.Density {
	switch d := s.Density[step-1]; {
	case len(s.Repeats[step]) > 0:
		return s.Repeats[step]
	case !math.IsNaN(float64(d)):
		return []sensito.Density{d}
	}
	return nil
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// minutesText writes a time so that reading it gives the same.
func minutesText(m sensito.Minutes) string {
	if m == 0 {
		return ""
	}
	text := m.Clock(1)
	if same, err := sensito.ParseMinutes(text); err == nil && same == m {
		return text
	}
	return number(float64(m))
}

func readingsText(readings []sensito.Density) string {
	var out []string
	for _, d := range readings {
		text := number(float64(d))
		if !strings.Contains(text, ".") {
			text += ".0" // 2 can be 0.02
		}
		out = append(out, text)
	}
	return strings.Join(out, " ")
}

// find returns the number of the strip that was drawn, 0 where none is it: the one that
// is as it was drawn, else the only one that has been changed in some fields alone. The
// hint is the number in the address, which others may have moved.
func (d Drawn) find(data []byte, t *sensito.Trial, hint int) int {
	var same, like []int
	for _, s := range t.Strips() {
		if draw(data, t, s.Number()).Strip == d.Strip {
			same = append(same, s.Number())
		} else if d.like(fieldsOf(s), s.Number() == hint) {
			like = append(like, s.Number())
		}
	}
	for _, found := range [][]int{same, like} {
		switch {
		case slices.Contains(found, hint):
			return hint
		case len(found) == 1:
			return found[0]
		case len(found) > 1:
			return 0
		}
	}
	return 0
}

// like says whether a strip with these fields may be the one that was drawn, changed
// since: where it has the number, if all that is said of it is the same; else if it was
// developed as long and has most of the readings that it had, or has all of them.
func (d Drawn) like(is map[string]string, hinted bool) bool {
	own := !slices.ContainsFunc(ownFields, func(field string) bool { return is[field] != d.Old[field] })
	kept, changed := 0, 0
	for field, old := range d.Old {
		switch {
		case slices.Contains(ownFields, field):
		case is[field] == old:
			kept++
		default:
			changed++
		}
	}
	alike := is[minutesField] == d.Old[minutesField] && is[gradeField] == d.Old[gradeField]
	switch {
	case hinted && own:
		return true
	case kept+changed == 0:
		return false
	case !alike:
		return changed == 0
	}
	return changed <= 1 || 2*changed <= kept
}

// A Strip is one of a trial in its file, ready to be keyed in.
type Strip struct {
	*entry.Keying
	Drawn Drawn
	data  []byte
}

// Open reads the strip of the number in the file at path. The error is that of reading,
// or nil with a nil strip where the trial has no such strip.
func Open(path string, number int) (*Strip, *sensito.Trial, error) {
	data, err := store.ReadBytes(path)
	if err != nil {
		return nil, nil, err
	}
	t, err := notebook.Read(path, bytes.NewReader(data))
	if err != nil || number < 1 || number > len(t.Strips()) {
		return nil, t, err
	}
	return &Strip{Keying: entry.NewKeying(t, number), Drawn: draw(data, t, number), data: data}, t, nil
}

// complete says whether keying in has reached the end of the strip.
func (s *Strip) complete() bool { return complete(s.Keying) }

func complete(k *entry.Keying) bool {
	return k.Trial().Strips()[k.Number()-1].NextStep() == 0 && k.Begun()
}

// goTo goes to a step, from 1, and leads back to where keying in goes on once it is read;
// a strip that is complete stays so.
func goTo(k *entry.Keying, step int) error {
	if complete(k) {
		k.ToEnd()
	}
	return k.GoTo(step)
}

// A Row is a field that is not the same for the form and in the file.
type Row struct {
	Field, Label string
	Before       string // as the form was drawn
	File         string // as the file has it now
	Mine         string // as the form wants it
	Both         bool   // both changed it
}

// A Conflict says that a form cannot be joined with what others did to its strip.
type Conflict struct {
	Rows   []Row // in the order of the strip
	Now    Drawn // what the file has
	Number int   // of the strip in it, 0 where it is not to be found
}

func (c *Conflict) Error() string {
	if c.Number == 0 {
		return "the strip is no longer in the file as the page showed it; nothing was saved"
	}
	return "the strip was changed elsewhere; nothing was saved"
}

// join returns the fields of mine that are to be written over those of the file, or a
// *Conflict where both changed one. mine are the fields that the form changes.
func (d Drawn) join(data []byte, t *sensito.Trial, at int, mine map[string]string) (map[string]string, error) {
	steps := t.Exposures().Len()
	fields := append(slices.Clone(ownFields), stepFields(steps)...)
	return d.joined(draw(data, t, at), at, mine, fields, func(field string) string { return label(field, steps) })
}

// joined is join with what the file has now; the fields are all that there are, in the
// order in which they are shown.
func (d Drawn) joined(now Drawn, number int, mine map[string]string, fields []string, label func(string) string) (map[string]string, error) {
	c := &Conflict{Now: now, Number: number}
	write := map[string]string{}
	both := false
	for _, field := range fields {
		before, is := d.Old[field], now.Old[field]
		want, given := mine[field]
		if !given || is == want || want == before {
			continue
		}
		write[field] = want
		row := Row{Field: field, Label: label(field), Before: before, File: is, Mine: want, Both: is != before}
		both = both || row.Both
		c.Rows = append(c.Rows, row)
	}
	if both {
		return nil, c
	}
	return write, nil
}
