// Package joint fits one shape of curve to several strips of one film. On numbers
// alone:
//
//	y_j(x) = b_j + exp(a_j) S(x - s_j; l_j)        one reading, of standard deviation sigma
//	S(u; l) = integral up to u of exp h            rising by construction, 0 far to the left
//	h(u; l) = n ln L((u-t)/w) + ln L((p-u)/v) + d(u) + sum_k T_k(l) e_k(u)     L the logistic function
//	b_j = b0 + b1 l_j + b2 l_j^2 + own             the base
//	s_j = c l_j + own                              where the curve lies
//
// l_j measures how far strip j is developed, by the logarithm of its slope; T_1 is l,
// T_2 its square. The toe at t of width w and power n and the shoulder at p of width v
// are a form to begin with; d, a Gaussian process, is what no form has, the same in
// all strips; e_k are how the shape changes as development goes on. Being one
// function, d does not average out over strips: what it leaves open is an error that
// all share. How large d and e are is a mixture, weighed by the marginal likelihood
// of the model made linear about its minimum (MacKay, Neural Computation 4, 415,
// 1992, from memory), with a floor under d: a misfit below what residuals can show is
// there all the same. The own parameters of each strip are solved for first, so that
// the work is in proportion to the strips. DEVELOPERS.md has the priors with reasons.
//
// Begin with New.
package joint
