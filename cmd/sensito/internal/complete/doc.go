// Package complete offers what can stand on a command line while a shell completes
// it: words, numbers with their units, files by what is in them, and what the files
// of a notebook name. It writes nothing, and passes over what cannot be read. Begin
// with Words.
package complete
