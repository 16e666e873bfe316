// Package simulated makes trials of films that are known exactly, for tests alone:
// what they must find is computed from the film itself.
//
// Begin with KineticTrial for exact strips.
package simulated
