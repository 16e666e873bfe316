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

// OfPaper names the range as that of a paper: an ISO range, 100 times it (ISO 6846:1992), or a
// log range where it is not to be called so.
func (d LogRange) OfPaper(iso bool) string {
	if iso {
		return fmt.Sprintf("ISO range %.0f", 100*float64(d))
	}
	return fmt.Sprintf("log range %.2f", float64(d))
}

// Density is a transmission density as read, ISO 5 visual diffuse but for pictures, base plus
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

// speedConstant is that of S = 0.8/H_m, in lux seconds (ISO 6:1993).
const speedConstant = 0.8

// SpeedAt returns the speed 0.8/H of a speed point at h (ISO 6:1993).
func SpeedAt(h LogExposure) Speed { return Speed(speedConstant / h.LuxSeconds()) }

// SpeedPointOf returns where the speed point of a film of speed s lies, the
// inverse of SpeedAt.
func SpeedPointOf(s Speed) LogExposure { return LogExposure(math.Log10(speedConstant / float64(s))) }

// thirdStops are the conventional speeds of one decade.
var thirdStops = [10]float64{1, 1.25, 1.6, 2, 2.5, 3.2, 4, 5, 6.4, 8}

// shortened are the speeds that are by custom printed with fewer figures, by
// their degrees.
var shortened = map[int]Speed{2: 1.2, 6: 3, 9: 6, 12: 12}

// Standard returns the nearest standard speed and its degrees. The degrees are
// 1 + 10 log10 S rounded to an integer, and the arithmetic number is the
// conventional third-stop value that belongs to them (ISO 6:1993, table 1, as
// derived in testdata/reference/iso_speed_steps.csv).
func (s Speed) Standard() (Speed, int) {
	degrees := int(math.Round(1 + 10*math.Log10(float64(s))))
	if n, ok := shortened[degrees]; ok {
		return n, degrees
	}
	decade := int(math.Floor(float64(degrees-1) / 10))
	const figures = 1e6 // so that 3.2 tenths are 0.32
	n := thirdStops[degrees-1-10*decade] * math.Pow(10, float64(decade))
	return Speed(math.Round(n*figures) / figures), degrees
}
