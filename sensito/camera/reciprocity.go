package camera

import (
	"fmt"
	"math"
	"slices"

	"sensito/fit"
	"sensito/sensito"
)

// Reciprocity is how much longer than metered a film must be exposed in dim
// light, where it loses speed. It is made by one of the constructors below, or
// by FitReciprocity or ReciprocityFromSpeeds, and is immutable; nil means that
// nothing is known of the film. No law of it shortens a time.
type Reciprocity struct {
	law      reciprocityLaw
	fits     []fittedLaw // where it was fitted: law first, then its rivals
	pairs    []sensito.ReciprocityPair
	dof      float64
	warnings sensito.Warnings
}

// reciprocityLaw gives the corrected time over the metered one, at least 1.
type reciprocityLaw interface {
	factor(metered float64) float64
	oneExponent() bool // says whether it is a power law of the time alone
	String() string
}

const (
	additiveExponent  = 1.62
	informativeShare  = 0.02 // a loss below it says nothing of the exponent
	lowestExp, topExp = 1.05, 3.0
)

// NewReciprocity returns the law that is stated, nil for nil. The error is that of
// its Check.
func NewReciprocity(s *sensito.StatedReciprocity) (*Reciprocity, error) {
	switch {
	case s == nil:
		return nil, nil
	case s.Law == sensito.PowerLaw:
		return NewReciprocityPower(s.Constant)
	case s.Law == sensito.SchwarzschildLaw:
		return NewReciprocitySchwarzschild(s.Constant)
	case s.Law == sensito.AdditiveLaw:
		return NewReciprocityAdditive(s.Constant)
	}
	return NewReciprocityTable(s.Pairs)
}

// NewReciprocityTable returns the law through published pairs, 1 to 100 of them,
// rising in both times. Between the pairs the logarithm of the factor follows a
// monotone curve of the logarithm of the time; where the published factors fall
// with time, as rounding makes them, the corrected time does so instead. Below
// the first pair the loss fades as in NewReciprocityAdditive, which is also the
// law when there is a single pair. The results carry no error: they are as
// published. The error joins FieldErrors with the keys
// "reciprocity[1].metered_s" and so on.
func NewReciprocityTable(pairs []sensito.ReciprocityPair) (*Reciprocity, error) {
	if err := (&sensito.StatedReciprocity{Pairs: pairs}).Check(); err != nil {
		return nil, err
	}
	r := &Reciprocity{pairs: slices.Clone(pairs)}
	first := additiveThrough(pairs[0])
	if len(pairs) == 1 {
		r.law = first
		return r, nil
	}
	law := tableLaw{below: first, start: float64(pairs[0].Metered), ofFactor: true}
	x, y := make([]float64, len(pairs)), make([]float64, len(pairs))
	for i, p := range pairs {
		x[i], y[i] = math.Log(float64(p.Metered)), lnLoss(p)
		law.ofFactor = law.ofFactor && (i == 0 || y[i] >= y[i-1])
	}
	law.last = y[len(y)-1]
	if !law.ofFactor {
		for i := range y {
			y[i] += x[i]
		}
	}
	var err error
	if law.curve, err = fit.NewInterpolant(x, y); err != nil {
		return nil, &sensito.FieldError{Key: "reciprocity", Reason: err.Error()}
	}
	law.end = x[len(x)-1]
	law.count = len(pairs)
	r.law = law
	return r, nil
}

// lnLoss returns the logarithm of the corrected time over the metered one.
func lnLoss(p sensito.ReciprocityPair) float64 { return math.Log(float64(p.Corrected / p.Metered)) }

// NewReciprocityPower returns the law tc = tm^P above 1 s, as makers publish it;
// up to 1 s nothing is added. P is Schwarzschild's 1/p with the break at 1 s.
// The error is a FieldError with the key "reciprocity.exponent".
func NewReciprocityPower(exponent float64) (*Reciprocity, error) {
	if err := (&sensito.StatedReciprocity{Law: sensito.PowerLaw, Constant: exponent}).Check(); err != nil {
		return nil, err
	}
	return &Reciprocity{law: powerLaw(exponent)}, nil
}

