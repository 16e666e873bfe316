package picture

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/mat"

	"sensito/sensito/picture/internal/encoded"
)

// Shares are how much of the light goes astray by the near and by the far tail of glare, and
// the covariance of both.
type Shares struct {
	Mean [2]float64
	Cov  [2][2]float64
}

// assumedShare is how much of the light goes astray by either tail, and how well that is
// known, where a tablet does not say more: 1 % in all (assumed; no source). TestPlaces holds it.
const assumedShare = 0.005

func assumedShares() Shares {
	const v = assumedShare * assumedShare
	return Shares{[2]float64{assumedShare, assumedShare}, [2][2]float64{{v, 0}, {0, v}}}
}

// away returns by how much light that goes astray may differ between two places, a root mean
// square, where by the tails it would differ by near and far and out of them is taken out.
func (s Shares) away(near, far float64, out [2]float64) float64 {
	mean := (s.Mean[0]-out[0])*near + (s.Mean[1]-out[1])*far
	return math.Sqrt(max(0, mean*mean+s.Cov[0][0]*near*near+2*s.Cov[0][1]*near*far+s.Cov[1][1]*far*far))
}

// shares returns what the steps of a tablet leave of what is assumed of the shares. Unlike the
// model itself it never takes a tail for known to be nothing.
func (g *glareFit) shares(steps []glareStep) Shares {
	n := len(steps)
	rows, right := mat.NewDense(n+2, 4, nil), mat.NewVecDense(n+2, nil)
	wide := math.Sqrt(max(1, g.chi2/float64(max(g.dof, 1))))
	for i, s := range steps {
		light := math.Pow(10, -s.d)
		sd := wide * math.Hypot(math.Ln10*s.dSD*g.a*light, s.lightSD)
		rows.SetRow(i, []float64{light / sd, 1 / sd, s.near / sd, s.far / sd})
		right.SetVec(i, s.light/sd)
	}
	for k := range 2 {
		rows.Set(n+k, 2+k, 1/assumedShare)
		right.SetVec(n+k, 1)
	}
	var qr mat.QR
	qr.Factorize(rows)
	var p mat.VecDense
	var normal, cov mat.SymDense
	normal.SymOuterK(1, rows.T())
	var f mat.Cholesky
	if qr.SolveVecTo(&p, false, right) != nil || !f.Factorize(&normal) || f.InverseTo(&cov) != nil {
		return assumedShares()
	}
	out := Shares{Mean: [2]float64{p.AtVec(2), p.AtVec(3)}}
	for i := range 2 {
		for j := range 2 {
			out.Cov[i][j] = cov.At(2+i, 2+j)
		}
	}
	return out
}

// shares returns what the tablet says of the shares where no encoding is told: by the first of those
// that pictures often have under which the model of glare follows it, what is assumed where there
// is none. Densities are read by the curve all the same.
func (q Calibrating) shares(c *Calibration) Shares {
	for _, encoding := range []string{LinearEncoding, SRGBEncoding, strconv.FormatFloat(1/c.tone.g, 'g', -1, 64)} {
		q.Encoding = encoding
		if decode, err := encoded.By(encoding); err == nil {
			if g, _ := q.underGlare(c, decode); g != nil {
				out := assumedShares()
				for i, found := range g.share.Mean {
					out.Mean[i] = max(found, assumedShare)
				}
				return out
			}
		}
	}
	return assumedShares()
}

// scene returns the light of a picture of whose rows l is one, and what of it clear is; nil where
// there is no row, and nothing is known of what lies where.
func (c *Calibration) scene(im *Image, plane int, l *Lattice) (*surround, float64, error) {
	if l == nil {
		return nil, 1, nil
	}
	if c.Fit.Method == SmoothMethod {
		light := c.tone.lights()
		return newSurround(im, plane, func(v float64) float64 { return min(max(light(v), 0), 1) }, l.Pitch()), 1, nil
	}
	decode, err := encoded.By(c.Fit.Encoding)
	if err != nil {
		return nil, 0, err
	}
	return newSurround(im, plane, decode, l.Pitch()), c.Fit.Glare[0], nil
}

