package fit

import "math"

// GasConstant is the molar gas constant in J/(mol K), exact in the SI since 2019
// to the digits given (CODATA 2018).
const GasConstant = 8.314462618

// zeroCelsius is 0 degrees Celsius in kelvin, exact by definition.
const zeroCelsius = 273.15

// inverse returns (1/T_ref - 1/T)/R, by which an activation energy moves the
// logarithm of the rate: ln k = ln k_ref - Ea/R (1/T - 1/T_ref) with T in kelvin (S.
// Arrhenius, Zeitschrift fuer physikalische Chemie 4, 226, 1889).
func inverse(refC, celsius float64) float64 {
	return (1/(refC+zeroCelsius) - 1/(celsius+zeroCelsius)) / GasConstant
}

// TensOfDegrees returns how far apart two temperatures in degrees Celsius are
// on the scale of the law of Arrhenius, in units of the distance from 20 to 30:
// the logarithm of the rate differs by so many times ln q10. It is negative
// where celsius is the lower.
func TensOfDegrees(refC, celsius float64) float64 {
	return inverse(refC, celsius) / inverse(20, 30)
}

// ActivationEnergy returns the activation energy in J/mol for which the rate at
// 30 degrees Celsius is q10 times that at 20.
func ActivationEnergy(q10 float64) float64 { return math.Log(q10) / inverse(20, 30) }
