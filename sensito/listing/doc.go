// Package listing says of a trial or a control log how far it is, what it lacks and
// what it comes to. Begin with New.
package listing
