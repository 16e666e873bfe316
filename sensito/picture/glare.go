package picture

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"sensito/sensito/picture/internal/encoded"
)

// How far glare reaches: what goes astray falls off as (1+(r/s)²)^-1.5, which holds a half of
// it within 1.7 s. Two such tails of 2 and 15 mm stand for most devices, and where a device has
// others the densities hardly change (TestGlareOfOtherTails; TestGlareFound holds the numbers). No millimetre is known of a
// picture, since what its file says is not trusted: a step is taken for 6 mm.
const (
	nearMM, farMM = 2, 15
	stepMM        = 6
)

// glareParts are the coefficients of light told by an encoding:
//
//	decoded = a T + near (K2mm * P) + far (K15mm * P) + dark
//
// where P is the decoded picture itself and K*P its convolution. What lies around the frame nobody
// has seen; it counts as lit as the frame's border is (TestPlaces).
type glareParts struct{ a, near, far, dark float64 }

// astray returns K*P of both tails at the middle of a patch.
func (g *surround) astray(p Patch) (near, far float64) {
	at := p.middle()
	n, f := 1/(nearMM*g.mm), 1/(farMM*g.mm) // of a pixel
	for j := range g.high {
		y := (float64(j)+0.5)*float64(g.cell) - at.Y
		for i, light := range g.light[j*g.wide : (j+1)*g.wide] {
			x := (float64(i)+0.5)*float64(g.cell) - at.X
			r2 := x*x + y*y
			u, v := 1+r2*n*n, 1+r2*f*f
			near += light / (u * math.Sqrt(u))
			far += light / (v * math.Sqrt(v))
		}
	}
	area := float64(g.cell*g.cell) / (2 * math.Pi)
	border := g.border()
	return near*area*n*n + border*(1-g.within(at, nearMM)), far*area*f*f + border*(1-g.within(at, farMM))
}

// within returns the part of a tail about a place that lies in the frame, which is a solid angle.
func (g *surround) within(at Point, mm float64) float64 {
	s := mm * g.mm
	corner := func(x, y float64) float64 { return math.Atan(x*y/(s*math.Sqrt(x*x+y*y+s*s))) / (2 * math.Pi) }
	x, y := float64(g.wide*g.cell)-at.X, float64(g.high*g.cell)-at.Y
	return corner(at.X, at.Y) + corner(x, at.Y) + corner(at.X, y) + corner(x, y)
}

// border returns the mean light at the border of the frame.
func (g *surround) border() float64 {
	var sum, n float64
	for i, light := range g.light {
		if x, y := i%g.wide, i/g.wide; x == 0 || y == 0 || x == g.wide-1 || y == g.high-1 {
			sum, n = sum+light, n+1
		}
	}
	return sum / n
}

// middle returns that of a patch's corners.
func (p Patch) middle() (at Point) {
	for _, c := range p.Corners {
		at.X += c.X / 4
		at.Y += c.Y / 4
	}
	return at
}

// A surround is the light of a whole picture, gathered in cells.
type surround struct {
	light      []float64
	wide, high int
	cell       int     // pixels
	mm         float64 // pixels
}

// newSurround gathers the light of a picture whose steps are so many pixels long.
func newSurround(im *Image, plane int, decode func(float64) float64, step float64) *surround {
	g := &surround{mm: step / stepMM}
	g.cell = max(1, int(nearMM*g.mm/3))
	g.wide, g.high = (im.Width+g.cell-1)/g.cell, (im.Height+g.cell-1)/g.cell
	g.light = make([]float64, g.wide*g.high)
	table, values := encoded.Table(decode), im.Planes[plane].Values
	for y := range im.Height {
		row := g.light[y/g.cell*g.wide:]
		for x, v := range values[y*im.Width : (y+1)*im.Width] {
			row[x/g.cell] += float64(table[v])
		}
	}
	for i := range g.light {
		g.light[i] /= float64(g.cell * g.cell)
	}
	return g
}

// A glareStep is a step of a tablet under glare: its density, its light as it is decoded, the
// light that goes astray to it, and how well the first two are known.
type glareStep struct{ d, light, near, far, dSD, lightSD float64 }

// A glareFit is the model fitted to a tablet.
type glareFit struct {
	glareParts
	exponent, exponentSD float64 // that would suit best, as a part of the one told
	chi2                 float64
	dof                  int
	alike                float64       // correlation of neighbouring residuals
	cov                  *mat.SymDense // of a density read at each step
	share                Shares
}

var errGlare = errors.New("no light in the tablet")

// fitGlare fits the model to the steps of a tablet, at the exponent that was told and freely.
func fitGlare(steps []glareStep) (*glareFit, error) {
	best, err := glareAt(steps, 1, true)
	if err != nil {
		return nil, err
	}
	chi2 := func(e float64) float64 {
		if g, err := glareAt(steps, e, false); err == nil {
			return g.chi2
		}
		return math.Inf(1)
	}
	// The least chi squared, by thirds, and how sharp it is there.
	lo, hi := 0.5, 2.
	for hi-lo > 1e-6 {
		if l, r := lo+(hi-lo)/3, hi-(hi-lo)/3; chi2(l) < chi2(r) {
			hi = r
		} else {
			lo = l
		}
	}
	best.exponent = (lo + hi) / 2
	const h = 1e-3
	least := chi2(best.exponent)
	sharp := (chi2(best.exponent+h) + chi2(best.exponent-h) - 2*least) / (2 * h * h)
	best.exponentSD = math.Sqrt(max(1, least/float64(max(best.dof-1, 1))) / sharp)
	if !(best.exponentSD > 0) || math.IsInf(best.exponentSD, 0) {
		return nil, errGlare
	}
	return best, nil
}

