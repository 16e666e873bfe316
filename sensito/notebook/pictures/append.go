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
		if of := sameLook(trial, s, c.Repeatability); of > 0 {
			left = append(left, fmt.Sprintf("strip %d of the picture is strip %d of the trial, read in the same file, and is left out", i+1, of))
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

// sameLook returns the number of the strip that s is another look at, 0 for none.
func sameLook(trial *sensito.Trial, s sensito.StripSpec, repeatability sensito.Density) int {
	for _, other := range trial.Strips() {
		if other.Picture() == "" || other.Picture() != s.Picture || other.Minutes() != s.Minutes || other.Grade() != s.Grade {
			continue
		}
		if alike(other, s, 4*math.Sqrt2*float64(repeatability)) {
			return other.Number()
		}
	}
	return 0
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

// Known returns how a trial knows the pictures that a strip was read in: the name of each file, and the sum of its content, half
// of it where there are several. A long name is cut.
func Known(names []string, sums [][32]byte) string {
	var parts []string
	for i, name := range names {
		sum := fmt.Sprintf("%x", sums[i])
		if len(names) > 1 {
			sum = sum[:32]
		}
		clean := []rune(strings.Map(func(r rune) rune {
			if r == ',' || r == ';' || !unicode.IsGraphic(r) {
				return '_'
			}
			return r
		}, name))
		if most := mostKnown/len(names) - len(sum) - len(", ; "); len(clean) > most {
			clean = append(clean[:most-1], '…')
		}
		parts = append(parts, string(clean)+", "+sum)
	}
	return strings.Join(parts, "; ")
}
