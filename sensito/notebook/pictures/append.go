package pictures

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"sensito/sensito"
	"sensito/sensito/notebook"
	"sensito/sensito/notebook/table"
)

// AppendStrips returns the text of a trial with strips added that were read by a calibration, and that calibration
// where the trial does not have it; and says in words which strips were left out, since the trial has them. A strip
// is known by its readings, or by its picture: of the same file, developed alike, and with readings that are the
// same within the error of two looks at it. A calibration of the same name that says something else keeps it; the new
// one then gets a number behind its name. Seen is the text that the strips were made for; errors are as
// for table.AppendStrips.
func AppendStrips(data, seen []byte, strips []sensito.StripSpec, c sensito.Calibration) (text []byte, left []string, err error) {
	trial, err := notebook.Read("the file", bytes.NewReader(data))
	if err != nil {
		return nil, nil, err
	}
	var fresh []sensito.StripSpec
	for i, s := range strips {
		if of := sameLook(trial, s, c.Repeatability); of != nil {
			even := ""
			if of.Picture() != s.Picture {
				even = " by another empty table, or none"
			}
			left = append(left, fmt.Sprintf("strip %d of the picture is strip %d of the trial, read in the same file%s, and is left out", i+1, of.Number(), even))
			continue
		}
		fresh = append(fresh, s)
	}
	c = named(c, trial.Calibrations())
	for i := range fresh {
		fresh[i].Calibration = c.Name
	}
	text, copies, err := table.AppendStrips(data, seen, fresh, c)
	return text, append(left, copies...), err
}

// named returns the calibration under a name that no other of the list has.
func named(c sensito.Calibration, list []sensito.Calibration) sensito.Calibration {
	name := c.Name
	for n := 2; slices.ContainsFunc(list, func(o sensito.Calibration) bool { return o.Name == c.Name && o != c }); n++ {
		c.Name = fmt.Sprintf("%s (%d)", name, n)
	}
	return c
}

// sameLook returns the strip that s is another look at, nil for none.
func sameLook(trial *sensito.Trial, s sensito.StripSpec, repeatability sensito.Density) *sensito.Strip {
	for _, other := range trial.Strips() {
		if other.Picture() == "" || files(other.Picture()) != files(s.Picture) || other.Minutes() != s.Minutes || other.Grade() != s.Grade {
			continue
		}
		if alike(other, s, 4*math.Sqrt2*float64(repeatability)) {
			return other
		}
	}
	return nil
}

// alike says whether the steps that two looks have read differ by less than most.
func alike(other *sensito.Strip, s sensito.StripSpec, most float64) bool {
	both := 0
	for i, step := range other.Steps() {
		if i >= len(s.Density) {
			return false
		}
		d := float64(step.Density - s.Density[i])
		if list := s.Repeats[i+1]; len(list) > 0 {
			d = float64(step.Density - sensito.AverageDensity(list))
		}
		if math.Abs(d) > most {
			return false
		}
		if !math.IsNaN(d) {
			both++
		}
	}
	return both > 0
}

// mostKnown is how long the text is by which a trial knows its pictures, in characters; a trial takes 300.
const mostKnown = 290

// A Source is a file of a picture, by its name and the sum of its content.
type Source struct {
	Name   string
	SHA256 [32]byte
}

// underEmpty begins what a trial says of the picture of the empty table by which others were made even. No name of a file has a
// semicolon there.
const underEmpty = "; empty "

// files returns what a trial knows of the pictures of a strip themselves.
func files(known string) string {
	known, _, _ = strings.Cut(known, underEmpty)
	return known
}

// Known returns how a trial knows the pictures that a strip was read in: the name of each file, and the sum of its content, half
// of it where there are several, and that of the empty table, nil for none. A long name is cut.
func Known(looked []Source, empty *Source) string {
	all := looked
	if empty != nil {
		all = append(looked[:len(looked):len(looked)], *empty)
	}
	var parts []string
	for i, f := range all {
		sum, before := fmt.Sprintf("%x", f.SHA256), ""
		if i == len(looked) {
			before = strings.TrimPrefix(underEmpty, "; ")
		}
		if len(looked) > 1 || before != "" {
			sum = sum[:32]
		}
		clean := []rune(strings.Map(func(r rune) rune {
			if r == ',' || r == ';' || !unicode.IsGraphic(r) {
				return '_'
			}
			return r
		}, f.Name))
		if most := mostKnown/len(all) - len(before) - len(sum) - len(", ; "); len(clean) > most {
			clean = append(clean[:most-1], '…')
		}
		parts = append(parts, before+string(clean)+", "+sum)
	}
	return strings.Join(parts, "; ")
}
