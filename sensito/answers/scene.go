package answers

import (
	"fmt"
	"strconv"

	"sensito/sensito"
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

func plain(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// partsInWords are the parts of the error of a time, and what makes each smaller.
var partsInWords = map[string][2]string{
	"readings":         {"readings of single strips", "more steps, or read twice"},
	"shape":            {"shape of the curve, shared by strips", "finer steps"},
	"wedge":            {"the steps of the wedge, shared", "a certificate, or read it once"},
	"densitometer":     {"the densitometer, in all readings", "check it on a known patch"},
	"pictures":         {"calibration of the pictures", "a tablet with a certificate"},
	scene.PartProcess:  {"the process, which varies", "more strips, a better thermometer"},
	"law":              {"the law of growth", "a strip nearer to this time"},
	scene.PartAim:      {"the density range the paper takes", "a test of the paper, finer steps"},
	scene.PartExposure: {"lamp and shutter, in all exposures", "measure their light again"},
	scene.PartToday:    {"the conditions of today", "strips, or control strips, of today"},
}

// ErrorPart says what a part of the error of a time is of, and what would make it smaller.
func ErrorPart(p scene.Part) (of, smaller string) {
	words := partsInWords[p.Of]
	return words[0], words[1]
}
