package answers

import (
	"fmt"
	"slices"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/picture"
	"sensito/sensito/scene"
)

// Placement says how the index and the scene lie on the film.
func Placement(s scene.Scene) string {
	p := s.Placement()
	text := "The index lays an even tone " + plain(p.ShadowStops) + " stops below the metered one, without flare, on the speed point"
	if p.Darkest == -p.ShadowStops {
		return text + "; the darkest tone with detail is that far below."
	}
	return text + "; the darkest tone with detail is " + plain(-p.Darkest) + " stops below."
}

// Flare says what flare does.
func Flare(f sensito.Flare) string {
	switch f.Kind {
	case sensito.FlareNone:
		return "no flare"
	case sensito.FlareVeil:
		return fmt.Sprintf("flare: a veil of %g of the highlights", f.Value)
	}
	loss := f.Value
	if loss == 0 {
		loss = sensito.DefaultFlareLoss
	}
	return fmt.Sprintf("flare takes %.2f", loss)
}

// Outside returns what the times that are extrapolated lie outside of, in words that hold
// for each of them: the tested times, or those of the strips that got enough light. It is
// "" where none is.
func Outside(times ...scene.Extrapolation) string {
	var all scene.Extrapolation
	for _, t := range times {
		all.Extrapolated, all.Short = all.Extrapolated || t.Extrapolated, all.Short || t.Short
	}
	switch {
	case !all.Extrapolated:
		return ""
	case all.Short:
		return "outside the times tested with enough light"
	}
	return "outside the tested times"
}

// OutsideOnCard returns Outside of the times of a card.
func OutsideOnCard(c *scene.Card) string {
	var times []scene.Extrapolation
	for _, row := range c.Rows {
		if row.Answer != nil {
			times = append(times, row.Answer.Extrapolation)
		}
	}
	return Outside(times...)
}

func plain(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// partsInWords are the parts of the error of a time, and what makes each smaller.
var partsInWords = map[string][2]string{
	"readings":         {"readings of single strips", "more steps, or read twice"},
	"shape":            {"shape of the curve, shared by strips", "finer steps"},
	"wedge":            {"the steps of the wedge, shared", "a certificate, or read it once"},
	"densitometer":     {"the densitometer, in all readings", "check it on a known patch"},
	partPictures:       {"calibration of the pictures", "a tablet with a certificate"},
	scene.PartProcess:  {"the process, which varies", "more strips, a better thermometer"},
	"law":              {"the law of growth", "a strip nearer to this time"},
	scene.PartAim:      {"the density range the paper takes", "a test of the paper, finer steps"},
	scene.PartExposure: {"lamp and shutter, in all exposures", "measure their light again"},
	scene.PartToday:    {"the conditions of today", "strips, or control strips, of today"},
}

// ErrorPart says what a part of the error of a time is of, and what would make it smaller in
// the trial.
func ErrorPart(p scene.Part, t *sensito.Trial) (of, smaller string) {
	words := partsInWords[p.Of]
	if p.Of == partPictures && certified(t) {
		return words[0], "readings by a densitometer"
	}
	return words[0], words[1]
}

const partPictures = "pictures"

// certified says whether all pictures of a trial go by a tablet with a certificate. The file
// does not say so. It has how surely a density is known: at 2.0 that is about 0.011 by a
// tablet with a certificate and 0.045 by a nominal one, each known as well as is usual
// (sensito/picture), and the limit lies between.
func certified(t *sensito.Trial) bool {
	const density, mostSD = 2, 0.022
	return !slices.ContainsFunc(t.Calibrations(), func(c sensito.Calibration) bool {
		return picture.ErrorOf(c.Covariance, density) > mostSD
	})
}
