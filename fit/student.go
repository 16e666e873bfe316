package fit

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// StudentT returns the two-sided quantile of Student's t. Degrees of freedom
// that are not whole are taken down to the next that is (JCGM 100:2008, G.4.1).
func StudentT(level, dof float64) float64 {
	dof = math.Max(1, math.Floor(dof))
	key := [2]float64{level, dof}
	if t, ok := quantiles.Load(key); ok {
		return t.(float64)
	}
	p := 0.5 + level/2
	var t float64
	if dof > 1e6 {
		t = distuv.UnitNormal.Quantile(p)
	} else {
		t = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(p)
	}
	quantiles.Store(key, t)
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

// quantiles remembers values of StudentT, which are costly and asked for again
// and again.
var quantiles sync.Map // [2]float64 -> float64
