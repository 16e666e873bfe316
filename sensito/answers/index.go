package answers

import (
	"fmt"
	"math"
	"strconv"

	"sensito/sensito"
	"sensito/sensito/camera"
	"sensito/sensito/scene"
)

// leastSeen is what is told of stops and of log exposure.
const leastSeen = 0.05

// Stops returns a number of stops to a tenth, "1.0 stop" or "2.3 stops".
func Stops(v float64) string {
	if text := strconv.FormatFloat(v, 'f', 1, 64); text != "1.0" {
		return text + " stops"
	}
	return "1.0 stop"
}

// Index says behind a time at which index the film is exposed that is given: " for EI 160,
// a push of 1.0 stop", or ": film exposed at EI 40, 1.0 stop more than it needs".
func Index(a *scene.AtIndex) string {
	over := a.Push.Value
	how := "the film's own index"
	switch {
	case over >= leastSeen && a.Exposed:
		how = Stops(over) + " less than it needs"
	case over >= leastSeen:
		how = "a push of " + Stops(over)
	case over <= -leastSeen && a.Exposed:
		how = Stops(-over) + " more than it needs"
	case over <= -leastSeen:
		how = Stops(-over) + " more exposure than it needs"
	}
	if a.Exposed {
		return fmt.Sprintf(": film exposed at EI %s, %s", speed(a.Index), how)
	}
	return fmt.Sprintf(" for EI %s, %s", speed(a.Index), how)
}

// speed returns an index as people set it.
func speed(s sensito.Speed) string {
	if s >= 10 {
		return strconv.FormatFloat(float64(s), 'f', 0, 64)
	}
	return strconv.FormatFloat(float64(s), 'g', 2, 64)
}

// Shadows says which shadows fall below the speed point at an index that is given, with
// intervals at a level of confidence.
func Shadows(p *scene.Answer, level float64) string {
	a := p.AtIndex
	low, high := a.SpeedPoint.Interval(level)
	below := fmt.Sprintf("%.1f stops below the metered tone (%.1f to %.1f; zone %s)", -a.SpeedPoint.Value, -high, -low, zone(a.SpeedPoint.Value))
	if a.Lost < leastSeen {
		return fmt.Sprintf("No shadow of the scene is lost: the speed point lies %s.", below)
	}
	return fmt.Sprintf("Shadows more than %s fall under the speed point and are lost: %.1f of the %s stops of the scene are left.",
		below, p.Scene.Stops-a.Lost, strconv.FormatFloat(p.Scene.Stops, 'g', 4, 64))
}

// zone names the zone of a tone, to a third.
func zone(stops float64) string {
	z := camera.MeteredZone + camera.Zone(math.Round(3*stops)/3)
	switch {
	case z < 0:
		return "below 0"
	case z > 0 && z < 1:
		return "0 " + z.String()
	}
	return z.String()
}

// PrintOn says what the paper must do with the negative of an index that is given; ends are
// those of its print. It is "" for a scan.
func PrintOn(p *scene.Answer, ends *scene.PrintEnds, level float64) string {
	a := p.AtIndex
	if a.Print == nil {
		return ""
	}
	low, high := p.Delivered.Interval(level)
	text := fmt.Sprintf("Print it on %s: the negative spans %.2f (%.2f to %.2f)", a.Print.Name, float64(p.Delivered.Value), float64(low), float64(high))
	switch rest := float64(a.Rest); {
	case rest >= leastSeen:
		text += fmt.Sprintf(", %.2f log exposure more than that grade takes", rest)
	case rest <= -leastSeen:
		text += fmt.Sprintf(", %.2f log exposure less than that grade takes", -rest)
	}
	if ends.White != nil && ends.Black == nil {
		text += fmt.Sprintf("; on %s no tone prints black", p.Scene.Paper.Name())
	}
	return text + "."
}

// Kept says what the film is given normally, what of that an index that is given keeps,
// and what else could be kept.
func Kept(p *scene.Answer) string {
	a := p.AtIndex
	text := fmt.Sprintf("A scene of %s stops, for %s: normally %s at EI %s. ", strconv.FormatFloat(p.Scene.Stops, 'g', 4, 64), p.Scene.AimText(),
		a.Normal.Minutes.Value.Clock(5), speed(a.Normal.ExposureIndex.Value))
	density := fmt.Sprintf("%.2f that it has then.", float64(a.Density))
	switch a.Keep {
	case scene.KeepRange:
		text += "The scene keeps the density range of " + density
	case scene.KeepMetered:
		text += "The metered tone keeps the net density of " + density
	default:
		text += fmt.Sprintf("The lightest tone, %+.3g stops from the metered one, keeps the net density of %s", a.Tone, density)
	}
	for i, o := range a.Others {
		at := "out of reach"
		if o.Minutes != 0 {
			at = o.Minutes.Clock(5)
		}
		if i == 0 {
			text += " To keep " + keptNames[o.Keep] + " instead: " + at
		} else {
			text += "; " + keptNames[o.Keep] + ": " + at
		}
	}
	return text + "."
}

// keptNames are what can be kept, in words.
var keptNames = map[scene.Kept]string{scene.KeepRange: "the density range", scene.KeepMetered: "the metered tone", scene.KeepHighlight: "the lightest tone"}
