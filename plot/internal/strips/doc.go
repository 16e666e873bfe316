// Package strips draws the strips of a trial: characteristic curves of film and the
// grades of a paper.
//
// Begin with Curves or Paper.
package strips
