package joint

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// ErrNotFitted says that the strips do not determine a shape.
var ErrNotFitted = errors.New("the strips do not determine a common shape")

// The standard deviations that departures may have, all alike beforehand: of the
// shape that no form has, and of one that grows with development.
var (
	misfits   = []float64{0.2, 0.3, 0.6}
	evolvings = []float64{0.02, 0.1, 0.3}
)

// The standard deviations that the base of a strip may have of its own: the first unless
// the readings are likelier with another, by more than that logarithm (TestOwnBases).
var ownBases = []float64{0.006, 0.02, 0.1}

const unlikelier = 3

// state is a fit on its way.
type state struct {
	*design
	use             used
	p               params
	variance        float64
	shared, growing float64 // standard deviations of the departures
	lin, spare      *linear // about the parameters, and room for another
	nm              *normal // about it, once it is known
	edf             float64
	mixture         []component
	best            component
}

// component is what one pair of standard deviations of the departures says.
type component struct {
	shared, growing float64
	weight          float64
	off             params // its minimum, less that of the state
	solved          *reduced
}

// normals returns the normal matrix about the parameters.
func (s *state) normals() *normal {
	if s.nm == nil {
		s.nm = s.normal(s.lin, s.use)
	}
	return s.nm
}

func (s *state) criterion(l *linear, p params, prior []float64) float64 {
	return l.squares/s.variance + s.penalty(p, prior)
}

// most a step may change a parameter of the shape
const longest = 0.7

// descend takes a step downhill and returns by how much the criterion fell; ok is
// false where none does.
func (s *state) descend(damping *float64) (fell float64, ok bool) {
	prior := s.precision(s.shared, s.growing)
	before := s.criterion(s.lin, s.p, prior)
	nm := s.normals()
	down := s.gradient(nm, s.variance, s.p, prior)
	for range 10 {
		if r, ok := s.reduce(s.eliminate(nm, s.variance, *damping), prior, *damping); ok {
			step := r.solve(down)
			far := vec.Norm(step.shared[s.iShape:s.iD], math.Inf(1))
			p := s.p.moved(step, math.Min(1, longest/math.Max(far, 1e-12)))
			if s.spare == nil {
				s.spare = s.noRows()
			}
			l := s.aboutTo(s.spare, p, s.use)
			if after := s.criterion(l, p, prior); after < before+1e-9 {
				s.p, s.lin, s.spare, s.nm = p, l, s.lin, nil
				*damping = math.Max(*damping/5, 1e-9)
				return before - after, true
			}
		}
		*damping = math.Max(*damping*8, 1e-4)
	}
	return 0, false
}

// judge finds the variance by what the residuals leave, and returns the covariance of the
// shared parameters.
func (s *state) judge() (cov *mat.SymDense, ok bool) {
	prior := s.precision(s.shared, s.growing)
	r, ok := s.reduce(s.eliminate(s.normals(), s.variance, 0), prior, 0)
	if !ok {
		return nil, false
	}
	cov = r.inverse()
	s.edf = s.effective(r, cov, prior)
	if !s.known {
		s.variance = s.scatter()
	}
	return cov, true
}

// settle judges variance and departures anew by what they leave (MacKay, "Bayesian
// interpolation", Neural Computation 4, 415, 1992, from memory), and says whether
// they changed.
func (s *state) settle() bool {
	cov, ok := s.judge()
	if !ok {
		return false
	}
	of := func(from, to int, sd, worth, usual float64) float64 {
		squares, trace := 0.0, 0.0
		for i := from; i < to; i++ {
			squares += s.p.shared[i] * s.p.shared[i]
			trace += cov.At(i, i) / (sd * sd)
		}
		return math.Sqrt((squares + worth*usual*usual) / (math.Max(float64(to-from)-trace, 0.05) + worth))
	}
	shared := math.Min(math.Max(of(s.iD, s.iE, s.shared, 1, 0.2), 0.08), 1.2)
	growing := math.Min(math.Max(of(s.iE, s.iA, s.growing, 1, 0.06), 0.01), 0.6)
	changed := math.Abs(math.Log(shared/s.shared)) > 0.1 || math.Abs(math.Log(growing/s.growing)) > 0.1
	s.shared, s.growing = shared, growing
	return changed
}

// scatter returns the variance of a reading by the residuals and what is stated.
func (s *state) scatter() float64 {
	return (s.lin.squares + s.worth*s.sigma0*s.sigma0) / (math.Max(float64(s.lin.count)-s.edf, 1) + s.worth)
}

// effective returns how many parameters the readings determine.
func (m *design) effective(r *reduced, cov mat.Symmetric, prior []float64) float64 {
	edf := float64(m.ns + owns*len(m.strips))
	for i, q := range prior {
		edf -= q * cov.At(i, i)
	}
	follow := m.columns() // in units of their priors
	for j, own := range r.follow {
		for k, q := range m.ownPrecision(j) {
			edf -= q * r.own[j][k][k]
			column(follow, j, k, own[k], math.Sqrt(q))
		}
	}
	gram := mat.NewSymDense(m.ns, nil)
	blas64.Syrk(blas.NoTrans, 1, follow, 0, gram.RawSymmetric())
	for a := range m.ns {
		edf -= gram.At(a, a) * cov.At(a, a)
		for b := range a {
			edf -= 2 * gram.At(a, b) * cov.At(a, b)
		}
	}
	return edf
}

