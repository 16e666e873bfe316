package sensito

import (
	"fmt"
	"math"
)

// LogExposure is a place on the exposure axis: the base-10 logarithm of the
// exposure H in lux seconds (ISO 6:1993, 3.1). On a strip whose exposures are
// only relative, it is the logarithm of a multiple of an unknown exposure.
type LogExposure float64

// LogRange is a distance on the exposure axis, in base-10 logarithms.
type LogRange float64

// Stop is a factor of two in exposure.
const Stop LogRange = 0.30102999566398120 // log10 2

// Add returns the place d to the right of h.
func (h LogExposure) Add(d LogRange) LogExposure { return h + LogExposure(d) }

// Sub returns the distance from o to h, positive when h is the larger exposure.
func (h LogExposure) Sub(o LogExposure) LogRange { return LogRange(h - o) }

// LuxSeconds returns the exposure in lux seconds.
func (h LogExposure) LuxSeconds() float64 { return math.Pow(10, float64(h)) }

// Stops returns the distance in stops.
func (d LogRange) Stops() float64 { return float64(d / Stop) }

// Density is an ISO 5 visual diffuse transmission density as read, base plus
// fog included (gross density).
type Density float64

// NetDensity is a density above base plus fog.
type NetDensity float64

// Above returns the net density over the given base plus fog.
func (d Density) Above(base Density) NetDensity { return NetDensity(d - base) }

// Over returns the gross density that lies n over the given base plus fog.
func (n NetDensity) Over(base Density) Density { return base + Density(n) }

// Speed is an arithmetic film speed or an exposure index: 0.8 divided by an
// exposure in lux seconds (ISO 6:1993). It is an ISO speed only where the
// standard's conditions hold.
type Speed float64

// Minutes is a development time.
type Minutes float64

// Clock returns the time as minutes and seconds, such as 5:30, to the nearest
// multiple of the given number of seconds.
func (m Minutes) Clock(seconds int) string {
	s := int(math.Round(float64(m)*60/float64(seconds))) * seconds
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}
