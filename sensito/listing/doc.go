// Package listing says what a notebook holds: of each trial and control log how far it
// is, what it lacks and what it comes to, and of all together what is to be done.
//
// Begin with New and NewControl for single files; NewNotebook puts them together, and
// its ToDo is the list of tasks.
package listing
