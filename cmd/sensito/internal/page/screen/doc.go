// Package screen says what the screens of the page, and the parts of the report, show of a
// result: sentences, tables and figures as text that is ready to be set, rounded once.
// Nothing is computed here.
//
// Begin with the constructor that is called like a screen; what it returns is the content of
// a page of package typeset.
package screen
