package fit

import (
	"fmt"
	"math"
)

// GasConstant is the molar gas constant in J/(mol K), exact in the SI since 2019
// to the digits given (CODATA 2018).
const GasConstant = 8.314462618

// zeroCelsius is 0 degrees Celsius in kelvin, exact by definition.
const zeroCelsius = 273.15

// Arrhenius is a rate against temperature: ln k = LnRef - Ea/R (1/T - 1/T_ref)
// with T in kelvin (S. Arrhenius, Zeitschrift fuer physikalische Chemie 4, 226,
// 1889). The unit of the rate is the caller's.
type Arrhenius struct {
	LnRef float64 // natural logarithm of the rate at RefC
	Ea    float64 // activation energy, J/mol
	RefC  float64 // reference temperature, degrees Celsius
}

// LnRate returns the natural logarithm of the rate at a temperature in degrees
// Celsius.
func (a Arrhenius) LnRate(celsius float64) float64 {
	return a.LnRef + a.Ea*inverse(a.RefC, celsius)
}

// inverse returns (1/T_ref - 1/T)/R, by which an activation energy moves the
// logarithm of the rate.
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

// Q10 returns the rate at 30 degrees Celsius over that at 20 for an activation
// energy in J/mol.
func Q10(ea float64) float64 { return math.Exp(ea * inverse(20, 30)) }

// ActivationEnergy returns the activation energy in J/mol for which the rate at
// 30 degrees Celsius is q10 times that at 20.
func ActivationEnergy(q10 float64) float64 { return math.Log(q10) / inverse(20, 30) }

// ArrheniusFit is the law of Arrhenius fitted to rates.
type ArrheniusFit struct {
	Arrhenius

	// The covariance of LnRef and Ea is {Var LnRef, Cov, Var Ea}; NaN when it is
	// unknown, with two rates of unknown error.
	Cov [3]float64
	DoF int
	RSS float64 // weighted where standard deviations were given
}

// LnRateSD returns the standard deviation of LnRate, NaN when unknown.
func (f ArrheniusFit) LnRateSD(celsius float64) float64 {
	u := inverse(f.RefC, celsius)
	return math.Sqrt(f.Cov[0] + 2*u*f.Cov[1] + u*u*f.Cov[2])
}

// FitArrhenius fits the law to rates at temperatures in degrees Celsius: a
// straight line of ln k against 1/T, with weights (k/sd)^2 where sd holds
// standard deviations of the rates. The noise n says whether those are known or
// only in proportion; a nil sd means equal errors of ln k, of unknown size.
// Near a temperature of RefC the two parameters are all but independent.
//
// The error names rates that are not positive, and is that of FitLine. It panics
// when lengths differ.
func FitArrhenius(celsius, k, sd []float64, refC float64, n Noise) (ArrheniusFit, error) {
	if len(k) != len(celsius) || sd != nil && len(sd) != len(celsius) {
		panic("fit: lengths of temperatures, rates and standard deviations differ")
	}
	x, y := make([]float64, len(k)), make([]float64, len(k))
	var sy []float64
	for i := range k {
		if !(k[i] > 0) || math.IsInf(k[i], 0) {
			return ArrheniusFit{}, fmt.Errorf("rate %d: %g is not positive and finite", i+1, k[i])
		}
		x[i], y[i] = inverse(refC, celsius[i]), math.Log(k[i])
		if sd != nil {
			sy = append(sy, sd[i]/k[i])
		}
	}
	l, err := FitLine(x, y, nil, sy, nil)
	if err != nil {
		return ArrheniusFit{}, err
	}
	f := ArrheniusFit{Arrhenius: Arrhenius{LnRef: l.Intercept, Ea: l.Slope, RefC: refC}, DoF: l.DoF(), RSS: l.S,
		Cov: [3]float64{math.NaN(), math.NaN(), math.NaN()}}
	if sd == nil {
		n = NoiseFromResiduals
	}
	if c := l.Covariance(n); c != nil {
		f.Cov = [3]float64{c.At(0, 0), c.At(0, 1), c.At(1, 1)}
	}
	return f, nil
}
