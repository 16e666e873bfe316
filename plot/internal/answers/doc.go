// Package answers says in one sentence what a figure shows, and names what is in it.
//
// Begin with Comparison or Control.
package answers