// NewReciprocitySchwarzschild returns the bounded form of Schwarzschild's law
// for his exponent p (0.86 for his own plates): tm = tc (tc + 1)^(p - 1), times
// in seconds, which leaves short times as they are ("Reciprocity", encyclopedia
// article). The error is a FieldError with the key
// "reciprocity.schwarzschild_p".
func NewReciprocitySchwarzschild(p float64) (*Reciprocity, error) {
	if err := (&sensito.StatedReciprocity{Law: sensito.SchwarzschildLaw, Constant: p}).Check(); err != nil {
		return nil, err
	}
	return &Reciprocity{law: schwarzschildLaw(p)}, nil
}

// NewReciprocityAdditive returns the law tc = tm + a tm^1.62, times in seconds,
// a being the extra time at 1 s (P. Gainer, on data by H. Bond; forum posts,
// 2009). The error is a FieldError with the key "reciprocity.extra_at_1_s".
func NewReciprocityAdditive(a float64) (*Reciprocity, error) {
	if err := (&sensito.StatedReciprocity{Law: sensito.AdditiveLaw, Constant: a}).Check(); err != nil {
		return nil, err
	}
	return &Reciprocity{law: additiveLaw{level: a, at: 1, exponent: additiveExponent}}, nil
}

// Pairs returns the pairs that the law rests on, nil for a stated law. For
// ReciprocityFromSpeeds the metered times are those found.
func (r *Reciprocity) Pairs() []sensito.ReciprocityPair {
	if r == nil {
		return nil
	}
	return slices.Clone(r.pairs)
}

// Coefficients returns a and b of a law tc = tm + a tm^b, times in seconds; ok is
// false for other laws.
func (r *Reciprocity) Coefficients() (a, b float64, ok bool) {
	if r == nil {
		return 0, 0, false
	}
	l, ok := r.law.(additiveLaw)
	if !ok {
		return 0, 0, false
	}
	return l.level * math.Pow(l.at, 1-l.exponent), l.exponent, true
}

// String returns the law in words: "table of 6 pairs",
// "tc = tm + 0.061 tm^1.62", "nothing known" for nil.
func (r *Reciprocity) String() string {
	if r == nil {
		return "nothing known"
	}
	return r.law.String()
}

// first and last are the ends of the metered times known, 0 for a stated law.
func (r *Reciprocity) first() sensito.Seconds {
	if len(r.pairs) == 0 {
		return 0
	}
	return r.pairs[0].Metered
}

func (r *Reciprocity) last() sensito.Seconds {
	if len(r.pairs) == 0 {
		return 0
	}
	return r.pairs[len(r.pairs)-1].Metered
}

// sd returns the standard error of the logarithm of the corrected time, 0 when
// it is not known: that of the law's constants, and how far its rivals differ.
func (r *Reciprocity) sd(metered float64) float64 {
	if len(r.fits) == 0 || r.fits[0].cov == nil {
		return 0
	}
	chosen, sum := math.Log(r.law.factor(metered)), 0.0
	for _, f := range r.fits {
		apart := math.Log(f.law.factor(metered)) - chosen
		sum += f.weight * (f.variance(metered) + apart*apart)
	}
	return math.Sqrt(sum)
}

// fittedLaw is a law whose constants were fitted.
type fittedLaw struct {
	law    reciprocityLaw
	cov    []float64 // of level and exponent: aa, ab, bb; or of Schwarzschild's p; nil when unknown
	weight float64   // among its rivals
}

// variance returns that of the logarithm of the corrected time (delta method,
// JCGM 100:2008, 5.2.2).
func (f fittedLaw) variance(metered float64) float64 {
	switch l := f.law.(type) {
	case additiveLaw:
		_, a, b, _ := l.lnFactor(math.Log(metered))
		return a*a*f.cov[0] + 2*a*b*f.cov[1] + b*b*f.cov[2]
	case schwarzschildLaw:
		// x = ln tm + q ln(e^x + 1) with x = ln tc and q = 1 - p.
		x := math.Log(metered * l.factor(metered))
		by := math.Log1p(math.Exp(x)) / (1 - (1-float64(l))/(1+math.Exp(-x)))
		return by * by * f.cov[0]
	}
	panic("sensito: a law that is not fitted")
}