// glareAt fits the model to the light to the power e. Both tails are 0 or more: of the four
// choices of those that are not 0 the best that allows it is taken, with its covariance where that
// is wanted.
func glareAt(steps []glareStep, e float64, whole bool) (*glareFit, error) {
	var best *glareFit
	for with := range 4 {
		if g := glareWith(steps, e, with&1 != 0, with&2 != 0, whole); g != nil && g.near >= 0 && g.far >= 0 && g.a > 0 && (best == nil || g.chi2 < best.chi2) {
			best = g
		}
	}
	if best == nil {
		return nil, errGlare
	}
	return best, nil
}

func glareWith(steps []glareStep, e float64, near, far, whole bool) *glareFit {
	n := len(steps)
	columns := []func(s glareStep) float64{func(s glareStep) float64 { return math.Pow(10, -s.d) }, func(glareStep) float64 { return 1 }}
	if near {
		columns = append(columns, func(s glareStep) float64 { return s.near })
	}
	if far {
		columns = append(columns, func(s glareStep) float64 { return s.far })
	}
	k := len(columns)
	g := &glareFit{dof: n - k}
	rows, right := mat.NewDense(n, k, nil), mat.NewVecDense(n, nil)
	sd := make([]float64, n)
	scale := math.Pow(steps[0].light, e) * math.Pow(10, steps[0].d) // about a
	for i, s := range steps {
		light := math.Pow(s.light, e)
		sd[i] = math.Hypot(math.Ln10*s.dSD*scale*math.Pow(10, -s.d), e*light/s.light*s.lightSD)
		for j, c := range columns {
			rows.Set(i, j, c(s)/sd[i])
		}
		right.SetVec(i, light/sd[i])
	}
	var qr mat.QR
	qr.Factorize(rows)
	p := mat.NewVecDense(k, nil)
	if qr.SolveVecTo(p, false, right) != nil {
		return nil
	}
	var fitted mat.VecDense
	fitted.MulVec(rows, p)
	var along float64
	for i := range n {
		r := right.AtVec(i) - fitted.AtVec(i)
		g.chi2 += r * r
		if i > 0 {
			along += r * (right.AtVec(i-1) - fitted.AtVec(i-1))
		}
	}
	g.alike = along / g.chi2
	g.a, g.dark = p.AtVec(0), p.AtVec(1)
	next := 2
	if near {
		g.near, next = p.AtVec(next), next+1
	}
	if far {
		g.far = p.AtVec(next)
	}
	if !whole {
		return g
	}
	var normal mat.SymDense
	normal.SymOuterK(1, rows.T())
	var f mat.Cholesky
	var cov mat.SymDense
	if !f.Factorize(&normal) || f.InverseTo(&cov) != nil {
		return nil
	}
	// How a density moves with each of the coefficients.
	moves := mat.NewDense(n, k, nil)
	for i, s := range steps {
		for j, c := range columns {
			moves.Set(i, j, c(s)/(math.Ln10*g.a*math.Pow(10, -s.d)))
		}
	}
	var half, all mat.Dense
	half.Mul(moves, &cov)
	all.Mul(&half, moves.T())
	g.cov = mat.NewSymDense(n, nil)
	wide := max(1, g.chi2/float64(max(g.dof, 1)))
	for i := range n {
		for j := i; j < n; j++ {
			g.cov.SetSym(i, j, wide*(all.At(i, j)+all.At(j, i))/2)
		}
	}
	return g
}

// density returns the density of a patch of that light, and how it moves with it.
func (g glareParts) density(light, near, far float64) (d, slope float64) {
	t := (light - g.near*near - g.far*far - g.dark) / g.a
	if !(t > 0) {
		return math.NaN(), math.NaN()
	}
	return -math.Log10(t), -1 / (math.Ln10 * g.a * t)
}

// agrees says whether the exponent that suits the tablet best agrees with the one told. An
// exponent that is told overrules the tablet's scale of density, and no residual shows that it is wrong.
func (g *glareFit) agrees(scaleSD float64) bool {
	return math.Abs(g.exponent-1) <= 2*g.exponentSD+scaleSD
}

// What the model may leave: TestGlareModelFallsBack holds both. Residuals of one sign side by
// side have a correlation about 0 with a standard deviation of about 1/√n where nothing is wrong.
const (
	mostGlareChi2 = 2   // a degree of freedom
	mostAlike     = 2.5 // standard deviations
)

// mostExponentSD is how well a tablet must know the exponent to bear out an encoding that was told:
// as well as the scale of nominal densities. TestGlareModelFallsBack holds it.
const mostExponentSD = nominalScaleSD

// fits says whether what is left of the tablet looks like errors of its steps.
func (g *glareFit) fits(known string, n int) bool {
	return !(known == Certificate && g.chi2 > mostGlareChi2*float64(g.dof)) && g.alike < mostAlike/math.Sqrt(float64(n))
}
