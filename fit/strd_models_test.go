package fit

import "math"

// strdModel returns the model's value at the predictors x and stores its
// derivatives with respect to the parameters b in grad.
type strdModel func(x, b, grad []float64) float64

// strdModels are the models of the NIST StRD nonlinear sets, as printed in the
// header of each set.
var strdModels = map[string]strdModel{
	"Bennett5": func(x, b, g []float64) float64 {
		u := b[1] + x[0]
		v := math.Pow(u, -1/b[2])
		g[0] = v
		g[1] = -b[0] * v / (b[2] * u)
		g[2] = b[0] * v * math.Log(u) / (b[2] * b[2])
		return b[0] * v
	},
	"BoxBOD":   saturating,
	"Misra1a":  saturating,
	"Chwirut1": chwirut,
	"Chwirut2": chwirut,
	"DanWood": func(x, b, g []float64) float64 {
		g[0] = math.Pow(x[0], b[1])
		g[1] = b[0] * g[0] * math.Log(x[0])
		return b[0] * g[0]
	},
	"ENSO": func(x, b, g []float64) float64 {
		g[0] = 1
		sin, cos := math.Sincos(2 * math.Pi * x[0] / 12)
		g[1], g[2] = cos, sin
		y := b[0] + b[1]*cos + b[2]*sin
		for j := 3; j < 9; j += 3 { // period, cosine and sine amplitude
			w := 2 * math.Pi * x[0] / b[j]
			sin, cos := math.Sincos(w)
			g[j+1], g[j+2] = cos, sin
			g[j] = (b[j+1]*sin - b[j+2]*cos) * w / b[j]
			y += b[j+1]*cos + b[j+2]*sin
		}
		return y
	},
	"Eckerle4": func(x, b, g []float64) float64 {
		u := (x[0] - b[2]) / b[1]
		e := math.Exp(-0.5 * u * u)
		y := b[0] / b[1] * e
		g[0] = e / b[1]
		g[1] = y * (u*u - 1) / b[1]
		g[2] = y * u / b[1]
		return y
	},
	"Gauss1":   gauss,
	"Gauss2":   gauss,
	"Gauss3":   gauss,
	"Hahn1":    rational(4),
	"Kirby2":   rational(3),
	"Thurber":  rational(4),
	"Lanczos1": lanczos,
	"Lanczos2": lanczos,
	"Lanczos3": lanczos,
	"MGH09": func(x, b, g []float64) float64 {
		num := x[0]*x[0] + x[0]*b[1]
		den := x[0]*x[0] + x[0]*b[2] + b[3]
		y := b[0] * num / den
		g[0] = num / den
		g[1] = b[0] * x[0] / den
		g[2] = -y * x[0] / den
		g[3] = -y / den
		return y
	},
	"MGH10": func(x, b, g []float64) float64 {
		u := x[0] + b[2]
		e := math.Exp(b[1] / u)
		g[0] = e
		g[1] = b[0] * e / u
		g[2] = -b[0] * e * b[1] / (u * u)
		return b[0] * e
	},
	"MGH17": func(x, b, g []float64) float64 {
		e4, e5 := math.Exp(-x[0]*b[3]), math.Exp(-x[0]*b[4])
		g[0], g[1], g[2] = 1, e4, e5
		g[3], g[4] = -b[1]*x[0]*e4, -b[2]*x[0]*e5
		return b[0] + b[1]*e4 + b[2]*e5
	},
	"Misra1b": func(x, b, g []float64) float64 {
		u := 1 + b[1]*x[0]/2
		g[0] = 1 - math.Pow(u, -2)
		g[1] = b[0] * x[0] * math.Pow(u, -3)
		return b[0] * g[0]
	},
	"Misra1c": func(x, b, g []float64) float64 {
		u := 1 + 2*b[1]*x[0]
		g[0] = 1 - math.Pow(u, -0.5)
		g[1] = b[0] * x[0] * math.Pow(u, -1.5)
		return b[0] * g[0]
	},
	"Misra1d": func(x, b, g []float64) float64 {
		u := 1 + b[1]*x[0]
		g[0] = b[1] * x[0] / u
		g[1] = b[0] * x[0] / (u * u)
		return b[0] * g[0]
	},
	"Nelson": func(x, b, g []float64) float64 { // of log y
		e := math.Exp(-b[2] * x[1])
		g[0] = 1
		g[1] = -x[0] * e
		g[2] = b[1] * x[0] * x[1] * e
		return b[0] - b[1]*x[0]*e
	},
	"Rat42": func(x, b, g []float64) float64 {
		e := math.Exp(b[1] - b[2]*x[0])
		y := b[0] / (1 + e)
		g[0] = 1 / (1 + e)
		g[1] = -y * e / (1 + e)
		g[2] = y * x[0] * e / (1 + e)
		return y
	},
	"Rat43": func(x, b, g []float64) float64 {
		e := math.Exp(b[1] - b[2]*x[0])
		v := math.Pow(1+e, -1/b[3])
		y := b[0] * v
		g[0] = v
		g[1] = -y * e / (1 + e) / b[3]
		g[2] = y * x[0] * e / (1 + e) / b[3]
		g[3] = y * math.Log1p(e) / (b[3] * b[3])
		return y
	},
	"Roszman1": func(x, b, g []float64) float64 {
		u := x[0] - b[3]
		d := math.Pi * (u*u + b[2]*b[2])
		g[0] = 1
		g[1] = -x[0]
		g[2] = -u / d
		g[3] = -b[2] / d
		return b[0] - b[1]*x[0] - math.Atan(b[2]/u)/math.Pi
	},
}

func saturating(x, b, g []float64) float64 {
	g[0] = -math.Expm1(-b[1] * x[0])
	g[1] = b[0] * x[0] * math.Exp(-b[1]*x[0])
	return b[0] * g[0]
}

func chwirut(x, b, g []float64) float64 {
	d := b[1] + b[2]*x[0]
	y := math.Exp(-b[0]*x[0]) / d
	g[0] = -x[0] * y
	g[1] = -y / d
	g[2] = -x[0] * y / d
	return y
}

func gauss(x, b, g []float64) float64 {
	g[0] = math.Exp(-b[1] * x[0])
	g[1] = -b[0] * x[0] * g[0]
	y := b[0] * g[0]
	for j := 2; j < 8; j += 3 { // height, place, width
		u := (x[0] - b[j+1]) / b[j+2]
		e := math.Exp(-u * u)
		g[j] = e
		g[j+1] = b[j] * e * 2 * u / b[j+2]
		g[j+2] = b[j] * e * 2 * u * u / b[j+2]
		y += b[j] * e
	}
	return y
}

func lanczos(x, b, g []float64) float64 {
	y := 0.0
	for j := 0; j < 6; j += 2 {
		g[j] = math.Exp(-b[j+1] * x[0])
		g[j+1] = -b[j] * x[0] * g[j]
		y += b[j] * g[j]
	}
	return y
}

// rational returns the quotient of two polynomials of one degree, the first
// with k coefficients, the second with its constant term 1.
func rational(k int) strdModel {
	return func(x, b, g []float64) float64 {
		num, den, power := b[0], 1.0, 1.0
		for j := 1; j < k; j++ {
			power *= x[0]
			num += b[j] * power
			den += b[k+j-1] * power
		}
		y := num / den
		g[0], power = 1/den, 1
		for j := 1; j < k; j++ {
			power *= x[0]
			g[j] = power / den
			g[k+j-1] = -y * power / den
		}
		return y
	}
}
