// Package blind is how tests judge answers: those about films drawn by chance against
// the truth that the film itself gives, and what is told in warnings and faults.
//
// Begin with Tally, which gathers the errors of a quantity and how often its 95 %
// intervals cover; Family measures a film of package simulated. Tests inside curve and
// development cannot import it, since it imports these.
package blind