// fitMany is fit for many strips; ok is false where some of them do not tell where to
// begin.
func (s *state) fitMany() (ok bool) {
	if len(s.mixture) == 0 && !s.begin() {
		return false
	}
	damping := 1e-6
	s.lin, s.nm = s.about(s.p, s.use), nil
	for range 3 {
		for range 30 {
			fell, ok := s.descend(&damping)
			if !ok || fell < 0.02 {
				break
			}
			s.judge()
		}
		if s.mix() != nil {
			return false
		}
		if s.best.shared == s.shared && s.best.growing == s.growing {
			return true
		}
		s.shared, s.growing = s.best.shared, s.best.growing
	}
	return true
}

// begin brings the state to where some strips have their minimum.
func (s *state) begin() (ok bool) {
	of := s.some()
	part := *s
	part.design, part.p.shared, part.p.own, part.use = s.part(of), slices.Clone(s.p.shared), nil, nil
	for _, j := range of {
		part.p.own, part.use = append(part.p.own, s.p.own[j]), append(part.use, s.use[j])
	}
	if part.fit() != nil {
		return false
	}
	s.variance, s.shared, s.growing, s.p.shared = part.variance, part.shared, part.growing, part.p.shared
	s.ownBase = part.ownBase
	for k, j := range of {
		s.p.own[j] = part.p.own[k]
	}
	return true
}

// fit brings the state to its minimum and finds the mixture about it, with the bases of
// strips as far apart as the readings have them.
func (s *state) fit() error {
	for {
		if len(s.strips) < many || !s.fitMany() {
			if err := s.fitAll(); err != nil {
				return err
			}
		}
		if !s.widenBases() {
			return nil
		}
	}
}

// fitAll is fit from any start, the size of the departures unknown.
func (s *state) fitAll() error {
	damping := 1e-3
	s.lin, s.nm = s.about(s.p, s.use), nil
	for i := range 30 {
		fell, ok := s.descend(&damping)
		if !ok {
			break
		}
		if i >= 2 && i%2 == 0 || fell < 0.3 {
			if !s.settle() && fell < 0.02 {
				break
			}
		}
	}
	s.settle()
	for round := range 2 {
		if err := s.mix(); err != nil {
			return err
		}
		if round == 1 {
			break
		}
		s.shared, s.growing = s.best.shared, s.best.growing
		damping = 1e-6
		for range 6 {
			if fell, ok := s.descend(&damping); !ok || fell < 0.02 {
				break
			}
		}
	}
	return nil
}

// likely returns what departures of such standard deviations say, and the logarithm of how
// likely the readings are with them, the model taken as linear; ok is false where they are
// not determined.
func (s *state) likely(left *eliminated, shared, growing float64) (c component, ln float64, ok bool) {
	prior := s.precision(shared, growing)
	r, ok := s.reduce(left, prior, 0)
	if !ok {
		return c, 0, false
	}
	down := s.gradient(s.normals(), s.variance, s.p, prior)
	off := r.solve(down)
	ln = -float64(s.nd)*math.Log(shared) - float64(s.ne*s.nt)*math.Log(growing) - r.lnDet/2
	ln -= (s.criterion(s.lin, s.p, prior) - down.dot(off)) / 2
	return component{shared: shared, growing: growing, off: off, solved: r}, ln, true
}

// widenBases lets strips have bases as far apart as the readings are most likely with,
// and says whether that is farther than before.
func (s *state) widenBases() bool {
	before := s.ownBase
	best, top := before, math.Inf(-1)
	for _, sd := range ownBases {
		if sd < before {
			continue
		}
		s.ownBase = sd
		_, ln, ok := s.likely(s.eliminate(s.normals(), s.variance, 0), s.best.shared, s.best.growing)
		for j := range s.strips {
			ln += math.Log(s.ownPrecision(j)[2]) / 2
		}
		if sd == before {
			ln += unlikelier
		}
		if ok && ln > top {
			best, top = sd, ln
		}
	}
	s.ownBase = best
	return best > before
}

// mix weighs the departures of every size by how likely the readings are with them,
// the model taken as linear.
func (s *state) mix() error {
	left := s.eliminate(s.normals(), s.variance, 0)
	s.mixture = nil
	top := math.Inf(-1)
	var ln []float64
	for _, shared := range misfits {
		for _, growing := range evolvings {
			c, v, ok := s.likely(left, shared, growing)
			if !ok {
				continue
			}
			ln = append(ln, v)
			s.mixture = append(s.mixture, c)
			if v > top {
				top, s.best = v, c
			}
		}
	}
	if len(s.mixture) == 0 || math.IsNaN(top) || math.IsInf(top, 0) {
		return ErrNotFitted
	}
	sum := 0.0
	for i := range s.mixture {
		s.mixture[i].weight = math.Exp(ln[i] - top)
		sum += s.mixture[i].weight
	}
	for i := range s.mixture {
		s.mixture[i].weight /= sum
	}
	return nil
}
