// Package answers says in one sentence what a result comes to: the title of a figure
// and the first line of a screen.
//
// Begin with Comparison, Control or Index.
package answers
