package picture

import (
	"math"

	"sensito/sensito/internal/check"
)

// A Tablet is a row of steps of known density.
type Tablet struct {
	Name    string
	Density []float64 // of its steps in order, rising

	// DensitySD is how well each density is known by itself, and ScaleSD how well the scale
	// that all of them share, as a part of it. 0 is the usual one of Known.
	DensitySD, ScaleSD float64

	Known    string // Certificate, or Nominal, which "" is too
	Geometry string // in which the densities were read: Diffuse, which "" is too, or Reflection
	MadeOf   string // "dye", "ink", "metal" or Silver, which "" is too where light comes through
}

// How the densities of a tablet are known, and of what it is.
const (
	Certificate = "certificate" // each step was measured
	Nominal     = "nominal"     // what its kind should have

	Silver = "silver"

	// In which geometry densities are known: those of film by light that comes through and is
	// gathered from all sides (ISO 5-2), those of paper by light that falls at 45° and is seen at
	// 0° (ISO 5-4); both from memory.
	Diffuse    = "diffuse"
	Reflection = "45/0"
)

// How well densities are known where nothing is said, for Certificate and Nominal: 0.01 and
// 0.02 of a step are what the targets in DEVELOPERS.md assume, and 0.5 % and 2 % of the scale
// are common practice, no source. TestTabletDefaults holds them.
const (
	certifiedSD, certifiedScaleSD = 0.01, 0.005
	nominalSD, nominalScaleSD     = 0.02, 0.02
)

// callierSD is what is not known of the scale where a tablet scatters light otherwise than
// film does: silver by silver leaves little of the Callier effect (A. Callier, 1909, from
// memory), dye, ink and metal all of it. Common practice, no source; TestCallier holds it.
const callierSD = 0.03

// Fewest and most steps of a tablet; TestTabletRefused holds them. Fewer than 7 tell no
// curve from errors of the steps.
const (
	FewestSteps = 7
	MostSteps   = 200
)

// Beyond what silver or any tablet has, and beyond the black of any print, 2.4 or so (common
// practice, no source); TestTabletRefused holds them.
const steepestTablet, steepestReflection = 6, 3

// NewTablet returns the tablet with what is usual in place of what is not said. The error
// joins all faults, each a sensito.FieldError by its key in a calibration file.
func NewTablet(t Tablet) (Tablet, error) {
	var f check.Faults
	f.Line("tablet.name", t.Name, 100)
	if n := len(t.Density); n < FewestSteps || n > MostSteps {
		f.Add("tablet.density", "has %d steps; a calibration needs %d to %d", n, FewestSteps, MostSteps)
	}
	steepest := map[bool]float64{false: steepestTablet, true: steepestReflection}[t.Reflection()]
	for i, d := range t.Density {
		f.WithinAt("tablet.density", i, d, 0, steepest, "")
		if i > 0 && d <= t.Density[i-1] {
			f.Add("tablet.density", "step %d is %g, not above %g of the step before: give them from the lightest on", i+1, d, t.Density[i-1])
			break
		}
	}
	switch t.Known {
	case "":
		t.Known = Nominal
	case Certificate, Nominal:
	default:
		f.Add("tablet.known", "%q is not certificate or nominal", t.Known)
	}
	usual, usualScale := nominalSD, nominalScaleSD
	if t.Known == Certificate {
		usual, usualScale = certifiedSD, certifiedScaleSD
	}
	if t.DensitySD == 0 {
		t.DensitySD = usual
	}
	if t.ScaleSD == 0 {
		t.ScaleSD = usualScale
	}
	f.Within("tablet.density_sd", t.DensitySD, 1e-4, 0.2, "")
	f.Within("tablet.scale_sd", t.ScaleSD, 1e-4, 0.2, "")
	switch t.Geometry {
	case "":
		t.Geometry = Diffuse
	case Diffuse, Reflection:
	default:
		f.Add("tablet.geometry", "%q is not %s or %s: film is judged by diffuse densities, paper by those of light at 45°", t.Geometry, Diffuse, Reflection)
	}
	switch t.MadeOf {
	case "":
		if !t.Reflection() {
			t.MadeOf = Silver
		}
	case Silver, "dye", "ink", "metal":
	default:
		f.Add("tablet.made_of", "%q is not silver, dye, ink or metal", t.MadeOf)
	}
	return t, f.Err()
}

// Reflection says whether the tablet is a grey scale on paper, read by light that comes back.
// Strips of paper are read by one, strips of film by one that is not.
func (t Tablet) Reflection() bool { return t.Geometry == Reflection }

// scatters says whether the tablet scatters the light that comes through otherwise than film.
func (t Tablet) scatters() bool { return !t.Reflection() && t.MadeOf != Silver }

// scaleSD returns how well the scale of densities read by the tablet is known, what it is made
// of included.
func (t Tablet) scaleSD() float64 {
	if t.scatters() {
		return math.Hypot(t.ScaleSD, callierSD)
	}
	return t.ScaleSD
}

// kept returns the steps of the tablet of which there is a value, and the values beside them.
func (t Tablet) kept(values []float64) (density, value []float64, place []int) {
	for i, v := range values {
		if !math.IsNaN(v) {
			density, value, place = append(density, t.Density[i]), append(value, v), append(place, i)
		}
	}
	return density, value, place
}
