package sensito

import "math"

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