// tableLaw is a curve through published pairs.
type tableLaw struct {
	curve     fit.Interpolant // logarithm of the factor or of the corrected time against that of the metered time
	ofFactor  bool
	below     additiveLaw
	start     float64 // the first metered time
	end, last float64 // logarithms of the last metered time and its factor
	count     int
}

func (l tableLaw) oneExponent() bool { return false }
func (l tableLaw) String() string    { return fmt.Sprintf("table of %d pairs", l.count) }

func (l tableLaw) factor(t float64) float64 {
	if t < l.start {
		return l.below.factor(t)
	}
	x := math.Log(t)
	y := l.curve.At(x)
	if !l.ofFactor {
		y -= x
	}
	if x > l.end { // a corrected time may not fall behind the last factor
		y = math.Max(y, l.last)
	}
	return math.Exp(y)
}

type powerLaw float64

func (p powerLaw) oneExponent() bool { return p > 1 }
func (p powerLaw) String() string    { return fmt.Sprintf("tc = tm^%.4g above 1 s", float64(p)) }
func (p powerLaw) factor(t float64) float64 {
	return math.Pow(math.Max(t, 1), float64(p)-1)
}

type schwarzschildLaw float64

func (p schwarzschildLaw) oneExponent() bool { return p < 1 }
func (p schwarzschildLaw) String() string {
	return fmt.Sprintf("tm = tc (tc + 1)^(%.4g - 1)", float64(p))
}

func (p schwarzschildLaw) factor(t float64) float64 {
	q, lnT := 1-float64(p), math.Log(t)
	// From 1 s on tc + 1 is at most 2 tc, which bounds the root from above; the
	// margin is for rounding.
	top := math.Max(0, (lnT+q*math.Ln2)/float64(p)) + 1e-9
	x, err := fit.Root(func(x float64) float64 { return x - q*math.Log1p(math.Exp(x)) - lnT }, lnT, top, 0)
	if err != nil {
		panic("sensito: " + err.Error()) // the function rises, and the ends enclose its root
	}
	return math.Exp(x - lnT)
}

// additiveLaw is tc = tm (1 + level (tm/at)^(exponent-1)).
type additiveLaw struct {
	level, at, exponent float64
}

func additiveThrough(p sensito.ReciprocityPair) additiveLaw {
	return additiveLaw{level: float64(p.Corrected/p.Metered) - 1, at: float64(p.Metered), exponent: additiveExponent}
}

func (l additiveLaw) oneExponent() bool { return false }
func (l additiveLaw) String() string {
	a := l.level * math.Pow(l.at, 1-l.exponent)
	return fmt.Sprintf("tc = tm + %.3g tm^%.3g", a, l.exponent)
}

func (l additiveLaw) factor(t float64) float64 {
	return 1 + l.level*math.Pow(t/l.at, l.exponent-1)
}

// lnFactor returns the logarithm of the factor at the logarithm of a metered
// time, with its derivatives by level, exponent and x.
func (l additiveLaw) lnFactor(x float64) (y, byLevel, byExponent, slope float64) {
	far := x - math.Log(l.at)
	u := math.Exp((l.exponent - 1) * far)
	share := l.level * u / (1 + l.level*u)
	return math.Log1p(l.level * u), u / (1 + l.level*u), share * far, (l.exponent - 1) * share
}

// metered returns the logarithm of the metered time whose corrected time has the
// logarithm lnTc, with its derivatives by level and exponent.
func (l additiveLaw) metered(lnTc float64) (x, byLevel, byExponent float64) {
	// x + lnFactor(x) is convex, so Newton's steps from above never pass the root.
	x = lnTc
	for range 100 {
		y, a, b, slope := l.lnFactor(x)
		step := (x + y - lnTc) / (1 + slope)
		x -= step
		byLevel, byExponent = -a/(1+slope), -b/(1+slope)
		if math.Abs(step) <= 1e-14*(1+math.Abs(x)) {
			break
		}
	}
	return x, byLevel, byExponent
}
