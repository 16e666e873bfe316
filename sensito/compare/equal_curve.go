package compare

import (
	"fmt"
	"math"

	"sensito/fit"
	"sensito/sensito"
	"sensito/sensito/curve"
	"sensito/sensito/scene"
)

// scaled is a strip's curve with its net densities multiplied so that it has a
// wanted gradient, as though it had been developed for as long as that takes:
// where all grains develop alike, time multiplies every net density by the same.
type scaled struct {
	curve curve.Curve
	base  sensito.Density
	by    float64
	point sensito.LogExposure // its speed point, after scaling
}

// scaleTo returns the curve scaled so that density rises by aim over the run.
func scaleTo(c curve.Curve, over scene.Run, aim sensito.NetDensity) (scaled, error) {
	s := scaled{curve: c, base: curve.BaseFog(c)}
	m, err := curve.SpeedPoint(c)
	if err != nil {
		return s, err
	}
	own, err := over.Rise(c, m)
	if err != nil {
		return s, err
	}
	if !(own > 0) {
		return s, fmt.Errorf("the density does not rise over %.2f log H: %w", float64(over.Length()), sensito.ErrOutOfRange)
	}
	pointFor := func(lnBy float64) (sensito.LogExposure, error) {
		return c.LogExposure((curve.SpeedPointDensity / sensito.NetDensity(math.Exp(lnBy))).Over(s.base))
	}
	lnBy, err := fit.RootFrom(func(lnBy float64) float64 {
		m, err := pointFor(lnBy)
		if err != nil {
			return math.NaN()
		}
		return math.Exp(lnBy)*float64(c.Density(m.Add(over.To))-c.Density(m.Add(over.From))) - float64(aim)
	}, math.Log(float64(aim)/own), 0.02, 2, curve.RootTolerance)
	if err != nil {
		return s, fmt.Errorf("the curve cannot be followed to this gradient: %w", sensito.ErrOutOfRange)
	}
	s.by = math.Exp(lnBy)
	if s.point, err = pointFor(lnBy); err != nil {
		return s, err
	}
	if _, hi := c.Domain(); s.point.Add(over.To) > hi.Add(scene.Reach) {
		return s, fmt.Errorf("log H %.2f: %w", float64(s.point.Add(over.To)), sensito.ErrOutOfRange)
	}
	return s, nil
}

// at returns net density and slope at a distance from the speed point.
func (s scaled) at(r sensito.LogRange) (net, slope float64) {
	h := s.point.Add(r)
	return s.by * float64(s.curve.Density(h)-s.base), s.by * s.curve.Slope(h)
}

// reaches returns the exposures of the strip as distances from the speed point.
func (s scaled) reaches() (lo, hi sensito.LogRange) {
	from, to := s.curve.Domain()
	return from.Sub(s.point), to.Sub(s.point)
}

// equalCurve is the characteristic curve of a family at a wanted gradient: the
// weighted mean of its strips' curves, each scaled to that gradient and laid
// with its speed point on the others'. Every one of them has the wanted
// gradient, and so has the mean.
type equalCurve struct {
	strips  []scaled
	weights []float64
	base    sensito.Density
	point   sensito.LogExposure
	lo, hi  sensito.LogRange // that all strips reach, from the speed point
}

// equalised returns the mean of scaled strips with base plus fog 0 and the
// speed point at 0. What scaling does not explain changes slowly with
// development: the mean is that of a straight line against the logarithm of
// the scale, where the scale is 1, the strips weighted as their scaled readings
// deserve.
func equalised(strips []scaled) equalCurve {
	c := equalCurve{strips: strips, weights: make([]float64, len(strips)), lo: sensito.LogRange(math.Inf(-1)), hi: sensito.LogRange(math.Inf(1))}
	var sum, mean, square float64
	for _, s := range strips {
		lo, hi := s.reaches()
		c.lo, c.hi = max(c.lo, lo), min(c.hi, hi)
		w := 1 / (s.by * s.by)
		sum += w
		mean += w * math.Log(s.by)
	}
	mean /= sum
	for _, s := range strips {
		square += math.Pow(math.Log(s.by)-mean, 2) / (s.by * s.by)
	}
	for i, s := range strips {
		c.weights[i] = 1 / sum
		if square > 1e-9 { // strips developed alike are averaged
			c.weights[i] -= mean * (math.Log(s.by) - mean) / square
		}
		c.weights[i] /= s.by * s.by
	}
	return c
}

// placed returns the curve with its speed point at h over a base.
func (c equalCurve) placed(h sensito.LogExposure, base sensito.Density) equalCurve {
	c.point, c.base = h, base
	return c
}

// net returns net density and slope at a distance from the speed point.
func (c equalCurve) net(r sensito.LogRange) (net, slope float64) {
	for i, s := range c.strips {
		n, k := s.at(r)
		net += c.weights[i] * n
		slope += c.weights[i] * k
	}
	return net, slope
}

func (c equalCurve) slope(r sensito.LogRange) float64 {
	_, s := c.net(r)
	return s
}

func (c equalCurve) Density(h sensito.LogExposure) sensito.Density {
	n, _ := c.net(h.Sub(c.point))
	return sensito.NetDensity(n).Over(c.base)
}

func (c equalCurve) Slope(h sensito.LogExposure) float64 { return c.slope(h.Sub(c.point)) }
func (c equalCurve) BaseFog() sensito.Density            { return c.base }

func (c equalCurve) Domain() (lo, hi sensito.LogExposure) {
	return c.point.Add(c.lo), c.point.Add(c.hi)
}

func (c equalCurve) LogExposure(d sensito.Density) (sensito.LogExposure, error) {
	return curve.Inverse(c, func(x float64) (float64, float64) {
		n, slope := c.net(sensito.LogExposure(x).Sub(c.point))
		return n + float64(c.base), slope
	}, d)
}
