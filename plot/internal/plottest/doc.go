// Package plottest holds what the tests of figures share: invented trials, and the
// texts of a figure with where they stand.
//
// Begin with Demo or MadeUp for a trial and RequireReadable for a figure.
package plottest