// mostAstray is the most that Near and Far may be: bare light all around is 1, glare on it and a
// lamp that differs some more.
const mostAstray = 2

// places notes what would go astray to each step of the tablet.
func (c *Calibration) places(q Calibrating) error {
	scene, clear, err := c.scene(q.Image, q.Plane, q.Lattice)
	if err != nil {
		return err
	}
	for i, v := range c.Fit.Value {
		near, far := math.NaN(), math.NaN()
		if scene != nil && !math.IsNaN(v) {
			near, far = scene.astray(q.Patches[i])
		}
		c.Fit.Near, c.Fit.Far = append(c.Fit.Near, near/clear), append(c.Fit.Far, far/clear)
	}
	return nil
}

// placed returns by how much glare may move a density because its patch lies elsewhere than
// the tablet's steps of that density, and whether there is more of it. near and far are what
// would go astray to it as parts of clear.
func (c *Calibration) placed(d, near, far float64) (sd float64, more bool) {
	density, nears, _ := c.Tablet.kept(c.Fit.Near)
	_, fars, _ := c.Tablet.kept(c.Fit.Far)
	if len(density) < 2 || math.IsNaN(near) {
		return 0, false
	}
	near, far = near-between(density, nears, d), far-between(density, fars, d)
	var out [2]float64
	if c.Fit.Method == GlareMethod {
		out = [2]float64{c.Fit.Glare[1], c.Fit.Glare[2]}
	}
	return c.Fit.Share.away(near, far, out) * math.Pow(10, d) / math.Ln10, near+far > 0
}

// between returns the value at a density, straight between those of two steps.
func between(density, value []float64, d float64) float64 {
	i, _ := slices.BinarySearch(density, d)
	i = min(max(i, 1), len(density)-1)
	part := min(max((d-density[i-1])/(density[i]-density[i-1]), 0), 1)
	return value[i-1] + part*(value[i]-value[i-1])
}

// mostUnlike is how many times as much light the empty table has where the tablet lies as elsewhere, or the other way
// round, at most: what differs by more is no table. TestEmptyRefused holds it.
const mostUnlike = 2

// fallOff returns the light of the empty table at a patch as a part of that where the tablet lies; 1 where no empty picture
// tells.
func (c *Calibration) fallOff(p Patch, light func(v float64) float64) float64 {
	if c.Fit.Empty == 0 {
		return 1
	}
	return light(p.Empty) / light(c.Fit.Empty)
}

// even returns what the value of a patch would be if the table were as light there as where the tablet lies.
func (c *Calibration) even(p Patch, v float64) float64 {
	if c.Fit.Empty == 0 {
		return v
	}
	d := c.tone.densityOf(math.Log(v))
	was, _, _ := c.tone.logs(d)
	is, _, _ := c.tone.logs(d + math.Log10(c.fallOff(p, c.tone.light)))
	return v * math.Exp(is-was)
}

// emptySD returns the error of a density by that of the empty picture.
func (c *Calibration) emptySD(p Patch) float64 {
	if c.Fit.Empty == 0 {
		return 0
	}
	_, slope, _ := c.tone.logs(c.tone.lo)
	return math.Abs(p.EmptySD / (slope * p.Empty))
}

// isTable refuses an empty picture that is no table where something was read.
func (c *Calibration) isTable(p Patch, what string) error {
	if fall := c.fallOff(p, c.tone.light); !(fall > 1./mostUnlike && fall < mostUnlike) {
		return refuse("it is one of the table alone, without strips, at least where strips and tablet lie", "the empty picture has %.2f times as much light at %s as where the tablet lies", fall, what)
	}
	return nil
}
