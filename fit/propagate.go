package fit

import (
	"math"
	"slices"
	"sync"

	vec "gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// VaryBy is the step of the differences in Propagate, in standard errors and at most as a
// change of any value that is varied: small enough for the curve to be straight,
// even along a direction that the readings hardly tell, large enough to stand
// above rounding.
const VaryBy, varyAtMost = 0.02, 2e-4

// Derived are several quantities and how each moves along the independent
// directions of the error behind them, one standard deviation each.
type Derived struct {
	Values []float64
	Moves  [][]float64 // moves[k][i]: change of quantity i along direction k
}

// Cov returns the covariance of quantities i and j.
func (d Derived) Cov(i, j int) float64 {
	var s float64
	for _, m := range d.Moves {
		s += m[i] * m[j]
	}
	return s
}

// SD returns the standard deviation of quantity i.
func (d Derived) SD(i int) float64 { return math.Sqrt(d.Cov(i, i)) }

// With returns the quantities of d followed by those of e, of the same fit.
func (d Derived) With(e Derived) Derived {
	out := Derived{Values: slices.Concat(d.Values, e.Values), Moves: NoMoves(len(d.Moves), len(d.Values)+len(e.Values))}
	for k, move := range out.Moves {
		copy(move[copy(move, d.Moves[k]):], e.Moves[k])
	}
	return out
}

// NoMoves returns moves of 0 along so many directions of so many quantities.
func NoMoves(directions, quantities int) [][]float64 {
	out, all := make([][]float64, directions), make([]float64, directions*quantities)
	for k := range out {
		out[k], all = all[:quantities:quantities], all[quantities:]
	}
	return out
}

// Widened returns the quantities with all errors multiplied.
func (d Derived) Widened(by float64) Derived {
	if by == 1 {
		return d
	}
	out := Derived{Values: d.Values}
	for _, m := range d.Moves {
		move := make([]float64, len(m))
		for i, v := range m {
			move[i] = by * v
		}
		out.Moves = append(out.Moves, move)
	}
	return out
}

// Propagate returns how the values of g at center move along each of the
// directions. At the edge of what can be reached, where g fails or a value is
// NaN on one side, the other side alone counts. The error is that of g where it fails
// on both. g may append its values to out, which is empty and has room for them.
func Propagate(center, values []float64, directions [][]float64, g func(out, p []float64) ([]float64, error)) (Derived, error) {
	d := Derived{Values: values, Moves: NoMoves(len(directions), len(values))}
	n, k := len(center), len(values)
	work := make([]float64, n+2*k) // in one piece: a place, and the values to both sides
	p, outUp, outDown := work[:n], work[n:n:n+k], work[n+k:n+k]
	for a, direction := range directions {
		at := func(out []float64, by float64) ([]float64, error) {
			for i := range p {
				p[i] = center[i] + by*direction[i]
			}
			return g(out, p)
		}
		by := part(vec.Norm(direction, math.Inf(1)))
		up, errUp := at(outUp, by)
		down, errDown := at(outDown, -by)
		if err := storeMove(d.Moves[a], values, by, up, down, errUp, errDown); err != nil {
			return Derived{}, err
		}
	}
	return d, nil
}

// Along is Propagate for one direction: at returns the values a part of the way along
// it, and most is the largest of what moves on the whole way.
func Along(values []float64, most float64, at func(by float64) ([]float64, error)) ([]float64, error) {
	by := part(most)
	up, errUp := at(by)
	down, errDown := at(-by)
	move := make([]float64, len(values))
	if err := storeMove(move, values, by, up, down, errUp, errDown); err != nil {
		return nil, err
	}
	return move, nil
}

// part returns what part of a way the differences are taken over, given the largest of what
// moves on it.
func part(most float64) float64 { return math.Min(VaryBy, varyAtMost/most) }

// storeMove stores how values move on the whole way, from those a part of it up and down.
func storeMove(move, values []float64, by float64, up, down []float64, errUp, errDown error) error {
	if errUp != nil && errDown != nil {
		return errUp
	}
	for i := range move {
		switch {
		case errDown != nil || errUp == nil && math.IsNaN(down[i]):
			move[i] = (up[i] - values[i]) / by
		case errUp != nil || math.IsNaN(up[i]):
			move[i] = (values[i] - down[i]) / by
		default:
			move[i] = (up[i] - down[i]) / (2 * by)
		}
	}
	return nil
}

// SDBetween returns the standard deviation of the difference of two quantities.
func (d Derived) SDBetween(i, j int) float64 {
	return math.Sqrt(math.Max(0, d.Cov(i, i)+d.Cov(j, j)-2*d.Cov(i, j)))
}

// Parted is quantities whose errors have a part that is known by other degrees of freedom
// than the rest.
type Parted struct {
	Derived
	apart        []bool // which directions are of that part
	dof, dofRest float64
}

// NewParted returns quantities without errors, the part and the rest of which are to be known
// by so many degrees of freedom.
func NewParted(values []float64, dof, dofRest float64) Parted {
	return Parted{Derived: Derived{Values: values}, dof: dof, dofRest: dofRest}
}

// Add adds a direction, of the part or of the rest.
func (p *Parted) Add(part bool, move []float64) {
	p.Moves, p.apart = append(p.Moves, move), append(p.apart, part)
}

// Error returns the standard deviation of quantity i and the degrees of freedom behind it.
func (p Parted) Error(i int) (sd, dof float64) {
	return p.along(func(move []float64) float64 { return move[i] })
}

// ErrorBetween returns them for the difference of two quantities.
func (p Parted) ErrorBetween(i, j int) (sd, dof float64) {
	return p.along(func(move []float64) float64 { return move[i] - move[j] })
}

func (p Parted) along(by func(move []float64) float64) (sd, dof float64) {
	var part, rest float64
	for k, move := range p.Moves {
		if v := by(move); p.apart[k] {
			part += v * v
		} else {
			rest += v * v
		}
	}
	return Joined(math.Sqrt(part), p.dof, math.Sqrt(rest), p.dofRest)
}

// From returns the quantities from the nth on.
func (d Derived) From(n int) Derived {
	out := Derived{Values: d.Values[n:]}
	for _, m := range d.Moves {
		out.Moves = append(out.Moves, m[n:])
	}
	return out
}

// StudentT returns the two-sided quantile of Student's t. Between whole degrees of
// freedom it goes with their inverse, nearly a straight line (JCGM 100:2008, G.4.1, has a
// table interpolated or the next lower taken): taken down, intervals would jump where what
// they rest on hardly differs. Fewer than one count as one.
func StudentT(level, dof float64) float64 {
	dof = math.Max(1, dof)
	whole := math.Floor(dof)
	t := wholeT(level, whole)
	if dof == whole || math.IsInf(dof, 1) {
		return t
	}
	share := (1 - whole/dof) * (whole + 1) // of the way to the next
	return t + share*(wholeT(level, whole+1)-t)
}

// wholeT is StudentT for whole degrees of freedom, which are worked out once.
func wholeT(level, dof float64) float64 {
	key := [2]float64{level, dof}
	quantiles.RLock()
	t, ok := quantiles.known[key]
	quantiles.RUnlock()
	if ok {
		return t
	}
	p := 0.5 + level/2
	if dof > 1e6 {
		t = distuv.UnitNormal.Quantile(p)
	} else {
		t = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(p)
	}
	quantiles.Lock()
	defer quantiles.Unlock()
	quantiles.known[key] = t
	return t
}

// JoinedDoF returns the degrees of freedom of a sum of independent parts, by
// their standard errors (JCGM 100:2008, G.4.1).
func JoinedDoF(a, dofA, b, dofB float64) float64 {
	below := math.Pow(a, 4)/dofA + math.Pow(b, 4)/dofB
	if !(below > 0) {
		return math.Inf(1)
	}
	return math.Pow(a*a+b*b, 2) / below
}

// Joined adds two independent errors.
func Joined(a, dofA, b, dofB float64) (sd, dof float64) {
	return math.Hypot(a, b), JoinedDoF(a, dofA, b, dofB)
}

// quantiles remembers values of StudentT by level and degrees of freedom, which are
// costly and asked for again and again.
var quantiles = struct {
	sync.RWMutex
	known map[[2]float64]float64
}{known: map[[2]float64]float64{}}

// SquareRoot returns the columns of a matrix L with L L' = cov, leaving out
// parameters without variance; nil when cov is not positive definite.
func SquareRoot(cov *mat.SymDense) [][]float64 {
	var places [mostBendParams]int
	free := places[:0]
	for i := range cov.SymmetricDim() {
		if cov.At(i, i) > 0 {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return nil
	}
	// Cholesky's factor of the correlations, so that units do not decide what is
	// singular.
	n, k := cov.SymmetricDim(), len(free)
	var factor [mostBendParams * mostBendParams]float64
	l := factor[:]
	if k > mostBendParams {
		l = make([]float64, k*k)
	}
	for a, i := range free {
		for b, j := range free[:a+1] {
			v := cov.At(i, j) / math.Sqrt(cov.At(i, i)*cov.At(j, j))
			for c := range b {
				v -= l[a*k+c] * l[b*k+c]
			}
			switch {
			case b < a:
				l[a*k+b] = v / l[b*k+b]
			case v > 0:
				l[a*k+a] = math.Sqrt(v)
			default:
				return nil
			}
		}
	}
	root := NoMoves(k, n)
	for b := range root {
		for a, i := range free {
			if a >= b {
				root[b][i] = l[a*k+b] * math.Sqrt(cov.At(i, i))
			}
		}
	}
	return root
}
