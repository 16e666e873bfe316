// Package simulated makes films, papers and trials that are known exactly, for tests
// alone: what they must find is computed from the film itself, by bisection, with
// nothing of the packages that are tested.
//
// Begin with ModelTrial for a trial of films in the form of the fitted curve, and with
// Practice for films of other forms, drawn by chance and read as a photographer would
// read them. Film and Paper hold the truth; Lit is a scene as a film gets it.
package simulated
